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
	"slices"
	"strings"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
)

// Table is an immutable table over Arrow arrays. The zero Table has no rows and no columns.
//
// Verbs that choose, order or group rows copy no values: the columns of what they give are the old arrays, and which of
// their rows. Of a table with two hundred columns few are ever read.
type Table struct {
	schema  *arrow.Schema // nil for the zero table
	columns []values
	rows    int
	err     error
}

// New makes a table of columns, in their order. Columns of unequal length and two columns of one name are errors.
func New(columns ...Column) Table {
	if len(columns) == 0 {
		return Table{}
	}
	fields := make([]arrow.Field, len(columns))
	all := make([]values, len(columns))
	for i, c := range columns {
		fields[i], all[i] = c.field, c.values()
		if all[i].len() != all[0].len() {
			return failed("column %q has %d rows, %q has %d; they must be equally long",
				c.field.Name, all[i].len(), columns[0].field.Name, all[0].len())
		}
	}
	return build(fields, all, nil)
}

// From makes a table over an Arrow record, sharing its memory. Number types are widened to float64 and int64, decimals
// become numbers, durations and times of day seconds, dictionaries and large texts plain texts; a column of another
// type (a list, a struct, bytes) is an error. The record is checked first (see [Decode]), so that reading it cannot
// fail later.
func From(record arrow.Record) Table {
	if record == nil {
		return Table{}
	}
	schema := record.Schema()
	fields := make([]arrow.Field, schema.NumFields())
	columns := make([]values, schema.NumFields())
	for i, field := range schema.Fields() {
		array, err := plain(record.Column(i))
		if err != nil {
			return failed("column %q %v", field.Name, err)
		}
		array.Retain() // a reader lets go of its records
		field.Type, field.Nullable = array.DataType(), true
		fields[i], columns[i] = field, values{array: array}
	}
	meta := schema.Metadata()
	return build(fields, columns, &meta)
}

// build is where every table with new columns is made: equal lengths are the caller's duty, unique names are checked
// here.
func build(fields []arrow.Field, columns []values, meta *arrow.Metadata) Table {
	seen := make(map[string]bool, len(fields))
	for _, f := range fields {
		if seen[f.Name] {
			return failed("two columns are called %q; rename one", f.Name)
		}
		seen[f.Name] = true
	}
	rows := 0
	if len(columns) > 0 {
		rows = columns[0].len()
	}
	return Table{schema: arrow.NewSchema(fields, meta), columns: columns, rows: rows}
}

// Err is the error of the first verb that failed, or nil.
func (t Table) Err() error { return t.err }

// Len is the number of rows; 0 for a table that carries an error.
func (t Table) Len() int { return t.rows }

// Names lists the columns in order.
func (t Table) Names() []string {
	names := make([]string, len(t.columns))
	for i := range names {
		names[i] = t.schema.Field(i).Name
	}
	return names
}

// Has tells whether there is a column of that name.
func (t Table) Has(column string) bool { return t.index(column) >= 0 }

// Record gives the table as one Arrow record, or nil for the zero table. It must not be changed.
func (t Table) Record() arrow.Record {
	if t.schema == nil {
		return nil
	}
	arrays := make([]arrow.Array, len(t.columns))
	for i, c := range t.columns {
		arrays[i] = c.gathered()
	}
	return array.NewRecord(t.schema, arrays, int64(t.rows))
}

// Type is the type of a column as in the package comment: "number", "integer", "text", "date", "time" or "bool"; ""
// where there is no such column.
func (t Table) Type(column string) string {
	i := t.index(column)
	if i < 0 {
		return ""
	}
	return typeNames[t.columns[i].array.DataType().ID()]
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
	if t.schema == nil {
		return ""
	}
	meta := t.schema.Metadata()
	value, _ := meta.GetValue(key)
	return value
}

// WithMeta sets an entry of the table's own metadata.
func (t Table) WithMeta(key, value string) Table {
	if t.err != nil {
		return t
	}
	var old arrow.Metadata
	if t.schema != nil {
		old = t.schema.Metadata()
	}
	meta := withMeta(old, key, value)
	return build(t.fields(), t.columns, &meta)
}

// index is the place of a column, or -1.
func (t Table) index(column string) int {
	if t.schema == nil {
		return -1
	}
	if at := t.schema.FieldIndices(column); len(at) > 0 {
		return at[0]
	}
	return -1
}

// fields is a fresh slice of the fields, for a verb to change.
func (t Table) fields() []arrow.Field {
	if t.schema == nil {
		return nil
	}
	return t.schema.Fields() // a copy
}

// parts are fresh slices of the fields and columns.
func (t Table) parts() ([]arrow.Field, []values) { return t.fields(), slices.Clone(t.columns) }

func (t Table) meta() *arrow.Metadata {
	if t.schema == nil {
		return nil
	}
	meta := t.schema.Metadata()
	return &meta
}

func (t Table) fieldMeta(column, key string) string {
	i := t.index(column)
	if i < 0 {
		return ""
	}
	value, _ := t.schema.Field(i).Metadata.GetValue(key)
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
