package sheet

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/decimal128"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"

	"tossline/datasets/export"
	"tossline/kernel/table"
)

// oddTexts are what a table may well hold.
var oddTexts = []string{"", "x", "-1", "=1+1", "'=1", "'", "\"", "a,b;c\td|e", "two\nlines\r\n", " blanks ", "007", "12",
	"1e5", "true", "2026-03-14", "NA", "null", "NaN", "Zoë 王", "m", "\u200b", strings.Repeat("long ", 300)}

// anyTable makes a table of every type of column, with absurd names.
func anyTable(r *rand.Rand) table.Table {
	rows := r.IntN(6)
	var columns []table.Column
	for i := range 1 + r.IntN(9) {
		names := []string{fmt.Sprintf("c%d_m", i), fmt.Sprintf("c%d", i), fmt.Sprintf("c %d, (N)", i), fmt.Sprintf("=%d", i),
			fmt.Sprintf("\"%d\"\n", i), fmt.Sprintf("%d", i), fmt.Sprintf("'-%d ", i), fmt.Sprintf("#%d", i)}
		c := anyColumn(r, names[r.IntN(len(names))], rows)
		if r.IntN(2) == 0 {
			c = c.Titled("Title; of it").Defined("What it is: \"so\".")
		}
		columns = append(columns, c)
	}
	t := table.New(columns...)
	if r.IntN(2) == 0 {
		t = t.Captioned("A caption.").WithMeta("tossline.table", "odd")
	}
	return t
}

func anyColumn(r *rand.Rand, name string, rows int) table.Column {
	numbers, whole := make([]float64, rows), make([]int64, rows)
	texts, times, flags := make([]string, rows), make([]time.Time, rows), make([]bool, rows)
	for i := range rows {
		numbers[i] = []float64{math.NaN(), math.Float64frombits(r.Uint64()), r.NormFloat64(), float64(r.IntN(100)),
			math.Copysign(0, -1), math.Inf(1), math.Inf(-1), 1e6, 5e-324, math.MaxFloat64}[r.IntN(10)]
		whole[i] = []int64{0, -1, r.Int64(), math.MinInt64, math.MaxInt64}[r.IntN(5)]
		texts[i], flags[i] = oddTexts[r.IntN(len(oddTexts))], r.IntN(2) == 0
		if r.IntN(4) > 0 {
			times[i] = time.UnixMicro(r.Int64N(4e15) - 1e15).UTC()
		}
	}
	return []table.Column{table.Number(name, "", numbers), table.Number(name, "N", numbers), table.Integer(name, whole),
		table.Text(name, texts), table.Date(name, times), table.Time(name, times), table.Flag(name, flags)}[r.IntN(7)]
}

// written writes a record in a format.
func written(t testing.TB, format export.Format, record arrow.Record) []byte {
	t.Helper()
	var b bytes.Buffer
	content := export.Content{Schema: record.Schema(), Batches: func(yield func(arrow.Record, error) bool) {
		yield(record, nil)
	}}
	if err := export.Write(&b, format, content); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestWhatExportWroteComesBack(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 1))
	for range 400 {
		want := anyTable(r).Record()
		for _, format := range []export.Format{export.Arrow, export.Parquet, export.CSV} {
			file := written(t, format, want)
			got, u, err := readAll(file)
			if err != nil || u.Format != string(format) || u.Rows != int(want.NumRows()) {
				t.Fatalf("%s: %v, %+v\n%v\n%q", format, err, u, want, file)
			}
			if format == export.CSV {
				if again := written(t, format, got); !bytes.Equal(again, file) {
					t.Fatalf("%q\ncame back as\n%q", file, again)
				}
				continue
			}
			if !got.Schema().Equal(want.Schema()) || !got.Schema().Metadata().Equal(want.Schema().Metadata()) {
				t.Fatalf("%s: %v\ncame back as %v", format, want.Schema(), got.Schema())
			}
			if !array.RecordEqual(got, want) {
				t.Fatalf("%s: %v\ncame back as %v", format, want, got)
			}
		}
	}
}

