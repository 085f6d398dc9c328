package command

import (
	"bytes"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"tossline/datasets/landmark"
	"tossline/kernel/motion"
)

// The files in testdata are what systems write, in small: a serve of the demo's first player, or the beginning of one,
// in every form that is known to occur. They are made here, byte by byte where the form matters, and not by the
// writers of this program, so that a misreading is not agreed upon by both sides. Beside each stands what an import
// of it tells.

var update = flag.Bool("update", false, "write the fixtures and what is understood of them again")

// fixtureDir is the folder of fixtures, from this package.
const fixtureDir = "../../testdata"

// fixture is a file as some system writes it.
type fixture struct {
	name  string   // below testdata
	about string   // what is special about it, and how it was made
	args  []string // what a person has to say besides
	bytes func() []byte
	large bool // made when it is needed, and not kept
}

func fixtures() []fixture {
	var all []fixture
	for _, some := range [][]fixture{c3dFixtures(), bvhFixtures(), cocoFixtures(), csvFixtures(), columnFixtures()} {
		all = append(all, some...)
	}
	return all
}

// file gives the path of a fixture, which a large one gets only now.
func (f fixture) file(t testing.TB) string {
	t.Helper()
	if !f.large {
		return filepath.Join(fixtureDir, filepath.FromSlash(f.name))
	}
	path := filepath.Join(t.TempDir(), filepath.Base(f.name))
	if err := os.WriteFile(path, f.bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestFixturesAreAsMade compares every fixture with what makes it, and the list of them with its README.
func TestFixturesAreAsMade(t *testing.T) {
	var readme strings.Builder
	readme.WriteString("# Fixtures\n\nFiles as systems write them, in small, each with what an import of it tells " +
		"beside " +
		"it (`.txt`). All are made by us:\n`go test ./workbench/command -run Fixtures -update` writes them, from the code " +
		"in `workbench/command/fixtures*_test.go`. What\nmoves in them is the first player of the invented academy, who " +
		"serves, or stands and is about to; nothing is from a\nrecording of anybody.\n")
	folder, total := "", 0
	for _, f := range fixtures() {
		if dir := filepath.Dir(f.name); dir != folder {
			folder = dir
			fmt.Fprintf(&readme, "\n## %s\n\n| file | what is special about it |\n|---|---|\n", folder)
		}
		about := f.about
		if len(f.args) > 0 {
			about += "; imported with `" + strings.Join(f.args, " ") + "`"
		}
		if f.large {
			about += "; too large to be kept: the test makes it"
		}
		fmt.Fprintf(&readme, "| `%s` | %s |\n", filepath.Base(f.name), about)
		if !f.large {
			b := f.bytes()
			total += len(b)
			asKept(t, f.name, b)
		}
	}
	asKept(t, "README.md", []byte(readme.String()))
	if total > 300_000 {
		t.Errorf("the fixtures have %d bytes together", total)
	}
}

// asKept compares a file of testdata with what it should hold, or writes it.
func asKept(t *testing.T, name string, want []byte) {
	t.Helper()
	path := filepath.Join(fixtureDir, filepath.FromSlash(name))
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, want, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	got, err := os.ReadFile(path)
	if err != nil || !bytes.Equal(got, want) {
		t.Errorf("%s is not what is expected (%v); if the change is meant, run with -update and read the difference.\n%s",
			name, err, firstDifference(string(got), string(want)))
	}
}

func firstDifference(got, want string) string {
	a, b := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range max(len(a), len(b)) {
		var x, y string
		if i < len(a) {
			x = a[i]
		}
		if i < len(b) {
			y = b[i]
		}
		if x != y {
			return fmt.Sprintf("line %d is %.300q, and now %.300q", i+1, x, y)
		}
	}
	return ""
}

// TestFixturesAreUnderstood imports every fixture as a person would, in a fenced process, and compares what is told.
func TestFixturesAreUnderstood(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "season")
	for _, f := range fixtures() {
		t.Run(f.name, func(t *testing.T) {
			path := f.file(t)
			s := run(append([]string{"import", "--season", dir, "--dry-run", path}, f.args...)...)
			told := s.out + s.err
			told = strings.ReplaceAll(told, filepath.Dir(path)+string(filepath.Separator), "")
			asKept(t, f.name+".txt", []byte(told))
		})
	}
}

// figure is a moving body: places of named points by frame, in metres, X towards the serve, Y up, Z to the right.
type figure struct {
	rate   float64
	points []landmark.Name
	frames [][][3]float64 // by frame and point
}

// bodyPoints are the points of most fixtures.
var bodyPoints = []landmark.Name{landmark.Head, landmark.LeftShoulder, landmark.RightShoulder, landmark.LeftElbow,
	landmark.RightElbow, landmark.LeftWrist, landmark.RightWrist, landmark.LeftHip, landmark.RightHip, landmark.LeftKnee,
	landmark.RightKnee, landmark.LeftAnkle, landmark.RightAnkle, landmark.LeftToe, landmark.RightToe}

// serveFigure is a whole serve at 50 Hz.
var serveFigure = sync.OnceValue(func() figure {
	t := shortTake()
	contact := t.Serves[0].Truth.Events[motion.Contact]
	from, to := int((contact-1.5)*t.Rate), int((contact+1)*t.Rate)
	const every = 4
	f := figure{rate: t.Rate / every, points: bodyPoints}
	width := 3 * t.Layout.Len()
	for i := from; i < to; i += every {
		row := t.Frames[i*width:]
		frame := make([][3]float64, len(bodyPoints))
		for k, name := range bodyPoints {
			for axis, v := range row[3*t.Layout.Index(name):][:3] {
				frame[k][axis] = math.Round(float64(v)*1e4) / 1e4
			}
		}
		f.frames = append(f.frames, frame)
	}
	return f
})

// standing is the beginning of the serve, so many frames of it.
func standing(frames int) figure {
	f := serveFigure()
	f.frames = f.frames[:frames]
	return f
}

// few are the points of fixtures in which their number does not matter: head, shoulders, wrists, hips and ankles.
var few = []int{0, 1, 2, 5, 6, 7, 8, 11, 12}

// only gives the figure with some of its points.
func (f figure) only(points []int) figure {
	out := figure{rate: f.rate, points: pick(f.points, points)}
	for _, frame := range f.frames {
		out.frames = append(out.frames, pick(frame, points))
	}
	return out
}

func pick[T any](all []T, places []int) []T {
	var some []T
	for _, i := range places {
		some = append(some, all[i])
	}
	return some
}

// turned gives the figure in other axes and units: axes says where X, Y and Z of the figure go, "x-zy" for a file
// whose x is X, whose y is -Z and whose z is Y.
func (f figure) turned(axes string, perMetre float64) figure {
	var from [3]int
	var sign [3]float64
	k, s := 0, 1.0
	for _, c := range axes {
		if c == '-' {
			s = -1
			continue
		}
		from[k], sign[k] = int(c-'x'), s
		k, s = k+1, 1
	}
	return f.mapped(func(_, _ int, p [3]float64) (q [3]float64) {
		for k := range q {
			q[k] = p[from[k]] * sign[k] * perMetre
		}
		return q
	})
}

// mapped gives the figure with every place changed.
func (f figure) mapped(change func(frame, point int, p [3]float64) [3]float64) figure {
	out := figure{rate: f.rate, points: f.points}
	for i, frame := range f.frames {
		changed := make([][3]float64, len(frame))
		for k, p := range frame {
			changed[k] = change(i, k, p)
		}
		out.frames = append(out.frames, changed)
	}
	return out
}

// without makes a point missing from one frame to another, the last excluded.
func (f figure) without(point, from, to int) figure {
	return f.mapped(func(frame, k int, p [3]float64) [3]float64 {
		if k == point && frame >= from && frame < to {
			return [3]float64{math.NaN(), math.NaN(), math.NaN()}
		}
		return p
	})
}

// labMarkers are names of the points as laboratories give them.
func labMarkers(prefix string) []string {
	var out []string
	for _, name := range []string{"HEAD", "LSHO", "RSHO", "LELB", "RELB", "LWRI", "RWRI", "LHIP", "RHIP", "LKNE", "RKNE",
		"LANK", "RANK", "LTOE", "RTOE"} {
		out = append(out, prefix+name)
	}
	return out
}
