package columnar

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"math"
	"math/big"
	"unicode/utf8"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/float16"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/schema"

	"tossline/datasets/recording"
	"tossline/kernel/arrowstream"
)

// readParquet reads the columns as readParquet does for recordings, and for the same reason.
func (k *keeper) readParquet(r io.ReaderAt, size int64) error {
	props := parquet.NewReaderProperties(&arrowstream.Frugal{Left: min(size*expansion, recording.MaxExpanded) + 1<<20})
	props.BufferedStreamEnabled = true
	f, err := file.NewParquetReader(io.NewSectionReader(r, 0, size), file.WithReadProps(props))
	if err != nil {
		return damagedParquet(err)
	}
	defer f.Close()
	columns, err := k.openParquet(f)
	if err != nil {
		return err
	}
	for g := range f.NumRowGroups() {
		if err := k.group(f.RowGroup(g), columns); err != nil {
			return err
		}
	}
	return nil
}

// openParquet understands the columns of a file.
func (k *keeper) openParquet(f *file.Reader) ([]*filler, error) {
	s := f.MetaData().Schema
	if s.NumColumns() > arrowstream.MaxColumns {
		return nil, recording.Refuse("", "the table has %d columns; %d are read at most", s.NumColumns(),
			arrowstream.MaxColumns)
	}
	origin, meta := original(f)
	fields, columns := make([]arrow.Field, s.NumColumns()), make([]*filler, s.NumColumns())
	for i := range columns {
		c := s.Column(i)
		if c.MaxRepetitionLevel() > 0 || len(c.ColumnPath()) > 1 {
			return nil, recording.Refuse("leave it out, or spread it over columns of its own",
				"column %s holds lists or structs, which a table doesn't hold", recording.Quote(c.ColumnPath()[0]))
		}
		fields[i] = arrow.Field{Name: c.Name()}
		if origin != nil && len(origin.Fields()) == len(fields) && origin.Field(i).Name == c.Name() {
			fields[i] = origin.Field(i)
		}
		columns[i] = fillerOf(c, fields[i].Type)
		if columns[i] == nil {
			return nil, recording.Refuse("leave it out, or write it as numbers or texts",
				"column %s has the type %s, which a table doesn't hold", recording.Quote(c.Name()), typeName(c))
		}
		fields[i].Type = columns[i].b.Type()
	}
	return columns, k.open(fields, meta)
}

// typeName is what a column's type is called in a message.
func typeName(c *schema.Column) string {
	if l := c.LogicalType(); l != nil && !l.IsNone() {
		return l.String()
	}
	return c.PhysicalType().String()
}

// original is the Arrow schema that a Parquet file was made of, where it says, and what it says of the table.
func original(f *file.Reader) (*arrow.Schema, arrow.Metadata) {
	said := f.MetaData().KeyValueMetadata()
	meta := arrow.NewMetadata(said.Keys(), said.Values())
	text, ok := meta.GetValue("ARROW:schema")
	if !ok {
		return nil, meta
	}
	stream, err := base64.StdEncoding.DecodeString(text)
	if err != nil || arrowstream.Check(stream) != nil {
		return nil, meta
	}
	r, err := ipc.NewReader(bytes.NewReader(stream), ipc.WithAllocator(&arrowstream.Frugal{Left: 1 << 20}))
	if err != nil {
		return nil, meta
	}
	return r.Schema(), meta
}

// group reads a row group, some rows of all columns at a time.
func (k *keeper) group(g *file.RowGroupReader, columns []*filler) error {
	rows := g.NumRows()
	for i, c := range columns {
		reader, err := g.Column(i)
		if err != nil {
			return damagedParquet(err)
		}
		for left := rows; left > 0; {
			n := int(min(left, mostRows))
			got, err := c.fill(reader, n)
			if err != nil {
				return inColumn(c.column.Name(), err)
			}
			if got != n {
				return recording.Refuse("copy it again", "the Parquet file is damaged: column %s ends after %d rows of %d",
					recording.Quote(c.column.Name()), k.rows+rows-left+int64(got), k.rows+rows)
			}
			values := c.b.NewArray()
			if err := k.add(i, values); err != nil {
				return err
			}
			left -= int64(n)
		}
		if c.called != "" {
			k.types[i] = c.called
		}
	}
	k.rows += rows
	return nil
}

// inColumn says in which column something is wrong.
func inColumn(name string, err error) error {
	if refused := new(recording.Error); errors.As(err, &refused) {
		refused.Text = fmt.Sprintf("column %s: %s", recording.Quote(name), refused.Text)
		return refused
	}
	return fmt.Errorf("column %s: %w", recording.Quote(name), err)
}

