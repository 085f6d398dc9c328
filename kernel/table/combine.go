package table

import (
	"slices"
	"strings"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
)

// With adds columns at the end, each one in the place of that of its name where there is one.
func (t Table) With(columns ...Column) Table {
	if t.err != nil || len(columns) == 0 {
		return t
	}
	fields, all := t.parts()
	places := make(map[string]int, len(fields)+len(columns))
	for i, f := range fields {
		places[f.Name] = i
	}
	for _, c := range columns {
		added := c.values()
		if len(all) > 0 && added.len() != all[0].len() {
			return failed("column %q has %d rows, the table %d; they must be equally long",
				c.field.Name, added.len(), all[0].len())
		}
		if i, ok := places[c.field.Name]; ok {
			fields[i], all[i] = c.field, added
			continue
		}
		places[c.field.Name] = len(fields)
		fields, all = append(fields, c.field), append(all, added)
	}
	return build(fields, all, t.meta())
}

// WithNumber adds a number column computed from each row; NaN becomes null.
func (t Table) WithNumber(name, unit string, compute func(Row) float64) (with Table) {
	if t.err != nil {
		return t
	}
	defer catch(&with)
	r := newReader(t)
	values := make([]float64, t.Len())
	for i := range values {
		values[i] = compute(Row{r, i})
	}
	return t.With(Number(name, unit, values))
}

// WithText adds a text column computed from each row; "" becomes null.
func (t Table) WithText(name string, compute func(Row) string) (with Table) {
	if t.err != nil {
		return t
	}
	defer catch(&with)
	r := newReader(t)
	values := make([]string, t.Len())
	for i := range values {
		values[i] = compute(Row{r, i})
	}
	return t.With(Text(name, values))
}

// Titled gives a column the words that a reader sees in place of its name.
func (t Table) Titled(column, title string) Table {
	return t.alter(column, func(f *arrow.Field) { f.Metadata = withMeta(f.Metadata, "title", title) })
}

// Rename gives a column another name.
func (t Table) Rename(column, name string) Table {
	return t.alter(column, func(f *arrow.Field) { f.Name = name })
}

func (t Table) alter(column string, change func(*arrow.Field)) Table {
	i := t.index(column)
	if t.err != nil || i < 0 {
		return Table{err: t.unknown(column)}
	}
	fields := t.fields()
	change(&fields[i])
	return build(fields, t.columns, t.meta())
}

// Join adds the other columns of u to each row of t whose values in the columns on are the same, and nulls where u has
// no such row; rows and their order stay those of t. Two rows of u with the same values in on are an error, because
// neither could be chosen; so is a column that both tables have beside those in on. Nulls match nothing.
func (t Table) Join(u Table, on ...string) Table {
	keys, err := joinKeys(t, u, on)
	if err != nil {
		return Table{err: err}
	}
	place := make(map[int]int, u.Len())
	for j, key := range keys[t.Len():] {
		if key == nullKey {
			continue
		}
		if first, twice := place[key]; twice {
			return failed("rows %d and %d of the joined table have the same %s; make them unique first",
				first, j, strings.Join(on, ", "))
		}
		place[key] = j
	}
	rows := make([]int32, t.Len())
	for i, key := range keys[:t.Len()] {
		j, found := place[key]
		if !found || key == nullKey {
			j = -1
		}
		rows[i] = int32(j)
	}
	added := u.Drop(on...).take(rows)
	for _, name := range added.Names() {
		if t.Has(name) {
			return failed("both tables have a column %q; drop or rename one", name)
		}
	}
	return build(append(t.fields(), added.fields()...), slices.Concat(t.columns, added.columns), t.meta())
}

// joinKeys numbers the combinations of values in the columns on, over the rows of t and then of u.
func joinKeys(t, u Table, on []string) ([]int, error) {
	if t.err != nil {
		return nil, t.err
	}
	if len(on) == 0 {
		return nil, errorf("joining needs at least one column that both tables have")
	}
	both := t.Pick(on...).Append(u.Pick(on...))
	if both.err != nil {
		return nil, both.err
	}
	keys := both.groupKeys(on)
	for _, c := range both.columns {
		for i := range keys {
			if c.missing(i) {
				keys[i] = nullKey
			}
		}
	}
	return keys, nil
}

const nullKey = -1

// Append puts the rows of u after those of t. Columns are matched by name; one that a table doesn't have is null in its
// rows; two of one name and different types are an error. Units and titles are those of t.
func (t Table) Append(u Table) Table {
	if t.err != nil || len(u.columns) == 0 && u.err == nil {
		return t
	}
	if u.err != nil || len(t.columns) == 0 {
		return u
	}
	fields, all := t.parts()
	for i, f := range fields {
		tail := nulls(f.Type, u.Len())
		if j := u.index(f.Name); j >= 0 {
			tail = u.columns[j].gathered()
		}
		if !arrow.TypeEqual(f.Type, tail.DataType()) {
			return failed("column %q holds %ss in one table and %ss in the other", f.Name,
				typeNames[f.Type.ID()], typeNames[tail.DataType().ID()])
		}
		all[i] = concatenate(all[i].gathered(), tail)
	}
	for j, f := range u.fields() {
		if !t.Has(f.Name) {
			fields = append(fields, f)
			all = append(all, concatenate(nulls(f.Type, t.Len()), u.columns[j].gathered()))
		}
	}
	return build(fields, all, t.meta())
}

// concatenate joins two arrays of one type, which cannot fail but for memory.
func concatenate(a, b arrow.Array) values {
	joined, err := array.Concatenate([]arrow.Array{a, b}, memory.DefaultAllocator)
	if err != nil {
		panic(err)
	}
	return values{array: joined}
}
