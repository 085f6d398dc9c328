package command

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"maps"
	"slices"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"

	"tossline/datasets/frames"
)

// columnTable is a figure by columns. Values are kept as kind says.
type columnTable struct {
	figure
	names []string
	key   string // "time", "timestamp", "frame" or ""
	kind  string // "float64", "float32", "int32", "float16", "list", "fixed list", "struct", "text"
	said  map[string]string
	long  bool // a row for each point
}

// record is the table as one Arrow record.
func (t columnTable) record() arrow.Record {
	fields, columns := []arrow.Field(nil), []arrow.Array(nil)
	add := func(name string, a arrow.Array) {
		fields = append(fields, arrow.Field{Name: name, Type: a.DataType(), Nullable: true})
		columns = append(columns, a)
	}
	if t.key != "" {
		add(t.key, t.keys())
	}
	if t.long {
		b := array.NewDictionaryBuilder(memory.DefaultAllocator,
			&arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int8, ValueType: arrow.BinaryTypes.String}).(*array.
			BinaryDictionaryBuilder)
		for range t.frames {
			for _, n := range t.names {
				b.AppendString(n)
			}
		}
		add("marker", b.NewArray())
		for axis, title := range []string{"x", "y", "z"} {
			add(title, t.numbers(-1, axis))
		}
	} else {
		for k, n := range t.names {
			switch t.kind {
			case "list", "fixed list":
				add(n, t.lists(k))
			case "struct":
				a, err := array.NewStructArray([]arrow.Array{t.numbers(k, 0), t.numbers(k, 1), t.numbers(k, 2)},
					[]string{"x", "y", "z"})
				if err != nil {
					panic(err)
				}
				add(n, a)
			default:
				for axis, title := range []string{"x", "y", "z"} {
					add(n+"_"+title, t.numbers(k, axis))
				}
			}
		}
	}
	said := arrow.MetadataFrom(t.said)
	return array.NewRecord(arrow.NewSchema(fields, &said), columns, int64(columns[0].Len()))
}

func (t columnTable) keys() arrow.Array {
	repeat := 1
	if t.long {
		repeat = len(t.names)
	}
	var b array.Builder
	switch t.key {
	case "timestamp":
		b = array.NewTimestampBuilder(memory.DefaultAllocator, &arrow.TimestampType{Unit: arrow.Millisecond, TimeZone: "UTC"})
	case "frame":
		b = array.NewInt64Builder(memory.DefaultAllocator)
	default:
		b = array.NewFloat64Builder(memory.DefaultAllocator)
	}
	for i := range t.frames {
		for range repeat {
			switch b := b.(type) {
			case *array.TimestampBuilder:
				b.Append(arrow.Timestamp(1_773_486_000_000 + 20*i)) // 2026-03-14
			case *array.Int64Builder:
				b.Append(int64(i))
			case *array.Float64Builder:
				b.Append(float64(i) / t.rate)
			}
		}
	}
	return b.NewArray()
}

// numbers is a column of one point, or of all where it is -1.
func (t columnTable) numbers(point, axis int) arrow.Array {
	var b array.Builder
	switch t.kind {
	case "float32":
		b = array.NewFloat32Builder(memory.DefaultAllocator)
	case "int32":
		b = array.NewInt32Builder(memory.DefaultAllocator)
	case "text":
		b = array.NewStringBuilder(memory.DefaultAllocator)
	default:
		b = array.NewFloat64Builder(memory.DefaultAllocator)
	}
	for _, frame := range t.frames {
		for k, p := range frame {
			if point >= 0 && k != point {
				continue
			}
			v := p[axis]
			switch b := b.(type) {
			case *array.Float32Builder:
				b.Append(float32(v))
			case *array.Int32Builder:
				b.Append(int32(v))
			case *array.StringBuilder:
				b.Append(fmt.Sprintf("%.3f", v))
			case *array.Float64Builder:
				if v != v {
					b.AppendNull()
				} else {
					b.Append(v)
				}
			}
		}
	}
	return b.NewArray()
}

