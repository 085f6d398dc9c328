package export

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"

	"tossline/datasets/frames"
	"tossline/datasets/landmark"
	"tossline/datasets/season"
	"tossline/kernel/motion"
	"tossline/kernel/table"
)

// awkward has every type of column, with nulls and with texts that break careless writers.
func awkward() table.Table {
	nan := math.NaN()
	texts := []string{"", "plain", "a,b", `say "out"`, "two\nlines", "=1+1", "'=1+1", "-3", "Łódź", "@x"}
	at := time.Date(2026, 3, 14, 15, 9, 26, 535897000, time.UTC)
	times, dates := make([]time.Time, 10), make([]time.Time, 10)
	for i := range times {
		times[i], dates[i] = at.Add(time.Duration(i)*time.Microsecond), at.AddDate(0, 0, i)
	}
	times[3], dates[4] = time.Time{}, time.Time{}
	return table.New(
		table.Number("offset_m", "m", []float64{0.1, nan, -0.0, 1e-300, math.Pi, 1 << 60, -12.5, 0.3, 1.0 / 3, 5e-324}).
			Titled("Contact offset").Defined("Positive is outside."),
		table.Integer("frame", []int64{0, 1, -1, math.MaxInt64, math.MinInt64, 5, 6, 7, 8, 9}),
		table.Text("note", texts),
		table.Text("all null", make([]string, 10)),
		table.Date("day", dates),
		table.Time("at", times),
		table.Flag("by_hand", []bool{true, false, true, true, false, false, true, false, true, true}),
	).WithMeta("tossline.revision", "7")
}

func content(t *testing.T, tab table.Table) Content {
	t.Helper()
	c, err := OfTable(tab)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func readArrow(t *testing.T, data []byte) table.Table {
	t.Helper()
	r, err := ipc.NewFileReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var all table.Table
	for i := range r.NumRecords() {
		record, err := r.Record(i)
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			all = table.From(record)
		} else {
			all = all.Append(table.From(record))
		}
	}
	if all.Err() != nil {
		t.Fatal(all.Err())
	}
	return all
}