// foreign is a record of types that our exports don't write.
func foreign(t testing.TB) arrow.Record {
	t.Helper()
	mem := memory.DefaultAllocator
	fields := []arrow.Field{
		{Name: "word", Type: &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int8,
			ValueType: arrow.BinaryTypes.String}},
		{Name: "price", Type: &arrow.Decimal128Type{Precision: 9, Scale: 2}},
		{Name: "at", Type: &arrow.TimestampType{Unit: arrow.Nanosecond}},
		{Name: "took", Type: arrow.FixedWidthTypes.Duration_ms},
		{Name: "clock", Type: arrow.FixedWidthTypes.Time32ms},
		{Name: "small", Type: arrow.PrimitiveTypes.Uint16},
		{Name: "long", Type: arrow.BinaryTypes.LargeString},
		{Name: "half", Type: arrow.PrimitiveTypes.Float32},
		{Name: "big", Type: arrow.PrimitiveTypes.Uint64},
	}
	for i := range fields {
		fields[i].Nullable = true
	}
	meta := arrow.NewMetadata([]string{"pandas", "who"}, []string{"{}", "a colleague"})
	b := array.NewRecordBuilder(mem, arrow.NewSchema(fields, &meta))
	b.Field(0).(*array.BinaryDictionaryBuilder).AppendString("kick")
	b.Field(1).(*array.Decimal128Builder).Append(decimal128.FromI64(-1250))
	b.Field(2).(*array.TimestampBuilder).Append(arrow.Timestamp(-1_500))
	b.Field(3).(*array.DurationBuilder).Append(1500)
	b.Field(4).(*array.Time32Builder).Append(500)
	b.Field(5).(*array.Uint16Builder).Append(7)
	b.Field(6).(*array.LargeStringBuilder).Append("text")
	b.Field(7).(*array.Float32Builder).Append(float32(math.NaN()))
	b.Field(8).(*array.Uint64Builder).Append(9)
	for i := range fields {
		b.Field(i).AppendNull()
	}
	return b.NewRecord()
}

// withoutDurations is a record without durations, which arrow v17 doesn't write to Parquet.
func withoutDurations(record arrow.Record) arrow.Record {
	var fields []arrow.Field
	var columns []arrow.Array
	for i, f := range record.Schema().Fields() {
		if f.Type.ID() != arrow.DURATION {
			fields, columns = append(fields, f), append(columns, record.Column(i))
		}
	}
	meta := record.Schema().Metadata()
	return array.NewRecord(arrow.NewSchema(fields, &meta), columns, record.NumRows())
}

