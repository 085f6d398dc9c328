// Package table holds Arrow tables as recipes use them: immutable values with verbs that can be chained.
//
// A Table has named columns of equal length. Six types of column exist, each with nulls for what is missing:
//
//	type     maker    Arrow type           read by
//	number   Number   float64              Numbers, Row.Number (NaN for null)
//	integer  Integer  int64                Numbers, Row.Number
//	text     Text     utf8                 Texts, Row.Text ("" for null)
//	date     Date     date32               Texts (2026-03-14), Numbers (days since 1970)
//	time     Time     timestamp[us, UTC]   Texts (RFC 3339), Numbers (seconds since 1970)
//	bool     Flag     bool                 Row.Flag, Numbers (0 or 1)
//
// A column may carry a unit, a title and a definition; they stay with it through every verb and in files, as the Arrow
// field metadata "unit", "title" and "definition".
//
// # Errors
//
// A verb that cannot do what it is asked (an unknown column, a text where a number is needed) returns a table without
// rows that carries the error: later verbs pass it on, and [Table.Err] tells it. So verbs can be chained and checked
// once:
//
//	worst := serves.Where("player", name).OrderBy("-contact_offset_m").First(5)
//	if worst.Err() != nil { ... }
//
// Methods that read values ([Table.Numbers], [Table.Texts], [Table.Row], ...) have no table to put an error into; for
// an unknown column they panic with an [*Error], whose text is meant for the reader of the page. [Table.Has] asks
// first.
//
// Tables may be used by several goroutines at once.
package table

import (
	"strings"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
)

// Table is an immutable table over one Arrow record. The zero Table has no rows and no columns.
type Table struct {
	record arrow.Record
	err    error
}

// New makes a table of columns, in their order. Columns of unequal length and two columns of one name are errors.
func New(columns ...Column) Table {
	if len(columns) == 0 {
		return Table{}
	}
	fields := make([]arrow.Field, len(columns))
	arrays := make([]arrow.Array, len(columns))
	for i, c := range columns {
		fields[i], arrays[i] = c.field, c.values()
		if arrays[i].Len() != arrays[0].Len() {
			return failed("column %q has %d rows, %q has %d; they must be equally long",
				c.field.Name, arrays[i].Len(), columns[0].field.Name, arrays[0].Len())
		}
	}
	return build(fields, arrays, nil)
}

// From makes a table over an Arrow record, sharing its memory. Number types are widened to float64 and int64,
// dictionaries and large texts become plain texts; a column of another type (a list, a struct) is an error. The
// record is checked first (see [Decode]), so that reading it cannot fail later.
func From(record arrow.Record) Table {
	if record == nil {
		return Table{}
	}
	schema := record.Schema()
	fields := make([]arrow.Field, schema.NumFields())
	arrays := make([]arrow.Array, schema.NumFields())
	for i, field := range schema.Fields() {
		values, err := plain(record.Column(i))
		if err != nil {
			return failed("column %q %v", field.Name, err)
		}
		field.Type, field.Nullable = values.DataType(), true
		fields[i], arrays[i] = field, values
	}
	meta := schema.Metadata()
	return build(fields, arrays, &meta)
}

// build is where every table is made: equal lengths are the caller's duty, unique names are checked here.
func build(fields []arrow.Field, arrays []arrow.Array, meta *arrow.Metadata) Table {
	seen := make(map[string]bool, len(fields))
	for _, f := range fields {
		if seen[f.Name] {
			return failed("two columns are called %q; rename one", f.Name)
		}
		seen[f.Name] = true
	}
	rows := int64(0)
	if len(arrays) > 0 {
		rows = int64(arrays[0].Len())
	}
	return Table{record: array.NewRecord(arrow.NewSchema(fields, meta), arrays, rows)}
}

// Err is the error of the first verb that failed, or nil.
func (t Table) Err() error { return t.err }

// Len is the number of rows; 0 for a table that carries an error.
func (t Table) Len() int {
	if t.record == nil {
		return 0
	}
	return int(t.record.NumRows())
}

// Names lists the columns in order.
func (t Table) Names() []string {
	names := make([]string, t.width())
	for i := range names {
		names[i] = t.record.ColumnName(i)
	}
	return names
}

