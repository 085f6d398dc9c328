package table

import (
	"cmp"
	"slices"
	"strings"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
)

// OrderBy sorts the rows by one or more columns; a hyphen before a name means descending: OrderBy("player",
// "-contact_offset_m"). Equal rows keep their order. Nulls come last either way.
func (t Table) OrderBy(columns ...string) Table {
	if t.err != nil {
		return t
	}
	var keys []func(i, j int) int
	for _, name := range columns {
		key, descending := strings.CutPrefix(name, "-")
		i := t.index(key)
		if i < 0 {
			return Table{err: t.unknown(key)}
		}
		keys = append(keys, comparer(t.columns[i].gathered(), descending))
	}
	rows := make([]int32, t.Len())
	for i := range rows {
		rows[i] = int32(i)
	}
	slices.SortStableFunc(rows, func(i, j int32) int {
		for _, compare := range keys {
			if c := compare(int(i), int(j)); c != 0 {
				return c
			}
		}
		return 0
	})
	return t.take(rows)
}

// comparer compares two rows of an array, nulls last.
func comparer(column arrow.Array, descending bool) func(i, j int) int {
	compare := valueComparer(column)
	return func(i, j int) int {
		if ni, nj := column.IsNull(i), column.IsNull(j); ni || nj {
			switch {
			case ni && nj:
				return 0
			case ni:
				return 1
			}
			return -1
		}
		if descending {
			return compare(j, i)
		}
		return compare(i, j)
	}
}

func valueComparer(column arrow.Array) func(i, j int) int {
	switch a := column.(type) {
	case *array.Float64:
		return compareIn(a.Float64Values())
	case *array.Int64:
		return compareIn(a.Int64Values())
	case *array.Date32:
		return compareIn(a.Date32Values())
	case *array.Timestamp:
		return compareIn(a.TimestampValues())
	case *array.Boolean:
		flag := newCells("", values{array: a}).number
		return func(i, j int) int { return cmp.Compare(flag(i), flag(j)) }
	}
	a := column.(*array.String)
	return func(i, j int) int { return strings.Compare(a.Value(i), a.Value(j)) }
}

func compareIn[T cmp.Ordered](v []T) func(i, j int) int {
	return func(i, j int) int { return cmp.Compare(v[i], v[j]) }
}
