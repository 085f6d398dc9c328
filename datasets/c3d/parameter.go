package c3d

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"tossline/datasets/recording"
)

// Group is a group of parameters.
type Group struct {
	Name, Description string
	Locked            bool
	Parameters        []Parameter
}

// Type is the type of a parameter's values, by its code in the file: the bytes of one value.
type Type int8

// The types.
const (
	Char    Type = -1
	Byte    Type = 1
	Integer Type = 2
	Real    Type = 4
)

func (t Type) width() int {
	if t == Char {
		return 1
	}
	return int(t)
}

// Parameter is one parameter. A text has the length of its first dimension; the others tell how many there are.
type Parameter struct {
	Name, Description string
	Locked            bool
	Type              Type
	Dims              []int
	Bytes             []byte    // of Char and Byte
	Integers          []int16   // of Integer
	Reals             []float32 // of Real
}

// texts gives the texts of a Char parameter, without the blanks that fill them up.
func (p *Parameter) texts() []string {
	if p == nil || p.Type != Char {
		return nil
	}
	if len(p.Dims) == 0 {
		return []string{plainText(p.Bytes)}
	}
	n := p.Dims[0]
	if len(p.Dims) == 1 {
		return []string{plainText(p.Bytes)}
	}
	var out []string
	for i := 0; n > 0 && i+n <= len(p.Bytes); i += n {
		out = append(out, plainText(p.Bytes[i:i+n]))
	}
	return out
}

// plainText decodes a text: UTF-8 where it is that, else ISO 8859-1, without what fills it up.
func plainText(b []byte) string {
	if !utf8.Valid(b) {
		runes := make([]rune, len(b))
		for i, c := range b {
			runes[i] = rune(c)
		}
		b = []byte(string(runes))
	}
	clean := strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return ' '
		}
		return r
	}, string(b))
	return strings.TrimSpace(clean)
}

// numbers gives the values of a parameter as numbers; integers as they are, with their sign.
func (p *Parameter) numbers() []float64 {
	if p == nil {
		return nil
	}
	var out []float64
	switch p.Type {
	case Byte:
		for _, v := range p.Bytes {
			out = append(out, float64(int8(v)))
		}
	case Integer:
		for _, v := range p.Integers {
			out = append(out, float64(v))
		}
	case Real:
		for _, v := range p.Reals {
			out = append(out, float64(v))
		}
	}
	return out
}

// count gives a number that cannot be below zero: integers are read without a sign, as counts above 32,767 are kept.
func (p *Parameter) count() (int, bool) {
	v := p.numbers()
	if len(v) == 0 {
		return 0, false
	}
	n := v[0]
	if n < 0 && p.Type == Integer {
		n += 1 << 16
	}
	if n < 0 || n > 1<<40 {
		return 0, false
	}
	return int(n), true
}

// group finds a group by its name, in any case.
func (f *File) group(name string) *Group {
	for i := range f.Groups {
		if strings.EqualFold(f.Groups[i].Name, name) {
			return &f.Groups[i]
		}
	}
	return nil
}

// parameter finds "POINT", "RATE"; nil where there is none.
func (f *File) parameter(group, name string) *Parameter {
	g := f.group(group)
	if g == nil {
		return nil
	}
	for i := range g.Parameters {
		if strings.EqualFold(g.Parameters[i].Name, name) {
			return &g.Parameters[i]
		}
	}
	return nil
}

// allTexts joins LABELS, LABELS2, LABELS3 and so on.
func (f *File) allTexts(group, name string) []string {
	out := f.parameter(group, name).texts()
	for i := 2; ; i++ {
		p := f.parameter(group, name+strconv.Itoa(i))
		if p == nil {
			return out
		}
		out = append(out, p.texts()...)
	}
}

func (f *File) allNumbers(group, name string) []float64 {
	out := f.parameter(group, name).numbers()
	for i := 2; ; i++ {
		p := f.parameter(group, name+strconv.Itoa(i))
		if p == nil {
			return out
		}
		out = append(out, p.numbers()...)
	}
}

// text gives the first text of a parameter.
func (f *File) text(group, name string) string {
	if t := f.parameter(group, name).texts(); len(t) > 0 {
		return t[0]
	}
	return ""
}

// number gives the first number of a parameter.
func (f *File) number(group, name string) (float64, bool) {
	if v := f.parameter(group, name).numbers(); len(v) > 0 {
		return v[0], true
	}
	return 0, false
}

// section reads the records of the parameter section.
type section struct {
	codec
	text   []byte         // from the section's first record on
	offset int64          // of text in the file
	groups map[int]*Group // by id; without a name where only parameters were met
	order  []int
}

