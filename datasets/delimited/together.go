package delimited

import (
	"bytes"
	"math"

	"tossline/datasets/decimal"
	"tossline/datasets/recording"
)

// Nearly all rows of a file are written alike: on one line, without quotes, with as many fields as the table has
// columns. Where such rows follow one another, their separators say where everything is, and numbers of many rows are
// read at a time. Whatever is otherwise is left to rows.alone, which gives the errors too.

// oneByOne has every row read by itself. Tests turn it on.
var oneByOne = false

// usual is the form of the rows of a block.
type usual struct {
	fields int  // of a row; more than there are columns where every row ends in delimiters
	all    bool // all rows have as many
	odd    bool // quotes or carriage returns are somewhere
}

func (r *rows) usual() usual {
	text := r.text[:len(r.text)-padding]
	u := usual{fields: 1, odd: bytes.IndexByte(text, '"') >= 0 || bytes.IndexByte(text, '\r') >= 0}
	for u.fields+1 < len(r.ends) && text[r.ends[u.fields]] != '\n' {
		u.fields++
	}
	u.fields = max(u.fields, len(r.Columns))
	u.all = (len(r.ends)-1)%u.fields == 0 && bytes.Count(text, []byte{'\n'}) == (len(r.ends)-1)/u.fields
	for at := u.fields; u.all && at < len(r.ends); at += u.fields {
		u.all = text[r.ends[at]] == '\n'
	}
	return u
}

// count is how many rows of the usual form follow one another behind separator at. It takes carriage returns off their
// ends.
func (u usual) count(r *rows, at int) (n int) {
	if oneByOne {
		return 0
	}
	for start := r.lineAfter(at); at+u.fields < len(r.ends); n++ {
		ends := r.ends[at:][:u.fields+1]
		end := int(ends[u.fields])
		if c := r.text[start]; c <= ' ' || c == '#' || r.text[end] != '\n' || !u.all && r.newlineIn(ends[1:u.fields]) {
			return n
		}
		next := end + 1
		if u.odd {
			row := bytes.TrimRight(r.text[start:end], "\r")
			end = start + len(row)
			if bytes.IndexByte(row, '"') >= 0 || bytes.IndexByte(row, '\r') >= 0 || end < next-1 && r.Run[0] > 0 {
				return n // numbers begin right behind separators
			}
			ends[u.fields] = int32(end)
		}
		for k := len(r.Columns); k < u.fields; k++ {
			if ends[k+1] != ends[k]+1 {
				return n
			}
		}
		at, start = at+u.fields, next
	}
	return n
}

func (r *rows) newlineIn(ends []int32) bool {
	for _, at := range ends {
		if r.text[at] == '\n' {
			return true
		}
	}
	return false
}

// lineAfter is where the line behind separator at begins, which ends a row or had carriage returns behind it.
func (r *rows) lineAfter(at int) int {
	i := int(r.ends[at]) + 1
	for i > 0 && r.text[i-1] != '\n' {
		i++
	}
	return i
}

// together reads the n rows behind separator at and gives how many of them, from the first on, are without an error.
func (r *rows) together(at, n, fields int) int {
	base := len(r.values)
	r.values = extend(r.values, n*r.Width)
	for i := range r.steps {
		if s := &r.steps[i]; s.kind == coordinates && n > 0 {
			n = r.coordinates(s, at, n, fields, base)
		}
	}
	for row := 0; row < n; row++ {
		if r.Long {
			row += r.sameFrame(at+row*fields, n-row, fields)
		}
		if row < n && !r.rest(at+row*fields, base+row*r.Width) {
			n = row
		}
	}
	r.values = r.values[:base+n*r.Width]
	return n
}

// coordinates reads those of one step of n rows into the values from base on. It gives how many rows are without an
// error.
func (r *rows) coordinates(s *step, at, n, fields, base int) int {
	run := decimal.Run{Length: s.n, Skip: fields - s.n}
	ends := r.ends[at+s.column:]
	out := r.values[base:]
	if s.n < r.Width {
		r.column = extend(r.column[:0], n*s.n)
		out = r.column
	}
	out = out[:n*s.n]
	for done := decimal.Fields32(r.text, ends, run, out, 0); done < len(out); {
		k := run.Place(done)
		start, end := int(ends[k])+1, int(ends[k+1])
		if start == end {
			out[done] = missing
			done++
			continue
		}
		v, stop, bad := r.slowNumber(r.text, start, s.column+done%s.n)
		if bad != nil || stop != end {
			n = done / s.n
			break
		}
		out[done] = v
		done = decimal.Fields32(r.text, ends, run, out, done+1)
	}
	if s.n < r.Width {
		for row := range n {
			copy(r.values[base+row*r.Width+s.to:], out[row*s.n:][:s.n])
		}
	}
	return n
}

// sameFrame keeps those rows, of n behind separator at, that are of the frame of the row before them and of the points
// that come next there, and gives their number.
func (r *rows) sameFrame(at, n, fields int) int {
	p := &r.parts[len(r.parts)-1]
	if len(p.Stretches) == 0 || r.Key < 0 {
		return 0
	}
	frame := &p.Stretches[len(p.Stretches)-1]
	if int(frame.Place+frame.Rows) != r.lines { // another line lies between
		return 0
	}
	names := p.Names[p.point+1:]
	same := 0
	for ; same < n && same < len(names); same++ {
		if !r.has(at, r.Key, r.keyText) || !r.has(at, r.pointColumn, names[same]) || len(r.About) > 0 && !r.hasAbout(at, p) {
			break
		}
		at += fields
	}
	frame.Rows += int32(same)
	p.point += int32(same)
	r.lines += same
	return same
}

// has reports whether a field of the row behind separator at is the given text.
func (r *rows) has(at, column int, text string) bool {
	start := int(r.ends[at+column]) + 1
	if column == 0 {
		start = r.lineAfter(at)
	}
	return string(r.text[start:r.ends[at+column+1]]) == text
}

func (r *rows) hasAbout(at int, p *part) bool {
	for i, column := range r.About {
		if !r.has(at, column, p.About[i]) {
			return false
		}
	}
	return true
}

var missing = float32(math.NaN())

// rest reads what a row has besides coordinates, and reports whether it is without an error.
func (r *rows) rest(at, base int) bool {
	key, name := math.NaN(), pointField{}
	for i := range r.others {
		s := &r.others[i]
		start, end := int(r.ends[at+s.column])+1, int(r.ends[at+s.column+1])
		if s.column == 0 {
			start = r.lineAfter(at)
		}
		stop := start
		switch s.kind {
		case rowKey:
			var bad *recording.Error
			if key, stop, bad = r.rowKey(start, s.column); bad != nil {
				return false
			}
		case pointName:
			name, stop = r.pointName(start)
		case particular:
			r.about[s.to], stop = cutField(r.text, start, r.delimiter)
		}
		if stop != end {
			return false
		}
	}
	r.finishRow(base, key, name)
	r.lines++
	return true
}
