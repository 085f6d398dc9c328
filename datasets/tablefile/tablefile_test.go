package tablefile

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"tossline/datasets/frames"
	"tossline/kernel/table"
)

// ofRows is a table of every type of column.
func ofRows(n int) arrow.Record {
	numbers, whole, texts := make([]float64, n), make([]int64, n), make([]string, n)
	flags, times := make([]bool, n), make([]time.Time, n)
	for i := range n {
		numbers[i], whole[i], flags[i] = float64(i)/3, int64(i), i%2 == 0
		if i%3 > 0 {
			texts[i], times[i] = fmt.Sprint("text ", i), time.Unix(int64(i), 0)
		}
	}
	return table.New(table.Number("force_N", "N", numbers).Titled("Force").Defined("At the plate."),
		table.Integer("n", whole), table.Text("who", texts), table.Flag("ok", flags), table.Date("day", times),
		table.Time("at", times)).WithMeta("tossline.table", "plates").Record()
}

func written(t *testing.T, record arrow.Record) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, record); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestTablesOfAnyLengthComeBack(t *testing.T) {
	for _, n := range []int{0, 1, 7, 1000, 300_000} { // the last takes more than the library is given beside its data
		want := ofRows(n)
		data := written(t, want)
		got, err := Decode(data)
		if err != nil {
			t.Fatalf("%d rows: %v", n, err)
		}
		if !got.Schema().Equal(want.Schema()) || !got.Schema().Metadata().Equal(want.Schema().Metadata()) ||
			!array.RecordEqual(got, want) {
			t.Errorf("%d rows came back as %v", n, got.Schema())
		}
		if again := written(t, got); !bytes.Equal(again, data) {
			t.Errorf("%d rows: the same table gives other bytes", n)
		}
	}
}

func TestFileIsComparedWithItsHash(t *testing.T) {
	data := written(t, ofRows(10))
	sum := sha256.Sum256(data)
	path := filepath.Join(t.TempDir(), "table.arrow")
	open := func(data []byte) *File {
		t.Helper()
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		file, err := Open(f, hex.EncodeToString(sum[:]))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { file.Close() })
		return file
	}
	read, err := open(data).Table()
	if err != nil || read.Unit("force_N") != "N" || read.Len() != 10 {
		t.Errorf("%v, %v", read.Names(), err)
	}
	changed := bytes.Clone(data)
	changed[len(changed)/2] ^= 1
	if _, err := open(changed).Table(); err == nil || !strings.Contains(err.Error(), "not what its hash says") {
		t.Errorf("one bit changed: %v", err)
	}
	whole := open(data)
	if err := os.Truncate(path, 100); err != nil {
		t.Fatal(err)
	}
	if _, err := whole.Record(); err == nil {
		t.Error("a file that was cut short since was read")
	}
}

// other is the IPC file of a record that is none of ours.
func other(t *testing.T, records ...arrow.Record) []byte {
	t.Helper()
	var b bytes.Buffer
	out, err := ipc.NewFileWriter(frames.Sequential(&b), ipc.WithSchema(records[0].Schema()))
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range records {
		if err := out.Write(r); err != nil {
			t.Fatal(err)
		}
	}
	out.Close()
	return b.Bytes()
}

func ofInts(t *testing.T, names ...string) arrow.Record {
	t.Helper()
	var fields []arrow.Field
	for _, n := range names {
		fields = append(fields, arrow.Field{Name: n, Type: arrow.PrimitiveTypes.Int32})
	}
	b := array.NewRecordBuilder(memory.DefaultAllocator, arrow.NewSchema(fields, nil))
	for i := range names {
		b.Field(i).(*array.Int32Builder).Append(1)
	}
	return b.NewRecord()
}

func TestOtherFilesAreRefused(t *testing.T) {
	good := written(t, ofRows(10))
	two := table.New(table.Integer("a", []int64{1})).Record()
	same := array.NewRecord(arrow.NewSchema([]arrow.Field{two.Schema().Field(0), two.Schema().Field(0)}, nil),
		[]arrow.Array{two.Column(0), two.Column(0)}, 1)
	for name, data := range map[string][]byte{
		"nothing":          nil,
		"something else":   []byte("hello, this is no table"),
		"its beginning":    good[:len(good)/2],
		"another type":     other(t, ofInts(t, "a")),
		"two batches":      other(t, ofRows(3), ofRows(3)),
		"one name twice":   other(t, same),
		"no columns":       other(t, ofInts(t)),
		"the magic alone":  []byte("ARROW1\x00\x00"),
		"an endless claim": append([]byte("ARROW1\x00\x00\xff\xff\xff\xff"), 0xff, 0xff, 0xff, 0x7f),
	} {
		if record, err := Decode(data); err == nil {
			t.Errorf("%s was read as %v", name, record)
		}
	}
	r := rand.New(rand.NewPCG(1, 2))
	for range 3000 { // whatever is read can be written
		data := bytes.Clone(good)
		for range 1 + r.IntN(4) {
			data[r.IntN(len(data))] = byte(r.Uint32())
		}
		if record, err := Decode(data); err == nil {
			written(t, record)
		}
	}
}
