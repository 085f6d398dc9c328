package bvh

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"tossline/datasets/recording"
)

// read reads a file of testdata.
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

func point(raw *recording.Raw, frame int, name string) [3]float32 {
	for i, p := range raw.Points {
		if p == name {
			at := 3 * (frame*len(raw.Points) + i)
			return [3]float32(raw.XYZ[at : at+3])
		}
	}
	return [3]float32{float32(math.NaN())}
}

func near(a, b [3]float32) bool {
	for k := range a {
		if !(math.Abs(float64(a[k]-b[k])) < 1e-5) {
			return false
		}
	}
	return true
}

// TestForwardKinematics checks positions worked out on paper.
func TestForwardKinematics(t *testing.T) {
	for _, c := range []struct {
		file  string
		frame int
		point string
		want  [3]float32
	}{
		{"arm.bvh", 0, "Base", [3]float32{0, 0, 0}},
		{"arm.bvh", 0, "Elbow", [3]float32{10, 0, 0}},
		{"arm.bvh", 0, "Elbow_end", [3]float32{10, 5, 0}},
		// The root turns by 90 deg about Z: x becomes y, y becomes -x.
		{"arm.bvh", 1, "Elbow", [3]float32{1, 12, 3}},
		{"arm.bvh", 1, "Elbow_end", [3]float32{-4, 12, 3}},
		// The root turns about Y: x becomes -z. The elbow turns about its own X: y becomes z, which then is x.
		{"arm.bvh", 2, "Elbow", [3]float32{0, 0, -10}},
		{"arm.bvh", 2, "Elbow_end", [3]float32{5, 0, -10}},
		// The root turns about X. The elbow turns first about Y and then about the turned Z: its y becomes -x of the
		// turned axes, which is z of the root, which is -y.
		{"arm.bvh", 3, "Elbow", [3]float32{11, 2, 3}},
		{"arm.bvh", 3, "Elbow_end", [3]float32{11, -3, 3}},
		// Channels of the root in the order Y rotation, Z, X, Y position, added to its OFFSET.
		{"channels.bvh", 0, "Hips", [3]float32{11, 21, 31}},
		// Position channels of the leg contain its OFFSET.
		{"channels.bvh", 0, "Upper Leg", [3]float32{11, 17, 31}},
		{"channels.bvh", 0, "Upper Leg_end", [3]float32{11, 15, 31}},
		{"channels.bvh", 0, "Upper Leg_end_2", [3]float32{11, 17, 34}},
		{"channels.bvh", 0, "Rigid", [3]float32{11, 22, 31}},
		{"channels.bvh", 0, "Turn_end", [3]float32{12, 23, 31}},
		{"channels.bvh", 1, "Upper Leg", [3]float32{1, -4, 1}},
		// 90 deg about Y and then X: z becomes -y, y becomes z, which is x.
		{"channels.bvh", 1, "Upper Leg_end", [3]float32{-1, -4, 1}},
		{"channels.bvh", 1, "Upper Leg_end_2", [3]float32{1, -7, 1}},
		{"channels.bvh", 1, "Turn_end", [3]float32{1, 4, 1}},
	} {
		if got := point(read(t, c.file), c.frame, c.point); !near(got, c.want) {
			t.Errorf("%s frame %d %s: %v, want %v", c.file, c.frame, c.point, got, c.want)
		}
	}
}

func TestRates(t *testing.T) {
	if got := read(t, "arm.bvh").RateHz; got != 120 {
		t.Errorf("a frame time of 0.008333 s is %v Hz, want 120", got)
	}
	if got := rate(0.04171); math.Abs(got-1/0.04171) > 1e-9 {
		t.Errorf("a frame time that no whole rate explains became %v Hz", got)
	}
}

const skeletonText = `HIERARCHY
ROOT A
{
OFFSET 0 0 0
CHANNELS 3 Xposition Yposition Zposition
End Site
{
OFFSET 0 1 0
}
}
MOTION
Frames: 2
Frame Time: 0.01
`

