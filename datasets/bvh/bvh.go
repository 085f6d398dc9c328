// Package bvh reads BVH motion capture: a skeleton with rotations by frame, turned into positions of its joints.
//
// The format is described in M. Meredith and S. Maddock, "Motion Capture File Formats Explained" (University of
// Sheffield, CS-01-11, 2001). A joint may list its channels in any order and have any of the six; rotations are
// applied in the order listed, each about the axis as turned by those before it. End sites become points named after
// their parent with "_end". BVH has no units and no fixed axes: those are left for recording.Interpret.
package bvh

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"tossline/datasets/decimal"
	"tossline/datasets/recording"
	"tossline/kernel/words"
)

// Name is the name of the format.
const Name = "bvh"

func init() {
	recording.Register(recording.Format{Name: Name, Title: "BVH motion capture", Rank: 20, Probe: Probe, Read: Read})
}

// Probe reports whether the file's first word is HIERARCHY.
func Probe(head []byte) bool {
	head = bytes.TrimLeft(bytes.TrimPrefix(head, []byte("\xef\xbb\xbf")), " \t\r\n")
	const word = "HIERARCHY"
	return len(head) > len(word) && strings.EqualFold(string(head[:len(word)]), word) &&
		(isSpace(head[len(word)]) || head[len(word)] == '\n')
}

// Read reads a whole file. Frames come out in the file's own units, in the axes of its root. A frame that is
// incomplete at the end of the file is left out with a note; anything else that is wrong is an error with its place.
func Read(r io.Reader) (*recording.Raw, error) {
	in := newLines(r)
	s, err := readSkeleton(in)
	if err != nil {
		return nil, err
	}
	m := &motion{in: in, skeleton: s, raw: &recording.Raw{Format: Name, Notes: s.notes, XYZ: recording.RoomOf(r)}}
	for i := range s.joints {
		m.raw.Points = append(m.raw.Points, s.joints[i].name)
	}
	if err := m.header(); err != nil {
		return nil, err
	}
	if err := m.frames(); err != nil {
		return nil, err
	}
	return m.raw, nil
}

// motion reads the MOTION section.
type motion struct {
	in       *lines
	skeleton *skeleton
	raw      *recording.Raw
	declared int // Frames: as the file says
	pose     pose
	missing  int // frames with a value that is not a number
}

// header reads "Frames: 3000" and "Frame Time: 0.01".
func (m *motion) header() error {
	frames, at, err := m.field("Frames:")
	if err != nil {
		return err
	}
	if frames < 0 || frames != math.Trunc(frames) || frames > math.MaxInt32 {
		return at.err("expected the number of frames, found %s", recording.Quote(at.text))
	}
	m.declared = int(frames)
	seconds, at, err := m.field("Frame", "Time:")
	if err != nil {
		return err
	}
	if !(seconds > 0) || seconds > 10 {
		m.note(recording.Warn, at.where(), "the seconds between two frames are given as %s: not believed",
			recording.Quote(at.text))
		return nil
	}
	m.raw.RateHz = rate(seconds)
	return nil
}

// rate turns a frame time into a rate. Files round the time to a few digits: 0.008333 stands for 120 Hz, so a rate
// within a rounding of a whole number is that number.
func rate(seconds float64) float64 {
	hz := 1 / seconds
	if whole := math.Round(hz); whole > 0 && math.Abs(1/whole-seconds) <= 0.6e-6 {
		return whole
	}
	return hz
}

func (m *motion) field(parts ...string) (float64, token, error) {
	label := strings.Join(parts, " ")
	for _, w := range parts {
		got, err := m.in.word(label)
		if err != nil {
			return 0, token{}, err
		}
		if !strings.EqualFold(got.text, w) {
			return 0, token{}, m.in.unexpected(got, strconv.Quote(label))
		}
	}
	got, err := m.in.word("the number after " + label)
	if err != nil {
		return 0, token{}, err
	}
	v, n := decimal.Scan([]byte(got.text))
	if n != len(got.text) {
		return 0, token{}, m.in.unexpected(got, "a number after "+strconv.Quote(label))
	}
	return v, got, nil
}

