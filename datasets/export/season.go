package export

import (
	"context"
	"fmt"
	"slices"
	"strconv"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"tossline/datasets/catalogue"
	"tossline/datasets/frames"
	"tossline/datasets/landmark"
	"tossline/datasets/season"
	"tossline/kernel/motion"
	"tossline/kernel/spelling"
	"tossline/kernel/table"
)

// The tables of a season, by the names that people ask for them.
var seasonTables = map[string]func(context.Context, *catalogue.Catalogue) (Content, error){
	"serves": func(_ context.Context, c *catalogue.Catalogue) (Content, error) { return Serves(c) },
	"events": func(_ context.Context, c *catalogue.Catalogue) (Content, error) { return Events(c) },
	"measures": func(ctx context.Context, c *catalogue.Catalogue) (Content, error) {
		return Measures(ctx, c, nil)
	},
	"frames": Frames,
}

// Of gives one of the tables of a season that its catalogue holds: serves, events, measures or frames, or one that it
// keeps, as it was brought in.
func Of(ctx context.Context, c *catalogue.Catalogue, name string) (Content, error) {
	make, ok := seasonTables[name]
	if ok {
		return make(ctx, c)
	}
	kept := c.TableNames()
	if at := slices.Index(kept, name); at >= 0 {
		record, err := c.TableRecord(at)
		if err != nil {
			return Content{}, err
		}
		return Content{record.Schema(), func(yield func(arrow.Record, error) bool) { yield(record, nil) }}, nil
	}
	return Content{}, fmt.Errorf("there is no table %q%s", name,
		spelling.Hint(name, slices.Concat(season.OwnTables, kept)))
}

// about puts into a table's metadata which season it is of.
func about(t table.Table, c *catalogue.Catalogue, name string) (Content, error) {
	return OfTable(t.WithMeta("tossline.table", name).WithMeta("tossline.season", c.Season()).
		WithMeta("tossline.revision", strconv.FormatInt(c.Revision(), 10)))
}

// Serves has a row for every serve, those left out too: its particulars, where it lies in its recording, and in
// left_out why it is not measured.
func Serves(c *catalogue.Catalogue) (Content, error) {
	n := c.Rows()
	first, last, rate := make([]int64, n), make([]int64, n), make([]float64, n)
	for row := range n {
		s := c.Row(row)
		first[row], last[row] = int64(s.First), int64(s.Last)
		rate[row] = c.Recordings()[s.Recording].RateHz
	}
	return about(c.ParticularsOfAll().
		With(table.Integer("first_frame", first).Titled("First frame").
			Defined("First frame of the serve in its recording, counted from 0.")).
		With(table.Integer("last_frame", last).Titled("Last frame").
			Defined("Last frame of the serve in its recording, included.")).
		With(table.Number("rate_hz", "Hz", rate).Titled("Frame rate")), c, "serves")
}

// Events has a row for every event of every serve, those left out too.
func Events(c *catalogue.Catalogue) (Content, error) {
	var e eventColumns
	for row := range c.Rows() {
		s := c.Row(row)
		for _, kind := range motion.EventKinds {
			if event, ok := s.Events[kind]; ok {
				e.add(c, s, kind, event)
			}
		}
	}
	return about(e.table(), c, "events")
}

// eventColumns collects the columns of the table of events.
type eventColumns struct {
	serve, recording, file, player, session, event, method, leftOut []string
	time, confidence                                                []float64
	standIn, byHand                                                 []bool
}

func (e *eventColumns) add(c *catalogue.Catalogue, s catalogue.Serve, kind motion.EventKind, event motion.Event) {
	r := c.Recordings()[s.Recording]
	e.serve, e.recording, e.file = append(e.serve, string(s.ID)), append(e.recording, r.ID), append(e.file, r.File)
	e.player, e.session = append(e.player, r.Player), append(e.session, r.Session)
	e.event, e.method = append(e.event, string(kind)), append(e.method, event.Method)
	e.time, e.confidence = append(e.time, event.TimeS), append(e.confidence, event.Confidence)
	e.standIn, e.byHand = append(e.standIn, event.StandIn), append(e.byHand, event.ByHand)
	e.leftOut = append(e.leftOut, s.LeftOut)
}

func (e *eventColumns) table() table.Table {
	return table.New(
		table.Text("serve", e.serve).Titled("Serve"),
		table.Text("recording", e.recording).Titled("Recording"),
		table.Text("file", e.file).Titled("File"),
		table.Text("player", e.player).Titled("Player"),
		table.Text("session", e.session).Titled("Session"),
		table.Text("event", e.event).Titled("Event"),
		table.Number("time_s", "s", e.time).Titled("Time").Defined("From the start of the recording."),
		table.Text("method", e.method).Titled("Method").Defined("How the event was found."),
		table.Number("confidence", "", e.confidence).Titled("Confidence").Defined("From 0 to 1."),
		table.Flag("stand_in", e.standIn).Titled("Stand-in").
			Defined("Found from the body because racket or ball are missing."),
		table.Flag("by_hand", e.byHand).Titled("By hand").Defined("Set by a person."),
		table.Text("left_out", e.leftOut).Titled("Left out because"),
	)
}