// lists is a column of x, y and z together; where the point is missing there is no list, or one of nothing.
func (t columnTable) lists(point int) arrow.Array {
	if t.kind == "fixed list" {
		b := array.NewFixedSizeListBuilder(memory.DefaultAllocator, 3, arrow.PrimitiveTypes.Float32)
		values := b.ValueBuilder().(*array.Float32Builder)
		for _, frame := range t.frames {
			p := frame[point]
			b.Append(true)
			values.AppendValues([]float32{float32(p[0]), float32(p[1]), float32(p[2])}, nil)
		}
		return b.NewArray()
	}
	b := array.NewListBuilder(memory.DefaultAllocator, arrow.PrimitiveTypes.Float64)
	values := b.ValueBuilder().(*array.Float64Builder)
	for _, frame := range t.frames {
		if p := frame[point]; p[0] == p[0] {
			b.Append(true)
			values.AppendValues(p[:], nil)
		} else {
			b.AppendNull()
		}
	}
	return b.NewArray()
}

// stream is the table as an Arrow stream, in two batches.
func (t columnTable) stream(options ...ipc.Option) []byte {
	r := t.record()
	var b bytes.Buffer
	w := ipc.NewWriter(&b, append(options, ipc.WithSchema(r.Schema()))...)
	half := r.NumRows() / 2
	for _, piece := range []arrow.Record{r.NewSlice(0, half), r.NewSlice(half, r.NumRows())} {
		if err := w.Write(piece); err != nil {
			panic(err)
		}
	}
	if err := w.Close(); err != nil {
		panic(err)
	}
	return b.Bytes()
}

// file is the table as an Arrow file.
func (t columnTable) file(options ...ipc.Option) []byte {
	r := t.record()
	var b bytes.Buffer
	w, err := ipc.NewFileWriter(frames.Sequential(&b), append(options, ipc.WithSchema(r.Schema()))...)
	if err == nil {
		err = w.Write(r)
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		panic(err)
	}
	return b.Bytes()
}

// parquet is the table as a Parquet file.
func (t columnTable) parquet(options ...parquet.WriterProperty) []byte {
	return t.parquetOf(t.record(), options...)
}

func (t columnTable) parquetOf(r arrow.Record, options ...parquet.WriterProperty) []byte {
	var b bytes.Buffer
	w, err := pqarrow.NewFileWriter(r.Schema(), &b, parquet.NewWriterProperties(options...),
		pqarrow.NewArrowWriterProperties())
	if err == nil {
		for _, key := range slices.Sorted(maps.Keys(t.said)) {
			w.AppendKeyValueMetadata(key, t.said[key])
		}
		err = w.Write(r)
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		panic(err)
	}
	return b.Bytes()
}

