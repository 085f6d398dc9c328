package delimited

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"tossline/datasets/recording"
)

func read(t *testing.T, name string) *recording.Raw {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	raw, err := Read(f)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

var nan = float32(math.NaN())

// same compares values with NaN equal to NaN.
func same(a, b []float32) bool {
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] && (a[i] == a[i] || b[i] == b[i]) {
			return false
		}
	}
	return len(a) == len(b)
}

func TestWide(t *testing.T) {
	raw := read(t, "wide.csv")
	want := []float32{0.1, 0.5, -0.2, 1.25, 2.5, 0.125, 0.2, 0.5, -0.2, nan, nan, nan, 0.3, 0.5, -0.2, 1.5, nan, 0.25}
	if !same(raw.XYZ, want) {
		t.Errorf("values %v, want %v", raw.XYZ, want)
	}
	if p := []string{"left_knee", "racket tip"}; !reflect.DeepEqual(raw.Points, p) {
		t.Errorf("points %q, want %q", raw.Points, p)
	}
	if times := []float64{0, 0.01, 0.02}; !reflect.DeepEqual(raw.TimeS, times) {
		t.Errorf("times %v", raw.TimeS)
	}
}

func TestLong(t *testing.T) {
	raw := read(t, "long.csv")
	if p := []string{"LKNE", "RKNE", "BALL"}; !reflect.DeepEqual(raw.Points, p) {
		t.Fatalf("points %q, want %q", raw.Points, p)
	}
	want := []float32{
		0.1, 0.2, 0.3, 1.1, 1.2, 1.3, nan, nan, nan,
		0.4, 0.5, 0.6, 1.4, 1.5, 1.6, 9.1, 9.2, 9.3,
		nan, nan, nan, nan, nan, nan, nan, nan, nan, // frame 12 is left out
		nan, nan, nan, 2.4, 2.5, 2.6, nan, nan, nan,
	}
	if !same(raw.XYZ, want) || raw.RateHz != 50 {
		t.Errorf("%v Hz, values %v", raw.RateHz, raw.XYZ)
	}
}

func TestContinental(t *testing.T) {
	raw := read(t, "continental.csv")
	if want := []float32{1.5, -2.25, 1000, 1.75, nan, 1000}; !same(raw.XYZ, want) {
		t.Errorf("values %v, want %v", raw.XYZ, want)
	}
	if raw.Units != "mm" || raw.Player != "Tuva; B." || raw.Hand != "left" || raw.HeightM != 1.71 {
		t.Errorf("units %q, player %q, hand %q, height %v", raw.Units, raw.Player, raw.Hand, raw.HeightM)
	}
	if !reflect.DeepEqual(raw.TimeS, []float64{0, 0.01}) {
		t.Errorf("times %v", raw.TimeS)
	}
}

func TestGrouped(t *testing.T) {
	raw := read(t, "grouped.tsv")
	if p := []string{"LASI", "RASI"}; !reflect.DeepEqual(raw.Points, p) || raw.RateHz != 100 || raw.Units != "mm" {
		t.Fatalf("points %q, %v Hz, units %q", raw.Points, raw.RateHz, raw.Units)
	}
	if want := []float32{1, 2, 3, 4, 5, 6, 1.5, 2.5, 3.5, 4.5, 5.5, 6.5}; !same(raw.XYZ, want) {
		t.Errorf("values %v, want %v", raw.XYZ, want)
	}
}

