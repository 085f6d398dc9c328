package c3d

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
)

// Encode writes a file. Numbers are stored as f.Processor and the sign of f.Scale say. It fails where a value does not
// fit the integers that were asked for.
func (f *File) Encode(w io.Writer) error {
	if f.Scale == 0 || f.Scale != f.Scale || f.Processor < Intel || f.Processor > MIPS {
		return fmt.Errorf("C3D with the scale %v and %s cannot be written", f.Scale, f.Processor)
	}
	if len(f.Fourth)*3 != len(f.XYZ) || f.Frames() == 0 {
		return errors.New("there are no whole frames to write as C3D")
	}
	groups := f.describeAll()
	c := codecOf(f.Processor)
	parameters, err := encodeParameters(groups, c)
	if err != nil {
		return err
	}
	dataBlock := 2 + len(parameters)/blockLen
	// The place of the data is known only now. Its parameter is a word of fixed length.
	set(groups, "POINT", "DATA_START", integers(dataBlock))
	if parameters, err = encodeParameters(groups, c); err != nil {
		return err
	}
	out := bufio.NewWriterSize(w, 1<<20)
	out.Write(f.header(dataBlock, c))
	out.Write(parameters)
	if err := f.writeFrames(out, c); err != nil {
		return err
	}
	return out.Flush()
}

// header makes the first block.
func (f *File) header(dataBlock int, c codec) []byte {
	b := make([]byte, blockLen)
	b[0], b[1] = 2, 0x50
	for at, v := range map[int]int{2: len(f.Labels), 4: len(f.Channels) * f.PerFrame, 6: min(f.First, math.MaxUint16),
		8: min(f.last(), math.MaxUint16), 10: f.MaxGap, 16: dataBlock, 18: f.PerFrame} {
		c.put(b[at:], v)
	}
	c.putReal(b[12:], f.Scale)
	c.putReal(b[20:], float32(f.RateHz))
	c.put(b[eventKey:], keyValue)
	events := f.HeaderSet[:min(len(f.HeaderSet), mostEvents)]
	c.put(b[eventCount:], len(events))
	for i, e := range events {
		c.putReal(b[eventTimes+4*i:], float32(e.TimeS))
		if !e.Hidden {
			b[eventFlags+i] = 1
		}
		copy(b[eventLabels+4*i:][:4], e.Label+"    ")
	}
	return b
}

func (f *File) last() int { return f.First + f.Frames() - 1 }

// describeAll gives the parameters with those that a reader needs set to what the file is. Parameters that say so
// already stay as they are.
func (f *File) describeAll() []Group {
	groups := make([]Group, len(f.Groups))
	for i, g := range f.Groups {
		groups[i] = g
		groups[i].Parameters = append([]Parameter(nil), g.Parameters...)
	}
	g := groupList{&groups}
	g.set("POINT", "USED", integers(len(f.Labels)))
	g.set("POINT", "FRAMES", integers(min(f.Frames(), math.MaxUint16)))
	g.set("POINT", "SCALE", reals(f.Scale))
	g.set("POINT", "RATE", reals(float32(f.RateHz)))
	g.set("POINT", "DATA_START", integers(0))
	g.setLabels("POINT", "LABELS", f.Labels)
	if f.last() > math.MaxUint16 {
		g.set("TRIAL", "ACTUAL_START_FIELD", integers(f.First&0xffff, f.First>>16))
		g.set("TRIAL", "ACTUAL_END_FIELD", integers(f.last()&0xffff, f.last()>>16))
		g.set("POINT", "LONG_FRAMES", reals(float32(f.Frames())))
	}
	g.set("ANALOG", "USED", integers(len(f.Channels)))
	if len(f.Channels) > 0 {
		g.set("ANALOG", "RATE", reals(float32(f.RateHz)*float32(f.PerFrame)))
		g.setChannels(f)
	}
	return groups
}

