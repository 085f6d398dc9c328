package delimited

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"tossline/datasets/recording"
)

// collector puts the rows of all blocks together, in the order of the file.
type collector struct {
	*parser
	raw       *recording.Raw
	lines     int   // lines before the current block, from the file's first
	size      int64 // of the file, 0 where unknown
	constants []constant

	keys    []float64 // of the frames
	repeats int       // rows left out because they repeat the one before
	repeat  int       // line of the first of those
	long    *assembly
}

func newCollector(p *parser, raw *recording.Raw) *collector {
	c := &collector{parser: p, raw: raw, lines: p.dialect.lines, constants: make([]constant, len(p.constants))}
	if p.layout.long {
		c.long = newAssembly()
	} else {
		raw.Points = p.layout.points
	}
	return c
}

// take adds the rows of one block.
func (c *collector) take(r *rows) error {
	if err := c.checkConstants(r); err != nil {
		return err
	}
	if r.err != nil {
		r.err.Line += c.lines + 1
		return r.err
	}
	if r.cutAt > 0 {
		c.note(recording.Warn, fmt.Sprintf("line %d", c.lines+r.cutAt), "the last line is cut short: left out")
	}
	c.reserve(r)
	var err error
	switch {
	case c.long != nil:
		err = c.long.add(c, r)
	case c.key >= 0:
		err = c.addFrames(r)
	default:
		c.raw.XYZ = append(c.raw.XYZ, r.xyz...)
	}
	c.lines += r.lines
	c.recycle(r)
	return err
}

// reserve makes room for the whole file by what its first block holds, so that growing never copies.
func (c *collector) reserve(r *rows) {
	if c.long == nil && c.raw.XYZ == nil && c.size > int64(r.bytes) && r.bytes > 0 {
		c.raw.XYZ = make([]float32, 0, int(1.02*float64(len(r.xyz))*float64(c.size)/float64(r.bytes)))
	}
}

// checkConstants refuses a file in which a column changes that belongs to the whole recording.
func (c *collector) checkConstants(r *rows) error {
	for i := range r.constants {
		mine, theirs := &c.constants[i], &r.constants[i]
		if !mine.set {
			*mine = constant{value: theirs.value, set: theirs.set}
		}
		change, other := theirs.change, theirs.other
		if theirs.set && theirs.value != mine.value {
			change, other = 1, theirs.value
		}
		if change == 0 || r.err != nil && r.err.Line < change-1 {
			continue
		}
		title := c.columns[c.parser.constants[i]].title
		return &recording.Error{Line: c.lines + change, Text: fmt.Sprintf(
			"column %s changes from %s to %s: the file holds more than one recording", title,
			recording.Quote(mine.value), recording.Quote(other)), Remedy: "split it into a file for each"}
	}
	return nil
}

// addFrames adds rows of a wide table whose keys must increase.
func (c *collector) addFrames(r *rows) error {
	for i, key := range r.key {
		row := r.xyz[i*c.width : (i+1)*c.width]
		if n := len(c.keys); n > 0 && key <= c.keys[n-1] {
			line := c.lines + int(r.line[i]) + 1
			if key < c.keys[n-1] || !sameRow(row, c.raw.XYZ[(n-1)*c.width:]) {
				return c.outOfOrder(line, key, c.keys[n-1])
			}
			if c.repeats++; c.repeats == 1 {
				c.repeat = line
			}
			continue
		}
		c.keys = append(c.keys, key)
		c.raw.XYZ = append(c.raw.XYZ, row...)
	}
	return nil
}

func sameRow(a, b []float32) bool {
	for i, v := range a {
		if v != b[i] && (v == v || b[i] == b[i]) {
			return false
		}
	}
	return true
}

func (c *collector) outOfOrder(line int, key, before float64) error {
	name := c.columns[c.key].title
	if key == before {
		return &recording.Error{Line: line, Text: fmt.Sprintf("%s %v is there twice, with different values", name, key),
			Remedy: "delete one of the two lines"}
	}
	return &recording.Error{Line: line, Text: fmt.Sprintf("%s goes back from %v to %v", name, before, key),
		Remedy: "sort the lines, or split the file if it holds more than one recording"}
}

func (c *collector) note(s recording.Severity, where, format string, args ...any) {
	c.raw.Notes = append(c.raw.Notes, recording.Note{Severity: s, Where: where, Text: fmt.Sprintf(format, args...)})
}

