package export

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
)

// csvWriter writes records as lines.
type csvWriter struct {
	out  *bufio.Writer
	line []byte
}

func newCSVWriter(w io.Writer, schema *arrow.Schema) (*csvWriter, error) {
	c := &csvWriter{out: bufio.NewWriterSize(w, 1<<16)}
	for i, f := range schema.Fields() {
		if i > 0 {
			c.line = append(c.line, ',')
		}
		c.line = appendName(c.line, f.Name)
	}
	return c, c.flushLine()
}

// appendName writes the name of a column, without quotes where it needs none.
func appendName(line []byte, name string) []byte {
	plain := func(r rune) bool {
		return r == '_' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
	}
	if name != "" && strings.IndexFunc(name, func(r rune) bool { return !plain(r) }) < 0 {
		return append(line, name...)
	}
	return appendText(line, name)
}

func (c *csvWriter) flushLine() error {
	_, err := c.out.Write(append(c.line, '\n'))
	c.line = c.line[:0]
	return err
}

func (c *csvWriter) Write(r arrow.Record) error {
	columns := make([]func([]byte, int) []byte, r.NumCols())
	for i, values := range r.Columns() {
		appendValue, err := valueAppender(values)
		if err != nil {
			return fmt.Errorf("column %q: %w", r.ColumnName(i), err)
		}
		columns[i] = appendValue
	}
	for row := range int(r.NumRows()) {
		for i, appendValue := range columns {
			if i > 0 {
				c.line = append(c.line, ',')
			}
			if r.Column(i).IsValid(row) {
				c.line = appendValue(c.line, row)
			}
		}
		if err := c.flushLine(); err != nil {
			return err
		}
	}
	return nil
}

func (c *csvWriter) Close() error { return c.out.Flush() }

// valueAppender gives the function that writes a column's values which are not null.
func valueAppender(values arrow.Array) (func([]byte, int) []byte, error) {
	switch a := values.(type) {
	case *array.Float64:
		return func(b []byte, i int) []byte { return strconv.AppendFloat(b, a.Value(i), 'g', -1, 64) }, nil
	case *array.Float32:
		return func(b []byte, i int) []byte { return strconv.AppendFloat(b, float64(a.Value(i)), 'g', -1, 32) }, nil
	case *array.Int64:
		return func(b []byte, i int) []byte { return strconv.AppendInt(b, a.Value(i), 10) }, nil
	case *array.String:
		return func(b []byte, i int) []byte { return appendText(b, a.Value(i)) }, nil
	case *array.Boolean:
		return func(b []byte, i int) []byte { return strconv.AppendBool(b, a.Value(i)) }, nil
	case *array.Date32:
		return func(b []byte, i int) []byte { return a.Value(i).ToTime().AppendFormat(b, time.DateOnly) }, nil
	case *array.Timestamp:
		unit := a.DataType().(*arrow.TimestampType).Unit
		return func(b []byte, i int) []byte {
			return a.Value(i).ToTime(unit).UTC().AppendFormat(b, time.RFC3339Nano)
		}, nil
	}
	return nil, fmt.Errorf("CSV has no form for values of type %s", values.DataType())
}

// formulaStart are the characters by which spreadsheets know a formula (CWE-1236).
const formulaStart = "=+-@\t\r"

// looksLikeFormula tells whether a text is a formula to a spreadsheet once leading apostrophes are taken off: those
// with apostrophes count too, so that Text can undo exactly what Guarded did.
func looksLikeFormula(s string) bool {
	s = strings.TrimLeft(s, "'")
	return s != "" && strings.IndexByte(formulaStart, s[0]) >= 0
}

// Guarded is a text as it stands in a cell of a CSV file, before quoting.
func Guarded(s string) string {
	if looksLikeFormula(s) {
		return "'" + s
	}
	return s
}

// Text undoes Guarded: it is what a cell of our CSV files means.
func Text(cell string) string {
	if rest, ok := strings.CutPrefix(cell, "'"); ok && looksLikeFormula(rest) {
		return rest
	}
	return cell
}

func appendText(line []byte, s string) []byte {
	line = append(line, '"')
	for _, c := range []byte(Guarded(s)) {
		if c == '"' {
			line = append(line, '"')
		}
		line = append(line, c)
	}
	return append(line, '"')
}
