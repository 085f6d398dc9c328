// Package c3d reads and writes C3D, the open standard of biomechanics for recordings of markers and analog channels.
//
// The format is described in "The C3D File Format: A Technical User Guide" (Motion Lab Systems, c3d.org). Numbers may
// be those of Intel, DEC or MIPS processors, integers or reals; the parameter section and the data may begin at any
// block. Takes longer than 65,535 frames are counted by TRIAL:ACTUAL_END_FIELD or POINT:LONG_FRAMES, more than 255
// labels are continued in LABELS2 and so on.
//
// Where header and parameters disagree, what fits the file's length is believed. What is damaged is left out with a
// note; a file is refused only where its frames cannot be found.
package c3d

import (
	"bytes"
	"io"

	"tossline/datasets/recording"
)

// Name is the name of the format.
const Name = "c3d"

func init() {
	recording.Register(recording.Format{Name: Name, Title: "C3D", Rank: 10, Probe: Probe, ReadAt: Read})
}

// blockLen is the length of the blocks that C3D counts in.
const blockLen = 512

// Processor says how numbers are stored, by its code in the file.
type Processor byte

// The processors.
const (
	Intel Processor = 84
	DEC   Processor = 85
	MIPS  Processor = 86
)

// String is the processor's name.
func (p Processor) String() string {
	switch p {
	case Intel:
		return "Intel"
	case DEC:
		return "DEC"
	case MIPS:
		return "MIPS"
	}
	return "unknown processor"
}

// File is the content of a C3D file. Decode makes one and Encode writes it; what is read again is identical.
type File struct {
	Processor Processor
	Scale     float32 // length of one integer step in Units; negative where numbers are stored as reals
	RateHz    float64 // frames a second
	First     int     // number of the first frame, from 1
	MaxGap    int     // longest gap that was filled, frames

	Labels []string  // of the points; "" where the file names none
	XYZ    []float32 // 3*len(Labels) values a frame as they stand in the file, missing ones included
	// Fourth is the fourth word of each point and frame: negative where the point is missing, else the mask of
	// cameras times 256 plus the residual in steps of Scale.
	Fourth []float32

	Channels  []Channel
	PerFrame  int       // analog samples of each channel a frame
	Analog    []float32 // as stored, PerFrame*len(Channels) values a frame, sample by sample
	GenScale  float32   // scale of all channels
	HeaderSet []Event   // events of the header
	Groups    []Group   // all parameters

	Notes []recording.Note

	room []float32 // for more values, where there is one
}

// Channel is one analog channel: its value is (stored - Offset) * Scale * GenScale in Unit.
type Channel struct {
	Name, Unit    string
	Offset, Scale float32
}

// Event is a moment that someone marked.
type Event struct {
	Label   string
	Context string  // "Left", "Right", "General" or ""
	TimeS   float64 // seconds from frame 1 of the trial, which may lie before First
	Hidden  bool    // of header events: not to be shown
}

// Frames is the number of frames.
func (f *File) Frames() int {
	switch {
	case len(f.Labels) > 0:
		return len(f.XYZ) / (3 * len(f.Labels))
	case f.PerFrame > 0 && len(f.Channels) > 0:
		return len(f.Analog) / (f.PerFrame * len(f.Channels))
	}
	return 0
}

// Real reports whether numbers are stored as reals.
func (f *File) Real() bool { return f.Scale < 0 }

// Samples gives the values of an analog channel in its unit.
func (f *File) Samples(channel int) []float32 {
	c, n := f.Channels[channel], len(f.Channels)
	out := f.take(len(f.Analog) / n)
	factor := float64(c.Scale) * float64(f.GenScale)
	for i := channel; i < len(f.Analog); i += n {
		out = append(out, float32((float64(f.Analog[i])-float64(c.Offset))*factor))
	}
	return out
}

// Events are those of the EVENT parameters, else those of the header.
func (f *File) Events() []Event {
	if e := f.parameterEvents(); len(e) > 0 {
		return e
	}
	return f.HeaderSet
}

// Probe reports whether a file starts like C3D: the key 0x50 in its second byte, and parameters or a header that some
// processor could have written.
func Probe(head []byte) bool {
	if len(head) < blockLen || head[1] != 0x50 {
		return false
	}
	// The parameters name the processor. A text has no zeros, wherever its letters would put the parameters.
	at := blockLen*(int(head[0])-1) + 3
	if at > blockLen && at < len(head) && bytes.IndexByte(head[:blockLen], 0) >= 0 {
		if p := Processor(head[at]); p >= Intel && p <= MIPS {
			return true
		}
	}
	for _, p := range [...]Processor{Intel, DEC, MIPS} {
		if plausible(readHeader(head, codecOf(p))) {
			return true
		}
	}
	return false
}

// Read reads a whole file as a recording.
func Read(r io.ReaderAt, size int64) (*recording.Raw, error) {
	f, err := Decode(r, size)
	if err != nil {
		return nil, err
	}
	return f.raw(recording.AliveOf(r))
}
