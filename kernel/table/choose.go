package table

import (
	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
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
		if c.array.IsNull(i) {
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
	return t.keep(func(i int) bool { return c.array.IsValid(i) && c.number(i) >= low && c.number(i) <= high })
}

// Present keeps the rows that have a value in each of the columns.
func (t Table) Present(columns ...string) Table {
	var arrays []arrow.Array
	for _, column := range columns {
		c, err := t.cells(column)
		if err != nil {
			return Table{err: err}
		}
		arrays = append(arrays, c.array)
	}
	return t.keep(func(i int) bool {
		for _, a := range arrays {
			if a.IsNull(i) {
				return false
			}
		}
		return true
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
	if t.err != nil || t.record == nil {
		return t
	}
	from = min(max(from, 0), t.Len())
	to = min(max(to, from), t.Len())
	return Table{record: t.record.NewSlice(int64(from), int64(to))}
}

// Pick keeps these columns, in this order.
func (t Table) Pick(columns ...string) Table {
	if t.err != nil {
		return t
	}
	var fields []arrow.Field
	var arrays []arrow.Array
	for _, column := range columns {
		i := t.index(column)
		if i < 0 {
			return Table{err: t.unknown(column)}
		}
		fields, arrays = append(fields, t.record.Schema().Field(i)), append(arrays, t.record.Column(i))
	}
	return build(fields, arrays, t.meta())
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
	return newCells(column, t.record.Column(i)), nil
}

func (t Table) keep(choose func(i int) bool) Table {
	if t.err != nil {
		return t
	}
	rows := make([]int, 0, t.Len())
	for i := range t.Len() {
		if choose(i) {
			rows = append(rows, i)
		}
	}
	if len(rows) == t.Len() {
		return t
	}
	return t.take(rows)
}

// take makes a table of the given rows; -1 gives a row of nulls.
func (t Table) take(rows []int) Table {
	if t.record == nil {
		return t
	}
	fields, arrays := t.columns()
	for i, a := range arrays {
		arrays[i] = take(a, rows)
	}
	return build(fields, arrays, t.meta())
}

func take(values arrow.Array, rows []int) arrow.Array {
	switch a := values.(type) {
	case *array.Float64:
		return takeFixed(a, a.Float64Values(), arrow.Float64Traits.CastToBytes, rows)
	case *array.Int64:
		return takeFixed(a, a.Int64Values(), arrow.Int64Traits.CastToBytes, rows)
	case *array.Date32:
		return takeFixed(a, a.Date32Values(), arrow.Date32Traits.CastToBytes, rows)
	case *array.Timestamp:
		return takeFixed(a, a.TimestampValues(), arrow.TimestampTraits.CastToBytes, rows)
	case *array.Boolean:
		return takeFlags(a, rows)
	}
	return takeTexts(values.(*array.String), rows)
}

func takeFixed[T any](a arrow.Array, from []T, bytes func([]T) []byte, rows []int) arrow.Array {
	out := make([]T, len(rows))
	valid := newBits(len(rows))
	for k, i := range rows {
		if i < 0 || a.IsNull(i) {
			valid.clear(k)
		} else {
			out[k] = from[i]
		}
	}
	return fixed(a.DataType(), bytes(out), valid)
}

func takeFlags(a *array.Boolean, rows []int) arrow.Array {
	b := array.NewBooleanBuilder(memory.DefaultAllocator)
	b.Reserve(len(rows))
	for _, i := range rows {
		if i < 0 || a.IsNull(i) {
			b.AppendNull()
		} else {
			b.Append(a.Value(i))
		}
	}
	return b.NewArray()
}

func takeTexts(a *array.String, rows []int) arrow.Array {
	size := 0
	for _, i := range rows {
		if i >= 0 {
			size += a.ValueLen(i)
		}
	}
	b := array.NewStringBuilder(memory.DefaultAllocator)
	b.Reserve(len(rows))
	b.ReserveData(size)
	for _, i := range rows {
		if i < 0 || a.IsNull(i) {
			b.AppendNull()
		} else {
			b.Append(a.Value(i))
		}
	}
	return b.NewArray()
}