func columnFixtures() []fixture {
	of := func(name, about string, bytes func() []byte, args ...string) fixture {
		return fixture{name: "columns/" + name, about: about, bytes: bytes, args: args}
	}
	body := func(kind, key string) columnTable {
		return columnTable{figure: standing(6).only(few[:5]), names: pick(joints, few[:5]), kind: kind, key: key}
	}
	holed := func(kind string) columnTable {
		t := body(kind, "time")
		t.figure = t.without(3, 2, 4)
		return t
	}
	most := []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12} // no toes
	serve := columnTable{figure: lab(serveFigure()).only(most), names: pick(joints, most), kind: "int32", key: "time",
		said: map[string]string{"units": "mm", "player": "P07"}}
	short := body("float64", "frame")
	short.figure, short.names = standing(6).only(few[:3]), pick(joints, few[:3])
	long := columnTable{figure: lab(standing(6).only(few)), names: pick(labMarkers(""), few), kind: "int32",
		key: "timestamp", long: true}
	plain, dictionary := parquet.WithDictionaryDefault(false), parquet.WithDictionaryDefault(true)
	packed := func(c compress.Compression) parquet.WriterProperty { return parquet.WithCompression(c) }
	return []fixture{
		of("serve.arrow", "a whole serve as an Arrow file, whole millimetres, packed by zstd, units and player in "+
			"the metadata",
			func() []byte { return serve.file(ipc.WithZstd()) }),
		of("serve.parquet", "the same as Parquet, packed by zstd", func() []byte {
			return serve.parquet(packed(compress.Codecs.Zstd), plain)
		}),
		of("stream.arrows", "an Arrow stream of two batches, float64 with missing values", func() []byte {
			return holed("float64").stream()
		}),
		of("lz4.arrow", "an Arrow file packed by lz4, frame numbers, a rate in the metadata", func() []byte {
			t := body("float64", "frame")
			t.said = map[string]string{"rate": "50"}
			return t.file(ipc.WithLZ4())
		}),
		of("lists.arrow", "a list of x, y and z for each point, none where it is missing", func() []byte {
			return holed("list").file()
		}),
		of("fixed-lists.arrow", "a list of three for each point", func() []byte { return body("fixed list", "time").file() }),
		of("structs.arrow", "x, y and z as fields of each point", func() []byte { return body("struct", "time").file() }),
		of("long.arrow", "a row for each point, names by a dictionary, timestamps, whole millimetres", func() []byte {
			return long.file()
		}),
		of("texts.arrow", "numbers as texts", func() []byte { return body("text", "time").file() }),
		of("lists.parquet", "a list of x, y and z for each point, none where it is missing", func() []byte {
			return holed("list").parquet(packed(compress.Codecs.Snappy))
		}),
		of("structs.parquet", "x, y and z as fields of each point, not packed", func() []byte {
			return body("struct", "time").parquet(plain)
		}),
		of("long.parquet", "a row for each point, names by a dictionary, timestamps, gzip", func() []byte {
			return long.parquet(packed(compress.Codecs.Gzip), dictionary)
		}),
		of("brotli.parquet", "float64 with missing values, packed by brotli, pages of the second version", func() []byte {
			return holed("float64").parquet(packed(compress.Codecs.Brotli), plain,
				parquet.WithDataPageVersion(parquet.DataPageV2))
		}),
		of("split.parquet", "three points, delta encoding, a group of rows for every four frames", func() []byte {
			return short.parquet(plain, parquet.WithMaxRowGroupLength(4),
				parquet.WithEncodingFor("frame", parquet.Encodings.DeltaBinaryPacked),
				parquet.WithEncoding(parquet.Encodings.Plain))
		}, "--rate", "50"),
		of("cut.parquet", "cut off", func() []byte {
			b := body("float64", "time").parquet(plain)
			return b[:len(b)/3]
		}),
		of("cut.arrow", "an Arrow file cut off in its last column", func() []byte {
			b := body("float64",
				"time").file()
			return b[:2500]
		}),
		of("cut.arrows", "an Arrow stream without its second batch", func() []byte {
			b := holed("float64").stream()
			return b[:bytes.LastIndex(b[:len(b)-8], []byte{0xff, 0xff, 0xff, 0xff})]
		}),
		of("bent.arrow", "the numbers of a column are said to be longer than they are", func() []byte {
			b := short.file()
			at := bytes.Index(b, binary.LittleEndian.AppendUint64(nil, 48)) // six numbers
			b[at+1] = 0x7f
			return b
		}),
		of("other.parquet", "a table of results, not of frames", func() []byte {
			b := short.record()
			return columnTable{}.parquetOf(array.NewRecord(arrow.NewSchema([]arrow.Field{
				{Name: "serve", Type: arrow.PrimitiveTypes.Int64}, {Name: "speed_kmh", Type: arrow.PrimitiveTypes.Float64}}, nil),
				b.Columns()[:2], b.NumRows()))
		}),
	}
}
