package table

import (
	"math"
	"slices"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
)

// Grouped is a table whose rows are put together by the values of some columns. Groups stand in the order of their
// first rows; null is a value like any other here.
type Grouped struct {
	table Table
	by    []string
	rows  [][]int32 // rows[g] are the rows of group g
}

// GroupBy puts rows with the same values in the columns together.
func (t Table) GroupBy(columns ...string) Grouped {
	if t.err == nil {
		for _, c := range columns {
			if !t.Has(c) {
				t = Table{err: t.unknown(c)}
				break
			}
		}
	}
	if t.err != nil {
		return Grouped{table: t}
	}
	return Grouped{t, columns, rowsByKey(t.groupKeys(columns))}
}

// Len is the number of groups.
func (g Grouped) Len() int { return len(g.rows) }

// Tables gives each group's rows as a table of its own; nil when the grouped table carries an error.
func (g Grouped) Tables() []Table {
	var list []Table
	for _, rows := range g.rows {
		list = append(list, g.table.take(rows))
	}
	return list
}

// Summary makes a table with a row for each group: the columns grouped by, then one for each aggregation.
func (g Grouped) Summary(aggregations ...Aggregation) Table {
	if g.table.err != nil {
		return g.table
	}
	firsts := make([]int32, len(g.rows))
	for k, rows := range g.rows {
		firsts[k] = rows[0]
	}
	out := g.table.Pick(g.by...).take(firsts)
	for _, a := range aggregations {
		c, err := a.column(g)
		if err != nil {
			return Table{err: err}
		}
		if out.Has(c.field.Name) {
			return failed("two columns of the summary would be called %q; name one with As", c.field.Name)
		}
		out = out.With(c)
	}
	return out
}

// Aggregation is one number for each group, made by Rows, Count, Mean, SD, Median, Quantile, Min, Max or Sum.
type Aggregation struct {
	name, source string
	title        string
	compute      func(present []float64) float64 // of the values that are there; nil counts rows
	whole        bool                            // the outcome is a count
}

// Rows counts the rows of each group, as column "rows".
func Rows() Aggregation { return Aggregation{name: "rows", title: "Rows"} }

// Count counts the values that a column has in each group, as column "n_" and its name.
func Count(column string) Aggregation {
	return Aggregation{name: "n_" + column, source: column, title: "n", whole: true,
		compute: func(v []float64) float64 { return float64(len(v)) }}
}

// Mean is the mean of the values that are there, as column "mean_" and the column's name.
func Mean(column string) Aggregation { return aggregation("mean", column, mean) }

// SD is the standard deviation with n-1, null below two values, as column "sd_" and the column's name.
func SD(column string) Aggregation { return aggregation("sd", column, sd) }

// Median is the middle value, or the mean of the two middle ones, as column "median_" and the column's name.
func Median(column string) Aggregation { return Quantile(column, 0.5).as("median_"+column, "median") }

// Quantile is the value below which a share p (0 to 1) lies, with linear interpolation between order statistics (type 7
// of Hyndman & Fan 1996, R's and NumPy's default), as column "quantile_" and the column's name.
func Quantile(column string, p float64) Aggregation {
	return aggregation("quantile", column, func(v []float64) float64 { return quantile(v, p) })
}

// Min is the smallest value, as column "min_" and the column's name.
func Min(column string) Aggregation { return aggregation("min", column, slices.Min[[]float64]) }

// Max is the largest value, as column "max_" and the column's name.
func Max(column string) Aggregation { return aggregation("max", column, slices.Max[[]float64]) }

// Sum adds the values that are there, as column "sum_" and the column's name.
func Sum(column string) Aggregation { return aggregation("sum", column, sum) }

// As names the aggregation's column.
func (a Aggregation) As(name string) Aggregation {
	a.name = name
	return a
}

func (a Aggregation) as(name, title string) Aggregation {
	a.name, a.title = name, title
	return a
}

