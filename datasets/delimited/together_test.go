package delimited

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"tossline/datasets/recording"
)

// checkWays reads a text with rows together and row by row: what comes out is the same, and so is what is wrong.
func checkWays(t *testing.T, text []byte) (raw *recording.Raw, err error) {
	t.Helper()
	defer func() { oneByOne = false }()
	oneByOne = true
	want, wantErr := Read(bytes.NewReader(text))
	oneByOne = false
	raw, err = Read(bytes.NewReader(text))
	if fmt.Sprint(err) != fmt.Sprint(wantErr) {
		t.Fatalf("together %v, row by row %v, of %q", err, wantErr, start(text))
	}
	if raw == nil || want == nil {
		return raw, err
	}
	all, others := append([]*recording.Raw{raw}, raw.More...), append([]*recording.Raw{want}, want.More...)
	for k := range min(len(all), len(others)) {
		a, b := *all[k], *others[k]
		if i := differ(a.XYZ, b.XYZ); i >= 0 {
			t.Fatalf("value %d differs of %d and %d, of %q", i, len(a.XYZ), len(b.XYZ), start(text))
		}
		a.XYZ, b.XYZ, a.More, b.More = nil, nil, nil, nil
		if !reflect.DeepEqual(a, b) {
			t.Fatalf("together %+v, row by row %+v, of %q", a, b, start(text))
		}
	}
	if len(all) != len(others) {
		t.Fatalf("%d recordings and %d, of %q", len(all), len(others), start(text))
	}
	return raw, err
}

func start(text []byte) []byte { return text[:min(len(text), 500)] }

// differ gives the first index at which values differ, -1 where none does.
func differ(a, b []float32) int {
	for i := range max(len(a), len(b)) {
		if i >= len(a) || i >= len(b) || math.Float32bits(a[i]) != math.Float32bits(b[i]) {
			return i
		}
	}
	return -1
}

// writer writes a random table, with a share of what is not usual.
type writer struct {
	*rand.Rand
	odd       float64 // how often something is not usual
	delimiter string
	ending    string // of lines
	quote     string // around every field, or ""
	bytes.Buffer
}

func (w *writer) seldom() bool { return w.Float64() < w.odd }

func (w *writer) pick(texts ...string) string { return texts[w.IntN(len(texts))] }

// number prints a coordinate.
func (w *writer) number() string {
	if w.seldom() {
		return w.pick("", "NaN", "1e-3", "+2.5", ".5", "7.", "\"1.25\"", " 1.5", "1.5 ", "123456789.5",
			"0.00000000000000012345678901", "1234567890123456789012", "-", "NA")
	}
	return fmt.Sprintf("%.*f", w.IntN(9), w.NormFloat64())
}

// line writes a row, and now and then a line that is none.
func (w *writer) line(fields ...string) {
	for w.seldom() {
		w.WriteString(w.pick("", "# a, b", "  ", "#"))
		w.WriteString(w.ending)
	}
	if w.seldom() && w.seldom() {
		fields = append(fields, w.pick("", "", "9", "x"))
	}
	if w.seldom() && w.seldom() {
		fields = fields[:len(fields)-1]
	}
	w.WriteString(w.quote)
	w.WriteString(strings.Join(fields, w.quote+w.delimiter+w.quote))
	w.WriteString(w.quote)
	w.WriteString(w.ending)
}

