package columnar

import (
	"bytes"
	"math"
	"reflect"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"

	"tossline/datasets/frames"
	"tossline/datasets/recording"
	"tossline/datasets/tabular"
)

var nan = float32(math.NaN())

// build makes a record out of columns given as Go slices; a nil entry of valid means that all are.
func build(columns ...any) arrow.Record {
	var fields []arrow.Field
	var arrays []arrow.Array
	for i := 0; i < len(columns); i += 2 {
		name, _ := columns[i].(string)
		a := arrayOf(columns[i+1])
		fields = append(fields, arrow.Field{Name: name, Type: a.DataType(), Nullable: true})
		arrays = append(arrays, a)
	}
	return array.NewRecord(arrow.NewSchema(fields, nil), arrays, int64(arrays[0].Len()))
}

func arrayOf(values any) arrow.Array {
	mem := memory.NewGoAllocator()
	switch v := values.(type) {
	case arrow.Array:
		return v
	case []float32:
		b := array.NewFloat32Builder(mem)
		for _, x := range v {
			if x == x {
				b.Append(x)
			} else {
				b.AppendNull()
			}
		}
		return b.NewArray()
	case []float64:
		b := array.NewFloat64Builder(mem)
		b.AppendValues(v, nil)
		return b.NewArray()
	case []int64:
		b := array.NewInt64Builder(mem)
		b.AppendValues(v, nil)
		return b.NewArray()
	case []int32:
		b := array.NewInt32Builder(mem)
		b.AppendValues(v, nil)
		return b.NewArray()
	case []string:
		b := array.NewStringBuilder(mem)
		b.AppendValues(v, nil)
		return b.NewArray()
	case []arrow.Timestamp:
		b := array.NewTimestampBuilder(mem, &arrow.TimestampType{Unit: arrow.Millisecond})
		b.AppendValues(v, nil)
		return b.NewArray()
	}
	panic("no such column")
}

// large and dictionary write texts in the other ways that programs have.
func large(v ...string) arrow.Array {
	b := array.NewLargeStringBuilder(memory.NewGoAllocator())
	b.AppendValues(v, nil)
	return b.NewArray()
}

func dictionary(v ...string) arrow.Array {
	b := array.NewDictionaryBuilder(memory.NewGoAllocator(), &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int8,
		ValueType: arrow.BinaryTypes.String}).(*array.BinaryDictionaryBuilder)
	for _, s := range v {
		if err := b.AppendString(s); err != nil {
			panic(err)
		}
	}
	return b.NewArray()
}

func arrowFile(r arrow.Record, o ...ipc.Option) []byte {
	var out bytes.Buffer
	w, err := ipc.NewFileWriter(frames.Sequential(&out), append(o, ipc.WithSchema(r.Schema()))...)
	if err == nil {
		err = w.Write(r)
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		panic(err)
	}
	return out.Bytes()
}

func arrowStream(r arrow.Record) []byte {
	var out bytes.Buffer
	w := ipc.NewWriter(&out, ipc.WithSchema(r.Schema()))
	if err := w.Write(r); err != nil {
		panic(err)
	}
	w.Close()
	return out.Bytes()
}

func parquetFile(r arrow.Record, codec compress.Compression) []byte {
	var out bytes.Buffer
	w, err := pqarrow.NewFileWriter(r.Schema(), &out, parquet.NewWriterProperties(parquet.WithCompression(codec),
		parquet.WithMaxRowGroupLength(max(2, r.NumRows()/2))), pqarrow.DefaultWriterProps())
	if err == nil {
		err = w.Write(r)
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		panic(err)
	}
	return out.Bytes()
}

// read reads a file of either format.
func read(b []byte) (*recording.Raw, error) {
	if probeParquet(b) {
		return ReadParquet(bytes.NewReader(b), int64(len(b)))
	}
	if !probeArrow(b) {
		return nil, recording.Refuse("", "no format knows it")
	}
	return ReadArrow(bytes.NewReader(b))
}

func same(a, b []float32) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] && (a[i] == a[i] || b[i] == b[i]) {
			return false
		}
	}
	return true
}