// TestRefusals checks that what is wrong is said with its place.
func TestRefusals(t *testing.T) {
	joints := strings.Repeat("JOINT j\n{\n", 300)
	for _, c := range []struct{ name, text, want string }{
		{"no skeleton", "HIERARCHY\nMOTION\n", "line 2, column 1: MOTION comes before any ROOT"},
		{"cut in the skeleton", skeletonText[:30], "the file ends where a number of OFFSET"},
		{"cut before motion", strings.Split(skeletonText, "MOTION")[0], "line 10: the file ends where ROOT or MOTION"},
		{"no frames", skeletonText, "line 13: the file ends before its first whole frame"},
		{"half a frame", skeletonText + "1 2", "ends before its first whole frame"},
		{"word for a number", skeletonText + "1 2 3\n1 x7 3\n4 5 6\n",
			`line 15, column 3: expected the number for Yposition of A, found "x7"`},
		{"short line", skeletonText + "1 2 3\n1 2\n4 5 6\n", "line 15, column 4: this frame ends after 2 of the 3 values"},
		{"long line", skeletonText + "1 2 3 4\n", "line 14, column 7: this frame has more than the 3 values"},
		{"bad offset", strings.Replace(skeletonText, "OFFSET 0 1 0", "OFFSET 0 one 0", 1),
			`line 8, column 10: expected the three numbers of OFFSET, found "one"`},
		{"bad channel", strings.Replace(skeletonText, "Zposition", "Wposition", 1),
			`line 5, column 32: expected a channel such as Xrotation or Yposition, found "Wposition"`},
		{"channel twice", strings.Replace(skeletonText, "Zposition", "Xposition", 1), "listed twice"},
		{"too many channels", strings.Replace(skeletonText, "CHANNELS 3", "CHANNELS 7", 1), "from 0 to 6"},
		{"decimal comma", strings.Replace(skeletonText, "0 1 0", "0 1,5 0", 1),
			`line 8, column 10: expected the three numbers of OFFSET, found "1,5"; write decimal points, not commas`},
		{"cut in a word", skeletonText[:60], "line 5, column 22: the file ends where a channel such as"},
		{"frames negative", strings.Replace(skeletonText, "Frames: 2", "Frames: -2", 1), "expected the number of frames"},
		{"too deep", "HIERARCHY\nROOT r\n{\n" + joints, "deeper than 256"},
		{"infinite", skeletonText + "1 1e999 3\n1 2 3\n", `line 14, column 3: expected the number for Yposition`},
	} {
		_, err := Read(strings.NewReader(c.text))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

// TestNotes checks what is kept of a file that is not quite right, and that it is told.
func TestNotes(t *testing.T) {
	for _, c := range []struct {
		name, motion, want string
		frames             int
	}{
		{"fewer than promised", "1 2 3\n", "promises 2 frames and holds 1", 1},
		{"more than promised", "1 2 3\n1 2 3\n1 2 3\n", "promises 2 frames and holds 3", 3},
		{"last line cut", "1 2 3\n1 2", "line 15: the last line is cut short (2 of 3 values)", 1},
		{"last line cut in a word", "1 2 3\n1 2 -", "line 15: the last line is cut short (2 of 3 values)", 1},
		{"nan", "1 nan 3\n1 -nan(ind) 3\n", "no numbers (NaN) in 2 frames", 2},
		{"blank lines between", "1 2 3\n\n  \r\n1 2 3\r\n\n", "", 2},
	} {
		raw, err := Read(strings.NewReader(skeletonText + c.motion))
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

// TestTight has no blanks behind colons and no line of its own for a brace.
func TestTight(t *testing.T) {
	text := strings.NewReplacer(": ", ":", "ROOT A\n{", "ROOT A{").Replace(skeletonText) + "1 2 3\n1 2 3\n"
	raw, err := Read(strings.NewReader(text))
	if err != nil || raw.Frames() != 2 || raw.RateHz != 100 || raw.Points[0] != "A" || len(raw.Notes) > 0 {
		t.Errorf("%+v, %v", raw, err)
	}
}

// TestNoFrameTime leaves the rate to be said.
func TestNoFrameTime(t *testing.T) {
	for _, time := range []string{"0", "0.0", "-1", "33.3"} {
		raw, err := Read(strings.NewReader(strings.Replace(skeletonText, "0.01", time, 1) + "1 2 3\n1 2 3\n"))
		if err != nil || raw.RateHz != 0 || len(raw.Notes) != 1 || raw.Notes[0].Where != "line 13, column 13" {
			t.Errorf("%s: %+v, %v", time, raw, err)
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
		p[i] = '1'
	}
	e.left -= int64(len(p))
	return len(p), nil
}

func TestLongLineIsRefusedEarly(t *testing.T) {
	for _, start := range []string{"HIERARCHY ", skeletonText} {
		long := &endless{left: 200 << 20}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := Read(io.MultiReader(strings.NewReader(start), long))
		runtime.ReadMemStats(&after)
		if err == nil || !strings.Contains(err.Error(), "longer than 1 MB") {
			t.Errorf("a line of 200 MB: %v", err)
		}
		if read := 200<<20 - long.left; read > 4<<20 {
			t.Errorf("%d bytes were read before the line was refused", read)
		}
		if grew := after.TotalAlloc - before.TotalAlloc; grew > 8<<20 {
			t.Errorf("%d bytes were allocated", grew)
		}
	}
}

func TestProbe(t *testing.T) {
	for text, want := range map[string]bool{
		"HIERARCHY\nROOT": true, "\xef\xbb\xbf  hierarchy\r\n": true, "HIERARCHYX\n": false, "frame,x": false, "": false,
		"HIERARCHY": false,
	} {
		if got := Probe([]byte(text)); got != want {
			t.Errorf("Probe(%q) = %v", text, got)
		}
	}
}

// TestRealTakes reads the takes that may lie beside the repository. Counts are from their headers, read by eye.
func TestRealTakes(t *testing.T) {
	files, _ := filepath.Glob("../../../shared/data/bvh/*.bvh")
	if len(files) == 0 {
		t.Skip("no takes here")
	}
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		raw, err := Read(f)
		f.Close()
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(raw.Points) != 23 || raw.Frames() < 2999 || raw.Frames() > 3000 || raw.RateHz != 100 {
			t.Errorf("%s: %d points, %d frames, %v Hz", name, len(raw.Points), raw.Frames(), raw.RateHz)
		}
		checkLengths(t, name, raw)
	}
}

// checkLengths checks that rigid segments stay as long as they are, to a thousandth.
func checkLengths(t *testing.T, name string, raw *recording.Raw) {
	for _, s := range [][2]string{{"LeftHip", "LeftKnee"}, {"RightKnee", "RightAnkle"}, {"RightElbow", "RightWrist"},
		{"Hips", "Chest"}, {"LeftWrist", "LeftWrist_end"}} {
		shortest, longest := math.Inf(1), 0.0
		for f := range raw.Frames() {
			a, b := point(raw, f, s[0]), point(raw, f, s[1])
			d := math.Hypot(math.Hypot(float64(a[0]-b[0]), float64(a[1]-b[1])), float64(a[2]-b[2]))
			shortest, longest = min(shortest, d), max(longest, d)
		}
		if longest-shortest > 1e-3*longest || longest < 5 {
			t.Errorf("%s: %s to %s is between %v and %v long", name, s[0], s[1], shortest, longest)
		}
	}
}

// FuzzRead checks that no input crashes the reader or makes it promise what it does not hold.
func FuzzRead(f *testing.F) {
	for _, name := range []string{"arm.bvh", "channels.bvh"} {
		text, err := os.ReadFile(filepath.Join("testdata", name))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
		f.Add(bytes.Replace(text, []byte("0"), []byte("nan"), 9))
	}
	f.Add([]byte(skeletonText + "1 2"))
	f.Fuzz(func(t *testing.T, text []byte) {
		raw, err := Read(bytes.NewReader(text))
		if err != nil {
			return
		}
		if raw.Frames() == 0 || len(raw.XYZ) != 3*len(raw.Points)*raw.Frames() {
			t.Errorf("%d values for %d points", len(raw.XYZ), len(raw.Points))
		}
		seen := map[string]bool{}
		for _, p := range raw.Points {
			if seen[p] {
				t.Errorf("point %q is there twice", p)
			}
			seen[p] = true
		}
	})
}

func BenchmarkRead(b *testing.B) {
	var text bytes.Buffer
	text.WriteString(skeletonText)
	for i := range 20_000 {
		fmt.Fprintf(&text, "%.6f %.6f %.6f\n", float64(i)*0.1, float64(i)*0.2, -float64(i)*0.3)
	}
	b.SetBytes(int64(text.Len()))
	for b.Loop() {
		if _, err := Read(bytes.NewReader(text.Bytes())); err != nil {
			b.Fatal(err)
		}
	}
}
