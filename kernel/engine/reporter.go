package engine

import (
	"bytes"
	"fmt"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"tossline/datasets/catalogue"
	"tossline/kernel/interp"
)

// progressEvery is the least time between two messages on how far a step is.
const progressEvery = 50 * time.Millisecond

// reporter turns what the interpreter tells of a run into messages. Writing fails only when nobody listens any more,
// which the reading side finds out, too; so its errors end nothing here.
type reporter struct {
	w      *Writer
	id     uint64
	season *catalogue.Catalogue

	mu   sync.Mutex // guards what follows: progress comes from any goroutine
	step string     // the last one of which progress was told, when, and whether as of one at its end
	told time.Time
	full bool
}

func (r *reporter) Plan(p interp.Plan) { say(r.w, KindPlan, r.id, p) }

func (r *reporter) Diagnostics(d []interp.Diagnostic) {
	say(r.w, KindDiagnostics, r.id, remarks(d))
}

// remarks is never nil, and cut short where a recipe has more mistakes than anyone reads at once.
func remarks(d []interp.Diagnostic) []interp.Diagnostic {
	out := append([]interp.Diagnostic{}, d[:min(len(d), MaxRemarks)]...)
	for i := range out {
		out[i].Message = sentence(out[i].Message)
	}
	return out
}

// sentence is a message within MaxMessage.
func sentence(s string) string {
	s = strings.ToValidUTF8(s[:min(len(s), MaxMessage+1)], "\uFFFD")
	if len(s) <= MaxMessage {
		return s
	}
	end := MaxMessage
	for !utf8.RuneStart(s[end]) {
		end--
	}
	return s[:end] + "…"
}

// Step sends a step, and before one that has ended the measures that it computed, so that no later end of the engine
// loses them.
func (r *reporter) Step(s interp.Step) {
	if s.State == interp.Done || s.State == interp.Failed {
		r.measured()
	}
	if s.Error != nil {
		short := *s.Error
		short.Message = sentence(short.Message)
		s.Error = &short
	}
	f, err := stepFrame(r.id, s)
	if err != nil {
		s.State, s.Results, s.Attachments = interp.Failed, nil, nil
		s.Error = &interp.StepError{Message: err.Error()}
		if f, err = stepFrame(r.id, s); err != nil {
			return
		}
	}
	r.w.Write(f)
}

// stepFrame makes the message of a step, or says why it is too large for one.
func stepFrame(id uint64, s interp.Step) (Frame, error) {
	parts := make([]Part, len(s.Attachments))
	tables, rest := int64(0), int64(0)
	for i, a := range s.Attachments {
		parts[i] = Part{Name: a.Ref, Bytes: a.Bytes}
		tables += int64(len(a.Bytes))
	}
	for _, one := range s.Results {
		rest += one.Size()
	}
	const room = 1 << 10 // for what the head holds besides
	tooLarge := fmt.Errorf("the results take %d MB; the most that can be shown is %d MB of tables and %d MB of charts "+
		"and text: return fewer rows", (tables+rest+1<<20-1)>>20, MaxAnswer>>20, MaxHead>>20)
	if rest > MaxHead || tables > MaxAnswer || len(parts) > maxParts {
		return Frame{}, tooLarge
	}
	f, err := NewFrame(KindStep, id, s, parts...)
	if err != nil {
		return Frame{}, fmt.Errorf("the results can't be shown: %w", err)
	}
	if len(f.Body)+room*len(parts)+room > MaxHead {
		return Frame{}, tooLarge
	}
	return f, nil
}

// Progress tells how far a step is, now and then, and at once when it is at its end.
func (r *reporter) Progress(step string, done, total int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	now := time.Now()
	full := done >= total
	if step == r.step && (r.full || !full) && now.Sub(r.told) < progressEvery {
		return
	}
	r.step, r.told, r.full = step, now, full
	say(r.w, KindProgress, r.id, Progress{Step: step, Done: done, Total: total})
}

// measuredMessage is how many bytes of measures go into one message, and a measure more.
const measuredMessage = 8 << 20

// measured sends the measures that were computed since the last time, a few at a time: those of a large season fit into
// no message.
func (r *reporter) measured() error {
	var parts []Part
	size := 0
	for m := range r.season.TakeKept() {
		encoded, err := m.Encode()
		if err != nil {
			return err
		}
		parts, size = append(parts, Part{Name: m.Measure, Bytes: encoded}), size+len(encoded)
		if size < measuredMessage {
			continue
		}
		if err := say(r.w, KindMeasured, r.id, nil, parts...); err != nil {
			return err
		}
		parts, size = nil, 0
	}
	if len(parts) == 0 {
		return nil
	}
	return say(r.w, KindMeasured, r.id, nil, parts...)
}

// logger sends what a recipe prints, line by line, as far as there is room for it.
type logger struct {
	report *reporter

	mu    sync.Mutex // guards what follows
	line  []byte     // begun and not yet ended
	lines int
}

func (l *logger) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	rest := b
	for l.lines <= MaxLogLines {
		line, after, ended := bytes.Cut(rest, []byte("\n"))
		l.line = append(l.line, line[:min(len(line), MaxLogLine-len(l.line))]...)
		if !ended {
			return len(b), nil
		}
		l.send()
		rest = after
	}
	return len(b), nil
}

// send sends the line, or says that this one and all that follow are dropped.
func (l *logger) send() {
	text := string(l.line)
	if l.lines == MaxLogLines {
		text = fmt.Sprintf("(after %d lines nothing more is shown)", MaxLogLines)
	}
	if !utf8.ValidString(text) {
		text = fmt.Sprintf("%q", text)
	}
	say(l.report.w, KindLog, l.report.id, text)
	l.line = l.line[:0]
	l.lines++
}

// close sends a last line that was not ended.
func (l *logger) close() {
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.line) > 0 && l.lines <= MaxLogLines {
		l.send()
	}
}