// filler puts the values of one column into a builder.
type filler struct {
	column *schema.Column
	b      array.Builder
	fill   func(r file.ColumnChunkReader, n int) (rows int, err error)
	called string // its type in the file, where values are converted as they are read
}

// fillerOf finds how the values of a column are read; nil where a table doesn't hold them. origin is the column's type
// in the Arrow table that was written, nil where unknown.
func fillerOf(c *schema.Column, origin arrow.DataType) *filler {
	f := &filler{column: c}
	switch c.PhysicalType() {
	case parquet.Types.Boolean:
		return filling[bool](f, array.NewBooleanBuilder(memory.DefaultAllocator), asItIs[bool])
	case parquet.Types.Float:
		return filling[float32](f, array.NewFloat32Builder(memory.DefaultAllocator), asItIs[float32])
	case parquet.Types.Double:
		return filling[float64](f, array.NewFloat64Builder(memory.DefaultAllocator), asItIs[float64])
	case parquet.Types.Int32, parquet.Types.Int64:
		return fillerOfIntegers(f, origin)
	case parquet.Types.Int96:
		f.called = "INT96"
		return filling[parquet.Int96](f, array.NewTimestampBuilder(memory.DefaultAllocator, arrowstream.Instant),
			func(v parquet.Int96) (arrow.Timestamp, error) { return arrow.Timestamp(v.ToTime().UnixMicro()), nil })
	case parquet.Types.ByteArray:
		switch l := c.LogicalType().(type) {
		case schema.StringLogicalType, schema.EnumLogicalType, schema.JSONLogicalType, schema.NoLogicalType,
			*schema.StringLogicalType, *schema.EnumLogicalType, *schema.JSONLogicalType, *schema.NoLogicalType:
			return filling[parquet.ByteArray](f, array.NewStringBuilder(memory.DefaultAllocator), textOf)
		case schema.DecimalLogicalType:
			return fillingDecimals[parquet.ByteArray](f, l)
		case *schema.DecimalLogicalType:
			return fillingDecimals[parquet.ByteArray](f, *l)
		}
	case parquet.Types.FixedLenByteArray:
		switch l := c.LogicalType().(type) {
		case schema.DecimalLogicalType:
			return fillingDecimals[parquet.FixedLenByteArray](f, l)
		case *schema.DecimalLogicalType:
			return fillingDecimals[parquet.FixedLenByteArray](f, *l)
		case schema.Float16LogicalType, *schema.Float16LogicalType:
			f.called = "float16"
			return filling[parquet.FixedLenByteArray](f, array.NewFloat64Builder(memory.DefaultAllocator), halfOf)
		}
	}
	return nil
}

// chunk reads the values of a column.
type chunk[V any] interface {
	ReadBatch(n int64, values []V, definition, repetition []int16) (total int64, read int, err error)
}

// appender takes values of one type.
type appender[T any] interface {
	array.Builder
	Append(T)
}

// filling makes f read values of type V and put what they mean into b.
func filling[V, T any](f *filler, b appender[T], as func(V) (T, error)) *filler {
	full := f.column.MaxDefinitionLevel()
	f.b = b
	f.fill = func(r file.ColumnChunkReader, n int) (int, error) {
		from, ok := r.(chunk[V])
		if !ok {
			return 0, errors.New("the values are of another type than the file says")
		}
		values, levels := make([]V, n), []int16(nil)
		if full > 0 {
			levels = make([]int16, n)
		}
		row := 0
		for row < n {
			total, got, err := from.ReadBatch(int64(n-row), values, levels, nil)
			if err != nil {
				return row, damagedParquet(err)
			}
			if total <= 0 {
				return row, nil
			}
			next := 0
			for i := range int(total) {
				if full > 0 && levels[i] != full {
					b.AppendNull()
					continue
				}
				if next >= got {
					return row + i, nil
				}
				v, err := as(values[next])
				if err != nil {
					return row + i, err
				}
				b.Append(v)
				next++
			}
			row += int(total)
		}
		return row, nil
	}
	return f
}

// asItIs is for values that are what they are.
func asItIs[V any](v V) (V, error) { return v, nil }

func textOf(v parquet.ByteArray) (string, error) {
	if !utf8.Valid(v) {
		return "", recording.Refuse("write it as text in UTF-8", "it holds %s, which is not UTF-8",
			recording.Quote(string(v)))
	}
	return string(v), nil
}

func halfOf(v parquet.FixedLenByteArray) (float64, error) {
	if len(v) != 2 {
		return 0, errors.New("a float16 is damaged")
	}
	return float64(float16.FromLEBytes(v).Float32()), nil
}

