package export

import (
	"context"
	"fmt"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"tossline/datasets/catalogue"
	"tossline/datasets/frames"
)

// Signals has a row for every value of every signal that was recorded beside the points, by recording and signal:
// time_s from the start of the recording, the value as in the source file, in the unit beside it; null where missing.
// of gives the signals of a recording.
func Signals(ctx context.Context, c *catalogue.Catalogue, of func(recording string) ([]frames.Signal, error)) Content {
	schema := streamed(c, "signals", []arrow.Field{
		field("recording", arrow.BinaryTypes.String, "", "Recording"),
		field("file", arrow.BinaryTypes.String, "", "File"),
		field("signal", arrow.BinaryTypes.String, "", "Signal"),
		field("unit", arrow.BinaryTypes.String, "", "Unit of the value"),
		field("time_s", arrow.PrimitiveTypes.Float64, "", "Time from the start of the recording"),
		field("value", arrow.PrimitiveTypes.Float32, "", "Value"),
	})
	return Content{schema, func(yield func(arrow.Record, error) bool) {
		for _, r := range c.Recordings() {
			signals, err := of(r.ID)
			if err == nil {
				err = ctx.Err()
			}
			if err != nil {
				yield(nil, fmt.Errorf("the signals of %s: %w", r.File, err))
				return
			}
			for _, s := range signals {
				for from := 0; from < len(s.Values); from += rowGroup {
					if !yield(signalRecord(schema, r, s, from, min(from+rowGroup, len(s.Values))), nil) {
						return
					}
				}
			}
		}
	}}
}

// signalRecord has the values of a signal from one up to before another: their texts repeat, so that a whole signal
// would take many times its own size.
func signalRecord(schema *arrow.Schema, r catalogue.Recording, s frames.Signal, from, to int) arrow.Record {
	b := array.NewRecordBuilder(memory.NewGoAllocator(), schema)
	b.Reserve(to - from)
	for column, text := range []string{r.ID, r.File, s.Name, s.Unit} {
		texts := b.Field(column).(*array.StringBuilder)
		texts.ReserveData((to - from) * len(text))
		for range to - from {
			texts.Append(text)
		}
	}
	values := b.Field(5).(*array.Float32Builder)
	for i, v := range s.Values[from:to] {
		b.Field(4).(*array.Float64Builder).Append(float64(from+i) / s.RateHz)
		if v == v {
			values.Append(v)
		} else {
			values.AppendNull()
		}
	}
	return b.NewRecord()
}