// Measures has a row for each serve that is measured: its particulars and every measure. It computes what was not
// computed before; progress, which may be nil, hears of it.
func Measures(ctx context.Context, c *catalogue.Catalogue, progress func(done, total int)) (Content, error) {
	t, err := motion.NewSeason(ctx, c, progress).Measure(motion.All()...)
	if err != nil {
		return Content{}, err
	}
	return about(t, c, "measures")
}

// Frames has a row for every frame of every serve whose frames can be read, those left out too: serve, frame in the
// recording, time_s from the start of the recording, and <landmark>_x_m, _y_m and _z_m of every landmark that any
// recording has, in the global frame; null where a coordinate is missing. Rows are made while they are written.
func Frames(ctx context.Context, c *catalogue.Catalogue) (Content, error) {
	f := newFrameTable(c)
	return Content{f.schema, func(yield func(arrow.Record, error) bool) {
		for row := range c.Rows() {
			s := c.Row(row)
			if c.Damaged(s.Recording) != "" {
				continue
			}
			if err := ctx.Err(); err != nil {
				yield(nil, err)
				return
			}
			record, err := f.serve(c, s)
			if !yield(record, err) || err != nil {
				return
			}
		}
	}}, nil
}

// frameTable makes the batches of Frames, one a serve.
type frameTable struct {
	schema *arrow.Schema
	names  []landmark.Name
	memory memory.Allocator
}

func newFrameTable(c *catalogue.Catalogue) *frameTable {
	f := &frameTable{names: allLandmarks(c), memory: memory.NewGoAllocator()}
	fields := []arrow.Field{
		field("serve", arrow.BinaryTypes.String, "", "Serve"),
		field("frame", arrow.PrimitiveTypes.Int64, "", "Frame in the recording, counted from 0"),
		field("time_s", arrow.PrimitiveTypes.Float64, "s", "Time from the start of the recording"),
	}
	axes := []struct{ name, title string }{
		{"x", "in the direction of the serve"}, {"y", "upwards, above the court"}, {"z", "to the server's right"},
	}
	for _, n := range f.names {
		for _, axis := range axes {
			fields = append(fields, field(string(n)+"_"+axis.name+"_m", arrow.PrimitiveTypes.Float32, "m",
				string(n)+", "+axis.title))
		}
	}
	f.schema = streamed(c, "frames", fields)
	return f
}

// field is one column of a table that is written while it is read; unit may be "".
func field(name string, t arrow.DataType, unit, title string) arrow.Field {
	meta := arrow.NewMetadata([]string{"unit", "title"}, []string{unit, title})
	if unit == "" {
		meta = arrow.NewMetadata([]string{"title"}, []string{title})
	}
	return arrow.Field{Name: name, Type: t, Nullable: true, Metadata: meta}
}

// streamed is the schema of such a table, with the same metadata as about gives others.
func streamed(c *catalogue.Catalogue, name string, fields []arrow.Field) *arrow.Schema {
	meta := arrow.NewMetadata([]string{"tossline.table", "tossline.season", "tossline.revision"},
		[]string{name, c.Season(), strconv.FormatInt(c.Revision(), 10)})
	return arrow.NewSchema(fields, &meta)
}

// allLandmarks lists the landmarks of all recordings: the standard ones first, in their order.
func allLandmarks(c *catalogue.Catalogue) []landmark.Name {
	has := map[landmark.Name]bool{}
	var own []landmark.Name
	for i := range c.Recordings() {
		file := c.Frames(i)
		if file == nil {
			continue
		}
		for _, n := range file.Layout().Names() {
			if !has[n] && !landmark.IsStandard(n) {
				own = append(own, n)
			}
			has[n] = true
		}
	}
	var all []landmark.Name
	for _, n := range landmark.Standard {
		if has[n] {
			all = append(all, n)
		}
	}
	return append(all, own...)
}

// serve gives the frames of one serve.
func (f *frameTable) serve(c *catalogue.Catalogue, s catalogue.Serve) (record arrow.Record, err error) {
	clip, err := c.ClipOf(s.ID)
	if err != nil {
		return nil, err
	}
	err = frames.Guard(func() error {
		record = f.record(clip)
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("serve %s: %w", s.ID, err)
	}
	return record, nil
}

func (f *frameTable) record(clip motion.Clip) arrow.Record {
	n := clip.Len()
	b := array.NewRecordBuilder(f.memory, f.schema)
	b.Reserve(n)
	for i := range n {
		b.Field(0).(*array.StringBuilder).Append(string(clip.Serve))
		b.Field(1).(*array.Int64Builder).Append(int64(clip.First + i))
		b.Field(2).(*array.Float64Builder).Append(float64(clip.First+i) / clip.Rate)
	}
	width := 3 * clip.Layout.Len()
	for k, name := range f.names {
		at := clip.Layout.Index(name)
		for axis := range 3 {
			column := b.Field(3 + 3*k + axis).(*array.Float32Builder)
			if at < 0 {
				column.AppendNulls(n)
				continue
			}
			for i := range n {
				if v := clip.Frames[i*width+3*at+axis]; v == v {
					column.UnsafeAppend(v)
				} else {
					column.UnsafeAppendBoolToBitmap(false)
				}
			}
		}
	}
	return b.NewRecord()
}
