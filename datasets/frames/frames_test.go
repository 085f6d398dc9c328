package frames

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"

	"tossline/datasets/landmark"
)

var facts = Facts{RateHz: 100, Landmarks: []landmark.Name{landmark.LeftHand, landmark.RightHand}, SourceSHA256: "ab12"}

// ramp gives n frames of two landmarks; the fifth value is missing.
func ramp(n int) []float32 {
	xyz := make([]float32, 6*n)
	for i := range xyz {
		xyz[i] = float32(i) / 8
	}
	xyz[4] = float32(math.NaN())
	return xyz
}

func written(t testing.TB, xyz []float32) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := Write(&buf, facts, xyz); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// same compares bit by bit, so that NaN equals NaN.
func same(a, b []float32) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if math.Float32bits(a[i]) != math.Float32bits(b[i]) {
			return false
		}
	}
	return true
}

func TestWrittenFileIsReadBack(t *testing.T) {
	for _, n := range []int{1, 2, 3, 1000, 100_000} {
		t.Run(fmt.Sprint(n, " frames"), func(t *testing.T) {
			xyz := ramp(n)
			data := written(t, xyz)
			path := filepath.Join(t.TempDir(), "x.arrow")
			if err := os.WriteFile(path, data, 0o600); err != nil {
				t.Fatal(err)
			}
			f, err := os.Open(path)
			if err != nil {
				t.Fatal(err)
			}
			file, err := Open(f)
			if err != nil {
				t.Fatal(err)
			}
			defer file.Close()
			if !same(file.XYZ(), xyz) || file.Len() != n {
				t.Error("values differ")
			}
			if got := file.Facts(); fmt.Sprint(got) != fmt.Sprint(facts) {
				t.Errorf("facts %v, want %v", got, facts)
			}
			sum := sha256.Sum256(data)
			if got, err := file.SHA256(); err != nil || got != hex.EncodeToString(sum[:]) {
				t.Errorf("hash %s, %v", got, err)
			}
		})
	}
}

// The library's own reader must see the same numbers: the file is for general tools too.
func TestArrowLibraryReadsTheFile(t *testing.T) {
	xyz := ramp(50)
	r, err := ipc.NewFileReader(bytes.NewReader(written(t, xyz)))
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if r.NumRecords() != 1 || r.Schema().Field(0).Name != "xyz" || !r.Schema().Field(0).Nullable {
		t.Fatalf("%d records of %v", r.NumRecords(), r.Schema())
	}
	rec, err := r.Record(0)
	if err != nil {
		t.Fatal(err)
	}
	list := rec.Column(0).(*array.FixedSizeList)
	if list.NullN() != 0 || !same(list.ListValues().(*array.Float32).Float32Values(), xyz) {
		t.Error("values differ")
	}
}

func TestSameInputGivesSameBytes(t *testing.T) {
	if !bytes.Equal(written(t, ramp(10)), written(t, ramp(10))) {
		t.Error("two files of the same frames differ")
	}
}

func TestWriteRefuses(t *testing.T) {
	two := facts.Landmarks
	for name, c := range map[string]struct {
		facts Facts
		xyz   []float32
		want  string
	}{
		"no frames":         {facts, nil, "no frames"},
		"half a frame":      {facts, make([]float32, 7), "not whole frames"},
		"no rate":           {Facts{Landmarks: two}, make([]float32, 6), "frame rate"},
		"rate NaN":          {Facts{RateHz: math.NaN(), Landmarks: two}, make([]float32, 6), "frame rate"},
		"no landmarks":      {Facts{RateHz: 1}, make([]float32, 6), "no landmarks"},
		"landmark twice":    {Facts{RateHz: 1, Landmarks: []landmark.Name{"a", "a"}}, make([]float32, 6), "twice"},
		"comma in the name": {Facts{RateHz: 1, Landmarks: []landmark.Name{"a,b"}}, make([]float32, 3), "comma"},
	} {
		t.Run(name, func(t *testing.T) {
			var buf bytes.Buffer
			err := Write(&buf, c.facts, c.xyz)
			if err == nil || !strings.Contains(err.Error(), c.want) || buf.Len() > 0 {
				t.Errorf("error %v after %d bytes, want %q before any", err, buf.Len(), c.want)
			}
		})
	}
}

