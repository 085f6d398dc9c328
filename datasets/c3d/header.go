package c3d

import (
	"fmt"
	"math"
	"strings"

	"tossline/datasets/recording"
)

// header is the first block of a file, as it stands.
type header struct {
	points      int
	analogWords int // analog values a frame
	first, last int
	maxGap      int
	scale       float32
	dataBlock   int
	perFrame    int // analog samples of each channel a frame
	rate        float32
	events      []Event
}

// Places in the header, in bytes; the guide counts words of two bytes from 1.
const (
	eventKey    = 2 * 149 // 12345 where labels of events have four letters
	eventCount  = 2 * 150
	eventTimes  = 2 * 152
	eventFlags  = 2 * 188
	eventLabels = 2 * 198
	mostEvents  = 18
	keyValue    = 12345
)

func readHeader(b []byte, c codec) header {
	h := header{
		points: c.word(b[2:]), analogWords: c.word(b[4:]),
		first: c.word(b[6:]), last: c.word(b[8:]), maxGap: c.word(b[10:]), scale: c.real(b[12:]),
		dataBlock: c.word(b[16:]), perFrame: c.word(b[18:]), rate: c.real(b[20:]),
	}
	if n := c.word(b[eventCount:]); n <= mostEvents && c.word(b[eventKey:]) == keyValue {
		for i := range n {
			e := Event{TimeS: float64(c.real(b[eventTimes+4*i:])), Hidden: b[eventFlags+i] != 1,
				Label: plainText(b[eventLabels+4*i:][:4])}
			if !math.IsNaN(e.TimeS) && !math.IsInf(e.TimeS, 0) {
				h.events = append(h.events, e)
			}
		}
	}
	return h
}

// plausible reports whether a header may be that of the processor it was read for.
func plausible(h header) bool {
	rate, scale := float64(h.rate), math.Abs(float64(h.scale))
	return h.dataBlock > 1 && h.first <= h.last && h.last > 0 && h.points+h.analogWords > 0 &&
		rate > 0.001 && rate < 1e6 && (h.scale == 0 || scale > 1e-9 && scale < 1e6)
}

// layout is where a file's frames lie and what a frame holds.
type layout struct {
	points, analogWords, perFrame int
	frames                        int
	start                         int64 // byte
	width                         int   // bytes of one value
}

// frameLen is the length of a frame in bytes.
func (l layout) frameLen() int64 {
	return int64(l.width) * (4*int64(l.points) + int64(l.analogWords))
}

// room is how many frames lie between the start of the data and the end of the file.
func (l layout) room(size int64) int64 {
	if l.frameLen() == 0 || l.start < blockLen || l.start >= size {
		return 0
	}
	return (size - l.start) / l.frameLen()
}

// fits reports whether a layout fills the file: all frames are there, and no more than some blocks of filling follow.
func (l layout) fits(size int64) bool {
	if l.frames <= 0 || l.room(size) < int64(l.frames) {
		return false
	}
	return size-l.start-int64(l.frames)*l.frameLen() < 4*blockLen
}

// settle finds the layout. The header and the parameters both tell it; where they differ, the one that fits the file.
func (f *File) settle(h header, size int64) (layout, error) {
	byHeader := layout{points: h.points, analogWords: h.analogWords, perFrame: h.perFrame,
		frames: h.last - h.first + 1, start: int64(h.dataBlock-1) * blockLen, width: f.width()}
	byParameters := f.layoutOfParameters(h, byHeader)
	chosen := byParameters
	// The header counts to 65,535; what is beyond, it has as that or without the highest digits.
	if last := h.first + byParameters.frames - 1; last > math.MaxUint16 && (h.last == math.MaxUint16 ||
		h.last == last&math.MaxUint16) {
		byHeader.frames = byParameters.frames
	}
	if byParameters != byHeader {
		if !byParameters.fits(size) && byHeader.fits(size) {
			chosen = byHeader
		}
		f.note(recording.Warn, "", "header and parameters disagree (%s): the %s are followed", difference(byHeader,
			byParameters), map[bool]string{true: "parameters", false: "words of the header"}[chosen == byParameters])
	}
	return f.believe(chosen, size)
}

