package delimited

import (
	"bytes"
	"math"

	"tossline/datasets/decimal"
	"tossline/datasets/recording"
)

// Nearly all rows of a file are written alike: on one line, with as many fields as the table has columns. Where such
// rows follow one another, their separators say where everything is, and numbers of many rows are read at a time.
// Whatever is otherwise is left to rows.alone, which gives the errors too.

// oneByOne has every row read by itself. Tests turn it on.
var oneByOne = false

// usual is the form of the rows of a block.
type usual struct {
	fields int  // of a row; more than there are columns where every row ends in delimiters
	all    bool // all rows have as many
	none   bool // the block has to be read row by row
}

func (r *rows) usual() usual {
	text := r.text[:len(r.text)-padding]
	u := usual{fields: 1, none: oneByOne}
	for u.fields+1 < len(r.ends) && text[r.ends[u.fields]] != '\n' {
		u.fields++
	}
	u.fields = max(u.fields, len(r.Columns))
	u.all = (len(r.ends)-1)%u.fields == 0 && bytes.Count(text, []byte{'\n'}) == (len(r.ends)-1)/u.fields
	for at := u.fields; u.all && at < len(r.ends); at += u.fields {
		u.all = text[r.ends[at]] == '\n'
	}
	r.fronts, r.stops = r.ends[:len(r.ends)-1], r.ends[1:]
	if bytes.IndexByte(text, '"') >= 0 || bytes.IndexByte(text, '\r') >= 0 {
		u.none = u.none || !r.strip(text)
	}
	return u
}

// strip takes carriage returns off the ends of lines, and quotes off fields that are quoted from end to end. It reports
// false where there are others.
func (r *rows) strip(text []byte) bool {
	r.inner = append(append(r.inner[:0], r.fronts...), r.stops...)
	r.fronts, r.stops = r.inner[:len(r.fronts)], r.inner[len(r.fronts):]
	returns, quotes := 0, 0
	for k, stop := range r.stops {
		front := r.fronts[k]
		if text[stop] == '\n' {
			for stop > front+1 && text[stop-1] == '\r' {
				stop--
				returns++
			}
		}
		if stop > front+2 && text[front+1] == '"' && text[stop-1] == '"' {
			front, stop = front+1, stop-1
			quotes += 2
		}
		r.fronts[k], r.stops[k] = front, stop
	}
	return returns == bytes.Count(text, []byte{'\r'}) && quotes == bytes.Count(text, []byte{'"'})
}

// count is how many rows of the usual form follow one another from field at on.
func (u usual) count(r *rows, at int) (n int) {
	if u.none {
		return 0
	}
	for ; at+u.fields < len(r.ends); n++ {
		if c := r.text[r.ends[at]+1]; c <= ' ' || c == '#' || r.text[r.ends[at+u.fields]] != '\n' ||
			!u.all && r.newlineIn(r.ends[at+1:at+u.fields]) {
			return n
		}
		for k := len(r.Columns); k < u.fields; k++ {
			if r.stops[at+k] != r.fronts[at+k]+1 {
				return n
			}
		}
		at += u.fields
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

// together reads the n rows from field at on and gives how many of them, from the first on, are without an error.
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
			row += r.samePoint(at+row*fields, n-row, fields)
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
	fronts, ends := r.fronts[at+s.column:], r.stops[at+s.column:]
	out := r.values[base:]
	if s.n < r.Width {
		r.column = extend(r.column[:0], n*s.n)
		out = r.column
	}
	out = out[:n*s.n]
	for done := decimal.Fields32(r.text, fronts, ends, run, out, 0); done < len(out); {
		k := run.Place(done)
		if fronts[k]+1 == ends[k] {
			out[done] = missing
			done++
			continue
		}
		v, ok := r.number(r.content(at + s.column + k))
		if !ok {
			n = done / s.n
			break
		}
		out[done] = v
		done = decimal.Fields32(r.text, fronts, ends, run, out, done+1)
	}
	if s.n < r.Width {
		for row := range n {
			copy(r.values[base+row*r.Width+s.to:], out[row*s.n:][:s.n])
		}
	}
	return n
}

// sameFrame keeps those rows, of n from field at on, that are of the frame of the row before them and of the points
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
		if !bytes.Equal(r.field(at+r.Key), r.keyText) || string(r.field(at+r.pointColumn)) != names[same] ||
			len(r.About) > 0 && !r.sameAbout(at, p) {
			break
		}
		at += fields
	}
	frame.Rows += int32(same)
	p.point += int32(same)
	r.lines += same
	return same
}

// samePoint keeps those rows, of n from field at on, that are of the point of the row before them, and gives their
// number.
func (r *rows) samePoint(at, n, fields int) int {
	p := &r.parts[len(r.parts)-1]
	if len(p.Stretches) == 0 || r.Key < 0 {
		return 0
	}
	name, same := p.Names[p.point], 0
	for ; same < n && string(r.field(at+r.pointColumn)) == name; same++ {
		field := r.field(at + r.Key)
		key, length := decimal.Scan(r.text[r.fronts[at+r.Key]+1:])
		if length == 0 || length != len(field) || key-key != 0 || len(r.About) > 0 && !r.sameAbout(at, p) {
			break
		}
		p.Put(key, int32(r.lines), p.point)
		r.keyText, r.key = field, key
		r.lines++
		at += fields
	}
	return same
}

// field is a field, without quotes.
func (r *rows) field(k int) []byte { return r.text[r.fronts[k]+1 : r.stops[k]] }

// content is a field as cutField gives it.
func (r *rows) content(k int) []byte {
	if field := r.field(k); len(field) > 0 && visible(field[0]) && visible(field[len(field)-1]) {
		return field
	}
	if front := r.fronts[k]; front >= 0 && r.text[front] == '"' {
		return bytes.TrimSpace(r.field(k))
	}
	return bytes.Trim(r.field(k), " \t")
}

// visible reports whether c is a character that is never trimmed.
func visible(c byte) bool { return ' ' < c && c < 0x7f }

func (r *rows) sameAbout(at int, p *part) bool {
	for i, column := range r.About {
		if string(r.field(at+column)) != p.About[i] {
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
		field := r.field(at + s.column)
		switch s.kind {
		case rowKey:
			// What stands behind the field ends the number too, and lets it be read at once.
			v, n := decimal.Scan(r.text[r.fronts[at+s.column]+1:])
			if n != len(field) || n == 0 || v-v != 0 {
				var bad *recording.Error
				if v, bad = r.keyValue(r.content(at+s.column), s.column); bad != nil {
					return false
				}
			}
			key, r.keyText, r.key = v, field, v
		case pointName:
			name = r.pointNamed(r.content(at + s.column))
		case particular:
			r.about[s.to] = r.content(at + s.column)
		}
	}
	r.finishRow(base, key, name)
	r.lines++
	return true
}