// damage is a record that cannot be read.
type damage struct {
	at  int
	why string
}

// readParameters gives the groups, and where the section is damaged a note; what stands before is kept.
func readParameters(text []byte, offset int64, c codec) ([]Group, []recording.Note) {
	s := &section{codec: c, text: text, offset: offset, groups: map[int]*Group{}}
	var notes []recording.Note
	for at := 0; at >= 0; {
		next, bad := s.record(at)
		if bad != nil {
			left := "what stands before is used"
			if next > 0 {
				left = "left out"
			}
			notes = append(notes, recording.Note{Severity: recording.Warn,
				Where: fmt.Sprintf("byte %d", offset+int64(bad.at)),
				Text:  "the parameter section is damaged (" + bad.why + "): " + left})
		}
		at = next
	}
	var out []Group
	for _, id := range s.order {
		out = append(out, *s.groups[id])
	}
	return out, notes
}

// record reads the group or parameter at a place and gives the place of the next, -1 after the last or where it
// cannot be told.
func (s *section) record(at int) (next int, bad *damage) {
	if at > len(s.text) {
		return -1, &damage{len(s.text), "the next record would lie behind its end"}
	}
	if at+2 > len(s.text) {
		return -1, nil // a section that is full to its last byte
	}
	length, id := int(int8(s.text[at])), int(int8(s.text[at+1]))
	if length == 0 {
		return -1, nil
	}
	locked := length < 0
	if locked {
		length = -length
	}
	start := at + 2
	link := start + length
	if link+2 > len(s.text) {
		return -1, &damage{at, "a name runs beyond the section"}
	}
	name := plainText(s.text[start:link])
	if !isName(s.text[start:link]) {
		return -1, &damage{at, "a name holds " + recording.Quote(string(s.text[start:link]))}
	}
	next = -1
	if step := s.word(s.text[link:]); step > 0 {
		next = link + step
	}
	end := len(s.text)
	if next >= 0 {
		end = min(next, end)
	}
	body := s.text[min(link+2, end):end]
	if id < 0 {
		g := s.group(-id)
		g.Name, g.Locked, g.Description = name, locked, description(body)
		return next, nil
	}
	if id == 0 {
		return next, &damage{at, name + " belongs to no group"}
	}
	p, why := s.parameter(body)
	if why != "" {
		return next, &damage{at, name + ": " + why}
	}
	p.Name, p.Locked = name, locked
	g := s.group(id)
	g.Parameters = append(g.Parameters, p)
	return next, nil
}

// group gives the group of an id: parameters may stand before it.
func (s *section) group(id int) *Group {
	if s.groups[id] == nil {
		s.groups[id] = &Group{Name: "GROUP" + strconv.Itoa(id)}
		s.order = append(s.order, id)
	}
	return s.groups[id]
}

// isName accepts what the names of groups and parameters are made of: anything that can be printed.
func isName(b []byte) bool {
	for _, c := range b {
		if c < ' ' || c == 0x7f {
			return false
		}
	}
	return true
}

func description(b []byte) string {
	if len(b) == 0 {
		return ""
	}
	return plainText(b[1:min(1+int(b[0]), len(b))])
}

// parameter reads what follows the link of a parameter.
func (s *section) parameter(b []byte) (p Parameter, why string) {
	if len(b) < 2 {
		return p, "its type is missing"
	}
	p.Type = Type(int8(b[0]))
	dims := int(b[1])
	if p.Type != Char && p.Type != Byte && p.Type != Integer && p.Type != Real {
		return p, fmt.Sprintf("its type is %d", p.Type)
	}
	if dims > 7 || len(b) < 2+dims {
		return p, fmt.Sprintf("it has %d dimensions", dims)
	}
	n := 1
	for _, d := range b[2 : 2+dims] {
		p.Dims = append(p.Dims, int(d))
		n *= int(d) // at most 255 to the seventh
	}
	b = b[2+dims:]
	if n > len(b) || n*p.Type.width() > len(b) {
		return p, "its values run beyond its end"
	}
	values := b[:n*p.Type.width()]
	switch p.Type {
	case Char, Byte:
		p.Bytes = append([]byte(nil), values...)
	case Integer:
		for i := 0; i < len(values); i += 2 {
			p.Integers = append(p.Integers, int16(s.integer(values[i:])))
		}
	case Real:
		for i := 0; i < len(values); i += 4 {
			p.Reals = append(p.Reals, s.real(values[i:]))
		}
	}
	p.Description = description(b[len(values):])
	return p, ""
}
