package recording_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	_ "tossline/datasets/formats"
	"tossline/datasets/recording"
	"tossline/kernel/motion"
)

// write puts a file into a folder of the test.
func write(t *testing.T, name string, content []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func pack(text []byte) []byte {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	z.Write(text)
	z.Close()
	return b.Bytes()
}

// packedTable is a table of so many frames that does not pack to nothing.
func packedTable(frames int) []byte {
	r := rand.New(rand.NewPCG(1, 2))
	text := []byte("time,a_x,a_y,a_z\n")
	for f := range frames {
		text = fmt.Appendf(text, "%g,%.5f,%.5f,%.5f\n", float64(f)/100, r.Float64(), r.Float64(), r.Float64())
	}
	return pack(text)
}

func TestRefusedFiles(t *testing.T) {
	unreadable := write(t, "closed.csv", []byte("a,b\n1,2\n"))
	os.Chmod(unreadable, 0)
	packed := pack([]byte(strings.Repeat("time,a_x,a_y,a_z\n0,1,2,3\n", 1000)))
	long := packedTable(60_000)
	bent := bytes.Clone(long)
	bent[len(bent)/2] ^= 0x55
	for _, c := range []struct{ name, path, want string }{
		{"absent", filepath.Join(t.TempDir(), "no.bvh"), "there is no such file"},
		{"folder", t.TempDir(), "this is a folder, not a recording"},
		{"empty", write(t, "empty.bvh", nil), "empty.bvh: the file is empty"},
		{"device", os.DevNull, "this is not an ordinary file"},
		{"unknown", write(t, "song.bvh", []byte("ID3\x00\x01\x02 no recording")),
			"song.bvh: this is no recording that can be read here"},
		{"csv named bvh", write(t, "x.bvh", []byte("time,a_x,a_y,a_z\n0,1,2\n")),
			"x.bvh, line 2, column 6: the line ends after 3 of 4 columns"},
		{"cut gzip", write(t, "cut.csv.gz", packed[:len(packed)/2]), "the gzip file is damaged or cut short"},
		{"cut long gzip", write(t, "half.csv.gz", long[:len(long)/2]), "the gzip file is damaged or cut short"},
		{"bent gzip", write(t, "bent.csv.gz", bent), "line "},
		{"cut trailer", write(t, "trailer.csv.gz", long[:len(long)-4]), "the gzip file is damaged or cut short"},
		{"bad gzip", write(t, "bad.csv.gz", []byte("\x1f\x8bnot gzip")), "starts like a gzip file but is damaged"},
		{"empty gzip", write(t, "nothing.gz", pack(nil)), "empty inside"},
		{"no permission", unreadable, "you have no permission to read this file"},
	} {
		if c.path == unreadable && os.Geteuid() == 0 {
			continue // the superuser may read everything
		}
		_, err := recording.Prepare(context.Background(), c.path, recording.Options{})
		var e *recording.Error
		if err == nil || !strings.Contains(err.Error(), c.want) || !errors.As(err, &e) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

// TestGzipIsCapped unpacks a small file that grows without end.
func TestGzipIsCapped(t *testing.T) {
	if testing.Short() {
		t.Skip("unpacking 64 MB only computes")
	}
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	z.Write([]byte("time,a_x,a_y,a_z\n0,1,2,3\n"))
	blank := bytes.Repeat(append(bytes.Repeat([]byte("#"), 4095), '\n'), 256)
	for range 100 {
		z.Write(blank)
	}
	z.Close()
	_, err := recording.Prepare(context.Background(), write(t, "bomb.csv.gz", b.Bytes()), recording.Options{})
	if err == nil || !strings.Contains(err.Error(), "grows beyond") {
		t.Errorf("%v", err)
	}
}

func TestCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := recording.Prepare(ctx, write(t, "a.csv", []byte("time,a_x,a_y,a_z\n0,1,2,3\n")), recording.Options{})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

// takes are the hand counts of the six takes that may lie beside the repository: complete serves, and the seconds at
// which the hitting hand is highest, read off plots by eye and refined to the local maximum (README.md beside them).
var takes = map[string][]float64{
	"serves-01": {2.26, 7.99, 12.96, 21.00, 25.02},
	"serves-02": {2.59, 6.93, 11.14, 15.42, 19.67, 24.42, 27.81},
	"serves-03": {1.46, 4.84, 8.02, 11.07, 13.91, 18.09, 21.12, 24.53, 27.62},
	"serves-04": {4.29, 8.10, 12.03, 15.93, 19.91, 23.89, 27.82},
	"serves-05": {4.52, 12.74, 17.98, 25.22},
	"serves-06": {2.10, 6.31, 10.33, 15.28, 18.93, 22.52, 26.53},
}

func TestRealTakes(t *testing.T) {
	for name, contacts := range takes {
		path := filepath.Join("..", "..", "..", "shared", "data", "bvh", name+".bvh")
		if _, err := os.Stat(path); err != nil {
			t.Skip("no takes here")
		}
		p, err := recording.Prepare(context.Background(), path, recording.Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		u := &p.Understanding
		if u.Units.Value != "cm" || u.Up.Value != "+y" || u.Hand.Value != motion.HandRight || u.RateHz != 100 {
			t.Errorf("%s: units %+v, up %+v, hand %+v, %v Hz", name, u.Units, u.Up, u.Hand, u.RateHz)
		}
		if len(u.Landmarks.Found) != 21 || len(u.Landmarks.Unknown) != 0 {
			t.Errorf("%s: found %v, unknown %v", name, u.Landmarks.Found, u.Landmarks.Unknown)
		}
		if h, ok := motion.EstimateHeading(p.Take); !ok || math.Abs(h.Radians) > 0.02 {
			t.Errorf("%s: after turning, the serves still go %v rad aside", name, h.Radians)
		}
		checkContacts(t, name, p.Serves, contacts)
	}
}

func checkContacts(t *testing.T, name string, serves []motion.Serve, want []float64) {
	t.Helper()
	var got []float64
	for _, s := range serves {
		if !s.CutOff {
			got = append(got, s.Events[motion.Contact].TimeS)
		}
	}
	if len(got) != len(want) {
		t.Errorf("%s: contacts at %.2f, want %.2f", name, got, want)
		return
	}
	for i := range got {
		if math.Abs(got[i]-want[i]) > 0.05 {
			t.Errorf("%s: contact %d at %.2f s, want %.2f", name, i+1, got[i], want[i])
		}
	}
}

// TestFormatsAgree brings a take in as BVH and as CSV written from its points, and compares.
func TestFormatsAgree(t *testing.T) {
	bvh := []byte("HIERARCHY\nROOT Hips\n{\nOFFSET 0 0 0\nCHANNELS 3 Xposition Yposition Zposition\nJOINT LeftKnee\n{\n" +
		"OFFSET 0 -40 0\nCHANNELS 1 Xrotation\nEnd Site\n{\nOFFSET 0 -45 0\n}\n}\nJOINT Head\n{\nOFFSET 0 70 0\nEnd Site\n{\n" +
		"OFFSET 0 15 0\n}\n}\n}\nMOTION\nFrames: 2\nFrame Time: 0.01\n0 90 0 0\n1 90 0 90\n")
	csv := []byte("frame;Hips_x;Hips_y;Hips_z;LeftKnee_x;LeftKnee_y;LeftKnee_z;LeftKnee_end_x;LeftKnee_end_y;LeftKnee_end_z;" +
		"Head_x;Head_y;Head_z;Head_end_x;Head_end_y;Head_end_z\n" +
		"1;0;90;0;0;50;0;0;5;0;0;160;0;0;175;0\n2;1;90;0;1;50;0;1;50;-45;1;160;0;1;175;0\n")
	o := recording.Options{Units: "cm", Up: "+y", Forward: "+x", RateHz: 100}
	a, err := recording.Prepare(context.Background(), write(t, "a", bvh), o)
	if err != nil {
		t.Fatal(err)
	}
	b, err := recording.Prepare(context.Background(), write(t, "b", pack(csv)), o)
	if err != nil {
		t.Fatal(err)
	}
	if a.Understanding.Format != "bvh" || b.Understanding.Format != "csv" {
		t.Errorf("formats %s and %s", a.Understanding.Format, b.Understanding.Format)
	}
	for i, v := range a.Take.Frames {
		if math.Abs(float64(v-b.Take.Frames[i])) > 1e-6 {
			t.Fatalf("value %d: %v and %v", i, v, b.Take.Frames[i])
		}
	}
}

// TestStandardC3D imports every one of the C3D standard's test files that may lie beside the repository: the six
// encodings of one take give the same frames.
func TestStandardC3D(t *testing.T) {
	paths, _ := filepath.Glob(filepath.Join("..", "..", "..", "shared", "data", "c3d", "*.c3d"))
	if len(paths) == 0 {
		t.Skip("no C3D files here")
	}
	var first []float32
	for _, path := range paths {
		name := strings.TrimSuffix(filepath.Base(path), ".c3d")
		o := recording.Options{Forward: "+x"}
		if name == "golf" {
			o.Units = "m" // the file does not say
		}
		p, err := recording.Prepare(context.Background(), path, o)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		u := &p.Understanding
		if len(p.Take.Frames) == 0 || u.Format != "c3d" || u.Rate.Source != recording.InFile || len(u.SHA256) != 64 {
			t.Errorf("%s: %+v", name, u)
		}
		if !strings.HasPrefix(name, "Eb015") {
			continue
		}
		if first == nil {
			first = p.Take.Frames
		}
		for i, v := range p.Take.Frames {
			if w := first[i]; v != w && (v == v || w == w) {
				t.Errorf("%s: value %d is %v, in another encoding %v", name, i, v, w)
				break
			}
		}
		if len(u.Signals) != 16 || len(u.Marks) != 3 {
			t.Errorf("%s: %d signals and %d marks", name, len(u.Signals), len(u.Marks))
		}
	}
}
