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

// rows is what one block holds, and what it is read from.
type rows struct {
	*parser
	text []byte  // of the block, with padding
	ends []int32 // where its separators are, from -1 on

	fronts, stops []int32 // by field: what stands in front of it and behind it, a separator or a quote
	inner         []int32 // memory of these, where they differ from ends

	values []float32
	column []float32 // numbers on their way into values
	parts  []part    // one for each stretch of rows with the same particulars
	lines  int       // lines of the block
	bytes  int       // of the block
	cutAt  int       // 1 + line of an incomplete last line that was left out; 0 if none
	err    *recording.Error

	about   [][]byte // the last row's particulars
	keyText []byte   // its key as it stands in the block, and its value
	key     float64
}

// part is rows with the same particulars.
type part struct {
	tabular.Rows
	from  int // place of its first value
	known map[string]int32
	point int32 // of a long table: the last row's
}

// parser turns blocks into rows. It is read-only while blocks are parsed in parallel.
type parser struct {
	dialect
	*tabular.Layout
	steps  []step
	others []step // those of them that are neither coordinates nor left out
	spare  chan *rows

	pointColumn int // of a long table
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
			s.kind, p.pointColumn = pointName, c
		} else if about >= 0 {
			s.kind, s.to = particular, about
		}
		p.steps = append(p.steps, s)
		if s.kind > coordinates {
			p.others = append(p.others, s)
		}
	}
	return p
}

// parse reads all lines of a block, up to the first error: rows of the usual form together, any other by itself.
func (p *parser) parse(b block) *rows {
	r := p.newRows(b)
	if p.decimalComma {
		swapCommas(b.text)
	}
	if p.spaces {
		b.text = joinBlanks(b.text)
		clearPadding(b)
	}
	r.text = b.padded()
	r.ends = decimal.Separators(b.text, p.delimiter, append(r.ends[:0], -1))
	usual := r.usual()
	for i, at := 0, 0; i < len(b.text); {
		for at+1 < len(r.ends) && int(r.ends[at+1]) < i {
			at++
		}
		if n := r.together(at, usual.count(r, at), usual.fields); n > 0 {
			at += n * usual.fields
			i = int(r.ends[at]) + 1
			continue
		}
		i = skipSpace(r.text, i)
		if r.text[i] == '\n' || r.text[i] == '#' {
			i += bytes.IndexByte(r.text[i:], '\n') + 1
			r.lines++
			continue
		}
		end, bad := r.alone(i)
		if bad != nil {
			r.fail(bad, b, i)
			break
		}
		i = end
		r.lines++
	}
	for i := range r.parts {
		to := len(r.values)
		if i+1 < len(r.parts) {
			to = r.parts[i+1].from
		}
		r.parts[i].Values = r.values[r.parts[i].from:to]
	}
	return r
}

// fail ends a block with the error of the row that starts at start; an index into the text is its column.
func (r *rows) fail(bad *recording.Error, b block, start int) {
	next := start + bytes.IndexByte(r.text[start:], '\n') + 1
	if b.cut && next == len(b.text) {
		r.cutAt = r.lines + 1
		r.lines++
		return
	}
	if bad.Remedy == "" && openQuote(r.text[start:next]) {
		bad.Remedy = closeQuote
	}
	bad.Line, bad.Column = r.lines, bad.Column-start+1
	r.err = bad
}

