package frames

import (
	"io"
	"strconv"
	"strings"
	"unsafe"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
)

// Write writes xyz, row by row as in motion.Take, as a frames file. The same input always gives the same bytes.
// xyz is neither copied nor kept, so it may be a mapping larger than memory.
func Write(w io.Writer, facts Facts, xyz []float32) error {
	if err := facts.check(len(xyz)); err != nil {
		return err
	}
	schema := facts.schema()
	out, err := ipc.NewFileWriter(Sequential(w), ipc.WithSchema(schema))
	if err != nil {
		return err
	}
	rec := record(schema, xyz)
	defer rec.Release()
	err = out.Write(rec)
	if closeErr := out.Close(); err == nil {
		err = closeErr
	}
	return err
}

func (f Facts) schema() *arrow.Schema {
	names := make([]string, len(f.Landmarks))
	for i, n := range f.Landmarks {
		names[i] = string(n)
	}
	meta := arrow.NewMetadata(
		[]string{keyFormat, keyRate, keyLandmarks, keySource},
		[]string{formatVersion, strconv.FormatFloat(f.RateHz, 'g', -1, 64), strings.Join(names, ","), f.SourceSHA256},
	)
	list := arrow.FixedSizeListOf(int32(3*len(f.Landmarks)), arrow.PrimitiveTypes.Float32)
	return arrow.NewSchema([]arrow.Field{{Name: column, Type: list, Nullable: true}}, &meta)
}

// record wraps xyz as the one record batch of a file, sharing its memory.
func record(schema *arrow.Schema, xyz []float32) arrow.Record {
	raw := unsafe.Slice((*byte)(unsafe.Pointer(unsafe.SliceData(xyz))), 4*len(xyz))
	list := schema.Field(0).Type.(*arrow.FixedSizeListType)
	rows := len(xyz) / int(list.Len())
	buffer := memory.NewBufferBytes(raw)
	values := array.NewData(arrow.PrimitiveTypes.Float32, len(xyz), []*memory.Buffer{nil, buffer}, nil, 0, 0)
	defer values.Release()
	data := array.NewData(list, rows, []*memory.Buffer{nil}, []arrow.ArrayData{values}, 0, 0)
	defer data.Release()
	col := array.NewFixedSizeListData(data)
	defer col.Release()
	return array.NewRecord(schema, []arrow.Array{col}, int64(rows))
}

// Sequential gives a writer the Seek that arrow's writer of IPC files asks for: it only wants to know where it is.
func Sequential(w io.Writer) io.WriteSeeker { return &sequential{Writer: w} }

type sequential struct {
	io.Writer
	n int64
}

func (s *sequential) Write(p []byte) (int, error) {
	n, err := s.Writer.Write(p)
	s.n += int64(n)
	return n, err
}

func (s *sequential) Seek(int64, int) (int64, error) { return s.n, nil }