// setChannels writes what channels are, where the file's own parameters do not tell it already.
func (g groupList) setChannels(f *File) {
	told := File{Groups: *g.groups}
	told.name(layout{analogWords: len(f.Channels), perFrame: 1})
	if slices.Equal(told.Channels, f.Channels) && f.number32("ANALOG", "GEN_SCALE", 1) == f.GenScale {
		return
	}
	var names, units []string
	for i, c := range f.Channels {
		names, units = append(names, c.Name), append(units, c.Unit)
		if at := i % mostLabels; at == 0 {
			n := min(len(f.Channels)-i, mostLabels)
			scales, offsets := reals(make([]float32, n)...), reals(make([]float32, n)...)
			for k, c := range f.Channels[i : i+n] {
				scales.Reals[k], offsets.Reals[k] = c.Scale, c.Offset
			}
			scales.Dims, offsets.Dims = []int{n}, []int{n}
			g.set("ANALOG", numbered("SCALE", i/mostLabels), scales)
			g.set("ANALOG", numbered("OFFSET", i/mostLabels), offsets)
		}
	}
	g.set("ANALOG", "GEN_SCALE", reals(f.GenScale))
	g.setLabels("ANALOG", "LABELS", names)
	g.setLabels("ANALOG", "UNITS", units)
}

func (f *File) number32(group, name string, otherwise float32) float32 {
	if v, ok := f.number(group, name); ok {
		return float32(v)
	}
	return otherwise
}

// numbered gives LABELS, LABELS2, LABELS3 and so on.
func numbered(name string, i int) string {
	if i == 0 {
		return name
	}
	return fmt.Sprintf("%s%d", name, i+1)
}

func integers(v ...int) Parameter {
	p := Parameter{Type: Integer}
	for _, n := range v {
		p.Integers = append(p.Integers, int16(n))
	}
	if len(v) > 1 {
		p.Dims = []int{len(v)}
	}
	return p
}

func reals(v ...float32) Parameter {
	p := Parameter{Type: Real, Reals: v}
	if len(v) > 1 {
		p.Dims = []int{len(v)}
	}
	return p
}

func texts(v ...string) Parameter {
	width := 1
	for _, s := range v {
		width = min(127, max(width, len(s)))
	}
	p := Parameter{Type: Char, Dims: []int{width, len(v)}}
	for _, s := range v {
		p.Bytes = append(p.Bytes, s[:min(len(s), width)]...)
		for i := len(s); i < width; i++ {
			p.Bytes = append(p.Bytes, ' ')
		}
	}
	return p
}

// groupList sets parameters in a list of groups.
type groupList struct{ groups *[]Group }

func set(groups []Group, group, name string, p Parameter) { groupList{&groups}.set(group, name, p) }

// set gives a parameter a value, unless it says the same in other words: a count as another type, for instance.
func (g groupList) set(group, name string, p Parameter) {
	at := -1
	for i := range *g.groups {
		if strings.EqualFold((*g.groups)[i].Name, group) {
			at = i
			break
		}
	}
	if at < 0 {
		at = len(*g.groups)
		*g.groups = append(*g.groups, Group{Name: group})
	}
	list := &(*g.groups)[at].Parameters
	for i := range *list {
		old := &(*list)[i]
		if !strings.EqualFold(old.Name, name) {
			continue
		}
		if !sameValues(old, &p) {
			p.Name, p.Locked, p.Description = old.Name, old.Locked, old.Description
			*old = p
		}
		return
	}
	p.Name = name
	*list = append(*list, p)
}

func sameValues(a, b *Parameter) bool {
	if a.Type == Char || b.Type == Char {
		x, y := a.texts(), b.texts()
		if len(x) != len(y) {
			return false
		}
		for i := range x {
			if x[i] != y[i] {
				return false
			}
		}
		return true
	}
	x, y := a.numbers(), b.numbers()
	if len(x) != len(y) {
		return false
	}
	for i := range x {
		if x[i] != y[i] && !(a.Type == Integer && b.Type == Integer && int16(x[i]) == int16(y[i])) {
			return false
		}
	}
	return true
}

// mostLabels is how many texts one parameter can count.
const mostLabels = 255

// setLabels writes labels where the file's own parameters do not tell them already.
func (g groupList) setLabels(group, name string, labels []string) {
	f := File{Groups: *g.groups}
	told := make([]string, len(labels))
	copy(told, f.allTexts(group, name))
	same := true
	for i, l := range labels {
		same = same && told[i] == l
	}
	if same {
		return
	}
	for i := 0; i*mostLabels < len(labels); i++ {
		g.set(group, numbered(name, i), texts(labels[i*mostLabels:min(len(labels), (i+1)*mostLabels)]...))
	}
}