// Whatever single byte is damaged, the file is refused or still gives a number of whole frames inside it.
func TestEveryDamagedByte(t *testing.T) {
	good := written(t, ramp(3))
	for i := range good {
		for _, flip := range []byte{0xFF, 0x01, 0x80} {
			bad := bytes.Clone(good)
			bad[i] ^= flip
			touch(t, bad)
		}
	}
	for n := range good {
		if _, _, err := parse(bytes.NewReader(good[:n]), int64(n)); err == nil {
			t.Errorf("cut after %d bytes: no error", n)
		}
	}
}

// touch parses data and checks that the values lie inside it.
func touch(t testing.TB, data []byte) {
	t.Helper()
	facts, values, err := parse(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return
	}
	frame := int64(12 * len(facts.Landmarks))
	if values.from < 0 || values.length <= 0 || values.length%frame != 0 || values.from+values.length > int64(len(data)) {
		t.Fatalf("%v of %d bytes, frames of %d", values, len(data), frame)
	}
}

func FuzzParse(f *testing.F) {
	f.Add(written(f, ramp(1)))
	f.Add(written(f, ramp(20)))
	f.Add([]byte("ARROW1\x00\x00\x00\x00\x00\x00ARROW1"))
	f.Fuzz(func(t *testing.T, data []byte) { touch(t, data) })
}

func TestFileCutShortWhileMapped(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.arrow")
	if err := os.WriteFile(path, written(t, ramp(100_000)), 0o600); err != nil {
		t.Fatal(err)
	}
	f, _ := os.Open(path)
	file, err := Open(f)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	if err := os.Truncate(path, 4096); err != nil {
		t.Fatal(err)
	}
	if _, err := file.SHA256(); err == nil || !strings.Contains(err.Error(), "cut short") {
		t.Errorf("error %v, want one that says so", err)
	}
}

func TestOpenRefuses(t *testing.T) {
	dir := t.TempDir()
	empty, other := filepath.Join(dir, "empty"), filepath.Join(dir, "other")
	os.WriteFile(empty, nil, 0o600)
	os.WriteFile(other, []byte(strings.Repeat("frames? ", 100)), 0o600)
	for path, want := range map[string]string{dir: "ordinary", empty: "empty", other: "not a frames file"} {
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Open(f); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: error %v, want %q", path, err, want)
		}
	}
}

func BenchmarkOpen(b *testing.B) {
	path := filepath.Join(b.TempDir(), "x.arrow")
	if err := os.WriteFile(path, written(b, ramp(400_000)), 0o600); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		f, err := os.Open(path)
		if err != nil {
			b.Fatal(err)
		}
		file, err := Open(f)
		if err != nil {
			b.Fatal(err)
		}
		file.Close()
	}
}

// BenchmarkScan reads every value through the mapping, page cache warm.
func BenchmarkScan(b *testing.B) {
	path := filepath.Join(b.TempDir(), "x.arrow")
	xyz := ramp(400_000)
	if err := os.WriteFile(path, written(b, xyz), 0o600); err != nil {
		b.Fatal(err)
	}
	f, _ := os.Open(path)
	file, err := Open(f)
	if err != nil {
		b.Fatal(err)
	}
	defer file.Close()
	b.SetBytes(int64(4 * len(xyz)))
	var sum [8]float32
	for b.Loop() {
		v := file.XYZ()
		for len(v) >= 8 {
			for k := range sum {
				sum[k] += v[k]
			}
			v = v[8:]
		}
	}
}