// TestTitles checks how coordinates may be called.
func TestTitles(t *testing.T) {
	for _, c := range []struct{ header, points, units string }{
		{"left_knee_x,left_knee_y,left_knee_z", "left_knee", ""},
		{"LeftKnee.X,LeftKnee.Y,LeftKnee.Z", "LeftKnee", ""},
		{"left knee:X,left knee:Y,left knee:Z", "left knee", ""},
		{"LKNE_X,LKNE_Y,LKNE_Z", "LKNE", ""},
		{"LKNEX,LKNEY,LKNEZ", "LKNE", ""},
		{"kneeX,kneeY,kneeZ", "knee", ""},
		{"knee (x),knee (y),knee (z)", "knee", ""},
		{"knee[x],knee[y],knee[z]", "knee", ""},
		{"knee_x_mm,knee_y_mm,knee_z_mm", "knee", "mm"},
		{"knee_x (cm),knee_y (cm),knee_z (cm)", "knee", "cm"},
		{"x_knee,y_knee,z_knee", "knee", ""},
		{"S1:LKNE:X,S1:LKNE:Y,S1:LKNE:Z", "S1:LKNE", ""},
		{"a_x,b_x,a_y,b_y,a_z,b_z", "a|b", ""},
		{"index_x,index_y,index_z", "index", ""},
	} {
		n := strings.Count(c.header, ",") + 1
		text := "frame," + c.header + "\n1" + strings.Repeat(",0.5", n) + "\n"
		raw, err := Read(strings.NewReader(text))
		if err != nil {
			t.Errorf("%s: %v", c.header, err)
			continue
		}
		if got := strings.Join(raw.Points, "|"); got != c.points || raw.Units != c.units {
			t.Errorf("%s: points %s, units %q; want %s, %q", c.header, got, raw.Units, c.points, c.units)
		}
	}
}

// TestPictures checks tables without depth: three rows of titles over x, y and a likelihood, as programs that find
// landmarks in pictures write them, and a row for each landmark.
func TestPictures(t *testing.T) {
	for _, c := range []struct{ name, text string }{
		{"three rows of titles", "scorer,net,net,net,net,net,net,net,net,net\nbodyparts,a,a,a,b,b,b,c,c,c\n" +
			"coords,x,y,likelihood,x,y,likelihood,x,y,likelihood\n0,1,2,0.9,3,4,0.9,5,,0.1\n1,7,8,1,9,10,1,11,12,1\n"},
		{"long", "frame,keypoint,x,y\n0,a,1,2\n0,b,3,4\n0,c,5,\n1,a,7,8\n1,b,9,10\n1,c,11,12\n"},
	} {
		raw, err := Read(strings.NewReader(c.text))
		if err != nil || !raw.Planar || !reflect.DeepEqual(raw.Points, []string{"a", "b", "c"}) ||
			!same(raw.XYZ, []float32{1, 2, 0, 3, 4, 0, 5, nan, nan, 7, 8, 0, 9, 10, 0, 11, 12, 0}) {
			t.Errorf("%s: %+v, %v", c.name, raw, err)
		}
	}
}

// TestSpellings reads one table in all the ways in which a text may be written.
func TestSpellings(t *testing.T) {
	const table = "time,knee_x,knee_y,knee_z\n0,1.5,-2,3\n0.01,4.25,,6\n"
	wide := func(order binary.AppendByteOrder) string {
		b := order.AppendUint16(nil, 0xfeff)
		for _, c := range utf16.Encode([]rune(table)) {
			b = order.AppendUint16(b, c)
		}
		return string(b)
	}
	swap := func(old, new string) string { return strings.ReplaceAll(table, old, new) }
	for name, text := range map[string]string{
		"plain": table, "mark": "\ufeff" + table, "UTF-16": wide(binary.LittleEndian),
		"UTF-16, other order": wide(binary.BigEndian),
		"semicolons":          swap(",", ";"), "tabs": swap(",", "\t"), "bars": swap(",", "|"), "Windows": swap("\n", "\r\n"),
		"decimal commas": strings.NewReplacer(",", ";", ".", ",").Replace(table),
		"blanks":         "  time knee_x  knee_y knee_z \n 0    1.5   -2   3\n 0.01 4.25 nan  6  \n",
		"units":          strings.Replace(table, "\n", "\n(s),[mm],mm,mm\n", 1),
	} {
		if !Probe([]byte(text)) {
			t.Errorf("%s: not recognised", name)
		}
		raw, err := Read(strings.NewReader(text))
		if err != nil || !same(raw.XYZ, []float32{1.5, -2, 3, 4.25, nan, 6}) ||
			!reflect.DeepEqual(raw.TimeS, []float64{0, 0.01}) || (raw.Units == "mm") != (name == "units") {
			t.Errorf("%s: %+v, %v", name, raw, err)
		}
	}
	if Probe([]byte("some words of a letter\nand 1 2 3 numbers\n")) {
		t.Error("a letter was taken for a table")
	}
}