// finish puts everything into raw once all rows are there.
func (c *collector) finish() error {
	if c.long != nil {
		c.long.finish(c)
	}
	if c.raw.Frames() == 0 {
		return recording.At(c.lines, 0, "the table has no rows of numbers")
	}
	if c.repeats > 0 {
		c.note(recording.Warn, fmt.Sprintf("line %d", c.repeat), "%d lines repeat the one before them: left out", c.repeats)
	}
	c.particulars()
	if c.key < 0 {
		return nil
	}
	if c.columns[c.key].role == clock {
		c.times()
		return nil
	}
	return c.fillFrames()
}

// times turns the keys into seconds.
func (c *collector) times() {
	scale := c.columns[c.key].scale
	if scale == 0 {
		scale = c.guessScale()
	}
	for i := range c.keys {
		c.keys[i] *= scale
	}
	c.raw.TimeS = c.keys
}

// guessScale tells seconds from smaller units by the median step: no system takes less than a frame in two seconds
// or more than 20,000 a second.
func (c *collector) guessScale() float64 {
	if len(c.keys) < 2 {
		return 1
	}
	steps := make([]float64, 0, len(c.keys)-1)
	for i := 1; i < len(c.keys); i++ {
		steps = append(steps, c.keys[i]-c.keys[i-1])
	}
	sort.Float64s(steps)
	step := steps[len(steps)/2]
	for _, u := range []struct {
		name  string
		scale float64
	}{{"s", 1}, {"ms", 1e-3}, {"us", 1e-6}, {"ns", 1e-9}} {
		if s := step * u.scale; s <= 0.5 {
			if u.scale != 1 {
				c.note(recording.Info, "", "column %s goes up by %v a frame: taken as %s", c.columns[c.key].title, step, u.name)
			}
			return u.scale
		}
	}
	return 1
}

// mostFill is how many times the frames present may be added as missing ones.
const mostFill = 20

// fillFrames puts empty frames where the numbers of the frames leave some out.
func (c *collector) fillFrames() error {
	step := c.frameStep()
	first := c.keys[0]
	last := (c.keys[len(c.keys)-1] - first) / step
	if last == float64(len(c.keys)-1) {
		return nil
	}
	name := c.columns[c.key].title
	if last != math.Trunc(last) || last > float64(mostFill*len(c.keys)) {
		return recording.Refuse("look at the column", "column %s is no numbering of frames: it runs from %v to %v over %d frames",
			name, first, c.keys[len(c.keys)-1], len(c.keys))
	}
	width := 3 * len(c.raw.Points)
	out := make([]float32, (int(last)+1)*width)
	for i := range out {
		out[i] = missing
	}
	for i, key := range c.keys {
		at := (key - first) / step
		if at != math.Trunc(at) {
			return recording.Refuse("look at the column", "column %s has the frame number %v between two frames", name, key)
		}
		copy(out[int(at)*width:], c.raw.XYZ[i*width:(i+1)*width])
	}
	c.raw.XYZ = out
	c.note(recording.Warn, "", "%d frames are left out in column %s: they are missing", int(last)+1-len(c.keys), name)
	return nil
}

// frameStep is by how much the number of a frame goes up: the smallest step there is.
func (c *collector) frameStep() float64 {
	step := math.Inf(1)
	for i := 1; i < len(c.keys); i++ {
		step = min(step, c.keys[i]-c.keys[i-1])
	}
	if math.IsInf(step, 1) {
		return 1
	}
	return step
}

var missing = float32(math.NaN())

// particulars takes the player, day, hand and height from columns and comments.
func (c *collector) particulars() {
	for i, column := range c.parser.constants {
		c.particular(c.columns[column].role, c.constants[i].value)
	}
	for key, value := range c.said {
		switch word := squeeze(key); word {
		case "rate", "ratehz", "framerate", "frequency", "fps", "samplerate", "samplingrate", "capturerate", "datarate":
			if v, ok := number(strings.TrimSuffix(strings.ToLower(value), "hz")); ok && v > 0 && c.raw.RateHz == 0 {
				c.raw.RateHz = v
			}
		case "up", "upaxis", "vertical":
			c.raw.UpIs = value
		default:
			c.particular(roleWords[word], value)
		}
	}
}

func (c *collector) particular(r role, value string) {
	switch {
	case value == "":
	case r == player:
		c.raw.Player = value
	case r == session:
		c.raw.Session = value
	case r == hand:
		c.raw.Hand = value
	case r == height:
		if v, ok := number(value); ok && v > 0 {
			c.raw.HeightM = v
			if v > 3 { // centimetres
				c.raw.HeightM = v / 100
			}
		}
	}
}
