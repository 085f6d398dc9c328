package table

import (
	"math"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
)

// Numbers copies a column as numbers, NaN where it is null. Dates give days, times seconds since 1970, flags 0 or 1. It
// panics with an [*Error] when there is no such column or it holds text.
func (t Table) Numbers(column string) []float64 { return numbers(t.mustHave(column)) }

// Texts copies a column as texts, "" where it is null. Dates are written 2026-03-14, times in RFC 3339, flags "yes" and
// "no". It panics with an [*Error] when there is no such column or it holds numbers.
func (t Table) Texts(column string) []string { return texts(t.mustHave(column)) }

// Distinct lists the texts of a column, each once, in order of first appearance, nulls left out. It panics as Texts
// does.
func (t Table) Distinct(column string) []string {
	var list []string
	seen := map[string]bool{"": true}
	for _, v := range t.Texts(column) {
		if !seen[v] {
			seen[v] = true
			list = append(list, v)
		}
	}
	return list
}

// Row is row i, counted from 0. It panics with an [*Error] when there is none.
func (t Table) Row(i int) Row {
	if t.err != nil {
		panic(t.err)
	}
	if i < 0 || i >= t.Len() {
		panic(errorf("there is no row %d: the table has %d rows, counted from 0", i, t.Len()))
	}
	return Row{newReader(t), i}
}

// Row is one row of a table. Reading a column that doesn't exist panics with an [*Error].
type Row struct {
	reader *reader
	i      int
}

// Index is the place of the row in its table, counted from 0.
func (r Row) Index() int { return r.i }

// Number is the row's value in a number, integer, date, time or bool column; NaN where it is null.
func (r Row) Number(column string) float64 {
	c := r.reader.column(column)
	if c.number == nil {
		panic(c.wrongType("numbers"))
	}
	if c.missing(r.i) {
		return math.NaN()
	}
	return c.number(r.i)
}

// Text is the row's value in a text, date, time or bool column; "" where it is null.
func (r Row) Text(column string) string {
	c := r.reader.column(column)
	if c.text == nil {
		panic(c.wrongType("texts"))
	}
	if c.missing(r.i) {
		return ""
	}
	return c.text(r.i)
}

// Flag is the row's value in a bool column; false where it is null.
func (r Row) Flag(column string) bool {
	c := r.reader.column(column)
	flags, ok := c.array.(*array.Boolean)
	if !ok {
		panic(c.wrongType("flags"))
	}
	return !c.missing(r.i) && flags.Value(c.at(r.i))
}

// Missing tells whether the row has no value in a column.
func (r Row) Missing(column string) bool { return r.reader.column(column).missing(r.i) }

// reader finds columns by name for many rows, looking each name up once. It belongs to one goroutine.
type reader struct {
	table   Table
	columns map[string]cells
}

func newReader(t Table) *reader { return &reader{t, map[string]cells{}} }

func (r *reader) column(name string) cells {
	c, ok := r.columns[name]
	if !ok {
		c = newCells(r.table.mustHave(name))
		r.columns[name] = c
	}
	return c
}

// cells reads single values of one column. number and text are nil where the type has no such reading; they are not
// asked for nulls.
type cells struct {
	values
	name   string
	number func(i int) float64
	text   func(i int) string
}

func newCells(name string, v values) cells {
	c := cells{values: v, name: name}
	switch a := v.array.(type) {
	case *array.Float64:
		c.number = func(i int) float64 { return a.Value(v.at(i)) }
	case *array.Int64:
		c.number = func(i int) float64 { return float64(a.Value(v.at(i))) }
	case *array.String:
		c.text = func(i int) string { return a.Value(v.at(i)) }
	case *array.Date32:
		c.number = func(i int) float64 { return float64(a.Value(v.at(i))) }
		c.text = func(i int) string { return dateText(a.Value(v.at(i))) }
	case *array.Timestamp:
		c.number = func(i int) float64 { return float64(a.Value(v.at(i))) / 1e6 }
		c.text = func(i int) string { return timeText(a.Value(v.at(i))) }
	case *array.Boolean:
		c.number = func(i int) float64 {
			if a.Value(v.at(i)) {
				return 1
			}
			return 0
		}
		c.text = func(i int) string {
			if a.Value(v.at(i)) {
				return "yes"
			}
			return "no"
		}
	}
	return c
}

func (c cells) wrongType(want string) error {
	return errorf("column %q holds %ss, not %s", c.name, typeNames[c.array.DataType().ID()], want)
}

func (t Table) mustHave(column string) (string, values) {
	i := t.index(column)
	if t.err != nil || i < 0 {
		panic(t.unknown(column))
	}
	return column, t.columns[i]
}

func numbers(name string, v values) []float64 {
	c := newCells(name, v)
	if c.number == nil {
		panic(c.wrongType("numbers"))
	}
	out := make([]float64, v.len())
	if a, ok := v.array.(*array.Float64); ok && v.rows == nil && a.NullN() == 0 {
		copy(out, a.Float64Values())
		return out
	}
	for i := range out {
		out[i] = math.NaN()
		if !v.missing(i) {
			out[i] = c.number(i)
		}
	}
	return out
}

func texts(name string, v values) []string {
	c := newCells(name, v)
	if c.text == nil {
		panic(c.wrongType("texts"))
	}
	out := make([]string, v.len())
	for i := range out {
		if !v.missing(i) {
			out[i] = c.text(i)
		}
	}
	return out
}

func dateText(d arrow.Date32) string {
	return time.Unix(int64(d)*secondsADay, 0).UTC().Format(time.DateOnly)
}

func timeText(t arrow.Timestamp) string {
	return time.UnixMicro(int64(t)).UTC().Format(time.RFC3339Nano)
}