// TestSeveralRecordings checks that rows are told apart by the columns of labels and particulars.
func TestSeveralRecordings(t *testing.T) {
	for _, c := range []struct{ name, text string }{
		{"wide", "trial,player,time,a_x,a_y,a_z\n1,P1,0,1,2,3\n1,P1,1,4,5,6\n2,P1,0,7,8,9\n"},
		{"long", "frame,trial,landmark,x,y,z,player\n0,1,a,1,2,3,P1\n0,2,a,7,8,9,P1\n1,1,a,4,5,6,P1\n"},
	} {
		raw, err := Read(strings.NewReader(c.text))
		if err != nil || len(raw.More) != 1 {
			t.Errorf("%s: %+v, %v", c.name, raw, err)
			continue
		}
		second := raw.More[0]
		if raw.Part != "1" || second.Part != "2" || raw.Player != "P1" || second.Player != "P1" ||
			!same(raw.XYZ, []float32{1, 2, 3, 4, 5, 6}) || !same(second.XYZ, []float32{7, 8, 9}) {
			t.Errorf("%s: %+v and %+v", c.name, raw, second)
		}
	}
	var many strings.Builder
	many.WriteString("file,frame,a_x,a_y,a_z\n")
	for i := range 200 {
		fmt.Fprintf(&many, "image%d,%d,1,2,3\n", i, i)
	}
	if _, err := Read(strings.NewReader(many.String())); err == nil ||
		!strings.Contains(err.Error(), "line 102: column file changes in every row") {
		t.Errorf("a label for each row: %v", err)
	}
}

