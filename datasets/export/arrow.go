package export

import (
	"bufio"
	"fmt"
	"io"
	"slices"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"

	"tossline/datasets/frames"
)

func newArrowWriter(w io.Writer, schema *arrow.Schema) (writer, error) {
	return ipc.NewFileWriter(frames.Sequential(w), ipc.WithSchema(schema))
}

// rowGroup is the number of rows of a Parquet row group: what is held in memory while it is written.
const rowGroup = 1 << 16

// parquetWriter writes records as row groups. arrow v17 panics where the first bytes can't be written and drops errors
// of later ones, the file's end among them; the buffer takes those bytes and keeps the first error.
type parquetWriter struct {
	out    *pqarrow.FileWriter
	buffer *bufio.Writer
}

func newParquetWriter(w io.Writer, schema *arrow.Schema) (writer, error) {
	// arrow v17 writes a list column that is not nullable without an error, and reads nulls back.
	if i := slices.IndexFunc(schema.Fields(), func(f arrow.Field) bool { return !f.Nullable }); i >= 0 {
		return nil, fmt.Errorf("column %q must be nullable to be written as Parquet", schema.Field(i).Name)
	}
	buffer := bufio.NewWriter(w)
	out, err := pqarrow.NewFileWriter(schema, buffer,
		parquet.NewWriterProperties(
			parquet.WithCompression(compress.Codecs.Snappy),
			parquet.WithMaxRowGroupLength(rowGroup),
			parquet.WithCreatedBy("tossline"),
			// Some readers count the root among the levels of a column; by the default it would repeat.
			parquet.WithRootRepetition(parquet.Repetitions.Required),
		),
		pqarrow.NewArrowWriterProperties(pqarrow.WithStoreSchema()))
	if err != nil {
		return nil, err
	}
	return parquetWriter{out, buffer}, nil
}

func (p parquetWriter) Write(r arrow.Record) error {
	err := p.out.WriteBuffered(r)
	if _, failed := p.buffer.Write(nil); failed != nil {
		return failed
	}
	return err
}

func (p parquetWriter) Close() error {
	err := p.out.Close()
	if failed := p.buffer.Flush(); failed != nil {
		return failed
	}
	return err
}
