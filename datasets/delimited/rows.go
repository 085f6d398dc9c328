package delimited

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strings"

	"tossline/datasets/decimal"
	"tossline/datasets/recording"
	"tossline/datasets/tabular"
)

// rows is what one block holds.
type rows struct {
	parts []tabular.Rows // one for each stretch of rows with the same particulars
	known map[string]int32
	lines int // lines of the block
	bytes int // of the block
	cutAt int // 1 + line of an incomplete last line that was left out; 0 if none
	err   *recording.Error

	keyText []byte // the last row's key as it stands in the block, and its value
	key     float64
}

// parser turns blocks into rows. It is read-only while blocks are parsed in parallel.
type parser struct {
	dialect
	*tabular.Layout
	steps []step
	spare chan *rows
}

// step is what is read of a row at a time: the coordinates of neighbouring columns, or one column of another kind.
type step struct {
	kind   kind
	column int
	n      int // of coordinates: how many
	to     int // of coordinates: place in the row's values; of particulars: place among them
}

type kind uint8

const (
	skip kind = iota
	coordinates
	rowKey
	pointName
	particular
)

func newParser(d dialect, l *tabular.Layout) *parser {
	p := &parser{dialect: d, Layout: l, spare: make(chan *rows, 8)}
	for c := 0; c < len(l.Columns); c++ {
		s := step{column: c, n: 1}
		if about := slices.Index(l.About, c); l.Run[c] > 0 {
			s = step{coordinates, c, l.Run[c], l.Dest[c]}
			c += s.n - 1
		} else if c == l.Key {
			s.kind = rowKey
		} else if l.Columns[c].IsName() {
			s.kind = pointName
		} else if about >= 0 {
			s.kind, s.to = particular, about
		}
		p.steps = append(p.steps, s)
	}
	return p
}

