package table

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"

	"tossline/kernel/arrowstream"
)

// Encode writes the table as an Arrow IPC stream of one batch. The zero table is a stream without columns.
func Encode(t Table) ([]byte, error) {
	if t.err != nil {
		return nil, t.err
	}
	if t.record == nil {
		t = build(nil, nil, nil)
	}
	var out bytes.Buffer
	w := ipc.NewWriter(&out, ipc.WithSchema(t.record.Schema()))
	if err := w.Write(t.record); err != nil {
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
	t = build(r.Schema().Fields(), emptyArrays(r.Schema()), ptr(r.Schema().Metadata()))
	t = From(t.record)
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

func ptr[T any](v T) *T { return &v }

func emptyArrays(s *arrow.Schema) []arrow.Array {
	arrays := make([]arrow.Array, s.NumFields())
	for i := range arrays {
		arrays[i] = nulls(s.Field(i).Type, 0)
	}
	return arrays
}

// plain converts an array to one of the six types of this package, and checks it.
func plain(values arrow.Array) (arrow.Array, error) {
	if d, ok := values.(*array.Dictionary); ok {
		return plainDictionary(d)
	}
	if err := check(values.Data()); err != nil {
		return nil, err
	}
	switch a := values.(type) {
	case *array.Float64:
		return nanToNull(a), nil
	case *array.Int64, *array.Date32, *array.Boolean:
		return values, nil
	case *array.String:
		return values, checkTexts(a)
	case *array.Timestamp:
		return plainTime(a), nil
	case *array.Float32:
		return widen(a, a.Float32Values()), nil
	case *array.Int8:
		return widenInt(a, a.Int8Values()), nil
	case *array.Int16:
		return widenInt(a, a.Int16Values()), nil
	case *array.Int32:
		return widenInt(a, a.Int32Values()), nil
	case *array.Uint8:
		return widenInt(a, a.Uint8Values()), nil
	case *array.Uint16:
		return widenInt(a, a.Uint16Values()), nil
	case *array.Uint32:
		return widenInt(a, a.Uint32Values()), nil
	}
	return nil, fmt.Errorf("has the type %s, which a table doesn't hold", values.DataType())
}

// check compares the buffers of a fixed-width array with its length; Arrow trusts them when reading.
func check(data arrow.ArrayData) error {
	broken := errors.New("is damaged: its buffers are shorter than its rows")
	end := int64(data.Offset()) + int64(data.Len())
	buffers := data.Buffers()
	if len(buffers) > 0 && buffers[0] != nil && int64(buffers[0].Len())*8 < end {
		return broken
	}
	width, ok := data.DataType().(arrow.FixedWidthDataType)
	if !ok || end == 0 {
		return nil
	}
	if len(buffers) < 2 || buffers[1] == nil || int64(buffers[1].Len())*8 < end*int64(width.BitWidth()) {
		return broken
	}
	return nil
}

func checkTexts(a *array.String) error {
	size := int64(0)
	if buffer := a.Data().Buffers()[2]; buffer != nil {
		size = int64(buffer.Len())
	}
	if buffer := a.Data().Buffers()[1]; a.Len() > 0 && (buffer == nil ||
		int64(buffer.Len()) < 4*int64(a.Data().Offset()+a.Len()+1)) {
		return errors.New("is damaged: its text positions are cut off")
	}
	for i := range a.Len() {
		from, to := int64(a.ValueOffset(i)), int64(a.ValueOffset(i+1))
		if from < 0 || from > to || to > size {
			return fmt.Errorf("is damaged: the text of row %d lies outside the column", i)
		}
		if !utf8.ValidString(a.Value(i)) {
			return fmt.Errorf("is damaged: the text of row %d is not UTF-8", i)
		}
	}
	return nil
}

func plainDictionary(d *array.Dictionary) (arrow.Array, error) {
	words, err := plain(d.Dictionary())
	if err != nil {
		return nil, err
	}
	if err := check(d.Indices().Data()); err != nil {
		return nil, err
	}
	rows := make([]int, d.Len())
	for i := range rows {
		rows[i] = -1
		if d.IsValid(i) {
			rows[i] = d.GetValueIndex(i)
		}
		if rows[i] >= words.Len() || d.IsValid(i) && rows[i] < 0 {
			return nil, fmt.Errorf("is damaged: row %d names an entry that doesn't exist", i)
		}
	}
	return take(words, rows), nil
}

func plainTime(a *array.Timestamp) arrow.Array {
	unit := a.DataType().(*arrow.TimestampType).Unit
	out := make([]arrow.Timestamp, a.Len())
	for i, v := range a.TimestampValues() {
		switch unit {
		case arrow.Second:
			v *= 1e6
		case arrow.Millisecond:
			v *= 1e3
		case arrow.Nanosecond:
			v /= 1e3
		}
		out[i] = v
	}
	return fixed(timestampType, arrow.TimestampTraits.CastToBytes(out), validity(a))
}

// nanToNull is the array itself, or one with nulls where it holds NaN.
func nanToNull(a *array.Float64) arrow.Array {
	for _, v := range a.Float64Values() {
		if v != v {
			return numberArray(numbers("", a))
		}
	}
	return a
}

func widen(a arrow.Array, from []float32) arrow.Array {
	out := make([]float64, len(from))
	for i, v := range from {
		out[i] = float64(v)
	}
	values := fixed(arrow.PrimitiveTypes.Float64, arrow.Float64Traits.CastToBytes(out), validity(a))
	return nanToNull(values.(*array.Float64))
}

func widenInt[T int8 | int16 | int32 | uint8 | uint16 | uint32](a arrow.Array, from []T) arrow.Array {
	out := make([]int64, len(from))
	for i, v := range from {
		out[i] = int64(v)
	}
	return fixed(arrow.PrimitiveTypes.Int64, arrow.Int64Traits.CastToBytes(out), validity(a))
}

func validity(a arrow.Array) *bits {
	valid := newBits(a.Len())
	for i := range a.Len() {
		if a.IsNull(i) {
			valid.clear(i)
		}
	}
	return valid
}
