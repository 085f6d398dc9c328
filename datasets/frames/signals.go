package frames

import (
	"bytes"
	"errors"
	"fmt"
	"io"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
)

// Signal is a channel of numbers that was recorded beside the points. Values start with the first frame; NaN where
// missing.
type Signal struct {
	Name   string
	Unit   string // as in the source file
	RateHz float64
	Values []float32
}

// signalsSchema is that of a file of signals: an Arrow IPC file with one row, in a batch of its own, for each signal.
var signalsSchema = arrow.NewSchema([]arrow.Field{
	{Name: "signal", Type: arrow.BinaryTypes.String},
	{Name: "unit", Type: arrow.BinaryTypes.String},
	{Name: "rate_hz", Type: arrow.PrimitiveTypes.Float64},
	{Name: "values", Type: arrow.ListOf(arrow.PrimitiveTypes.Float32)},
}, nil)

// WriteSignals writes the signals of a recording. The same input always gives the same bytes.
func WriteSignals(w io.Writer, signals []Signal) error {
	out, err := ipc.NewFileWriter(Sequential(w), ipc.WithSchema(signalsSchema))
	if err != nil {
		return err
	}
	for _, s := range signals {
		b := array.NewRecordBuilder(memory.NewGoAllocator(), signalsSchema)
		b.Field(0).(*array.StringBuilder).Append(s.Name)
		b.Field(1).(*array.StringBuilder).Append(s.Unit)
		b.Field(2).(*array.Float64Builder).Append(s.RateHz)
		list := b.Field(3).(*array.ListBuilder)
		list.Append(true)
		list.ValueBuilder().(*array.Float32Builder).AppendValues(s.Values, nil)
		if err := out.Write(b.NewRecord()); err != nil {
			return err
		}
	}
	return out.Close()
}

// ReadSignals reads the bytes that WriteSignals wrote. They must be those: whoever calls it has compared their hash.
func ReadSignals(data []byte) (signals []Signal, err error) {
	defer func() {
		if recover() != nil { // the library panics on files that it didn't write
			err = errors.New("not a file of signals")
		}
	}()
	in, err := ipc.NewFileReader(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("not a file of signals: %w", err)
	}
	defer in.Close()
	for i := range in.NumRecords() {
		record, err := in.Record(i)
		if err != nil {
			return nil, fmt.Errorf("not a file of signals: %w", err)
		}
		list := record.Column(3).(*array.List)
		signals = append(signals, Signal{
			Name:   record.Column(0).(*array.String).Value(0),
			Unit:   record.Column(1).(*array.String).Value(0),
			RateHz: record.Column(2).(*array.Float64).Value(0),
			Values: list.ListValues().(*array.Float32).Float32Values(),
		})
	}
	return signals, nil
}
