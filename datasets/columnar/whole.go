package columnar

import (
	"errors"
	"io"
	"math"
	"strconv"
	"unicode/utf8"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"tossline/datasets/recording"
	"tossline/kernel/arrowstream"
)

// Table is a table of any content with all that its file says of it: nulls, and the units, titles and definitions of
// its columns in the metadata of their fields. Its types are those of arrowstream.Plain.
type Table struct {
	Record arrow.Record
	Types  []string // by column: what it is called in the file, where that is another type; "" elsewhere
}

// Whole reads a table, whose values may take so many bytes at most, into memory. What a table doesn't hold is refused.
// format is "" where the file is neither an Arrow file nor a Parquet file.
func Whole(r io.ReaderAt, size, most int64) (t Table, format string, err error) {
	if format, err = formatOf(r, size); err != nil {
		return Table{}, "", err
	}
	k := &keeper{most: most}
	switch format {
	case ArrowName:
		err = guard(func() error { return k.readArrow(io.NewSectionReader(r, 0, size)) })
	case ParquetName:
		err = guard(func() error { return k.readParquet(r, size) })
	default:
		return Table{}, "", nil
	}
	if err != nil {
		return Table{}, format, err
	}
	err = guard(func() (err error) {
		t, err = k.table()
		return err
	})
	return t, format, err
}

// keeper collects the parts of a table's columns.
type keeper struct {
	fields []arrow.Field
	meta   arrow.Metadata
	types  []string
	parts  [][]arrow.Array // by column
	rows   int64
	size   int64 // of the values, in bytes
	most   int64
}

// open takes the columns of a table, once they are known.
func (k *keeper) open(fields []arrow.Field, meta arrow.Metadata) error {
	k.meta, k.types, k.parts = kept(meta), make([]string, len(fields)), make([][]arrow.Array, len(fields))
	for _, f := range fields {
		if !utf8.ValidString(f.Name) {
			return recording.Refuse("rename it in the program that wrote the file", "the name of column %s is not UTF-8",
				strconv.QuoteToASCII(f.Name[:min(len(f.Name), 100)]))
		}
		f.Metadata = kept(f.Metadata)
		k.fields = append(k.fields, f)
	}
	return nil
}

// mostSaid bounds what a file may say of one column, or of the table, in bytes.
const mostSaid = 1 << 16

// kept is what a file says, without what is meant for the programs that wrote it.
func kept(meta arrow.Metadata) arrow.Metadata {
	var keys, values []string
	said := 0
	for i, key := range meta.Keys() {
		value := meta.Values()[i]
		said += len(key) + len(value)
		if said > mostSaid || foreign(key) || !utf8.ValidString(key) || !utf8.ValidString(value) {
			continue
		}
		keys, values = append(keys, key), append(values, value)
	}
	return arrow.NewMetadata(keys, values)
}

func foreign(key string) bool {
	for _, start := range [...]string{"pandas", "ARROW:", "PARQUET:"} {
		if len(key) >= len(start) && key[:len(start)] == start {
			return true
		}
	}
	return false
}

// add takes the values of a column.
func (k *keeper) add(column int, values arrow.Array) error {
	name := k.fields[column].Name
	plain, err := arrowstream.Plain(values)
	if err != nil {
		return recording.Refuse("leave it out, or write it as numbers or texts", "column %s %v", recording.Quote(name), err)
	}
	if !arrow.TypeEqual(plain.DataType(), values.DataType()) {
		k.types[column] = values.DataType().String()
	}
	k.fields[column].Type, k.fields[column].Nullable = plain.DataType(), true
	if _, ok := values.DataType().(arrow.TemporalWithUnit); ok && plain.DataType().ID() == arrow.FLOAT64 {
		k.fields[column].Metadata = measuredInSeconds(k.fields[column].Metadata)
	}
	plain.Retain()
	k.parts[column] = append(k.parts[column], plain)
	return k.count(sizeOf(plain))
}

// count refuses a table that grows too large.
func (k *keeper) count(bytes int64) error {
	if k.size += bytes; k.size > k.most {
		return recording.Refuse("leave out columns or rows that no recipe needs", "the table is larger than %d MB",
			k.most>>20)
	}
	return nil
}

// measuredInSeconds gives durations and times of day, which become seconds, their unit.
func measuredInSeconds(meta arrow.Metadata) arrow.Metadata {
	said := meta.ToMap()
	said["unit"] = "s"
	return arrow.MetadataFrom(said)
}

// sizeOf is about how many bytes the values of an array take.
func sizeOf(values arrow.Array) int64 {
	n := int64(values.Len())
	switch a := values.(type) {
	case *array.Boolean:
		return n/8 + n/8
	case *array.Float32, *array.Date32:
		return 4*n + n/8
	case *array.String:
		if n > 0 {
			return a.ValueOffset64(int(n)) - a.ValueOffset64(0) + 4*n + n/8
		}
	}
	return 8*n + n/8
}

// table puts the parts of every column together.
func (k *keeper) table() (Table, error) {
	columns := make([]arrow.Array, len(k.fields))
	for i, parts := range k.parts {
		switch len(parts) {
		case 0:
			empty, err := arrowstream.Plain(array.MakeArrayOfNull(memory.DefaultAllocator, k.fields[i].Type, 0))
			if err != nil {
				return Table{}, recording.Refuse("leave it out, or write it as numbers or texts", "column %s %v",
					recording.Quote(k.fields[i].Name), err)
			}
			k.fields[i].Type, k.fields[i].Nullable = empty.DataType(), true
			columns[i] = empty
		case 1:
			columns[i] = parts[0]
		default:
			joined, err := array.Concatenate(parts, memory.DefaultAllocator)
			if err != nil {
				return Table{}, err
			}
			columns[i] = joined
		}
		k.parts[i] = nil
		if int64(columns[i].Len()) != k.rows {
			return Table{}, recording.Refuse("copy it again", "column %s has %d values in %d rows",
				recording.Quote(k.fields[i].Name), columns[i].Len(), k.rows)
		}
	}
	if k.rows > math.MaxInt32 {
		return Table{}, errors.New("the table has more than 2,147,483,647 rows")
	}
	return Table{array.NewRecord(arrow.NewSchema(k.fields, &k.meta), columns, k.rows), k.types}, nil
}

// readArrow reads an IPC stream or file. One that is cut short is refused: a table is kept whole.
func (k *keeper) readArrow(r io.Reader) error {
	messages := newMessages(r)
	stream, err := ipc.NewReaderFromMessageReader(messages, ipc.WithAllocator(messages.memory))
	if err != nil {
		return messages.refusal(err)
	}
	if err := k.open(stream.Schema().Fields(), stream.Schema().Metadata()); err != nil {
		return err
	}
	for stream.Next() {
		record := stream.Record()
		for i, values := range record.Columns() {
			if err := k.add(i, values); err != nil {
				return err
			}
		}
		k.rows += record.NumRows()
	}
	if err := messages.broken(stream.Err()); err != nil && err != errUnended {
		return err
	}
	return nil
}