// parse reads all lines of a block, up to the first error.
func (p *parser) parse(b block) *rows {
	r := p.newRows(b)
	if p.decimalComma {
		swapCommas(b.text)
	}
	if p.spaces {
		b.text = joinBlanks(b.text)
		clearPadding(b)
	}
	text := b.padded()
	about := make([][]byte, len(p.About))
	for i := 0; i < len(b.text); r.lines++ {
		i = skipSpace(text, i)
		if text[i] == '\n' || text[i] == '#' {
			i += bytes.IndexByte(text[i:], '\n') + 1
			continue
		}
		start := i
		end, bad := p.row(text, i, r, about)
		if bad != nil {
			next := start + bytes.IndexByte(text[start:], '\n') + 1
			if b.cut && next == len(b.text) {
				r.cutAt = r.lines + 1
				r.lines++
				return r
			}
			if bad.Remedy == "" && openQuote(text[start:next]) {
				bad.Remedy = closeQuote
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
	r := &rows{bytes: len(b.text), parts: make([]tabular.Rows, 1)}
	select {
	case old := <-p.spare:
		was, now := &old.parts[0], &r.parts[0]
		now.Values, now.Keys, now.Places, now.Points = was.Values[:0], was.Keys[:0], was.Places[:0], was.Points[:0]
	default:
		r.parts[0].Values = make([]float32, 0, len(b.text)/6)
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

// joinBlanks turns runs of blanks between fields into tabs and drops those at the ends of lines, in place.
func joinBlanks(text []byte) []byte {
	out := text[:0]
	for i := 0; i < len(text); i++ {
		if text[i] != blank {
			out = append(out, text[i])
			continue
		}
		for i+1 < len(text) && text[i+1] == blank {
			i++
		}
		start := len(out) == 0 || out[len(out)-1] == '\n'
		if end := i+1 >= len(text) || text[i+1] == '\n' || text[i+1] == '\r'; !start && !end {
			out = append(out, '\t')
		}
	}
	return out
}

// swapCommas makes points of commas, in place. It may read and change what lies in the padding.
func swapCommas(text []byte) {
	const high, commas = 0x8080808080808080, ',' * 0x0101010101010101
	for i := 0; i < len(text); i += 8 {
		eight := text[i:][:8:8]
		word := binary.LittleEndian.Uint64(eight)
		x := word ^ commas
		others := (x&^high + ^uint64(high) | x) & high // the high bits of bytes that are no commas
		binary.LittleEndian.PutUint64(eight, word^(others^high)>>7*(','^'.'))
	}
}

func skipSpace(b []byte, i int) int {
	for b[i] == ' ' || b[i] == '\r' || b[i] == '\f' {
		i++
	}
	return i
}

// row reads one row that starts at b[i] and gives the index of the next line. An error's Column is an index into b.
func (p *parser) row(b []byte, i int, r *rows, about [][]byte) (next int, bad *recording.Error) {
	part := &r.parts[len(r.parts)-1]
	base := len(part.Values)
	part.Values = extend(part.Values, p.Width)
	key, name := math.NaN(), pointField{}
	for at := range p.steps {
		s := &p.steps[at]
		if at > 0 {
			if b[i] != p.delimiter {
				bad = p.short(i, s.column)
				break
			}
			i++
		}
		switch s.kind {
		case coordinates:
			i, bad = p.numbers(b, i, s.column, part.Values[base+s.to:][:s.n])
		case rowKey:
			key, i, bad = p.key(b, i, s.column, r)
		case pointName:
			name, i = nameField(b, i, p.delimiter, part)
		case particular:
			about[s.to], i = cutField(b, i, p.delimiter)
		default:
			_, i = cutField(b, i, p.delimiter)
		}
		if bad != nil {
			break
		}
	}
	for bad == nil && b[i] == '\r' {
		i++
	}
	for bad == nil && b[i] == p.delimiter { // delimiters at the end, or more columns than titles
		i = skipSpace(b, i+1)
	}
	if bad == nil && b[i] != '\n' {
		bad = p.surplus(b, i)
	}
	if bad != nil {
		part.Values = part.Values[:base]
		return 0, bad
	}
	p.finishRow(r, base, key, name, about)
	return i + 1, nil
}

// finishRow keeps what belongs to a row whose values are the last of the current part. Where its particulars differ
// from those before, it begins a new part.
func (p *parser) finishRow(r *rows, base int, key float64, name pointField, about [][]byte) {
	part := &r.parts[len(r.parts)-1]
	if len(part.Places) > 0 && !sameFields(part.About, about) {
		values := part.Values[base:]
		part.Values = part.Values[:base:base]
		r.parts = append(r.parts, tabular.Rows{Values: append([]float32(nil), values...)})
		part, r.known, name.id = &r.parts[len(r.parts)-1], nil, -1
	}
	if len(part.Places) == 0 {
		part.About = part.About[:0]
		for _, field := range about {
			part.About = append(part.About, string(field))
		}
	}
	if p.Key >= 0 {
		part.Keys = append(part.Keys, key)
	}
	if p.Long {
		if name.id < 0 {
			name.id = r.pointID(part, name.text)
		}
		part.Points = append(part.Points, name.id)
	}
	part.Places = append(part.Places, int32(r.lines))
}

func sameFields(a []string, b [][]byte) bool {
	for i := range a {
		if a[i] != string(b[i]) {
			return false
		}
	}
	return true
}

// numbers reads a run of neighbouring coordinate columns that starts with column c.
func (p *parser) numbers(b []byte, i, c int, out []float32) (int, *recording.Error) {
	for k := 0; ; i++ {
		n, next := decimal.Row32(b, i, p.delimiter, out[k:])
		if k += n; k == len(out) {
			return next, nil
		}
		v, end, bad := p.slowNumber(b, next, c+k)
		if bad != nil {
			return next, bad
		}
		out[k], i = v, end
		if k++; k == len(out) {
			return i, nil
		}
		if b[i] != p.delimiter {
			return i, p.short(i, c+k)
		}
	}
}

// key reads the column that orders the rows. In a long table many rows have the same.
func (p *parser) key(b []byte, i, c int, r *rows) (float64, int, *recording.Error) {
	if end := i + len(r.keyText); end > i && end < len(b) && b[end] == p.delimiter && bytes.Equal(b[i:end], r.keyText) {
		return r.key, end, nil
	}
	v, n := decimal.Scan(b[i:])
	end := i + n
	if n == 0 || b[end] != p.delimiter && b[end] != '\n' || v-v != 0 {
		var field []byte
		field, end = cutField(b, i, p.delimiter)
		var bad *recording.Error
		if v, bad = p.keyValue(field, c); bad != nil {
			bad.Column = i
			return 0, i, bad
		}
	}
	r.keyText, r.key = b[i:end], v
	return v, end, nil
}

func (p *parser) short(i, columns int) *recording.Error {
	return &recording.Error{Column: i, Text: fmt.Sprintf("the line ends after %d of %d columns", columns, len(p.Columns))}
}

// surplus is the error of a line that goes on at b[i] behind its last column.
func (p *parser) surplus(b []byte, i int) *recording.Error {
	e := &recording.Error{Column: i, Text: fmt.Sprintf("the line has more than the %d columns of the header",
		len(p.Columns))}
	end := i + bytes.IndexByte(b[i:], '\n')
	if p.delimiter == ',' && bytes.Count(b[i:end], []byte{','})+1 >= len(p.Columns)-2 {
		e.Remedy = "where commas stand for decimal points, separate the columns by semicolons"
	}
	return e
}

// extend makes s longer by n values that are not cleared.
func extend(s []float32, n int) []float32 {
	if len(s)+n <= cap(s) {
		return s[:len(s)+n]
	}
	return append(s, make([]float32, n)...)
}

// slowNumber reads a coordinate that is missing, padded, quoted, wrong, or a number of a rare form.
func (p *parser) slowNumber(b []byte, i, c int) (float32, int, *recording.Error) {
	if v, end := decimal.Scan32(b, i); end > i && (b[end] == p.delimiter || b[end] == '\n') && v-v == 0 {
		return v, end, nil
	}
	field, end := cutField(b, i, p.delimiter)
	if isMissing(field) {
		return float32(math.NaN()), end, nil
	}
	number := p.pointed(field)
	v, n := decimal.Scan32(number, 0)
	if n != len(number) || math.IsInf(float64(v), 0) {
		return 0, 0, p.noNumber(i, c, field)
	}
	return v, end, nil
}

// pointed is a field with a decimal point for the comma of a quoted "1,5".
func (p *parser) pointed(field []byte) []byte {
	if p.delimiter == ',' && bytes.Count(field, []byte{','}) == 1 && bytes.IndexByte(field, '.') < 0 {
		return bytes.Replace(field, []byte{','}, []byte{'.'}, 1)
	}
	return field
}

// noNumber is the error of a coordinate that is none.
func (p *parser) noNumber(i, c int, field []byte) *recording.Error {
	e := &recording.Error{Column: i}
	digits := bytes.Trim(bytes.Map(func(r rune) rune {
		if strings.ContainsRune(".,'’_ \u00a0\u202f", r) {
			return -1
		}
		return r
	}, field), "+-")
	if n := len(digits); n > 3 && n < len(field) && len(bytes.Trim(digits, "0123456789")) == 0 {
		e.Remedy = "write numbers without separators of thousands"
	}
	if last := bytes.LastIndexByte(field, '.'); p.decimalComma && last >= 0 {
		field = bytes.Clone(field)
		field[last] = ',' // as it stands in the file
	}
	e.Text = fmt.Sprintf("expected a number for %s, found %s", p.Columns[c].Title, recording.Quote(name(field)))
	return e
}

// keyValue reads a time or a frame number.
func (p *parser) keyValue(field []byte, c int) (float64, *recording.Error) {
	if v, ok := tabular.ParseKey(p.pointed(field), p.Columns[c].IsClock()); ok {
		return v, nil
	}
	what := "the number of a frame"
	if p.Columns[c].IsClock() {
		what = "a time"
	}
	return 0, &recording.Error{Text: fmt.Sprintf("expected %s in column %s, found %s", what, p.Columns[c].Title,
		recording.Quote(string(field)))}
}

// pointField is the name of a point and its index among the names of its rows, -1 where it is not known.
type pointField struct {
	text []byte
	id   int32
}

// nameField is cutField for the name of a point. Names come in the same order frame after frame, so that the one after
// the last is tried first.
func nameField(b []byte, i int, delimiter byte, part *tabular.Rows) (pointField, int) {
	if n := len(part.Points); n > 0 {
		next := part.Points[n-1] + 1
		if int(next) == len(part.Names) {
			next = 0
		}
		name := part.Names[next]
		if end := i + len(name); end < len(b) && b[end] == delimiter && string(b[i:end]) == name {
			return pointField{b[i:end], next}, end
		}
	}
	text, end := cutField(b, i, delimiter)
	return pointField{text, -1}, end
}

// pointID gives the index of a point's name, a new one where it is not known yet.
func (r *rows) pointID(part *tabular.Rows, name []byte) int32 {
	if id, ok := r.known[string(name)]; ok {
		return id
	}
	if r.known == nil {
		r.known = map[string]int32{}
	}
	id := int32(len(part.Names))
	part.Names = append(part.Names, string(name))
	r.known[string(name)] = id
	return id
}