func readParquet(t *testing.T, data []byte) table.Table {
	t.Helper()
	r, err := file.NewParquetReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if r.MetaData().Schema.Root().RepetitionType() == parquet.Repetitions.Repeated {
		t.Error("the root of the schema repeats: not every reader takes that")
	}
	ar, err := pqarrow.NewFileReader(r, pqarrow.ArrowReadProperties{}, memory.DefaultAllocator)
	if err != nil {
		t.Fatal(err)
	}
	tab, err := ar.ReadTable(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	var columns []arrow.Array
	for i := range int(tab.NumCols()) {
		joined, err := array.Concatenate(tab.Column(i).Data().Chunks(), memory.DefaultAllocator)
		if err != nil {
			t.Fatal(err)
		}
		columns = append(columns, joined)
	}
	all := table.From(array.NewRecord(tab.Schema(), columns, tab.NumRows()))
	stored := r.MetaData().KeyValueMetadata()
	for i, key := range stored.Keys() {
		if strings.HasPrefix(key, "tossline.") {
			all = all.WithMeta(key, stored.Values()[i])
		}
	}
	if all.Err() != nil {
		t.Fatal(all.Err())
	}
	return all
}

// sameTable compares values, nulls, units, titles and definitions.
func sameTable(t *testing.T, got, want table.Table) {
	t.Helper()
	if fmt.Sprint(got.Names()) != fmt.Sprint(want.Names()) || got.Len() != want.Len() {
		t.Fatalf("%d rows of %v, want %d of %v", got.Len(), got.Names(), want.Len(), want.Names())
	}
	for i, name := range want.Names() {
		if got.Unit(name) != want.Unit(name) || got.Title(name) != want.Title(name) ||
			got.Definition(name) != want.Definition(name) {
			t.Errorf("%s: unit %q, title %q, definition %q", name, got.Unit(name), got.Title(name), got.Definition(name))
		}
		if !array.Equal(got.Record().Column(i), want.Record().Column(i)) {
			t.Errorf("%s: %v, want %v", name, got.Record().Column(i), want.Record().Column(i))
		}
	}
}

func TestReadBack(t *testing.T) {
	want := awkward()
	for format, read := range map[Format]func(*testing.T, []byte) table.Table{Arrow: readArrow, Parquet: readParquet} {
		t.Run(string(format), func(t *testing.T) {
			var buf bytes.Buffer
			if err := Write(&buf, format, content(t, want)); err != nil {
				t.Fatal(err)
			}
			got := read(t, buf.Bytes())
			sameTable(t, got, want)
			if got.Meta("tossline.revision") != "7" {
				t.Error("the table's metadata is lost")
			}
		})
	}
}

func TestCSVReadBack(t *testing.T) {
	want := awkward()
	var buf bytes.Buffer
	if err := Write(&buf, CSV, content(t, want)); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&buf).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(rows[0], " "); got != "offset_m frame note all null day at by_hand" {
		t.Errorf("columns %s", got)
	}
	numbers, texts, frames := want.Numbers("offset_m"), want.Texts("note"), want.Record().Column(1).(*array.Int64)
	for i, row := range rows[1:] {
		v := math.NaN()
		if row[0] != "" {
			if v, err = strconv.ParseFloat(row[0], 64); err != nil {
				t.Fatal(err)
			}
		}
		if math.Float64bits(v) != math.Float64bits(numbers[i]) && v == v {
			t.Errorf("row %d: number %s, want %v", i, row[0], numbers[i])
		}
		if row[1] != strconv.FormatInt(frames.Value(i), 10) {
			t.Errorf("row %d: integer %s", i, row[1])
		}
		if Text(row[2]) != texts[i] {
			t.Errorf("row %d: text %q, want %q", i, row[2], texts[i])
		}
		if row[3] != "" {
			t.Errorf("row %d: %q for null", i, row[3])
		}
		if row[4] != want.Texts("day")[i] {
			t.Errorf("row %d: day %s, want %s", i, row[4], want.Texts("day")[i])
		}
	}
}

func TestFormulasAreGuarded(t *testing.T) {
	for cell, guarded := range map[string]string{
		"=1+1": "'=1+1", "+1": "'+1", "-1": "'-1", "@a": "'@a", "\tx": "'\tx", "\rx": "'\rx",
		"'=1": "''=1", "''@": "'''@", "'quoted": "'quoted", "a=1": "a=1", "": "", "'": "'",
	} {
		if got := Guarded(cell); got != guarded {
			t.Errorf("%q becomes %q, want %q", cell, got, guarded)
		}
	}
}

func FuzzGuardedIsUndone(f *testing.F) {
	for _, s := range []string{"", "=1", "'=1", "''", "'a", "-", "'-'", "\t"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if got := Text(Guarded(s)); got != s {
			t.Errorf("%q became %q", s, got)
		}
		if g := Guarded(s); g != "" && strings.IndexByte(formulaStart, g[0]) >= 0 {
			t.Errorf("%q is still a formula", g)
		}
	})
}

var layoutA = landmark.NewLayout([]landmark.Name{landmark.RightHand, "shed_pole"})
var layoutB = landmark.NewLayout([]landmark.Name{landmark.LeftHand, landmark.RightHand})

