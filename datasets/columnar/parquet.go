package columnar

import (
	"bytes"
	"errors"
	"io"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/schema"

	"tossline/datasets/recording"
	"tossline/datasets/tabular"
	"tossline/kernel/arrowstream"
)

// probeParquet knows files by their magic word.
func probeParquet(head []byte) bool { return bytes.HasPrefix(head, []byte(parquetMagic)) }

const parquetMagic = "PAR1" // at the start and at the end

// ReadParquet reads a file. Columns are read by the library's column readers and not by its readers of whole tables:
// those start goroutines of their own, whose panics nobody can catch.
func ReadParquet(r io.ReaderAt, size int64) (raw *recording.Raw, err error) {
	err = guard(func() error {
		var to *tabular.Collector
		if err := readParquet(r, size, collecting(&to, ParquetName, r)); err != nil {
			return err
		}
		raw, err = to.Finish()
		return err
	})
	return raw, err
}

// readParquet puts the rows of a file into a table.
func readParquet(r io.ReaderAt, size int64, open opener) error {
	end := make([]byte, len(parquetMagic))
	if _, err := r.ReadAt(end, max(0, size-int64(len(end)))); err != nil && !errors.Is(err, io.EOF) {
		return err
	} else if string(end) != parquetMagic {
		return recording.Refuse("copy it again", "the end of the Parquet file is missing, which describes it")
	}
	memory := &arrowstream.Frugal{Left: min(size*expansion, recording.MaxExpanded) + 1<<20}
	props := parquet.NewReaderProperties(memory)
	props.BufferedStreamEnabled = true
	f, err := file.NewParquetReader(io.NewSectionReader(r, 0, size), file.WithReadProps(props))
	if err != nil {
		return damagedParquet(err)
	}
	defer f.Close()
	columns := parquetColumns(f)
	t, err := open(columns.header, columns.unread)
	if err != nil {
		return err
	}
	for g := range f.NumRowGroups() {
		if err := columns.group(f.RowGroup(g), t); err != nil {
			return err
		}
	}
	return nil
}

func damagedParquet(err error) error { return damaged("the Parquet file", err) }

// parquetTable is a schema, understood.
type parquetTable struct {
	header  tabular.Header
	unread  []string
	columns []parquetColumn
}

// parquetColumn is a column of the file. One of lists is three of the table.
type parquetColumn struct {
	*schema.Column
	chunk int
	title int // its first
	lists bool
}

func parquetColumns(f *file.Reader) *parquetTable {
	t := &parquetTable{header: tabular.Header{Said: map[string]string{}}}
	s := f.MetaData().Schema
	for i := range s.NumColumns() {
		c := parquetColumn{Column: s.Column(i), chunk: i, title: len(t.header.Titles)}
		name, isList := listName(c.Column)
		switch {
		case isList:
			c.lists = true
			for _, axis := range axes {
				t.header.Titles = append(t.header.Titles, name+"."+axis)
			}
		case readable(c.Column):
			t.header.Titles = append(t.header.Titles, c.Path())
		default:
			t.unread = append(t.unread, c.Path())
			continue
		}
		t.columns = append(t.columns, c)
	}
	if said := f.MetaData().KeyValueMetadata(); said != nil {
		for i, key := range said.Keys() {
			t.header.Said[key] = said.Values()[i]
		}
	}
	return t
}

// readable reports whether a column holds one number or text a row.
func readable(c *schema.Column) bool {
	if c.MaxRepetitionLevel() > 0 || c.MaxDefinitionLevel() > 1<<10 {
		return false
	}
	switch c.PhysicalType() {
	case parquet.Types.Boolean, parquet.Types.Float, parquet.Types.Double:
		return true
	case parquet.Types.Int32, parquet.Types.Int64:
		_, decimal := c.LogicalType().(*schema.DecimalLogicalType)
		return !decimal
	case parquet.Types.ByteArray:
		switch c.LogicalType().(type) {
		case schema.StringLogicalType, *schema.StringLogicalType, schema.EnumLogicalType, *schema.EnumLogicalType,
			schema.NoLogicalType, *schema.NoLogicalType:
			return true
		}
	}
	return false
}

