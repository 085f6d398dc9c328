// Package export writes tables into files that general tools read: CSV, Parquet and Arrow.
//
// Content is what is written: a schema and batches of rows that are made while they are written, so that a table may be
// larger than memory. Serves, Events, Measures and Frames give the contents of a season, OfTable that of any table.
//
// # What files say of their columns
//
// In Arrow and Parquet files every column carries the field metadata "unit", "title" and "definition", and the file
// the revision of the season. Names of columns end in their unit (contact_offset_m), which is all that CSV can say.
// What is missing is null; in CSV an empty cell, where the empty text is "".
//
// # CSV
//
// Comma, dot, CRLF-free lines, UTF-8 without a mark. Numbers are the shortest decimal text that reads back to the same
// value. Texts are quoted. A text that a spreadsheet would take for a formula (it begins with = + - @, a tab or a
// carriage return) gets an apostrophe in front; Text undoes it.
package export

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"

	"github.com/apache/arrow/go/v17/arrow"

	"tossline/kernel/table"
)

// Format is a format of files.
type Format string

// The formats.
const (
	CSV     Format = "csv"
	Parquet Format = "parquet"
	Arrow   Format = "arrow" // Arrow IPC file
)

// ParseFormat finds the format of a name.
func ParseFormat(name string) (Format, error) {
	switch f := Format(strings.ToLower(name)); f {
	case CSV, Parquet, Arrow:
		return f, nil
	}
	return "", fmt.Errorf("unknown format %q: expected csv, parquet or arrow", name)
}

// Content is a table to be written. Batches all have the schema; each may be reused once the next is asked for. An
// error of the sequence ends it.
type Content struct {
	Schema  *arrow.Schema
	Batches iter.Seq2[arrow.Record, error]
}

// OfTable is the content of a table in memory.
func OfTable(t table.Table) (Content, error) {
	if err := t.Err(); err != nil {
		return Content{}, err
	}
	record := t.Record()
	if record == nil {
		return Content{}, fmt.Errorf("the table has no columns")
	}
	return Content{record.Schema(), func(yield func(arrow.Record, error) bool) { yield(record, nil) }}, nil
}

// Write writes a content to w.
func Write(w io.Writer, format Format, c Content) error {
	out, err := newWriter(w, format, c.Schema)
	if err != nil {
		return err
	}
	for record, err := range c.Batches {
		if err != nil {
			return err
		}
		if err := out.Write(record); err != nil {
			return err
		}
	}
	return out.Close()
}

// writer is what every format has.
type writer interface {
	Write(arrow.Record) error
	Close() error // ends the file; without it the file is incomplete
}

func newWriter(w io.Writer, format Format, schema *arrow.Schema) (writer, error) {
	switch format {
	case CSV:
		return newCSVWriter(w, schema)
	case Parquet:
		return newParquetWriter(w, schema)
	case Arrow:
		return newArrowWriter(w, schema)
	}
	return nil, fmt.Errorf("unknown format %q", format)
}

// Save writes a content to the file at path, as SaveWith does.
func Save(path string, format Format, c Content) error {
	return SaveWith(path, func(w io.Writer) error { return Write(w, format, c) })
}

// SaveWith writes what write gives to the file at path: whole, in place of what was there, or not at all. A path that
// names something other than a file, such as a pipe, is written to as it is.
func SaveWith(path string, write func(io.Writer) error) error {
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		if info.IsDir() {
			return fmt.Errorf("%s is a folder; name a file in it", path)
		}
		return placed(path, writeTo(path, os.O_WRONLY, write))
	}
	temporary := filepath.Join(filepath.Dir(path), fmt.Sprintf(".%s.%08x.part", filepath.Base(path), rand.Uint32()))
	defer os.Remove(temporary) // which is gone where all went well
	err := writeTo(temporary, os.O_WRONLY|os.O_CREATE|os.O_EXCL, write)
	if err == nil {
		err = os.Rename(temporary, path)
	}
	return placed(path, err)
}

// placed says which file could not be written, without the name of a temporary one.
func placed(path string, err error) error {
	if err == nil {
		return nil
	}
	if place := new(fs.PathError); errors.As(err, &place) {
		err = place.Err
	}
	return fmt.Errorf("writing %s: %w", path, err)
}

func writeTo(path string, flags int, write func(io.Writer) error) error {
	f, err := os.OpenFile(path, flags, 0o666)
	if err != nil {
		return err
	}
	err = write(f)
	if err == nil && flags&os.O_CREATE != 0 {
		err = f.Sync()
	}
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	return err
}