func asParquet(t testing.TB, record arrow.Record) []byte {
	t.Helper()
	var b bytes.Buffer
	out, err := pqarrow.NewFileWriter(record.Schema(), &b, parquet.NewWriterProperties(),
		pqarrow.NewArrowWriterProperties(pqarrow.WithStoreSchema()))
	if err == nil {
		err = out.Write(record)
	}
	if err == nil {
		err = out.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asStream(t testing.TB, record arrow.Record) []byte {
	t.Helper()
	var b bytes.Buffer
	out := ipc.NewWriter(&b, ipc.WithSchema(record.Schema()), ipc.WithZstd())
	if err := out.Write(record); err != nil {
		t.Fatal(err)
	}
	out.Close()
	return b.Bytes()
}

func TestForeignTypesAreConverted(t *testing.T) {
	record := foreign(t)
	const took = "took number in s: 1.5 ~\n"
	want := "word text: kick ~\nprice number: -12.5 ~\nat time: 1969-12-31 23:59:59.999998Z ~\n" + took +
		"clock number in s: 0.5 ~\nsmall integer: 7 ~\nlong text: text ~\nhalf number: ~ ~\nbig integer: 9 ~\n"
	for name, c := range map[string]struct {
		file []byte
		want string
	}{
		"an Arrow stream": {asStream(t, record), want},
		"an Arrow file":   {written(t, export.Arrow, record), want},
		"Parquet":         {asParquet(t, withoutDurations(record)), strings.Replace(want, took, "", 1)},
	} {
		t.Run(name, func(t *testing.T) {
			got, u, err := readAll(c.file)
			if err != nil {
				t.Fatal(err)
			}
			if said := described(got, u); said != c.want {
				t.Errorf("%s\nwant\n%s", said, c.want)
			}
			if u.Columns[1].InFile == "" || u.Columns[0].Title != "" {
				t.Errorf("types in the file: %+v", u.Columns)
			}
			if meta := got.Schema().Metadata(); meta.FindKey("pandas") >= 0 || meta.FindKey("who") < 0 {
				t.Errorf("said of the table: %v", meta)
			}
		})
	}
}

// oneColumn is a record of one column with one value.
func oneColumn(name string, kind arrow.DataType, add func(array.Builder)) arrow.Record {
	b := array.NewRecordBuilder(memory.DefaultAllocator,
		arrow.NewSchema([]arrow.Field{{Name: name, Type: kind, Nullable: true}}, nil))
	add(b.Field(0))
	return b.NewRecord()
}

func TestForeignTypesThatAreRefused(t *testing.T) {
	list := oneColumn("trace", arrow.ListOf(arrow.PrimitiveTypes.Float64), func(b array.Builder) {
		b.(*array.ListBuilder).Append(true)
		b.(*array.ListBuilder).ValueBuilder().(*array.Float64Builder).Append(1)
	})
	pair := oneColumn("place", arrow.StructOf(arrow.Field{Name: "x", Type: arrow.PrimitiveTypes.Float64, Nullable: true}),
		func(b array.Builder) {
			b.(*array.StructBuilder).Append(true)
			b.(*array.StructBuilder).FieldBuilder(0).(*array.Float64Builder).Append(1)
		})
	raw := oneColumn("picture", arrow.BinaryTypes.Binary, func(b array.Builder) {
		b.(*array.BinaryBuilder).Append([]byte{0xff, 0xfe})
	})
	huge := oneColumn("id", arrow.PrimitiveTypes.Uint64, func(b array.Builder) {
		b.(*array.Uint64Builder).Append(math.MaxUint64)
	})
	broken := oneColumn("note", arrow.BinaryTypes.String, func(b array.Builder) {
		b.(*array.StringBuilder).Append("\xff\xfe")
	})
	for name, c := range map[string]struct {
		file []byte
		want []string
	}{
		"lists in Arrow":         {asStream(t, list), []string{`"trace"`, "lists or structs"}},
		"lists in Parquet":       {asParquet(t, list), []string{`"trace"`, "lists or structs"}},
		"structs in Arrow":       {asStream(t, pair), []string{`"place"`, "lists or structs"}},
		"structs in Parquet":     {asParquet(t, pair), []string{`"place"`, "lists or structs"}},
		"bytes in Arrow":         {asStream(t, raw), []string{`"picture"`, "binary"}},
		"bytes in Parquet":       {asParquet(t, raw), []string{`"picture"`, "not UTF-8"}},
		"large numbers, Arrow":   {asStream(t, huge), []string{`"id"`, "18446744073709551615"}},
		"large numbers, Parquet": {asParquet(t, huge), []string{`"id"`, "18446744073709551615"}},
		"no UTF-8, Arrow":        {asStream(t, broken), []string{`"note"`, "row 1 is not UTF-8"}},
		"no UTF-8, Parquet":      {asParquet(t, broken), []string{`"note"`, "not UTF-8"}},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := readAll(c.file)
			for _, want := range append(c.want, "table: ") {
				if err == nil || !strings.Contains(err.Error(), want) {
					t.Errorf("%v, want %q", err, want)
				}
			}
		})
	}
}

// FuzzWholeArrow changes bytes of Arrow files: they are refused, or give a table that can be written. (On some changed
// Parquet files the library's readers of columns never end; the workbench ends the process that reads them.)
func FuzzWholeArrow(f *testing.F) {
	f.Add(written(f, export.Arrow, anyTable(rand.New(rand.NewPCG(1, 2))).Record()))
	f.Add(asStream(f, foreign(f)))
	f.Fuzz(func(t *testing.T, data []byte) {
		got, _, err := readAll(data)
		if err != nil {
			return
		}
		written(t, export.CSV, got)
	})
}