func randomTable(r *rand.Rand) []byte {
	w := &writer{Rand: r, odd: []float64{0, 0, 0.001, 0.05, 0.3}[r.IntN(5)]}
	w.delimiter, w.ending = w.pick(",", ",", ";", "\t"), w.pick("\n", "\n", "\r\n", w.pick("", ",")+"\n")
	if w.ending == ",\n" {
		w.delimiter = ","
	}
	w.quote = w.pick("", "", "", `"`)
	points, frames := 1+r.IntN(6), 1+r.IntN(40)
	if r.IntN(30) == 0 {
		frames = 2000
	}
	take := func(f int) string { return fmt.Sprintf("take%d", f*3/(frames+1)) }
	if r.IntN(3) == 0 {
		take = func(int) string { return "take" }
	}
	titles := []string{w.pick("take", "mood"), w.pick("time", "frame")}
	if r.IntN(2) == 0 {
		for p := range points {
			for _, axis := range []string{"x", "y", "z"} {
				titles = append(titles, fmt.Sprintf("p%d_%s", p, axis))
			}
			if p == 1 {
				titles = append(titles, "quality")
			}
		}
		w.line(titles...)
		for f := range frames {
			row := []string{take(f), fmt.Sprint(f)}
			for range len(titles) - 2 {
				row = append(row, w.number())
			}
			w.line(row...)
		}
		return w.Bytes()
	}
	titles = append(titles, "marker", "x", "y", "z")
	order := r.Perm(6)
	w.line(pickAll(titles, order)...)
	add := func(f, p int) {
		for w.seldom() {
			p = w.IntN(points + 1)
		}
		if !w.seldom() {
			row := []string{take(f), fmt.Sprint(f), fmt.Sprintf("p%d", p), w.number(), w.number(), w.number()}
			w.line(pickAll(row, order)...)
		}
	}
	if r.IntN(3) == 0 {
		for p := range points {
			for f := range frames {
				add(f, p)
			}
		}
	} else {
		for f := range frames {
			for p := range points {
				add(f, p)
			}
		}
	}
	return w.Bytes()
}

func pickAll(fields []string, order []int) (out []string) {
	for _, i := range order {
		out = append(out, fields[i])
	}
	return out
}

func TestBothWaysAgree(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	read := 0
	for range 500 {
		if _, err := checkWays(t, randomTable(r)); err == nil {
			read++
		}
	}
	if read < 100 || read > 480 {
		t.Errorf("%d of 500 tables were read", read)
	}
}

// TestLongTablesOfAllOrders compares long tables with the frames that they are of, where rows come in any order that is
// allowed and some are left out.
func TestLongTablesOfAllOrders(t *testing.T) {
	const points, frames = 3, 400
	inFrames := func(f, p int) int { return f*points + p }
	for _, c := range []struct {
		name string
		has  func(f, p int) bool
		at   func(f, p int) int // rows are sorted by it
	}{
		{"by frame", func(f, p int) bool { return true }, inFrames},
		{"by landmark", func(f, p int) bool { return true }, func(f, p int) int { return p*frames + f }},
		{"the last frame is cut short", func(f, p int) bool { return f*points+p < frames*points-2 },
			inFrames},
		{"the first frame is short", func(f, p int) bool { return f > 0 || p < 2 }, inFrames},
		{"one is left out", func(f, p int) bool { return f != 200 || p != 1 }, inFrames},
		{"many are left out", func(f, p int) bool { return (f*7+p*5)%11 > 2 }, inFrames},
		{"the order changes", func(f, p int) bool { return true }, func(f, p int) int { return f*points + (p+f/50)%points }},
		{"one comes late", func(f, p int) bool { return f > 300 || p < 2 }, inFrames},
		{"one is behind all others", func(f, p int) bool { return true },
			func(f, p int) int { return p/2*frames*points + f*points + p }},
	} {
		t.Run(c.name, func(t *testing.T) {
			rows := map[int]string{}
			var want []float32
			value := func(f, p, axis int) float64 { return float64(f) + float64(p)/8 + float64(axis)/64 }
			for f := range frames {
				for p := range points {
					at := c.at(f, p)
					if c.has(f, p) {
						rows[at] = fmt.Sprintf("%d,p%d,%v,%v,%v\n", f, p, value(f, p, 0), value(f, p, 1), value(f, p, 2))
					}
				}
			}
			text := "frame,marker,x,y,z\n"
			for at := range points*frames*points + points {
				text += rows[at]
			}
			raw, err := checkWays(t, []byte(text))
			if err != nil {
				t.Fatal(err)
			}
			for f := range frames {
				for _, name := range raw.Points {
					p := int(name[1] - '0')
					for axis := range 3 {
						v := nan
						if c.has(f, p) {
							v = float32(value(f, p, axis))
						}
						want = append(want, v)
					}
				}
			}
			if len(raw.Points) != points || !same(raw.XYZ, want) {
				t.Errorf("%d values of %v, want %d", len(raw.XYZ), raw.Points, len(want))
			}
		})
	}
}

func FuzzWays(f *testing.F) {
	files, _ := filepath.Glob("testdata/*.?sv")
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	r := rand.New(rand.NewPCG(13, 14))
	for range 20 {
		f.Add(start(randomTable(r)))
	}
	f.Fuzz(func(t *testing.T, text []byte) { checkWays(t, text) })
}
