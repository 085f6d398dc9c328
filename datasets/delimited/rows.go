package delimited

import (
	"bytes"
	"fmt"
	"math"
	"strconv"

	"tossline/datasets/decimal"
	"tossline/datasets/recording"
)

// rows is what one block holds.
type rows struct {
	xyz   []float32 // a frame (wide) or a point (long) a row
	key   []float64 // time or number of the frame, where there is a column of it
	line  []int32   // line of each row, counted from 0 within the block
	point []int32   // of a long table: index into names
	names []string

	constants []constant // the columns that hold one value for the whole file
	lines     int        // lines of the block
	bytes     int        // of the block
	cutAt     int        // 1 + line of an incomplete last line that was left out; 0 if none
	err       *recording.Error
}

// constant is the value of a column that should be the same in every row.
type constant struct {
	value  string
	set    bool
	change int // 1 + line where it changes, 0 if it does not
	other  string
}

// parser turns blocks into rows. It is read-only while blocks are parsed in parallel.
type parser struct {
	dialect
	layout
	key       int // column that orders the rows, -1 without
	width     int // values in xyz for a row
	columns   []column
	constants []int // columns that hold one value
	place     []int // by column: index of its constant
	dest      []int // by column: place in xyz, -1 for other columns
	run       []int // by column: how many columns from here on have neighbouring places in xyz
	spare     chan *rows
}

func newParser(d dialect, l layout) *parser {
	p := &parser{dialect: d, layout: l, columns: l.columns, key: -1, width: 3 * len(l.points),
		spare: make(chan *rows, 8)}
	if l.long {
		p.width = 3
	}
	p.place, p.dest = make([]int, len(l.columns)), make([]int, len(l.columns))
	for c, col := range l.columns {
		p.dest[c] = -1
		switch {
		case col.role == coordinate:
			p.dest[c] = 3*col.point + col.axis
		case col.role == axisValue:
			p.dest[c] = col.axis
		case col.role == clock && (p.key < 0 || l.columns[p.key].role == counter),
			col.role == counter && p.key < 0:
			p.key = c
		case col.role >= player:
			p.place[c] = len(p.constants)
			p.constants = append(p.constants, c)
		}
	}
	p.run = runs(p.dest)
	return p
}

// runs gives for each place the length of the run of rising neighbours that starts there, 0 for places below 0.
func runs(dest []int) []int {
	run := make([]int, len(dest))
	for c := len(dest) - 1; c >= 0; c-- {
		switch {
		case dest[c] < 0:
		case c+1 < len(dest) && dest[c+1] == dest[c]+1:
			run[c] = run[c+1] + 1
		default:
			run[c] = 1
		}
	}
	return run
}

// parse reads all lines of a block, up to the first error.
func (p *parser) parse(b block) *rows {
	r := p.newRows(b)
	if p.decimalComma {
		swapCommas(b.text)
	}
	text := b.padded()
	known := map[string]int32{}
	for i := 0; i < len(b.text); r.lines++ {
		i = skipSpace(text, i)
		if text[i] == '\n' || text[i] == '#' {
			i += bytes.IndexByte(text[i:], '\n') + 1
			continue
		}
		start := i
		end, bad := p.row(text, i, r, known)
		if bad != nil {
			next := start + bytes.IndexByte(text[start:], '\n') + 1
			if b.cut && next == len(b.text) {
				r.cutAt = r.lines + 1
				r.lines++
				return r
			}
			bad.Line, bad.Column = r.lines, bad.Column-start+1
			r.err = bad
			return r
		}
		i = end
	}
	return r
}

// newRows gives empty rows, with the memory of rows that were taken where there are such.
func (p *parser) newRows(b block) *rows {
	r := &rows{bytes: len(b.text), constants: make([]constant, len(p.constants))}
	select {
	case old := <-p.spare:
		r.xyz, r.key, r.line, r.point = old.xyz[:0], old.key[:0], old.line[:0], old.point[:0]
	default:
		r.xyz = make([]float32, 0, len(b.text)/6)
	}
	return r
}

// recycle gives the memory of rows back.
func (p *parser) recycle(r *rows) {
	select {
	case p.spare <- r:
	default:
	}
}

func swapCommas(text []byte) {
	for i, c := range text {
		if c == ',' {
			text[i] = '.'
		}
	}
}

func skipSpace(b []byte, i int) int {
	for b[i] == ' ' || b[i] == '\r' || b[i] == '\f' {
		i++
	}
	return i
}

// row reads one row that starts at b[i] and gives the index of the next line. An error's Column is an index into b.
func (p *parser) row(b []byte, i int, r *rows, known map[string]int32) (next int, bad *recording.Error) {
	base := len(r.xyz)
	r.xyz = extend(r.xyz, p.width)
	key, id := math.NaN(), int32(-1)
	for c := 0; c < len(p.columns); c++ {
		if c > 0 {
			if b[i] != p.delimiter {
				bad = p.short(i, c)
				break
			}
			i++
		}
		if n := p.run[c]; n > 0 {
			to := base + p.dest[c]
			i, bad = p.numbers(b, i, c, r.xyz[to:to+n])
			c += n - 1
		} else {
			i, bad = p.word(b, i, c, r, known, &key, &id)
		}
		if bad != nil {
			break
		}
		if b[i] == '\r' {
			i++
		}
	}
	for bad == nil && b[i] == p.delimiter { // delimiters at the end, or more columns than titles
		i = skipSpace(b, i+1)
	}
	if bad == nil && b[i] != '\n' {
		bad = &recording.Error{Column: i, Text: fmt.Sprintf("the line has more than the %d columns of the header",
			len(p.columns))}
	}
	if bad != nil {
		r.xyz = r.xyz[:base]
		return 0, bad
	}
	if p.key >= 0 {
		r.key = append(r.key, key)
	}
	if p.long {
		r.point = append(r.point, id)
	}
	r.line = append(r.line, int32(r.lines))
	return i + 1, nil
}

