package sheet

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/apache/arrow/go/v17/arrow"

	"tossline/datasets/columnar"
	"tossline/datasets/delimited"
	"tossline/datasets/recording"
	"tossline/datasets/tablefile"
)

// Understood says how a whole table was understood.
type Understood struct {
	Format  string   `json:"format"` // "csv", "arrow" or "parquet"
	Rows    int      `json:"rows"`
	Columns []Column `json:"columns"`
	Notes   []string `json:"notes,omitempty"`
}

// Column says how a column was understood. Type is one of those of package table.
type Column struct {
	Name       string `json:"name"`
	Type       string `json:"type"`
	InFile     string `json:"in_file,omitempty"` // the type in the file, where values were converted
	Unit       string `json:"unit,omitempty"`
	Title      string `json:"title,omitempty"`
	Definition string `json:"definition,omitempty"`
	Missing    int    `json:"missing"` // how many values
}

// mostText bounds a table as CSV, in bytes: numbers take more room as text.
const mostText = 2 * tablefile.Largest

// ReadWhole reads a table with its types, to be kept by package tablefile: one that export wrote as it was, another as
// it is understood. What can't be kept is refused for the reader.
func ReadWhole(in recording.Input) (arrow.Record, Understood, error) {
	in.Data = &progressing{in.Data, in.Size, in.Progress}
	record, u, err := readWhole(in)
	if err != nil {
		if refused, ok := err.(*recording.Error); ok {
			refused.File = in.Name
			return nil, u, refused
		}
		return nil, u, &recording.Error{File: in.Name, Text: err.Error(), Cause: err}
	}
	u.describe(record)
	return record, u, nil
}

func readWhole(in recording.Input) (record arrow.Record, u Understood, err error) {
	if in.Size == 0 {
		return nil, u, recording.Refuse("", "the file is empty")
	}
	if in, err = recording.Expanded(in, tablefile.Largest); err != nil {
		return nil, u, err
	}
	t, format, err := columnar.Whole(in.Data, in.Size, tablefile.Largest)
	if err != nil {
		return nil, u, err
	}
	if u.Format = format; format != "" {
		for i, called := range t.Types {
			u.Columns = append(u.Columns, Column{Name: t.Record.ColumnName(i), InFile: called})
		}
		record = t.Record
	} else {
		u.Format = delimited.Name
		if record, u.Notes, err = readText(in); err != nil {
			return nil, u, err
		}
		u.Columns = make([]Column, record.NumCols())
	}
	return record, u, checkNames(record.Schema())
}

// mostName bounds the name of a column, in bytes, and mostShown what is told of one.
const (
	mostName  = 1000
	mostShown = 300
)

// checkNames refuses a table whose columns can't be told apart.
func checkNames(s *arrow.Schema) error {
	if s.NumFields() == 0 {
		return recording.Refuse("", "the table has no columns")
	}
	first := map[string]int{}
	for i, f := range s.Fields() {
		if len(f.Name) > mostName {
			return recording.Refuse("", "the name of column %d is longer than %d bytes", i+1, mostName)
		}
		at, twice := first[f.Name]
		if twice {
			return recording.Refuse("rename one", "columns %d and %d are both called %s", at+1, i+1, recording.Quote(f.Name))
		}
		first[f.Name] = i
	}
	return nil
}

// describe says what a table has.
func (u *Understood) describe(record arrow.Record) {
	u.Rows = int(record.NumRows())
	for i, f := range record.Schema().Fields() {
		c := &u.Columns[i]
		c.Name, c.Type, c.Missing = f.Name, typeNames[f.Type.ID()], record.Column(i).NullN()
		c.Unit, c.Title, c.Definition = shown(f, "unit"), shown(f, "title"), shown(f, "definition")
	}
}

// shown is what a field says under a key, as far as it is told.
func shown(f arrow.Field, key string) string {
	said, _ := f.Metadata.GetValue(key)
	return strings.ToValidUTF8(said[:min(len(said), mostShown)], "")
}

// typeNames are the types of columns as package table calls them.
var typeNames = map[arrow.Type]string{
	arrow.FLOAT64: "number", arrow.FLOAT32: "number", arrow.INT64: "integer", arrow.STRING: "text",
	arrow.DATE32: "date", arrow.TIMESTAMP: "time", arrow.BOOL: "bool",
}

// String says it for a person.
func (u Understood) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s, %d rows, %d columns\n", u.Format, u.Rows, len(u.Columns))
	for _, c := range u.Columns {
		facts := []string{typeWords[c.Type]}
		if c.Unit != "" {
			facts[0] += " in " + c.Unit
		}
		if c.InFile != "" {
			facts = append(facts, c.InFile+" in the file")
		}
		if c.Missing > 0 {
			facts = append(facts, fmt.Sprintf("%d missing", c.Missing))
		}
		if c.Title != "" {
			facts = append(facts, c.Title)
		}
		fmt.Fprintf(&b, "  %-24s %s\n", c.Name, strings.Join(facts, ", "))
	}
	for _, n := range u.Notes {
		fmt.Fprintf(&b, "  note: %s\n", n)
	}
	return b.String()
}

var typeWords = map[string]string{"number": "number", "integer": "whole number", "text": "text", "date": "date",
	"time": "time", "bool": "true or false"}

// progressing tells how far the reading is.
type progressing struct {
	io.ReaderAt
	size     int64
	progress func(done, total int64) // may be nil
}

func (p *progressing) ReadAt(b []byte, at int64) (int, error) {
	n, err := p.ReaderAt.ReadAt(b, at)
	if p.progress != nil {
		p.progress(min(at+int64(n), p.size), p.size)
	}
	return n, err
}

// unitOf is the unit that the name of a column of numbers ends in, as exports write it, or names in brackets, as in
// "force (N)"; "" where it is not plain that it is one.
func unitOf(name string) string {
	for _, brackets := range [...]string{"()", "[]"} {
		if open := strings.LastIndexByte(name, brackets[0]); open > 0 && strings.HasSuffix(name, brackets[1:]) {
			if inside := strings.TrimSpace(name[open+1 : len(name)-1]); slices.Contains(unitNames, inside) {
				return inside
			}
		}
	}
	longest, unit := 0, ""
	for _, u := range unitNames {
		end := "_" + unitEnding.Replace(u)
		if len(end) > longest && len(name) > len(end) && strings.HasSuffix(name, end) {
			longest, unit = len(end), u
		}
	}
	if strings.HasSuffix(name, "_hz") {
		return "Hz"
	}
	return unit
}

// unitEnding writes a unit as names end in it.
var unitEnding = strings.NewReplacer("/", "_", "%", "pct")

// unitNames are the units that are read from names. Of those that a name may end in by chance (g, h, min, n) there is
// none.
var unitNames = []string{"m", "cm", "mm", "km", "m/s", "m/s2", "km/h", "s", "ms", "Hz", "deg", "deg/s", "deg/s2", "rad",
	"rad/s", "kg", "N", "Nm", "N/kg", "Nm/kg", "W", "W/kg", "J", "V", "mV", "%"}
