package table

import (
	"bytes"
	"errors"
	"fmt"
	"io"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"tossline/kernel/arrowstream"
)

// Encode writes the table as an Arrow IPC stream of one batch. The zero table is a stream without columns.
func Encode(t Table) ([]byte, error) {
	if t.err != nil {
		return nil, t.err
	}
	if t.schema == nil {
		t = build(nil, nil, nil)
	}
	var out bytes.Buffer
	w := ipc.NewWriter(&out, ipc.WithSchema(t.schema))
	if err := w.Write(t.Record()); err != nil {
		return nil, fmt.Errorf("writing the table: %w", err)
	}
	if err := w.Close(); err != nil {
		return nil, fmt.Errorf("writing the table: %w", err)
	}
	return out.Bytes(), nil
}

// Decode reads a table from an Arrow IPC stream, as Encode or another program writes it; its batches become one. The
// bytes may come from anywhere: a stream that is broken or asks for more memory than its size allows is an error.
func Decode(data []byte) (t Table, err error) {
	defer func() {
		// Arrow 17 panics on many damaged streams, in many places; nothing of ours runs below.
		if problem := recover(); problem != nil {
			t, err = Table{}, fmt.Errorf("reading an Arrow stream: it is damaged (%v)", problem)
		}
	}()
	if err := arrowstream.Check(data); err != nil {
		return Table{}, fmt.Errorf("reading an Arrow stream: %w", err)
	}
	r, err := ipc.NewReader(bytes.NewReader(data),
		ipc.WithAllocator(&arrowstream.Frugal{Left: 64*int64(len(data)) + 1<<20}))
	if err != nil {
		return Table{}, fmt.Errorf("reading an Arrow stream: %w", err)
	}
	t = From(array.NewRecord(r.Schema(), emptyArrays(r.Schema()), 0))
	for first := true; r.Next() && t.err == nil; first = false {
		batch := From(r.Record())
		if first {
			t = batch
		} else {
			t = t.Append(batch)
		}
	}
	if r.Err() != nil && !errors.Is(r.Err(), io.EOF) {
		return Table{}, fmt.Errorf("reading an Arrow stream: %w", r.Err())
	}
	return t, t.err
}

func emptyArrays(s *arrow.Schema) []arrow.Array {
	arrays := make([]arrow.Array, s.NumFields())
	for i := range arrays {
		arrays[i] = nulls(s.Field(i).Type, 0)
	}
	return arrays
}

// plain converts an array to one of the six types of this package, and checks it.
func plain(values arrow.Array) (arrow.Array, error) {
	values, err := arrowstream.Plain(values)
	if a, ok := values.(*array.Float32); ok && err == nil {
		b := array.NewFloat64Builder(memory.DefaultAllocator)
		b.Reserve(a.Len())
		for i, v := range a.Float32Values() {
			if a.IsNull(i) {
				b.AppendNull()
			} else {
				b.UnsafeAppend(float64(v))
			}
		}
		return b.NewArray(), nil
	}
	return values, err
}
