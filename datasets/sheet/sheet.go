// Package sheet reads the cells of a table that stands beside recordings: who served, when and how. It may be CSV with
// any delimiter, Arrow or Parquet, known by its content.
package sheet

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"

	"tossline/datasets/columnar"
	"tossline/datasets/recording"
)

// Row is a row of a table. The first holds the names of the columns.
type Row struct {
	Line  int      `json:"line,omitempty"` // in the file, from 1; 0 where it has no lines
	Row   int      `json:"row,omitempty"`  // of a file without lines, from 1
	Cells []string `json:"cells"`          // "" where nothing is known
}

// Refuse makes an error at the row.
func (r Row) Refuse(format string, args ...any) *recording.Error {
	err := recording.At(r.Line, 0, format, args...)
	err.Row = r.Row
	return err
}

// Where is the place of the row in messages.
func (r Row) Where() string { return r.Refuse("").Where() }

// largest bounds a table as CSV, in bytes.
const largest = 64 << 20

// Read gives the rows of a table. What it refuses is for the reader.
func Read(in recording.Input, row func(Row) error) error {
	found, err := columnar.Cells(in.Data, in.Size, func(number int, cells []string) error {
		return row(Row{Row: number, Cells: cells})
	})
	if found || err != nil {
		return err
	}
	if in.Size > largest {
		return recording.Refuse("leave out what is about other recordings", "the table is larger than %d MB", largest>>20)
	}
	text := make([]byte, in.Size)
	if _, err := in.Data.ReadAt(text, 0); err != nil && !errors.Is(err, io.EOF) {
		return err
	}
	return readCSV(bytes.TrimPrefix(text, []byte("\xef\xbb\xbf")), row)
}

func readCSV(text []byte, row func(Row) error) error {
	in := csv.NewReader(bytes.NewReader(text))
	in.Comma, in.FieldsPerRecord, in.TrimLeadingSpace, in.ReuseRecord = delimiterOf(text), -1, true, true
	for {
		cells, err := in.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if place := new(csv.ParseError); errors.As(err, &place) {
			return recording.At(place.Line, place.Column, "%v", place.Err)
		}
		if err != nil {
			return err
		}
		line, _ := in.FieldPos(0)
		if err := row(Row{Line: line, Cells: cells}); err != nil {
			return err
		}
	}
}

// delimiterOf is the one that the first line has most of.
func delimiterOf(text []byte) rune {
	first, _, _ := bytes.Cut(text, []byte{'\n'})
	best, most := ',', 0
	for _, d := range [...]rune{',', ';', '\t', '|'} {
		if n := bytes.Count(first, []byte(string(d))); n > most {
			best, most = d, n
		}
	}
	return best
}
