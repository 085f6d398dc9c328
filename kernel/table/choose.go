package table

import (
	"slices"

	"github.com/apache/arrow/go/v17/arrow"
)

// Where keeps the rows whose text (or date) in a column is one of the values.
func (t Table) Where(column string, values ...string) Table { return t.match(column, values, true) }

// Except leaves out the rows whose text (or date) in a column is one of the values; nulls stay.
func (t Table) Except(column string, values ...string) Table { return t.match(column, values, false) }

func (t Table) match(column string, values []string, keep bool) Table {
	c, err := t.cells(column)
	if err != nil {
		return Table{err: err}
	}
	if c.text == nil {
		return Table{err: c.wrongType("texts")}
	}
	wanted := make(map[string]bool, len(values))
	for _, v := range values {
		wanted[v] = true
	}
	return t.keep(func(i int) bool {
		if c.missing(i) {
			return !keep
		}
		return wanted[c.text(i)] == keep
	})
}

// Between keeps the rows whose number in a column lies from low to high, both included; nulls go.
func (t Table) Between(column string, low, high float64) Table {
	c, err := t.cells(column)
	if err != nil {
		return Table{err: err}
	}
	if c.number == nil {
		return Table{err: c.wrongType("numbers")}
	}
	return t.keep(func(i int) bool { return !c.missing(i) && c.number(i) >= low && c.number(i) <= high })
}

// Present keeps the rows that have a value in each of the columns.
func (t Table) Present(columns ...string) Table {
	var wanted []values
	for _, column := range columns {
		i := t.index(column)
		if t.err != nil || i < 0 {
			return Table{err: t.unknown(column)}
		}
		wanted = append(wanted, t.columns[i])
	}
	return t.keep(func(i int) bool {
		return !slices.ContainsFunc(wanted, func(c values) bool { return c.missing(i) })
	})
}

// Keep keeps the rows for which choose is true.
func (t Table) Keep(choose func(Row) bool) (kept Table) {
	if t.err != nil {
		return t
	}
	defer catch(&kept)
	r := newReader(t)
	return t.keep(func(i int) bool { return choose(Row{r, i}) })
}

// catch turns the panic of a Row asked for an unknown column into the table's error.
func catch(t *Table) {
	switch problem := recover().(type) {
	case nil:
	case *Error:
		*t = Table{err: problem}
	default:
		panic(problem)
	}
}

// First keeps the first n rows, or all where there are fewer.
func (t Table) First(n int) Table { return t.slice(0, n) }

// Last keeps the last n rows, or all where there are fewer.
func (t Table) Last(n int) Table { return t.slice(t.Len()-max(n, 0), t.Len()) }

func (t Table) slice(from, to int) Table {
	from = min(max(from, 0), t.Len())
	to = min(max(to, from), t.Len())
	if t.err != nil || to-from == t.Len() {
		return t
	}
	rows := make([]int32, to-from)
	for i := range rows {
		rows[i] = int32(from + i)
	}
	return t.take(rows)
}

// Pick keeps these columns, in this order.
func (t Table) Pick(columns ...string) Table {
	if t.err != nil {
		return t
	}
	var fields []arrow.Field
	var picked []values
	for _, column := range columns {
		i := t.index(column)
		if i < 0 {
			return Table{err: t.unknown(column)}
		}
		fields, picked = append(fields, t.schema.Field(i)), append(picked, t.columns[i])
	}
	return build(fields, picked, t.meta())
}

// Drop leaves these columns out.
func (t Table) Drop(columns ...string) Table {
	gone := map[string]bool{}
	for _, column := range columns {
		if !t.Has(column) {
			return Table{err: t.unknown(column)}
		}
		gone[column] = true
	}
	var stay []string
	for _, name := range t.Names() {
		if !gone[name] {
			stay = append(stay, name)
		}
	}
	return t.Pick(stay...)
}

func (t Table) cells(column string) (cells, error) {
	i := t.index(column)
	if t.err != nil || i < 0 {
		return cells{}, t.unknown(column)
	}
	return newCells(column, t.columns[i]), nil
}

func (t Table) keep(choose func(i int) bool) Table {
	if t.err != nil {
		return t
	}
	rows := make([]int32, 0, t.Len())
	for i := range t.Len() {
		if choose(i) {
			rows = append(rows, int32(i))
		}
	}
	if len(rows) == t.Len() {
		return t
	}
	return t.take(rows)
}
