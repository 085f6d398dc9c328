package table

import (
	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
)

// values is one column of a table: an array, or the words of one; all rows of them, or chosen ones, in any order.
type values struct {
	array arrow.Array
	words []byte   // by row: place in array, counted from 1, 0 for null; nil where the array has a value for each row
	rows  *[]int32 // of array or words, -1 for a row of null; nil for all in their order
}

func (v values) len() int {
	switch {
	case v.rows != nil:
		return len(*v.rows)
	case v.words != nil:
		return len(v.words)
	}
	return v.array.Len()
}

// at is the place in the array of row i of the table, or -1.
func (v values) at(i int) int {
	if v.rows != nil {
		i = int((*v.rows)[i])
	}
	if v.words != nil && i >= 0 {
		return int(v.words[i]) - 1
	}
	return i
}

// missing tells whether the column has no value in row i.
func (v values) missing(i int) bool {
	at := v.at(i)
	return at < 0 || v.array.IsNull(at)
}

// gathered is the column as an array of its own.
func (v values) gathered() arrow.Array {
	switch {
	case v.words != nil:
		places := make([]int32, v.len())
		for i := range places {
			places[i] = int32(v.at(i))
		}
		return gather(v.array, places)
	case v.rows != nil:
		return gather(v.array, *v.rows)
	}
	return v.array
}

// take makes a table of the given rows; -1 gives a row of nulls. It keeps rows.
func (t Table) take(rows []int32) Table {
	if t.schema == nil {
		return t
	}
	columns := make([]values, len(t.columns))
	through := map[*[]int32]*[]int32{} // columns have their rows in common
	for k, c := range t.columns {
		chosen := through[c.rows]
		if chosen == nil {
			chosen = c.choose(rows)
			through[c.rows] = chosen
		}
		columns[k] = values{c.array, c.words, chosen}
	}
	return Table{schema: t.schema, columns: columns, rows: len(rows)}
}

// choose gives the places in the array of some rows of the table.
func (v values) choose(rows []int32) *[]int32 {
	if v.rows == nil {
		return &rows
	}
	places := make([]int32, len(rows))
	for k, i := range rows {
		places[k] = -1
		if i >= 0 {
			places[k] = (*v.rows)[i]
		}
	}
	return &places
}

// gather copies rows of an array; -1 gives null.
func gather(from arrow.Array, rows []int32) arrow.Array {
	switch a := from.(type) {
	case *array.Float64:
		return gatherFixed(a, a.Float64Values(), arrow.Float64Traits.CastToBytes, rows)
	case *array.Int64:
		return gatherFixed(a, a.Int64Values(), arrow.Int64Traits.CastToBytes, rows)
	case *array.Date32:
		return gatherFixed(a, a.Date32Values(), arrow.Date32Traits.CastToBytes, rows)
	case *array.Timestamp:
		return gatherFixed(a, a.TimestampValues(), arrow.TimestampTraits.CastToBytes, rows)
	case *array.Boolean:
		return gatherFlags(a, rows)
	}
	return gatherTexts(from.(*array.String), rows)
}

func gatherFixed[T any](a arrow.Array, from []T, bytes func([]T) []byte, rows []int32) arrow.Array {
	out := make([]T, len(rows))
	valid := newBits(len(rows))
	for k, i := range rows {
		if i < 0 || a.IsNull(int(i)) {
			valid.clear(k)
		} else {
			out[k] = from[i]
		}
	}
	return fixed(a.DataType(), bytes(out), valid)
}

func gatherFlags(a *array.Boolean, rows []int32) arrow.Array {
	b := array.NewBooleanBuilder(memory.DefaultAllocator)
	b.Reserve(len(rows))
	for _, i := range rows {
		if i < 0 || a.IsNull(int(i)) {
			b.AppendNull()
		} else {
			b.Append(a.Value(int(i)))
		}
	}
	return b.NewArray()
}

func gatherTexts(a *array.String, rows []int32) arrow.Array {
	size := 0
	for _, i := range rows {
		if i >= 0 {
			size += a.ValueLen(int(i))
		}
	}
	b := array.NewStringBuilder(memory.DefaultAllocator)
	b.Reserve(len(rows))
	b.ReserveData(size)
	for _, i := range rows {
		if i < 0 || a.IsNull(int(i)) {
			b.AppendNull()
		} else {
			b.Append(a.Value(int(i)))
		}
	}
	return b.NewArray()
}
