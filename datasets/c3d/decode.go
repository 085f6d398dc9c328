package c3d

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"tossline/datasets/recording"
)

// mostParameters bounds the parameter section. Its length is told by one byte, in blocks.
const mostParameters = 1 << 20

// Decode reads a file of the given size. Errors are *recording.Error; what could be had in spite of damage comes with
// notes.
func Decode(r io.ReaderAt, size int64) (*File, error) {
	head := make([]byte, blockLen)
	if size < 2*blockLen {
		return nil, recording.Refuse("copy it again", "the file has %d bytes: too few for C3D", size)
	}
	if err := readAt(r, head, 0); err != nil {
		return nil, err
	}
	if head[1] != 0x50 {
		return nil, recording.Refuse("", "the file does not start like C3D")
	}
	f := &File{}
	h, err := f.describe(r, head, size)
	if err != nil {
		return nil, err
	}
	l, err := f.settle(h, size)
	if err != nil {
		return nil, err
	}
	f.name(l)
	return f, f.readFrames(r, l)
}

func readAt(r io.ReaderAt, b []byte, at int64) error {
	n, err := r.ReadAt(b, at)
	if n == len(b) || err == nil {
		return nil
	}
	if errors.Is(err, io.EOF) {
		return &recording.Error{Offset: at + int64(n), Text: "the file ends here", Remedy: "copy it again"}
	}
	return err
}

// describe reads the header and the parameters.
func (f *File) describe(r io.ReaderAt, head []byte, size int64) (header, error) {
	base := int64(head[0]-1) * blockLen
	if head[0] < 2 || base+4 > size {
		f.note(recording.Warn, "byte 1", "the header gives block %d as that of the parameters: block 2 is taken", head[0])
		base = blockLen
	}
	start := make([]byte, 4)
	if err := readAt(r, start, base); err != nil {
		return header{}, err
	}
	f.Processor = Processor(start[3])
	if f.Processor < Intel || f.Processor > MIPS {
		if !f.guessProcessor(head) {
			return header{}, &recording.Error{Offset: base + 4, Text: fmt.Sprintf(
				"expected the processor (84, 85 or 86), found %d", start[3]), Remedy: "copy it again"}
		}
		f.note(recording.Warn, fmt.Sprintf("byte %d", base+4), "the processor is given as %d: taken as %s by the header",
			start[3], f.Processor)
	}
	c := codecOf(f.Processor)
	h := readHeader(head, c)
	f.First, f.MaxGap, f.HeaderSet, f.Scale, f.RateHz = h.first, h.maxGap, h.events, h.scale, float64(h.rate)
	length := int64(start[2]) * blockLen
	if data := int64(h.dataBlock-1) * blockLen; data > base {
		length = max(length, data-base)
	}
	text := make([]byte, max(0, min(length, size-base, mostParameters)-4))
	if err := readAt(r, text, base+4); err != nil {
		return header{}, err
	}
	var notes []recording.Note
	f.Groups, notes = readParameters(text, base+4, c)
	f.Notes = append(f.Notes, notes...)
	f.fromParameters()
	return h, nil
}

func (f *File) guessProcessor(head []byte) bool {
	for _, p := range [...]Processor{Intel, MIPS, DEC} {
		if plausible(readHeader(head, codecOf(p))) {
			f.Processor = p
			return true
		}
	}
	return false
}

// fromParameters lets rate and scale of the parameters win over those of the header.
func (f *File) fromParameters() {
	if v, ok := f.number("POINT", "RATE"); ok && v > 0 && !math.IsInf(v, 0) {
		f.RateHz = v
	}
	// 59.94 was rounded to a real of 32 bits: the shortest decimal that gives it is meant.
	if short, err := strconv.ParseFloat(strconv.FormatFloat(f.RateHz, 'g', -1, 32), 64); err == nil {
		f.RateHz = short
	}
	if v, ok := f.number("POINT", "SCALE"); ok && v != 0 && v == v && (v < 0) == (f.Scale < 0) {
		f.Scale = float32(v)
	}
	if f.Scale != f.Scale || f.Scale == 0 || math.IsInf(float64(f.Scale), 0) {
		f.note(recording.Warn, "", "the scale of the points is %v: 1 is taken", f.Scale)
		f.Scale = 1
	}
	if !(f.RateHz > 0) || f.RateHz > 1e6 {
		f.note(recording.Warn, "", "the rate is given as %v Hz: not believed", f.RateHz)
		f.RateHz = 0
	}
	f.GenScale = 1
	if v, ok := f.number("ANALOG", "GEN_SCALE"); ok && v == v && v != 0 {
		f.GenScale = float32(v)
	}
}