func TestTables(t *testing.T) {
	for _, c := range []struct {
		name   string
		record arrow.Record
		points []string
		xyz    []float32
		times  []float64
		player string
	}{
		{"wide", build("time", []float64{0, 0.01, 0.02}, "LKNE_x", []float32{1, nan, 3}, "LKNE_y", []float64{4, 5, 6},
			"LKNE_z", []int32{7, 8, 9}, "player", []string{"P1", "P1", "P1"}),
			[]string{"LKNE"}, []float32{1, 4, 7, nan, 5, 8, 3, 6, 9}, []float64{0, 0.01, 0.02}, "P1"},
		{"long", build("frame", []int64{1, 1, 2, 2}, "marker", dictionary("A", "B", "A", "B"), "x", []float64{1, 2, 3, 4},
			"y", []float64{5, 6, 7, 8}, "z", []float64{9, 10, 11, 12}),
			[]string{"A", "B"}, []float32{1, 5, 9, 2, 6, 10, 3, 7, 11, 4, 8, 12}, nil, ""},
		{"large texts and timestamps", build("timestamp", []arrow.Timestamp{1000, 1010}, "joint", large("A", "A"),
			"x", []float64{1, 2}, "y", []float64{3, 4}, "z", []float64{5, 6}),
			[]string{"A"}, []float32{1, 3, 5, 2, 4, 6}, []float64{1, 1.01}, ""},
		{"numbers as texts", build("t", []string{"0", "0.5"}, "a.x", []string{"1.5", ""}, "a.y", []float64{1, 2},
			"a.z", []float64{1, 2}), []string{"a"}, []float32{1.5, 1, 1, nan, 2, 2}, []float64{0, 0.5}, ""},
	} {
		for _, f := range []struct {
			name string
			b    []byte
		}{
			{"file", arrowFile(c.record)}, {"stream", arrowStream(c.record)}, {"lz4", arrowFile(c.record, ipc.WithLZ4())},
			{"zstd", arrowFile(c.record, ipc.WithZstd())},
			{"parquet", parquetFile(c.record, compress.Codecs.Snappy)},
			{"parquet, zstd", parquetFile(c.record, compress.Codecs.Zstd)},
		} {
			raw, err := read(f.b)
			if err != nil {
				t.Errorf("%s, %s: %v", c.name, f.name, err)
				continue
			}
			if !reflect.DeepEqual(raw.Points, c.points) || !same(raw.XYZ, c.xyz) || raw.Player != c.player ||
				len(raw.TimeS) != len(c.times) {
				t.Errorf("%s, %s: points %v, values %v, times %v, player %q", c.name, f.name, raw.Points, raw.XYZ, raw.TimeS,
					raw.Player)
			}
			for i, want := range c.times {
				if math.Abs(raw.TimeS[i]-want) > 1e-9 {
					t.Errorf("%s, %s: times %v, want %v", c.name, f.name, raw.TimeS, c.times)
					break
				}
			}
		}
	}
}

