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
		keys = append(keys, comparer(t.record.Column(i), descending))
	}
	rows := make([]int, t.Len())
	for i := range rows {
		rows[i] = i
	}
	slices.SortStableFunc(rows, func(i, j int) int {
		for _, compare := range keys {
			if c := compare(i, j); c != 0 {
				return c
			}
		}
		return 0
	})
	return t.take(rows)
}

// comparer compares two rows of an array, nulls last.
func comparer(values arrow.Array, descending bool) func(i, j int) int {
	compare := valueComparer(values)
	return func(i, j int) int {
		if ni, nj := values.IsNull(i), values.IsNull(j); ni || nj {
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

func valueComparer(values arrow.Array) func(i, j int) int {
	switch a := values.(type) {
	case *array.Float64:
		return compareIn(a.Float64Values())
	case *array.Int64:
		return compareIn(a.Int64Values())
	case *array.Date32:
		return compareIn(a.Date32Values())
	case *array.Timestamp:
		return compareIn(a.TimestampValues())
	case *array.Boolean:
		flag := newCells("", a).number
		return func(i, j int) int { return cmp.Compare(flag(i), flag(j)) }
	}
	a := values.(*array.String)
	return func(i, j int) int { return strings.Compare(a.Value(i), a.Value(j)) }
}

func compareIn[T cmp.Ordered](v []T) func(i, j int) int {
	return func(i, j int) int { return cmp.Compare(v[i], v[j]) }
}