// TestRefusals checks that what is wrong is said with its place.
func TestRefusals(t *testing.T) {
	const head = "time,knee_x,knee_y,knee_z\n"
	for _, c := range []struct{ name, text, want string }{
		{"word", head + "0,1,2,3\n0.1,1,two,3\n", `line 3, column 7: expected a number for knee_y, found "two"`},
		{"word after blank lines", head + "\n0,1,2,3\n\n# c\n0.1,1,2,3x\n0.2,1,2,3\n", `line 6, column 9: expected a number`},
		{"short row", head + "0,1,2,3\n0.1,1,2\n0.2,1,2,3\n", "line 3, column 8: the line ends after 3 of 4 columns"},
		{"long row", head + "0,1,2,3\n0.1,1,2,3,4\n", "line 3, column 11: the line has more than the 4 columns"},
		{"time goes back", head + "0,1,2,3\n0.2,1,2,3\n0.1,1,2,3\n", "line 4: time goes back from 0.2 to 0.1"},
		{"time twice", head + "0,1,2,3\n0,1,2,4\n", "line 3: time 0 is there twice, with different values"},
		{"no time", head + "0,1,2,3\n,1,2,3\n", `line 3, column 1: expected a time in column time, found ""`},
		{"no z and few", "time,a_x,a_y,b_x,b_y\n0,1,2,3,4\n", "line 1: no landmark was found among the columns a_x, a_y"},
		{"no landmark", "a,b,c\n1,2,3\n", "line 1: no landmark was found among the columns a, b, c"},
		{"no header", "1,2,3\n4,5,6\n", "line 1: the table has no header"},
		{"header only", "time,a_x,a_y,a_z\n", "line 1: the file ends after its first line"},
		{"landmark twice", "a_x,a_y,a_z,a.x,a.y,a.z\n1,2,3,4,5,6\n", ""},
		{"infinite", head + "0,1,1e60,3\n", `line 2, column 5: expected a number for knee_y, found "1e60"`},
		{"long twice", "frame,landmark,x,y,z\n1,a,1,2,3\n1,b,1,2,3\n1,a,1,2,4\n",
			"line 4: landmark a is there twice at frame 1"},
		{"long back", "frame,landmark,x,y,z\n2,a,1,2,3\n1,a,1,2,3\n", "line 3: frame goes back from 2 to 1 for landmark a"},
		{"long without frames", "landmark,x,y,z\na,1,2,3\n", "needs a column of frame numbers or times"},
		{"frames between", "frame,a_x,a_y,a_z\n1,1,2,3\n2,1,2,3\n3.5,1,2,3\n", "is no numbering of frames"},
		{"wild frame", "frame,a_x,a_y,a_z\n1,1,2,3\n2,1,2,3\n999999999,1,2,3\n", "is no numbering of frames"},
	} {
		_, err := Read(strings.NewReader(c.text))
		if c.want == "" {
			continue
		}
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

// TestNotes checks what is kept of a file that is not quite right, and that it is told.
func TestNotes(t *testing.T) {
	const head = "time,knee_x,knee_y,knee_z\n"
	for _, c := range []struct {
		name, text, want string
		frames           int
	}{
		{"last line cut", head + "0,1,2,3\n0.1,1", "line 3: the last line is cut short", 1},
		{"repeated line", head + "0,1,2,3\n0,1,2,3\n0.1,1,2,3\n", "line 3: 1 lines repeat", 2},
		{"unused column", "mood," + head + "1,0,1,2,3\n", "columns that are not used: mood", 1},
		{"milliseconds", head + "0,1,2,3\n10,1,2,3\n", "column time goes up by 10 a frame: taken as ms", 2},
		{"frames left out", "frame,a_x,a_y,a_z\n1,1,2,3\n2,1,2,3\n5,1,2,3\n", "2 frames are left out", 5},
	} {
		raw, err := Read(strings.NewReader(c.text))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		var notes []string
		for _, n := range raw.Notes {
			notes = append(notes, n.Where+": "+n.Text)
		}
		if all := strings.Join(notes, "\n"); !strings.Contains(all, c.want) || raw.Frames() != c.frames {
			t.Errorf("%s: %d frames, notes %q; want %d and %q", c.name, raw.Frames(), all, c.frames, c.want)
		}
	}
}

// endless is a line without an end.
type endless struct{ left int64 }

func (e *endless) Read(p []byte) (int, error) {
	if e.left <= 0 {
		return 0, io.EOF
	}
	for i := range p {
		p[i] = "1,"[i%2]
	}
	e.left -= int64(len(p))
	return len(p), nil
}

func TestLongLineIsRefusedEarly(t *testing.T) {
	for _, start := range []string{"", "time,a_x,a_y,a_z\n0,1,2,3\n"} {
		long := &endless{left: 200 << 20}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := Read(io.MultiReader(strings.NewReader(start), long))
		runtime.ReadMemStats(&after)
		if err == nil || !strings.Contains(err.Error(), "longer than 1 MB") {
			t.Errorf("a line of 200 MB: %v", err)
		}
		if read := 200<<20 - long.left; read > 8<<20 {
			t.Errorf("%d bytes were read before the line was refused", read)
		}
		if grew := after.TotalAlloc - before.TotalAlloc; grew > 16<<20 {
			t.Errorf("%d bytes were allocated", grew)
		}
	}
}

// table writes a random table of the given shape and what must come out of it.
func table(r *rand.Rand, frames, points int) (text []byte, want []float32) {
	var b bytes.Buffer
	b.WriteString("time")
	for p := range points {
		fmt.Fprintf(&b, ",p%d_x,p%d_y,p%d_z", p, p, p)
	}
	b.WriteByte('\n')
	for f := range frames {
		fmt.Fprintf(&b, "%.3f", float64(f)*0.005)
		for range 3 * points {
			if r.IntN(50) == 0 {
				b.WriteByte(',')
				want = append(want, nan)
				continue
			}
			s := strconv.FormatFloat(r.NormFloat64(), "fge"[r.IntN(3)], r.IntN(9), 64)
			v, _ := strconv.ParseFloat(s, 32)
			b.WriteString("," + s)
			want = append(want, float32(v))
		}
		b.WriteByte('\n')
	}
	return b.Bytes(), want
}

// TestManyBlocks reads a file of several blocks and compares every value with strconv's.
func TestManyBlocks(t *testing.T) {
	text, want := table(rand.New(rand.NewPCG(3, 4)), 8000, 20)
	if len(text) < 2*blockLen {
		t.Fatalf("the table is only %d bytes long", len(text))
	}
	raw, err := Read(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if !same(raw.XYZ, want) {
		t.Error("the values differ from those of strconv")
	}
	bad := bytes.Replace(text, []byte("\n30.000,"), []byte("\n30.0x0,"), 1)
	if _, err := Read(bytes.NewReader(bad)); err == nil || !strings.Contains(err.Error(), "line 6002, column 1:") {
		t.Errorf("an error in a later block: %v", err)
	}
}

// TestBothLayoutsAgree writes a wide table as a long one, by frame and by landmark, and reads all alike.
func TestBothLayoutsAgree(t *testing.T) {
	text, want := table(rand.New(rand.NewPCG(5, 6)), 50, 4)
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var byFrame, byPoint bytes.Buffer
	byFrame.WriteString("point,time,x,y,z\n")
	byPoint.WriteString("point,time,x,y,z\n")
	line := func(b *bytes.Buffer, row []string, p int) {
		fmt.Fprintf(b, "p%d,%s,%s\n", p, row[0], strings.Join(row[1+3*p:4+3*p], ","))
	}
	for _, row := range rows[1:] {
		for p := range 4 {
			line(&byFrame, row, p)
		}
	}
	for p := range 4 {
		for _, row := range rows[1:] {
			line(&byPoint, row, p)
		}
	}
	for name, b := range map[string]*bytes.Buffer{"by frame": &byFrame, "by landmark": &byPoint} {
		raw, err := Read(b)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		} else if !same(raw.XYZ, want) || len(raw.TimeS) != 50 {
			t.Errorf("%s: the values differ", name)
		}
	}
}

func TestGzip(t *testing.T) {
	text, want := table(rand.New(rand.NewPCG(7, 8)), 100, 3)
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	z.Write(text)
	z.Close()
	in, err := gzip.NewReader(&packed)
	if err != nil {
		t.Fatal(err)
	}
	if raw, err := Read(in); err != nil || !same(raw.XYZ, want) {
		t.Errorf("%v", err)
	}
}

func TestProbe(t *testing.T) {
	for text, want := range map[string]bool{
		"frame,a_x\n1,2": true, "a;b": true, "\xff\xfea\x00": true, "": false, "hello": false, "a,b\x00c": false,
		"PK\x03\x04,": false,
	} {
		if got := Probe([]byte(text)); got != want {
			t.Errorf("Probe(%q) = %v", text, got)
		}
	}
}

// FuzzRead checks that no input crashes the reader, and that what it accepts has the values that strconv gives.
func FuzzRead(f *testing.F) {
	files, _ := filepath.Glob("testdata/*.?sv")
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Add([]byte("a_x,a_y,a_z\n1,2,3\n\"4\", 5,-6e-3\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		raw, err := Read(bytes.NewReader(text))
		if err != nil {
			return
		}
		if raw.Frames() == 0 || len(raw.XYZ) != 3*len(raw.Points)*raw.Frames() {
			t.Errorf("%d values for %d points", len(raw.XYZ), len(raw.Points))
		}
		if raw.TimeS != nil && len(raw.TimeS) != raw.Frames() {
			t.Errorf("%d times for %d frames", len(raw.TimeS), raw.Frames())
		}
	})
}

func BenchmarkWide(b *testing.B) {
	text, _ := table(rand.New(rand.NewPCG(9, 10)), 20_000, 24)
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		if _, err := Read(io.NewSectionReader(bytes.NewReader(text), 0, int64(len(text)))); err != nil {
			b.Fatal(err)
		}
	}
}