// encodeParameters makes the parameter section, which fills whole blocks.
func encodeParameters(groups []Group, c codec) ([]byte, error) {
	if len(groups) > 127 {
		return nil, fmt.Errorf("C3D holds 127 groups of parameters, not %d", len(groups))
	}
	b := []byte{1, 0x50, 0, 0}
	link := 0
	for i, g := range groups {
		var err error
		if b, link, err = appendRecord(b, c, g.Name, g.Locked, -(i + 1), nil, g.Description); err != nil {
			return nil, err
		}
		for j := range g.Parameters {
			p := &g.Parameters[j]
			if b, link, err = appendRecord(b, c, p.Name, p.Locked, i+1, p.encode(c), p.Description); err != nil {
				return nil, fmt.Errorf("%s:%w", g.Name, err)
			}
		}
	}
	if link > 0 {
		c.put(b[link:], 0) // the last record points nowhere
	}
	b = append(b, 0, 0)
	b = append(b, make([]byte, (blockLen-len(b)%blockLen)%blockLen)...)
	b[2], b[3] = byte(min(255, len(b)/blockLen)), c.processor()
	return b, nil
}

func (c codec) processor() byte {
	switch {
	case c.dec:
		return byte(DEC)
	case c.order.Uint16([]byte{0, 1}) == 1:
		return byte(MIPS)
	}
	return byte(Intel)
}

// appendRecord adds a group or parameter and gives the place of its link.
func appendRecord(b []byte, c codec, name string, locked bool, id int, body []byte, about string) ([]byte, int, error) {
	if name == "" || len(name) > 127 {
		return nil, 0, fmt.Errorf("%s: the name of a C3D parameter has 1 to 127 letters", name)
	}
	length := int8(len(name))
	if locked {
		length = -length
	}
	about = about[:min(len(about), 255)]
	step := 2 + len(body) + 1 + len(about)
	if step > math.MaxInt16 {
		return nil, 0, fmt.Errorf("%s: its values take %d bytes, and C3D has room for 32767", name, step)
	}
	b = append(b, byte(length), byte(int8(id)))
	b = append(b, name...)
	link := len(b)
	b = append(b, 0, 0)
	c.put(b[link:], step)
	b = append(b, body...)
	b = append(b, byte(len(about)))
	return append(b, about...), link, nil
}

// encode gives type, dimensions and values.
func (p *Parameter) encode(c codec) []byte {
	b := []byte{byte(p.Type), byte(len(p.Dims))}
	for _, d := range p.Dims {
		b = append(b, byte(d))
	}
	b = append(b, p.Bytes...)
	for _, v := range p.Integers {
		b = append(b, 0, 0)
		c.put(b[len(b)-2:], int(v))
	}
	for _, v := range p.Reals {
		b = append(b, 0, 0, 0, 0)
		c.putReal(b[len(b)-4:], v)
	}
	return b
}

// writeFrames writes the frames and fills the last block.
func (f *File) writeFrames(out io.Writer, c codec) error {
	points, analog := len(f.Labels), len(f.Channels)*f.PerFrame
	width := f.width()
	b := make([]byte, width*(4*points+analog))
	unsigned := f.unsigned()
	total := 0
	for i := range f.Frames() {
		at := 0
		put := func(v float32, step float32) error {
			if width == 4 {
				c.putReal(b[at:], v)
				at += 4
				return nil
			}
			n := math.Round(float64(v) / float64(step))
			if !(n >= math.MinInt16 && n <= math.MaxUint16) || n > math.MaxInt16 && !(unsigned && step == 1) {
				return fmt.Errorf("frame %d: %v does not fit an integer of C3D in steps of %v", f.First+i, v, step)
			}
			c.put(b[at:], int(n))
			at += 2
			return nil
		}
		for k := i * points; k < (i+1)*points; k++ {
			for _, v := range f.XYZ[3*k : 3*k+3] {
				if err := put(v, f.Scale); err != nil {
					return err
				}
			}
			if err := put(f.Fourth[k], 1); err != nil {
				return err
			}
		}
		for _, v := range f.Analog[i*analog : (i+1)*analog] {
			if err := put(v, 1); err != nil {
				return err
			}
		}
		if _, err := out.Write(b); err != nil {
			return err
		}
		total += len(b)
	}
	_, err := out.Write(make([]byte, (blockLen-total%blockLen)%blockLen))
	return err
}
