// Package sheet reads the cells of a table that stands beside recordings: who served, when and how. It may be CSV with
// any delimiter, Arrow or Parquet, known by its content.
package sheet

import (
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
	if in, err = recording.Expanded(in, largest); err != nil {
		return err
	}
	if in.Size > largest {
		return recording.Refuse("leave out what is about other recordings", "the table is larger than %d MB", largest>>20)
	}
	return readCSV(in, row)
}

func readCSV(in recording.Input, row func(Row) error) error {
	head, err := headOf(in)
	if err != nil {
		return err
	}
	p, err := formOf(head).parser(open(in))
	if err != nil {
		return err
	}
	var texts []string
	for {
		cells, err := p.next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		texts = texts[:0]
		for _, c := range cells {
			texts = append(texts, word(c.text))
		}
		if err := row(Row{Line: p.line, Cells: texts}); err != nil {
			return err
		}
	}
}