// exported is a season of two recordings with different landmarks: three serves, one of them cut off.
func exported(t *testing.T) *season.Writer {
	t.Helper()
	w, err := season.Create(filepath.Join(t.TempDir(), "season"), "test")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { w.Close() })
	for k, layout := range []*landmark.Layout{layoutA, layoutB} {
		xyz := make([]float32, 100*3*layout.Len())
		for i := range xyz {
			xyz[i] = float32(math.Sqrt(float64(i + k)))
		}
		xyz[7] = float32(math.NaN())
		imp := season.Import{
			File: fmt.Sprintf("=take %d.csv", k), SourceSHA256: strings.Repeat(strconv.Itoa(k+1), 64), Format: "csv",
			RateHz: 100, Layout: layout, Frames: xyz, Hand: motion.HandLeft, Player: "Tuva Brandt", Session: "2026-03-14",
			Serves: []motion.Serve{{First: 10, Last: 59, Events: motion.Events{
				motion.Contact: {TimeS: 0.3 + 1.0/3, Method: "hand highest (stand-in)", Confidence: 0.9, StandIn: true}}}},
		}
		if k == 1 {
			imp.Signals = []frames.Signal{{Name: "Force.Fz1", Unit: "N", RateHz: 1000, Values: []float32{1, xyz[7], 3}}}
			imp.Serves = append(imp.Serves, motion.Serve{First: 60, Last: 99, CutOff: true,
				CutOffWhy: "contact after the take ends"})
		}
		if _, err := w.AddRecording(context.Background(), imp); err != nil {
			t.Fatal(err)
		}
	}
	return w
}