// group reads a row group, some rows of all columns at a time.
func (t *parquetTable) group(g *file.RowGroupReader, to *table) error {
	readers := make([]file.ColumnChunkReader, len(t.columns))
	places := make([]*lists, len(t.columns))
	for i, c := range t.columns {
		reader, err := g.Column(c.chunk)
		if err != nil {
			return damagedParquet(err)
		}
		readers[i], places[i] = reader, &lists{reader: reader, full: c.MaxDefinitionLevel()}
	}
	n := len(t.header.Titles)
	for left := g.NumRows(); left > 0; {
		rows := int(min(left, mostRows))
		b := tabular.Batch{Rows: rows, Numbers: make([][]float64, n), Texts: make([][]string, n)}
		for i, c := range t.columns {
			if c.lists {
				xyz, err := places[i].rows(rows)
				if err != nil {
					return damagedParquet(inColumn(c.ColumnPath()[0], err))
				}
				copy(b.Numbers[c.title:], xyz)
				continue
			}
			got, err := readColumn(readers[i], c.Column, rows, &b.Numbers[c.title], &b.Texts[c.title])
			if err != nil {
				return damagedParquet(err)
			}
			if got != rows {
				return recording.Refuse("copy it again", "the Parquet file is damaged: column %s ends after %d rows of %d",
					c.Path(), int64(to.rows+got), int64(to.rows)+left)
			}
		}
		if err := to.take(b); err != nil {
			return err
		}
		left -= int64(rows)
	}
	return nil
}

// readColumn reads n rows of a column, and gives how many there were.
func readColumn(r file.ColumnChunkReader, c *schema.Column, n int, numbers *[]float64, texts *[]string) (int, error) {
	switch r := r.(type) {
	case *file.Float32ColumnChunkReader:
		return spread(n, c, r.ReadBatch, numbers, func(v float32) float64 { return float64(v) })
	case *file.Float64ColumnChunkReader:
		return spread(n, c, r.ReadBatch, numbers, func(v float64) float64 { return v })
	case *file.BooleanColumnChunkReader:
		return spread(n, c, r.ReadBatch, numbers, func(v bool) float64 {
			if v {
				return 1
			}
			return 0
		})
	case *file.Int32ColumnChunkReader:
		if isDate(c) {
			return spread(n, c, r.ReadBatch, texts, func(v int32) string {
				return time.Unix(86400*int64(v), 0).UTC().Format(time.DateOnly)
			})
		}
		scale := perUnit(c)
		return spread(n, c, r.ReadBatch, numbers, func(v int32) float64 { return float64(v) / scale })
	case *file.Int64ColumnChunkReader:
		scale := perUnit(c)
		return spread(n, c, r.ReadBatch, numbers, func(v int64) float64 { return float64(v) / scale })
	case *file.ByteArrayColumnChunkReader:
		return spread(n, c, r.ReadBatch, texts, func(v parquet.ByteArray) string {
			return strings.ToValidUTF8(string(v), string(utf8.RuneError))
		})
	}
	return 0, nil
}

// spread reads the values of n rows and puts them where the definition levels say; the others stay missing.
func spread[V, T any](n int, c *schema.Column, read func(int64, []V, []int16, []int16) (int64, int, error), to *[]T,
	as func(V) T) (int, error) {
	out := make([]T, n)
	if missing, ok := any(&out).(*[]float64); ok {
		for i := range *missing {
			(*missing)[i] = math.NaN()
		}
	}
	*to = out
	full := c.MaxDefinitionLevel()
	values := make([]V, n)
	var levels []int16
	if full > 0 {
		levels = make([]int16, n)
	}
	row := 0
	for row < n {
		total, got, err := read(int64(n-row), values[row:], levels[min(row, len(levels)):], nil)
		if err != nil || total <= 0 {
			return row, err
		}
		next := row
		for i := range int(total) {
			if full == 0 || levels[row+i] == full {
				if next-row >= got {
					break
				}
				out[row+i] = as(values[next])
				next++
			}
		}
		row += int(total)
	}
	return row, nil
}

func isDate(c *schema.Column) bool {
	switch c.LogicalType().(type) {
	case schema.DateLogicalType, *schema.DateLogicalType:
		return true
	}
	return false
}

// perUnit is how many of a column's units are a second; 1 where it holds no times.
func perUnit(c *schema.Column) float64 {
	var unit schema.TimeUnitType
	switch t := c.LogicalType().(type) {
	case *schema.TimestampLogicalType:
		unit = t.TimeUnit()
	case schema.TimestampLogicalType:
		unit = t.TimeUnit()
	case *schema.TimeLogicalType:
		unit = t.TimeUnit()
	case schema.TimeLogicalType:
		unit = t.TimeUnit()
	default:
		return 1
	}
	switch unit {
	case schema.TimeUnitMillis:
		return 1e3
	case schema.TimeUnitMicros:
		return 1e6
	case schema.TimeUnitNanos:
		return 1e9
	}
	return 1
}