// frames reads one motion line after the other.
func (m *motion) frames() error {
	values := make([]float64, m.skeleton.width)
	if m.raw.XYZ == nil {
		// The declared count is only believed as far as memory for it is small change.
		m.raw.XYZ = make([]float32, 0, 3*len(m.raw.Points)*min(m.declared, 10_000))
	}
	m.pose.init(m.skeleton)
	for {
		if m.in.blank() {
			if err := m.in.next(); err == io.EOF {
				return m.end()
			} else if err != nil {
				return err
			}
			continue
		}
		whole, err := m.line(values)
		if err != nil {
			return err
		}
		if whole {
			m.raw.XYZ = m.pose.place(values, m.raw.XYZ)
		}
	}
}

// line reads the numbers of one frame. It gives false for an incomplete frame at the end of the file.
func (m *motion) line(values []float64) (whole bool, err error) {
	lost := false
	for i := range values {
		if m.in.blank() {
			return false, m.short(i)
		}
		v, n := decimal.Scan(m.in.line)
		if n == 0 {
			v, n = scanMissing(m.in.line)
		}
		if n == 0 || n < len(m.in.line) && !isSpace(m.in.line[n]) || math.IsInf(v, 0) {
			word, _ := m.in.word("a number")
			if !m.in.more {
				return false, m.short(i)
			}
			return false, m.in.unexpected(word, "the number for "+m.name(i))
		}
		lost = lost || math.IsNaN(v)
		values[i] = v
		m.in.line, m.in.taken = m.in.line[n:], m.in.taken+n
	}
	if !m.in.blank() {
		return false, recording.At(m.in.num, m.in.taken+1,
			"this frame has more than the %d values that the skeleton asks for", len(values))
	}
	if lost {
		m.missing++
	}
	return true, nil
}

// short deals with a line that ends after n values: an error, but for the last line of a file that was cut off.
func (m *motion) short(n int) error {
	line, column := m.in.num, m.in.taken+1
	rest, err := m.lastLine()
	if err != nil {
		return err
	}
	if !rest {
		return recording.At(line, column, "this frame ends after %d of the %d values that the skeleton asks for",
			n, m.skeleton.width)
	}
	m.note(recording.Warn, fmt.Sprintf("line %d", line), "the last line is cut short (%d of %d values): left out",
		n, m.skeleton.width)
	return nil
}

// lastLine skips blank lines and reports whether nothing else follows.
func (m *motion) lastLine() (bool, error) {
	m.in.line = nil
	for m.in.blank() {
		if err := m.in.next(); err == io.EOF {
			return true, nil
		} else if err != nil {
			return false, err
		}
	}
	return false, nil
}

// name says which number of a motion line i is: "Zrotation of LeftKnee".
func (m *motion) name(i int) string {
	titles := [...]string{"Xposition", "Yposition", "Zposition", "Xrotation", "Yrotation", "Zrotation"}
	for _, j := range m.skeleton.joints {
		if k := i - j.first; k >= 0 && k < len(j.channels) {
			return titles[j.channels[k]] + " of " + j.name
		}
	}
	return fmt.Sprintf("value %d", i+1)
}

// end checks what was read against what the file promised.
func (m *motion) end() error {
	got := m.raw.Frames()
	if got == 0 {
		return recording.At(m.in.num, 0, "the file ends before its first whole frame: it holds a skeleton and no motion")
	}
	if got < m.declared {
		m.note(recording.Warn, "", "the file promises %d frames and holds %d: it was probably cut short", m.declared, got)
	}
	if got > m.declared {
		m.note(recording.Warn, "", "the file promises %d frames and holds %d: all are kept", m.declared, got)
	}
	if m.missing > 0 {
		m.note(recording.Warn, "", "values are no numbers (NaN) in %s: the joints that hang on them are missing there",
			words.Count(m.missing, "frame"))
	}
	m.raw.Notes = append(m.raw.Notes, m.pose.notes...)
	return nil
}

func (m *motion) note(s recording.Severity, where, format string, args ...any) {
	m.raw.Notes = append(m.raw.Notes, recording.Note{Severity: s, Where: where, Text: fmt.Sprintf(format, args...)})
}

// scanMissing takes the word nan, as programs print it, with or without a sign.
func scanMissing(b []byte) (float64, int) {
	n := 0
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		n = 1
	}
	for _, word := range [...]string{"nan(ind)", "nan"} {
		if len(b) >= n+len(word) && strings.EqualFold(string(b[n:n+len(word)]), word) {
			return math.NaN(), n + len(word)
		}
	}
	return 0, 0
}