// newRows gives empty rows, with the memory of rows that were taken where there are such.
func (p *parser) newRows(b block) *rows {
	r := &rows{parser: p, parts: make([]part, 1), about: make([][]byte, len(p.About))}
	select {
	case old := <-p.spare:
		was, now := &old.parts[0].Rows, &r.parts[0].Rows
		now.Keys, now.Places, now.Stretches = was.Keys[:0], was.Places[:0], was.Stretches[:0]
		r.ends, r.inner, r.values, r.column = old.ends, old.inner, old.values[:0], old.column
	default:
		r.values, r.ends = make([]float32, 0, len(b.text)/6), make([]int32, 0, len(b.text)/5)
	}
	r.bytes = len(b.text)
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

// alone reads one row that starts at text[i] and gives the index of the next line. An error's Column is an index into
// text.
func (r *rows) alone(i int) (next int, bad *recording.Error) {
	b := r.text
	base := len(r.values)
	r.values = extend(r.values, r.Width)
	key, name := math.NaN(), pointField{}
	for at := range r.steps {
		s := &r.steps[at]
		if at > 0 {
			if b[i] != r.delimiter {
				bad = r.short(i, s.column)
				break
			}
			i++
		}
		switch s.kind {
		case coordinates:
			i, bad = r.numbers(b, i, s.column, r.values[base+s.to:][:s.n])
		case rowKey:
			key, i, bad = r.rowKey(i, s.column)
		case pointName:
			var field []byte
			field, i = cutField(b, i, r.delimiter)
			name = r.pointNamed(field)
		case particular:
			r.about[s.to], i = cutField(b, i, r.delimiter)
		default:
			_, i = cutField(b, i, r.delimiter)
		}
		if bad != nil {
			break
		}
	}
	for bad == nil && b[i] == '\r' {
		i++
	}
	for bad == nil && b[i] == r.delimiter { // delimiters at the end, or more columns than titles
		i = skipSpace(b, i+1)
	}
	if bad == nil && b[i] != '\n' {
		bad = r.surplus(b, i)
	}
	if bad != nil {
		r.values = r.values[:base]
		return 0, bad
	}
	r.finishRow(base, key, name)
	return i + 1, nil
}

// finishRow keeps what belongs to a row whose values begin at base. Where its particulars differ from those before, it
// begins a new part.
func (r *rows) finishRow(base int, key float64, name pointField) {
	p := &r.parts[len(r.parts)-1]
	if base > p.from && !sameFields(p.About, r.about) {
		r.parts = append(r.parts, part{from: base})
		p = &r.parts[len(r.parts)-1]
		name.id = -1
	}
	if base == p.from {
		p.About = p.About[:0]
		for _, field := range r.about {
			p.About = append(p.About, string(field))
		}
	}
	if r.Long {
		if name.id < 0 {
			name.id = p.pointID(name.text)
		}
		p.point = name.id
		p.Put(key, int32(r.lines), name.id)
		return
	}
	if r.Key >= 0 {
		p.Keys = append(p.Keys, key)
	}
	p.Places = append(p.Places, int32(r.lines))
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

// rowKey reads the column c that orders the rows, which begins at text[i]. In a long table many rows have the same.
func (r *rows) rowKey(i, c int) (float64, int, *recording.Error) {
	b := r.text
	if end := i + len(r.keyText); end > i && end < len(b) && b[end] == r.delimiter && bytes.Equal(b[i:end], r.keyText) {
		return r.key, end, nil
	}
	v, n := decimal.Scan(b[i:])
	end := i + n
	if n == 0 || b[end] != r.delimiter && b[end] != '\n' || v-v != 0 {
		var field []byte
		field, end = cutField(b, i, r.delimiter)
		var bad *recording.Error
		if v, bad = r.keyValue(field, c); bad != nil {
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
	field, end := cutField(b, i, p.delimiter)
	v, ok := p.number(field)
	if !ok {
		return 0, 0, p.noNumber(i, c, field)
	}
	return v, end, nil
}

// number is a coordinate of any form, or a missing one.
func (p *parser) number(field []byte) (float32, bool) {
	if v, n := decimal.Scan32(field, 0); n == len(field) && n > 0 && v-v == 0 {
		return v, true
	}
	if isMissing(field) {
		return missing, true
	}
	field = p.pointed(field)
	v, n := decimal.Scan32(field, 0)
	return v, n == len(field) && !math.IsInf(float64(v), 0)
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

// pointNamed finds a name among those of the rows before. Names come in the same order frame after frame, or frames
// point after point, so that the name after the last one and the last one are tried first.
func (r *rows) pointNamed(text []byte) pointField {
	p := &r.parts[len(r.parts)-1]
	if len(p.Names) > 0 {
		next := p.point + 1
		if int(next) == len(p.Names) {
			next = 0
		}
		for _, id := range [...]int32{next, p.point} {
			if string(text) == p.Names[id] {
				return pointField{text, id}
			}
		}
	}
	return pointField{text, -1}
}

// pointID gives the index of a point's name, a new one where it is not known yet.
func (p *part) pointID(name []byte) int32 {
	if id, ok := p.known[string(name)]; ok {
		return id
	}
	if p.known == nil {
		p.known = map[string]int32{}
	}
	id := int32(len(p.Names))
	p.Names = append(p.Names, string(name))
	p.known[string(name)] = id
	return id
}