func aggregation(kind, column string, compute func([]float64) float64) Aggregation {
	return Aggregation{name: kind + "_" + column, source: column, title: kind, compute: compute}
}

// column computes the aggregation over all groups.
func (a Aggregation) column(g Grouped) (Column, error) {
	if a.compute == nil {
		counts := make([]int64, len(g.rows))
		for k, rows := range g.rows {
			counts[k] = int64(len(rows))
		}
		return Integer(a.name, counts).Titled(a.title), nil
	}
	c, err := g.table.cells(a.source)
	if err != nil {
		return Column{}, err
	}
	if a.whole {
		return Integer(a.name, countValid(c.values, g.rows)).Titled(a.title), nil
	}
	if c.number == nil {
		return Column{}, c.wrongType("numbers")
	}
	values := make([]float64, len(g.rows))
	var present []float64
	for k, rows := range g.rows {
		present = present[:0]
		for _, i := range rows {
			if !c.missing(int(i)) {
				present = append(present, c.number(int(i)))
			}
		}
		values[k] = math.NaN()
		if len(present) > 0 {
			values[k] = a.compute(present)
		}
	}
	return Number(a.name, g.table.Unit(a.source), values).Titled(g.table.Title(a.source) + ", " + a.title), nil
}

func countValid(column values, groups [][]int32) []int64 {
	counts := make([]int64, len(groups))
	for k, rows := range groups {
		for _, i := range rows {
			if !column.missing(int(i)) {
				counts[k]++
			}
		}
	}
	return counts
}

func sum(v []float64) float64 {
	total := 0.0
	for _, x := range v {
		total += x
	}
	return total
}

func mean(v []float64) float64 { return sum(v) / float64(len(v)) }

func sd(v []float64) float64 {
	if len(v) < 2 {
		return math.NaN()
	}
	m, squares := mean(v), 0.0
	for _, x := range v {
		squares += (x - m) * (x - m)
	}
	return math.Sqrt(squares / float64(len(v)-1))
}

// quantile sorts v, which the caller lends.
func quantile(v []float64, p float64) float64 {
	slices.Sort(v)
	at := min(max(p, 0), 1) * float64(len(v)-1)
	i := int(at)
	if i+1 >= len(v) {
		return v[len(v)-1]
	}
	return v[i] + (at-float64(i))*(v[i+1]-v[i])
}

// groupKeys numbers the combinations of values in the columns, in order of first appearance.
func (t Table) groupKeys(columns []string) []int {
	keys := make([]int, t.Len())
	for _, column := range columns {
		codes := factorise(t.columns[t.index(column)].gathered())
		seen := map[[2]int]int{}
		for i := range keys {
			pair := [2]int{keys[i], codes[i]}
			k, ok := seen[pair]
			if !ok {
				k = len(seen)
				seen[pair] = k
			}
			keys[i] = k
		}
	}
	return keys
}

func rowsByKey(keys []int) [][]int32 {
	var groups [][]int32
	for i, k := range keys {
		if k == len(groups) {
			groups = append(groups, nil)
		}
		groups[k] = append(groups[k], int32(i))
	}
	return groups
}

// factorise numbers the values of an array, null included.
func factorise(column arrow.Array) []int {
	switch a := column.(type) {
	case *array.Float64:
		return codes(a, a.Float64Values())
	case *array.Int64:
		return codes(a, a.Int64Values())
	case *array.Date32:
		return codes(a, a.Date32Values())
	case *array.Timestamp:
		return codes(a, a.TimestampValues())
	case *array.String:
		return codes(a, texts("", values{array: a}))
	}
	return codes(column, numbers("", values{array: column}))
}

func codes[T comparable](a arrow.Array, v []T) []int {
	out := make([]int, len(v))
	seen := map[T]int{}
	for i, x := range v {
		if a.IsNull(i) {
			out[i] = nullKey
			continue
		}
		k, ok := seen[x]
		if !ok {
			k = len(seen)
			seen[x] = k
		}
		out[i] = k
	}
	return out
}
