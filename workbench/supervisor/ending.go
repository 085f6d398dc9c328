package supervisor

import (
	"errors"
	"os/exec"
	"strings"
	"sync"

	"tossline/kernel/engine/fence"
)

// Ending is the end of an engine that nobody asked for. Its text is a sentence for the reader.
type Ending struct {
	What  string // "ran out of memory"
	Place string // "at step Spread", "" where it had nothing to do
	After string // "was started anew; the last results stay"
	Said  string // its last words, for the log

	refusal string // why it could not do what it was started for, in its own words
}

func (e *Ending) Error() string {
	sentence := "The engine " + e.What
	if e.Place != "" {
		sentence += " " + e.Place
	}
	if e.After != "" {
		sentence += " and " + e.After
	}
	return sentence + "."
}

// at says what the engine was doing, and what came of it.
func (e *Ending) at(place, after string) *Ending {
	return &Ending{What: e.What, Place: place, After: after, Said: e.Said}
}

// autopsy finds out why the process ended.
func (p *process) autopsy(err error) *Ending {
	said := p.stderr.String()
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.killed == "" && p.refusal != "" {
		return &Ending{What: "could not open the season (" + p.refusal + ")", Said: said, refusal: p.refusal}
	}
	p.endedIdle = len(p.calls) == 0 && !p.quiet
	e := &Ending{What: p.killed, Said: said}
	if e.What == "" {
		e.What = cause(err, said)
	}
	p.log.Debug("engine ended", "pid", p.cmd.Process.Pid, "how", e.What, "status", err, "said", said)
	return e
}

// cause reads the exit status and the last words of a process that was not ended from here.
func cause(err error, said string) string {
	exit, ok := errors.AsType[*exec.ExitError](err)
	switch {
	case ok && exit.ExitCode() == fence.ExitMemory, outOfMemory(said):
		return "ran out of memory"
	case strings.Contains(said, "stack exceeds"):
		return "ran out of stack, as calls without end do,"
	case strings.Contains(said, "unexpected fault address"): // of memory that is mapped to be read only
		return "met a write to frames of the season, which can't be changed (slices.Clone copies them),"
	case ok && exit.ExitCode() == -1:
		return "was ended from outside"
	case ok:
		return "failed"
	}
	return "stopped"
}

// outOfMemory knows the ways in which the Go runtime says so. Its collector says nothing: where the system gives it no
// memory it reads from nowhere, which nothing else in an engine can do (Go 1.26).
func outOfMemory(said string) bool {
	for _, words := range []string{"out of memory", "cannot allocate memory", "failed to create new OS thread"} {
		if strings.Contains(said, words) {
			return true
		}
	}
	return strings.Contains(said, "SIGSEGV: segmentation violation") && strings.Contains(said, "runtime.gcDrain(")
}

// transcript keeps the beginning and the end of what a process writes to its standard error, and cuts it off where it
// writes without end. The zero value is ready.
type transcript struct {
	mu         sync.Mutex // the writer is a goroutine of exec
	begin, end []byte
	total      int64
}

const (
	transcriptKept = 16 << 10
	transcriptMax  = 64 << 20
)

func (t *transcript) Write(b []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.total += int64(len(b))
	if t.total > transcriptMax {
		return 0, errors.New("too much output")
	}
	rest := b
	if room := transcriptKept - len(t.begin); room > 0 {
		n := min(room, len(rest))
		t.begin, rest = append(t.begin, rest[:n]...), rest[n:]
	}
	t.end = append(t.end, rest[max(0, len(rest)-transcriptKept):]...)
	if len(t.end) > 2*transcriptKept {
		t.end = append(t.end[:0], t.end[len(t.end)-transcriptKept:]...)
	}
	return len(b), nil
}

func (t *transcript) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return string(t.begin) + string(t.end)
}