func of(t *testing.T, w *season.Writer, name string) Content {
	t.Helper()
	c, err := w.Snapshot(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	content, err := Of(context.Background(), c, name)
	if err != nil {
		t.Fatal(err)
	}
	return content
}

func written(t *testing.T, format Format, c Content) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := Write(&buf, format, c); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func TestSeasonTablesInEveryFormat(t *testing.T) {
	w := exported(t)
	for _, name := range []string{"serves", "events", "measures", "frames"} {
		t.Run(name, func(t *testing.T) {
			fromArrow := readArrow(t, written(t, Arrow, of(t, w, name)))
			fromParquet := readParquet(t, written(t, Parquet, of(t, w, name)))
			sameTable(t, fromParquet, fromArrow)
			rows, err := csv.NewReader(bytes.NewReader(written(t, CSV, of(t, w, name)))).ReadAll()
			if err != nil || len(rows) != fromArrow.Len()+1 || len(rows[0]) != len(fromArrow.Names()) {
				t.Errorf("%d lines of CSV for %d rows, %v", len(rows), fromArrow.Len(), err)
			}
			if fromArrow.Meta("tossline.table") != name {
				t.Error("the file does not say which table it is")
			}
		})
	}
}

func TestSignalsTable(t *testing.T) {
	w := exported(t)
	c, err := w.Snapshot(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	signals := func(recording string) ([]frames.Signal, error) { return w.Signals(context.Background(), recording) }
	for name, got := range map[string]table.Table{
		"arrow":   readArrow(t, written(t, Arrow, Signals(context.Background(), c, signals))),
		"parquet": readParquet(t, written(t, Parquet, Signals(context.Background(), c, signals))),
	} {
		if got.Len() != 3 || got.Texts("unit")[0] != "N" || got.Numbers("time_s")[2] != 0.002 ||
			got.Numbers("value")[2] != 3 || got.Values("value")[1] != nil {
			t.Errorf("%s: %v of %v at %v", name, got.Numbers("value"), got.Texts("signal"), got.Numbers("time_s"))
		}
	}
	lost := func(string) ([]frames.Signal, error) { return nil, errors.New("it is missing") }
	if err := Write(io.Discard, CSV, Signals(context.Background(), c, lost)); err == nil {
		t.Error("a file that is missing: no error")
	}
}

// TestLongSignals writes a signal of more values than a batch holds.
func TestLongSignals(t *testing.T) {
	c, err := exported(t).Snapshot(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	long := frames.Signal{Name: "Fz", Unit: "N", RateHz: 1000, Values: make([]float32, 2*rowGroup+3)}
	for i := range long.Values {
		long.Values[i] = float32(i)
	}
	first := c.Recordings()[0].ID
	content := Signals(context.Background(), c, func(recording string) ([]frames.Signal, error) {
		if recording == first {
			return []frames.Signal{long}, nil
		}
		return nil, nil
	})
	row := 0
	for record, err := range content.Batches {
		if err != nil || record.NumRows() > rowGroup {
			t.Fatalf("a batch of %d rows, %v", record.NumRows(), err)
		}
		batch := table.From(record)
		times := batch.Numbers("time_s")
		for i, v := range batch.Numbers("value") {
			if v != float64(row) || times[i] != float64(row)/1000 {
				t.Fatalf("row %d is %v at %v", row, v, times[i])
			}
			row++
		}
		if texts := batch.Texts("recording"); texts[0] != first || texts[len(texts)-1] != first {
			t.Errorf("of recording %s", texts[0])
		}
	}
	if row != len(long.Values) {
		t.Errorf("%d rows of %d", row, len(long.Values))
	}
}

func TestServesTable(t *testing.T) {
	got := readArrow(t, written(t, Arrow, of(t, exported(t), "serves")))
	if got.Len() != 3 || got.Texts("left_out")[2] != "cut off: contact after the take ends" ||
		got.Texts("left_out")[0] != "" {
		t.Errorf("left out: %q", got.Texts("left_out"))
	}
	if got.Texts("file")[0] != "=take 0.csv" || got.Numbers("last_frame")[1] != 59 {
		t.Errorf("file %q, last frame %v", got.Texts("file"), got.Numbers("last_frame"))
	}
}

func TestFramesTableHoldsTheFrames(t *testing.T) {
	w := exported(t)
	got := readArrow(t, written(t, Arrow, of(t, w, "frames")))
	if got.Len() != 50+50+40 {
		t.Fatalf("%d rows", got.Len())
	}
	want := "serve frame time_s left_hand_x_m left_hand_y_m left_hand_z_m right_hand_x_m right_hand_y_m right_hand_z_m " +
		"shed_pole_x_m shed_pole_y_m shed_pole_z_m"
	if names := strings.Join(got.Names(), " "); names != want {
		t.Errorf("columns %s", names)
	}
	c, err := w.Snapshot(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	clip, err := c.Clip(1)
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range got.Numbers("right_hand_y_m")[50:100] {
		if want := clip.Frames[i*6+4]; float32(v) != want {
			t.Fatalf("frame %d: %v, want %v", i, v, want)
		}
	}
	if v := got.Numbers("left_hand_x_m")[0]; v == v {
		t.Errorf("a landmark that the recording lacks is %v, want null", v)
	}
	if got.Unit("time_s") != "s" || got.Numbers("time_s")[0] != 0.1 || got.Numbers("frame")[0] != 10 {
		t.Error("time and frame of the first row")
	}
}

func TestMeasuresTableHasStableColumns(t *testing.T) {
	got := readArrow(t, written(t, Arrow, of(t, exported(t), "measures")))
	if got.Len() != 2 {
		t.Errorf("%d rows, want one for each serve that is measured", got.Len())
	}
	for _, column := range []string{"serve", "recording", "file", "player", "session", "contact_s",
		"front_knee_flexion_deg", "contact_offset_m", "contact_offset_basis", "contact_offset_missing", "drop_depth_m"} {
		if !got.Has(column) {
			t.Errorf("no column %s", column)
		}
	}
}

func TestSaveIsAllOrNothing(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "out.csv")
	if err := os.WriteFile(path, []byte("old"), 0o644); err != nil {
		t.Fatal(err)
	}
	c := content(t, awkward())
	batch := c.Batches
	c.Batches = func(yield func(arrow.Record, error) bool) {
		for r := range batch {
			if !yield(r, nil) {
				return
			}
		}
		yield(nil, errors.New("the cable came off"))
	}
	if err := Save(path, CSV, c); err == nil || !strings.Contains(err.Error(), "cable") {
		t.Errorf("error %v", err)
	}
	if data, _ := os.ReadFile(path); string(data) != "old" {
		t.Errorf("the old file now holds %q", data)
	}
	if entries, _ := os.ReadDir(dir); len(entries) != 1 {
		t.Errorf("left behind: %v", entries)
	}
	if err := Save(path, CSV, content(t, awkward())); err != nil {
		t.Fatal(err)
	}
	if data, _ := os.ReadFile(path); !bytes.HasPrefix(data, []byte("offset_m,frame,note,")) {
		t.Errorf("the new file starts with %.40q", data)
	}
	lost := filepath.Join(dir, "none", "t.csv")
	err := Save(lost, CSV, content(t, awkward()))
	if err == nil || !strings.HasPrefix(err.Error(), "writing "+lost) || strings.Contains(err.Error(), ".part") {
		t.Errorf("in a folder that isn't there: %v", err)
	}
	if err := Save(dir, CSV, content(t, awkward())); err == nil || !strings.Contains(err.Error(), "is a folder") {
		t.Errorf("error %v", err)
	}
}

var errFull = errors.New("no space left")

// fullDisk takes that many bytes.
type fullDisk int

func (d *fullDisk) Write(p []byte) (int, error) {
	n := min(len(p), int(*d))
	if *d -= fullDisk(n); n < len(p) {
		return n, errFull
	}
	return n, nil
}

// TestFullDisk lets the disk run full at every place of a file: within its first bytes, between and in the row groups,
// and in its end.
func TestFullDisk(t *testing.T) {
	numbers := make([]float64, rowGroup+5)
	for i := range numbers {
		numbers[i] = float64(i % 7)
	}
	for name, tab := range map[string]table.Table{
		"a few rows":     awkward(),
		"two row groups": table.New(table.Number("a_m", "m", numbers)),
	} {
		for _, format := range []Format{CSV, Parquet, Arrow} {
			t.Run(name+" as "+string(format), func(t *testing.T) {
				whole := len(written(t, format, content(t, tab)))
				for room := 0; room < whole; room += 1 + whole/40 {
					disk := fullDisk(room)
					if err := Write(&disk, format, content(t, tab)); !errors.Is(err, errFull) {
						t.Fatalf("room for %d bytes of %d: %v", room, whole, err)
					}
				}
				last := fullDisk(whole - 1)
				if err := Write(&last, format, content(t, tab)); !errors.Is(err, errFull) {
					t.Errorf("all but the last byte: %v", err)
				}
			})
		}
	}
}

// TestSaveToWhatIsFull writes to Linux's own full disk, which is no regular file.
func TestSaveToWhatIsFull(t *testing.T) {
	if _, err := os.Stat("/dev/full"); err != nil {
		t.Skip(err)
	}
	for _, format := range []Format{CSV, Parquet, Arrow} {
		err := Save("/dev/full", format, content(t, awkward()))
		if !errors.Is(err, syscall.ENOSPC) || !strings.HasPrefix(err.Error(), "writing /dev/full: no space") {
			t.Errorf("%s: %v", format, err)
		}
	}
}

func TestUnknownNames(t *testing.T) {
	if _, err := ParseFormat("xlsx"); err == nil || !strings.Contains(err.Error(), "csv, parquet or arrow") {
		t.Errorf("format: %v", err)
	}
	c, err := exported(t).Snapshot(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Of(context.Background(), c, "change"); err == nil || !strings.Contains(err.Error(), "changes") {
		t.Errorf("table: %v", err)
	}
}

func BenchmarkCSVFrames(b *testing.B) {
	values := make([]float64, 100_000)
	for i := range values {
		values[i] = math.Sqrt(float64(i))
	}
	c, err := OfTable(table.New(table.Number("a_m", "m", values), table.Number("b_m", "m", values)))
	if err != nil {
		b.Fatal(err)
	}
	var buf bytes.Buffer
	for b.Loop() {
		buf.Reset()
		if err := Write(&buf, CSV, c); err != nil {
			b.Fatal(err)
		}
	}
	b.SetBytes(int64(buf.Len()))
}
