package export

import (
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

// parquetWriter writes records as row groups.
type parquetWriter struct {
	*pqarrow.FileWriter
}

func newParquetWriter(w io.Writer, schema *arrow.Schema) (writer, error) {
	// arrow v17 writes a list column that is not nullable without an error, and reads nulls back.
	if i := slices.IndexFunc(schema.Fields(), func(f arrow.Field) bool { return !f.Nullable }); i >= 0 {
		return nil, fmt.Errorf("column %q must be nullable to be written as Parquet", schema.Field(i).Name)
	}
	out, err := pqarrow.NewFileWriter(schema, struct{ io.Writer }{w}, // which it would close, if it could
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
	return parquetWriter{out}, nil
}

func (p parquetWriter) Write(r arrow.Record) error { return p.WriteBuffered(r) }