func TestRefused(t *testing.T) {
	good := build("time", []float64{0, 1}, "a_x", []float64{1, 2}, "a_y", []float64{1, 2}, "a_z", []float64{1, 2})
	file, parquet := arrowFile(good), parquetFile(good, compress.Codecs.Snappy)
	lied := bytes.Clone(parquet)
	copy(lied[len(lied)-8:], "\xff\xff\xff\x7f")
	for _, c := range []struct {
		name string
		b    []byte
		want string
	}{
		{"no landmarks", arrowFile(build("b", []float64{1})), "no landmark was found"},
		{"infinite", arrowFile(build("a_x", []float64{math.Inf(1)}, "a_y", []float64{1}, "a_z", []float64{1})),
			"row 1: column a_x has +Inf"},
		{"time goes back", parquetFile(build("time", []float64{0, 1, 0.5}, "a_x", []float64{1, 2, 3}, "a_y",
			[]float64{1, 2, 3},
			"a_z", []float64{1, 2, 3}), compress.Codecs.Snappy), "row 3: time goes back from 1 to 0.5"},
		{"cut arrow", file[:len(file)/2], "the Arrow file is cut short"},
		{"cut parquet", parquet[:len(parquet)-20], "the end of the Parquet file is missing"},
		{"lists of two", arrowFile(build("a", listsOf([]float64{1, 2}), "b", listsOf([]float64{1, 2, 3}))),
			`column "a": a list has 2 numbers`},
		{"lists of four", parquetFile(build("a", listsOf([]float64{1, 2, 3, 4})), compress.Codecs.Snappy),
			`column "a": a list has 4 numbers`},

		{"footer that lies", lied, "damaged"},
	} {
		if _, err := read(c.b); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

// listsOf is a column of lists; nil stands for none.
func listsOf(rows ...[]float64) arrow.Array {
	b := array.NewListBuilder(memory.NewGoAllocator(), arrow.PrimitiveTypes.Float64)
	for _, row := range rows {
		b.Append(row != nil)
		b.ValueBuilder().(*array.Float64Builder).AppendValues(row, nil)
	}
	return b.NewArray()
}

func structsOf(rows ...[]float64) arrow.Array {
	b := array.NewStructBuilder(memory.NewGoAllocator(), arrow.StructOf(
		arrow.Field{Name: "x", Type: arrow.PrimitiveTypes.Float64, Nullable: true},
		arrow.Field{Name: "y", Type: arrow.PrimitiveTypes.Float64, Nullable: true},
		arrow.Field{Name: "z", Type: arrow.PrimitiveTypes.Float64, Nullable: true}))
	for _, row := range rows {
		b.Append(row != nil)
		for axis, v := range row {
			b.FieldBuilder(axis).(*array.Float64Builder).Append(v)
		}
	}
	return b.NewArray()
}

// TestPlacesTogether reads x, y and z from lists and structs, in more rows than are taken at a time.
func TestPlacesTogether(t *testing.T) {
	var times []float64
	var a, b [][]float64
	for i := range 2*mostRows + 7 {
		v := float64(i)
		times, a, b = append(times, v/100), append(a, []float64{v, -v, v / 2}), append(b, []float64{1, v, 2})
		if i%7 == 3 {
			b[i] = nil
		}
	}
	for _, kind := range []struct {
		name string
		of   func(...[]float64) arrow.Array
	}{{"lists", listsOf}, {"structs", structsOf}} {
		r := build("time", times, "A", kind.of(a...), "B", kind.of(b...))
		for name, file := range map[string][]byte{"arrow": arrowFile(r), "stream": arrowStream(r),
			"parquet": parquetFile(r, compress.Codecs.Snappy)} {
			raw, err := read(file)
			if err != nil || !reflect.DeepEqual(raw.Points, []string{"A", "B"}) || raw.Frames() != len(times) {
				t.Errorf("%s as %s: %v, %+v", kind.name, name, err, raw)
				continue
			}
			for i := range times {
				want := []float32{float32(a[i][0]), float32(a[i][1]), float32(a[i][2]), nan, nan, nan}
				if b[i] != nil {
					want = append(want[:3], float32(b[i][0]), float32(b[i][1]), float32(b[i][2]))
				}
				for k, v := range raw.XYZ[6*i : 6*i+6] {
					if v != want[k] && (v == v || want[k] == want[k]) {
						t.Fatalf("%s as %s: frame %d is %v, want %v", kind.name, name, i, raw.XYZ[6*i:6*i+6], want)
					}
				}
			}
		}
	}
}

// TestBentBuffer has a message whose buffers do not fit what it says: no rows of it are taken for the end.
func TestBentBuffer(t *testing.T) {
	b := arrowStream(build("a_x", make([]float64, 6), "a_y", make([]float64, 6), "a_z", make([]float64, 6)))
	at := bytes.Index(b, []byte{48, 0, 0, 0, 0, 0, 0, 0}) // the length of six numbers
	b[at+1] = 0x7f
	if raw, err := read(b); err == nil || !strings.Contains(err.Error(), "damaged") {
		t.Errorf("%v, %+v", err, raw)
	}
}

// TestUnendedStream reads what is there of a stream that does not say that it ends.
func TestUnendedStream(t *testing.T) {
	whole := arrowStream(build("a_x", []float64{1, 2}, "a_y", []float64{1, 2}, "a_z", []float64{1, 2}))
	raw, err := read(whole[:len(whole)-8])
	if err != nil || raw.Frames() != 2 || len(raw.Notes) != 1 || raw.Notes[0].Where != "row 2" {
		t.Errorf("%v, %+v", err, raw)
	}
}

func FuzzRead(f *testing.F) {
	places := build("frame", []int64{1, 2}, "A", listsOf([]float64{1, 2, 3}, nil), "B", structsOf([]float64{1, 2, 3}, nil))
	long := build("frame", []int64{1, 1, 2, 2}, "marker", dictionary("A", "B", "A", "B"), "x", []float64{1, 2, 3, 4},
		"y", []float32{5, 6, nan, 8}, "z", []float64{9, 10, 11, 12}, "player", large("P", "P", "P", "Q"))
	for _, b := range [][]byte{arrowFile(long), arrowStream(long), arrowFile(long, ipc.WithLZ4()),
		arrowFile(long, ipc.WithZstd()), parquetFile(long, compress.Codecs.Snappy), parquetFile(long, compress.Codecs.Zstd),
		arrowFile(places), parquetFile(places, compress.Codecs.Snappy)} {
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		raw, err := read(b)
		if err == nil && (raw.Frames() == 0 || len(raw.XYZ)%(3*len(raw.Points)) != 0) {
			t.Fatalf("%d values of %d points", len(raw.XYZ), len(raw.Points))
		}
	})
}

// A frame number with an exponent would come back as none.
func TestCellsOfWholeNumbers(t *testing.T) {
	b := tabular.Batch{Rows: 3, Numbers: [][]float64{{1234567, 0.1, math.NaN()}}, Texts: [][]string{nil}}
	for row, want := range []string{"1234567", "0.1", ""} {
		if got := cell(b, 0, row); got != want {
			t.Errorf("row %d: %q, want %q", row, got, want)
		}
	}
}