func (f *File) width() int {
	if f.Real() {
		return 4
	}
	return 2
}

// layoutOfParameters takes from the parameters what they tell, and the rest from the header.
func (f *File) layoutOfParameters(h header, l layout) layout {
	if n, ok := f.parameter("POINT", "USED").count(); ok {
		l.points = n
	}
	if n, ok := f.parameter("POINT", "DATA_START").count(); ok && n > 1 {
		l.start = int64(n-1) * blockLen
	}
	used, hasUsed := f.parameter("ANALOG", "USED").count()
	rate, hasRate := f.number("ANALOG", "RATE")
	if hasRate && f.RateHz > 0 && rate > 0 {
		if n := math.Round(rate / f.RateHz); n >= 1 && n < 1<<16 {
			l.perFrame = int(n)
		}
	}
	if hasUsed {
		l.analogWords = used * l.perFrame
	}
	if n, ok := f.frameCount(h); ok {
		l.frames = n
	}
	return l
}

// frameCount is the number of frames by the parameters that count beyond 65,535, else by POINT:FRAMES.
func (f *File) frameCount(h header) (int, bool) {
	first, hasFirst := f.longCount("ACTUAL_START_FIELD")
	last, hasLast := f.longCount("ACTUAL_END_FIELD")
	if hasFirst && hasLast && last >= first && last > 0 {
		f.First = first
		return last - first + 1, true
	}
	if v, ok := f.number("POINT", "LONG_FRAMES"); ok && v >= 1 && v < 1<<40 {
		return int(v), true
	}
	n, ok := f.parameter("POINT", "FRAMES").count()
	if !ok || n == 0 || n == math.MaxUint16 && h.last == math.MaxUint16 {
		return 0, false
	}
	return n, true
}

// longCount reads a number of two words, the lower one first, of the group TRIAL.
func (f *File) longCount(name string) (int, bool) {
	p := f.parameter("TRIAL", name)
	switch {
	case p == nil:
		return 0, false
	case p.Type == Integer && len(p.Integers) == 2:
		return int(uint16(p.Integers[0])) | int(uint16(p.Integers[1]))<<16, true
	}
	return p.count()
}

func difference(h, p layout) string {
	var parts []string
	say := func(what string, header, parameters int64) {
		if header != parameters {
			parts = append(parts, fmt.Sprintf("%s %d and %d", what, header, parameters))
		}
	}
	say("points", int64(h.points), int64(p.points))
	say("analog values a frame", int64(h.analogWords), int64(p.analogWords))
	say("analog samples a frame", int64(h.perFrame), int64(p.perFrame))
	say("frames", int64(h.frames), int64(p.frames))
	say("first byte of the data", h.start, p.start)
	return strings.Join(parts, ", ")
}

// believe bounds a layout by what the file holds.
func (f *File) believe(l layout, size int64) (layout, error) {
	if l.points+l.analogWords == 0 {
		return l, recording.Refuse("", "the file has neither points nor analog channels")
	}
	if l.points > 1<<15 || l.analogWords > 1<<20 {
		return l, recording.Refuse("copy it again", "the file claims %d points and %d analog values a frame: its header "+
			"is damaged", l.points, l.analogWords)
	}
	room := l.room(size)
	switch {
	case l.frames <= 0 && l.start >= size:
		return l, recording.Refuse("", "the file holds no frames")
	case room == 0:
		return l, recording.Refuse("copy it again", "the frames should start at byte %d, but the file ends at byte %d",
			l.start, size)
	case l.frames <= 0 || l.frames == math.MaxUint16 && room > math.MaxUint16+blockLen/l.frameLen():
		f.note(recording.Warn, "", "the file does not tell its number of frames: the %d that it holds are taken", room)
		l.frames = int(room)
	case int64(l.frames) > room:
		f.note(recording.Warn, "", "the file promises %d frames and holds %d: it was cut short", l.frames, room)
		l.frames = int(room)
	}
	return l, nil
}

func (f *File) note(s recording.Severity, where, format string, args ...any) {
	f.Notes = append(f.Notes, recording.Note{Severity: s, Where: where, Text: fmt.Sprintf(format, args...)})
}