// numbers reads a run of neighbouring coordinate columns that starts with column c.
func (p *parser) numbers(b []byte, i, c int, out []float32) (int, *recording.Error) {
	for k := range out {
		if k > 0 {
			if b[i] != p.delimiter {
				return i, p.short(i, c+k)
			}
			i++
		}
		v, end := decimal.Scan32(b, i)
		if end == i || b[end] != p.delimiter && b[end] != '\n' || v-v != 0 {
			var bad *recording.Error
			if v, end, bad = p.slowNumber(b, i, c+k); bad != nil {
				return i, bad
			}
		}
		out[k], i = v, end
	}
	return i, nil
}

// word reads any other column.
func (p *parser) word(b []byte, i, c int, r *rows, known map[string]int32, key *float64, id *int32) (int,
	*recording.Error) {
	field, end := cutField(b, i, p.delimiter)
	switch role := p.columns[c].role; {
	case c == p.key:
		v, bad := p.keyValue(field, c)
		if bad != nil {
			bad.Column = i
			return i, bad
		}
		*key = v
	case role == pointName:
		*id = r.name(field, known)
	case role >= player:
		r.constants[p.place[c]].see(field, r.lines)
	}
	return end, nil
}

func (p *parser) short(i, columns int) *recording.Error {
	return &recording.Error{Column: i, Text: fmt.Sprintf("the line ends after %d of %d columns", columns, len(p.columns))}
}

// extend makes s longer by n values that are not cleared.
func extend(s []float32, n int) []float32 {
	if len(s)+n <= cap(s) {
		return s[:len(s)+n]
	}
	return append(s, make([]float32, n)...)
}

// slowNumber reads a coordinate that is missing, padded, quoted or wrong.
func (p *parser) slowNumber(b []byte, i, c int) (float32, int, *recording.Error) {
	field, end := cutField(b, i, p.delimiter)
	if isMissing(field) {
		return float32(math.NaN()), end, nil
	}
	if p.decimalComma || p.delimiter == ',' {
		field = bytes.Replace(field, []byte{','}, []byte{'.'}, 1) // a quoted "1,5"
	}
	v, n := decimal.Scan32(field, 0)
	if n != len(field) || math.IsInf(float64(v), 0) {
		return 0, 0, &recording.Error{Column: i, Text: fmt.Sprintf("expected a number for %s, found %s",
			p.columns[c].title, recording.Quote(string(field)))}
	}
	return v, end, nil
}

// keyValue reads a time or a frame number.
func (p *parser) keyValue(field []byte, c int) (float64, *recording.Error) {
	v, n := decimal.Scan(field)
	if n == len(field) && n > 0 && !math.IsInf(v, 0) {
		return v, nil
	}
	if v, ok := clockTime(field); ok && p.columns[c].role == clock {
		return v, nil
	}
	what := "a time"
	if p.columns[c].role == counter {
		what = "the number of a frame"
	}
	return 0, &recording.Error{Text: fmt.Sprintf("expected %s in column %s, found %s", what, p.columns[c].title,
		recording.Quote(string(field)))}
}

// clockTime reads 12:30:05.25 or a date with such a time behind it, as seconds of the day.
func clockTime(field []byte) (float64, bool) {
	if i := bytes.LastIndexAny(field, "T "); i >= 0 {
		field = field[i+1:]
	}
	field = bytes.TrimSuffix(field, []byte("Z"))
	parts := bytes.Split(field, []byte(":"))
	if len(parts) < 2 || len(parts) > 3 {
		return 0, false
	}
	seconds := 0.0
	for _, part := range parts {
		v, n := decimal.Scan(part)
		if n == 0 || n != len(part) || v < 0 {
			return 0, false
		}
		seconds = seconds*60 + v
	}
	return seconds, true
}

// name gives the index of a point's name, a new one where it is not known yet. Names come in the same order frame
// after frame, so that the one after the last is tried first.
func (r *rows) name(field []byte, known map[string]int32) int32 {
	if n := len(r.point); n > 0 {
		next := int(r.point[n-1]) + 1
		if next == len(r.names) {
			next = 0
		}
		if string(field) == r.names[next] {
			return int32(next)
		}
	}
	if id, ok := known[string(field)]; ok {
		return id
	}
	id := int32(len(r.names))
	r.names = append(r.names, string(field))
	known[string(field)] = id
	return id
}

// see notes a value of a column that should not change.
func (c *constant) see(field []byte, line int) {
	switch {
	case !c.set:
		c.value, c.set = string(field), true
	case c.change == 0 && string(field) != c.value:
		c.change, c.other = line+1, string(field)
	}
}

// number reads a plain number out of a particulars column or a comment.
func number(text string) (float64, bool) {
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
}