// Has tells whether there is a column of that name.
func (t Table) Has(column string) bool { return t.index(column) >= 0 }

// Record is the Arrow record under the table, or nil for the zero table. It must not be changed.
func (t Table) Record() arrow.Record { return t.record }

// Type is the type of a column as in the package comment: "number", "integer", "text", "date", "time" or "bool"; ""
// where there is no such column.
func (t Table) Type(column string) string {
	i := t.index(column)
	if i < 0 {
		return ""
	}
	return typeNames[t.record.Column(i).DataType().ID()]
}

var typeNames = map[arrow.Type]string{
	arrow.FLOAT64: "number", arrow.INT64: "integer", arrow.STRING: "text",
	arrow.DATE32: "date", arrow.TIMESTAMP: "time", arrow.BOOL: "bool",
}

// Unit is the unit of a column, such as "m"; "" where it has none.
func (t Table) Unit(column string) string { return t.fieldMeta(column, "unit") }

// Title is what a reader calls a column: its title where it has one, else its name with blanks for underscores and
// without the unit that it may end in.
func (t Table) Title(column string) string {
	if title := t.fieldMeta(column, "title"); title != "" {
		return title
	}
	if unit := t.Unit(column); unit != "" {
		column = strings.TrimSuffix(column, "_"+unitSuffix.Replace(unit))
	}
	return strings.ReplaceAll(column, "_", " ")
}

// unitSuffix writes a unit as names of columns end in it.
var unitSuffix = strings.NewReplacer("/", "_", "%", "pct")

// Definition is what a column means, in a sentence; "" where nobody said.
func (t Table) Definition(column string) string { return t.fieldMeta(column, "definition") }

// Caption is the sentence that stands with the table, or "".
func (t Table) Caption() string { return t.Meta("caption") }

// Captioned gives the table a sentence that stands with it.
func (t Table) Captioned(sentence string) Table { return t.WithMeta("caption", sentence) }

// Meta is an entry of the table's own metadata, kept in files as Arrow schema metadata; "" where it is absent.
func (t Table) Meta(key string) string {
	if t.record == nil {
		return ""
	}
	meta := t.record.Schema().Metadata()
	value, _ := meta.GetValue(key)
	return value
}

// WithMeta sets an entry of the table's own metadata.
func (t Table) WithMeta(key, value string) Table {
	if t.err != nil {
		return t
	}
	fields, arrays := t.columns()
	var old arrow.Metadata
	if t.record != nil {
		old = t.record.Schema().Metadata()
	}
	meta := withMeta(old, key, value)
	return build(fields, arrays, &meta)
}

func (t Table) width() int {
	if t.record == nil {
		return 0
	}
	return int(t.record.NumCols())
}

// index is the place of a column, or -1.
func (t Table) index(column string) int {
	if t.record == nil {
		return -1
	}
	if at := t.record.Schema().FieldIndices(column); len(at) > 0 {
		return at[0]
	}
	return -1
}

// columns are fresh slices of the fields and arrays, for a verb to change.
func (t Table) columns() ([]arrow.Field, []arrow.Array) {
	if t.record == nil {
		return nil, nil
	}
	return t.record.Schema().Fields(), append([]arrow.Array(nil), t.record.Columns()...)
}

func (t Table) meta() *arrow.Metadata {
	if t.record == nil {
		return nil
	}
	meta := t.record.Schema().Metadata()
	return &meta
}

func (t Table) fieldMeta(column, key string) string {
	i := t.index(column)
	if i < 0 {
		return ""
	}
	value, _ := t.record.Schema().Field(i).Metadata.GetValue(key)
	return value
}

// withMeta is meta with key set to value; an empty value removes the key.
func withMeta(meta arrow.Metadata, key, value string) arrow.Metadata {
	var keys, values []string
	for i, k := range meta.Keys() {
		if k != key {
			keys, values = append(keys, k), append(values, meta.Values()[i])
		}
	}
	if value != "" {
		keys, values = append(keys, key), append(values, value)
	}
	return arrow.NewMetadata(keys, values)
}