// fillerOfIntegers reads whole numbers, and what Parquet writes as such.
func fillerOfIntegers(f *filler, origin arrow.DataType) *filler {
	switch l := f.column.LogicalType().(type) {
	case schema.DateLogicalType, *schema.DateLogicalType:
		return filling[int32](f, array.NewDate32Builder(memory.DefaultAllocator), meaning[int32, arrow.Date32])
	case schema.TimestampLogicalType, *schema.TimestampLogicalType:
		t := &arrow.TimestampType{Unit: unitOf(f.column), TimeZone: "UTC"}
		return filling[int64](f, array.NewTimestampBuilder(memory.DefaultAllocator, t), meaning[int64, arrow.Timestamp])
	case schema.TimeLogicalType, *schema.TimeLogicalType:
		if f.column.PhysicalType() == parquet.Types.Int32 {
			b := array.NewTime32Builder(memory.DefaultAllocator, arrow.FixedWidthTypes.Time32ms.(*arrow.Time32Type))
			return filling[int32](f, b, meaning[int32, arrow.Time32])
		}
		b := array.NewTime64Builder(memory.DefaultAllocator, &arrow.Time64Type{Unit: unitOf(f.column)})
		return filling[int64](f, b, meaning[int64, arrow.Time64])
	case schema.DecimalLogicalType:
		return fillingScaled(f, math.Pow10(int(l.Scale())))
	case *schema.DecimalLogicalType:
		return fillingScaled(f, math.Pow10(int(l.Scale())))
	case schema.IntLogicalType:
		return fillingIntegers(f, origin, l.IsSigned())
	case *schema.IntLogicalType:
		return fillingIntegers(f, origin, l.IsSigned())
	}
	return fillingIntegers(f, origin, true)
}

// unitOf is the unit in which a column counts time.
func unitOf(c *schema.Column) arrow.TimeUnit {
	switch perUnit(c) {
	case 1e3:
		return arrow.Millisecond
	case 1e6:
		return arrow.Microsecond
	}
	return arrow.Nanosecond
}

// meaning is for values that mean what they are.
func meaning[V, T ~int32 | ~int64](v V) (T, error) { return T(v), nil }

// fillingScaled reads whole numbers of which so many are one.
func fillingScaled(f *filler, one float64) *filler {
	f.called = typeName(f.column)
	b := array.NewFloat64Builder(memory.DefaultAllocator)
	if f.column.PhysicalType() == parquet.Types.Int32 {
		return filling[int32](f, b, func(v int32) (float64, error) { return float64(v) / one, nil })
	}
	return filling[int64](f, b, func(v int64) (float64, error) { return float64(v) / one, nil })
}

func fillingIntegers(f *filler, origin arrow.DataType, signed bool) *filler {
	if d, ok := origin.(*arrow.DurationType); ok && f.column.PhysicalType() == parquet.Types.Int64 {
		return filling[int64](f, array.NewDurationBuilder(memory.DefaultAllocator, d),
			meaning[int64, arrow.Duration])
	}
	b := array.NewInt64Builder(memory.DefaultAllocator)
	switch {
	case f.column.PhysicalType() == parquet.Types.Int32 && signed:
		return filling[int32](f, b, meaning[int32, int64])
	case f.column.PhysicalType() == parquet.Types.Int32:
		return filling[int32](f, b, func(v int32) (int64, error) { return int64(uint32(v)), nil })
	case signed:
		return filling[int64](f, b, asItIs[int64])
	}
	return filling[int64](f, b, func(v int64) (int64, error) {
		if v < 0 {
			return 0, recording.Refuse("leave it out, or write it as numbers or texts",
				"it holds the whole number %d, which is larger than a table holds", uint64(v))
		}
		return v, nil
	})
}

// fillingDecimals reads decimals that are written as the bytes of a whole number, the largest first.
func fillingDecimals[V ~[]byte](f *filler, l schema.DecimalLogicalType) *filler {
	f.called = typeName(f.column)
	one := new(big.Float).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(max(l.Scale(), 0))), nil))
	return filling[V](f, array.NewFloat64Builder(memory.DefaultAllocator), func(v V) (float64, error) {
		if len(v) > 64 {
			return 0, errors.New("a decimal is damaged")
		}
		n := new(big.Int).SetBytes(v)
		if len(v) > 0 && v[0] >= 0x80 { // below zero
			n.Sub(n, new(big.Int).Lsh(big.NewInt(1), uint(8*len(v))))
		}
		out, _ := new(big.Float).Quo(new(big.Float).SetInt(n), one).Float64()
		return out, nil
	})
}