// name gives points and channels their names, units and scales.
func (f *File) name(l layout) {
	f.Labels = make([]string, l.points)
	copy(f.Labels, f.allTexts("POINT", "LABELS"))
	f.PerFrame = l.perFrame
	if l.analogWords == 0 {
		f.PerFrame = 0
		return
	}
	if l.perFrame <= 0 || l.analogWords%l.perFrame != 0 {
		f.note(recording.Warn, "", "%d analog values a frame are no multiple of %d samples: one sample is taken",
			l.analogWords, l.perFrame)
		f.PerFrame = 1
	}
	f.Channels = make([]Channel, l.analogWords/f.PerFrame)
	labels, units := f.allTexts("ANALOG", "LABELS"), f.allTexts("ANALOG", "UNITS")
	scales, offsets := f.allNumbers("ANALOG", "SCALE"), f.allNumbers("ANALOG", "OFFSET")
	unsigned := f.unsigned()
	for i := range f.Channels {
		c := Channel{Scale: 1}
		if i < len(labels) {
			c.Name = labels[i]
		}
		if i < len(units) {
			c.Unit = units[i]
		}
		if i < len(scales) && scales[i] == scales[i] {
			c.Scale = float32(scales[i])
		}
		if i < len(offsets) && offsets[i] == offsets[i] {
			c.Offset = float32(offsets[i])
			if unsigned && c.Offset < 0 {
				c.Offset += 1 << 16
			}
		}
		f.Channels[i] = c
	}
}

// unsigned reports whether analog integers have no sign.
func (f *File) unsigned() bool { return strings.EqualFold(f.text("ANALOG", "FORMAT"), "UNSIGNED") }

// readFrames reads the frames, which lie in the file for certain.
func (f *File) readFrames(r io.ReaderAt, l layout) error {
	in := bufio.NewReaderSize(io.NewSectionReader(r, l.start, int64(l.frames)*l.frameLen()), 1<<20)
	n := l.frames * l.points
	f.room = recording.RoomOf(r)
	f.XYZ, f.Fourth, f.Analog = f.take(3*n), f.take(n), f.take(l.frames*l.analogWords)
	frame := make([]byte, l.frameLen())
	values := make([]float32, 4*l.points+l.analogWords)
	read := f.reader(l)
	for i := range l.frames {
		if _, err := io.ReadFull(in, frame); errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			f.note(recording.Warn, "", "the file ends after %d of %d frames", i, l.frames)
			break
		} else if err != nil {
			return err
		}
		read(values, frame)
		for v := values[:4*l.points]; len(v) > 0; v = v[4:] {
			f.XYZ = append(f.XYZ, v[0], v[1], v[2])
			f.Fourth = append(f.Fourth, v[3])
		}
		f.Analog = append(f.Analog, values[4*l.points:]...)
	}
	return nil
}

// take gives an empty slice with room for n values.
func (f *File) take(n int) (values []float32) {
	if cap(f.room) < n {
		return make([]float32, 0, n)
	}
	values, f.room = f.room[:0:n], f.room[n:n]
	return values
}

// reader gives the function that reads the values of one frame.
func (f *File) reader(l layout) func(to []float32, b []byte) {
	c, unsigned, scale, points := codecOf(f.Processor), f.unsigned(), f.Scale, 4*l.points
	if f.Real() {
		return func(to []float32, b []byte) {
			for i := range to {
				to[i] = c.real(b[4*i:])
			}
		}
	}
	return func(to []float32, b []byte) {
		for i := range to {
			switch v := c.integer(b[2*i:]); {
			case i < points && i%4 != 3:
				to[i] = float32(v) * scale
			case i >= points && unsigned:
				to[i] = float32(uint16(v))
			default:
				to[i] = float32(v)
			}
		}
	}
}
