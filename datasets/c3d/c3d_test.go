package c3d

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
)

// sample reads one of the standard's test files, which may lie beside the repository.
func sample(t *testing.T, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "..", "shared", "data", "c3d", name+".c3d"))
	if err != nil {
		t.Skip("the standard's test files are not here")
	}
	return b
}

func decode(t *testing.T, b []byte) *File {
	t.Helper()
	f, err := Decode(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// made is a small file: three points, two channels of two samples a frame.
func made(p Processor, scale float32) *File {
	f := &File{Processor: p, Scale: scale, RateHz: 120, First: 5, Labels: []string{"LKNE", "RKNE", "Fuß"},
		PerFrame: 2, GenScale: 0.5, MaxGap: 10,
		Channels:  []Channel{{"Fz", "N", -100, 2}, {"EMG", "V", 0, 0.25}},
		HeaderSet: []Event{{Label: "HIT", TimeS: 0.25}, {Label: "REL", TimeS: 0.125, Hidden: true}},
		Groups: []Group{
			{Name: "POINT", Description: "3-D points", Locked: true, Parameters: []Parameter{
				{Name: "UNITS", Type: Char, Dims: []int{2}, Bytes: []byte("mm")},
				{Name: "Y_SCREEN", Type: Char, Dims: []int{2}, Bytes: []byte("+Z"), Description: "up"},
			}},
			{Name: "ANALOG", Parameters: []Parameter{
				{Name: "LABELS", Type: Char, Dims: []int{3, 2}, Bytes: []byte("Fz EMG")},
				{Name: "UNITS", Type: Char, Dims: []int{1, 2}, Bytes: []byte("NV")},
				{Name: "SCALE", Type: Real, Dims: []int{2}, Reals: []float32{2, 0.25}},
				{Name: "OFFSET", Type: Integer, Dims: []int{2}, Integers: []int16{-100, 0}},
				{Name: "GEN_SCALE", Type: Real, Reals: []float32{0.5}},
			}},
			{Name: "EVENT", Parameters: []Parameter{
				{Name: "USED", Type: Integer, Integers: []int16{1}},
				{Name: "LABELS", Type: Char, Dims: []int{6, 1}, Bytes: []byte("Impact")},
				{Name: "CONTEXTS", Type: Char, Dims: []int{5, 1}, Bytes: []byte("Right")},
				{Name: "TIMES", Type: Real, Dims: []int{2, 1}, Reals: []float32{0, 0.5}},
			}},
			{Name: "SUBJECTS", Parameters: []Parameter{
				{Name: "NAMES", Type: Char, Dims: []int{8, 1}, Bytes: []byte("P-07    ")}}},
		}}
	step := float32(math.Abs(float64(scale)))
	for i := range 40 {
		for k := range 3 {
			v := float32(10*i+k+1) * step
			f.XYZ = append(f.XYZ, v, -v, 2*v)
			f.Fourth = append(f.Fourth, float32(256*5+3))
		}
		f.Analog = append(f.Analog, float32(i), float32(-i), float32(i+1), 7)
	}
	copy(f.XYZ[3:6], []float32{0, 0, 0})
	f.Fourth[1] = -1
	return f
}

func encode(t *testing.T, f *File) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := f.Encode(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

var processors = []Processor{Intel, DEC, MIPS}

// TestEncodeDecode writes a file in every encoding and reads it again.
func TestEncodeDecode(t *testing.T) {
	for _, p := range processors {
		for _, scale := range []float32{0.1, -0.1} {
			want := made(p, scale)
			got := decode(t, encode(t, want))
			if len(got.Notes) > 0 {
				t.Errorf("%s %v: notes %v", p, scale, got.Notes)
			}
			checkSame(t, p.String(), got, want)
			if again := decode(t, encode(t, got)); !reflect.DeepEqual(got, again) {
				t.Errorf("%s %v: written and read twice, it differs", p, scale)
			}
		}
	}
}

// checkSame compares what was measured; parameters may be more than those of want.
func checkSame(t *testing.T, name string, got, want *File) {
	t.Helper()
	for _, c := range []struct {
		what      string
		got, want any
	}{
		{"processor", got.Processor, want.Processor}, {"rate", got.RateHz, want.RateHz}, {"first", got.First, want.First},
		{"labels", got.Labels, want.Labels}, {"scale", got.Scale, want.Scale}, {"gap", got.MaxGap, want.MaxGap},
		{"fourth words", got.Fourth, want.Fourth}, {"places", got.XYZ, want.XYZ}, {"channels", got.Channels, want.Channels},
		{"analog", got.Analog, want.Analog}, {"samples a frame", got.PerFrame, want.PerFrame},
		{"header events", got.HeaderSet, want.HeaderSet}, {"events", got.Events(), want.Events()},
	} {
		if !reflect.DeepEqual(c.got, c.want) {
			t.Errorf("%s: %s %v, want %v", name, c.what, c.got, c.want)
		}
	}
	for _, g := range want.Groups {
		for _, p := range g.Parameters {
			q := got.parameter(g.Name, p.Name)
			if q == nil || !reflect.DeepEqual(*q, p) && p.Name != "DATA_START" {
				t.Errorf("%s: %s:%s is %+v, want %+v", name, g.Name, p.Name, q, p)
			}
		}
	}
}

func TestRaw(t *testing.T) {
	b := encode(t, made(Intel, 0.1))
	raw, err := Read(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	if raw.Units != "mm" || raw.UpIs != "+z" || raw.RateHz != 120 || raw.Player != "P-07" || raw.Frames() != 40 {
		t.Errorf("%+v", raw)
	}
	if raw.XYZ[3] == raw.XYZ[3] || raw.XYZ[0] != 0.1 {
		t.Errorf("the missing point is %v, the first %v", raw.XYZ[3:6], raw.XYZ[:3])
	}
	// (stored + 100) * 2 * 0.5, with 0, 1, 1, 2 stored for the first channel in two samples a frame
	if s := raw.Signals; len(s) != 2 || s[0].Name != "Fz" || s[0].Unit != "N" || s[0].RateHz != 240 ||
		!reflect.DeepEqual(s[0].Values[:4], []float32{100, 101, 101, 102}) {
		t.Errorf("signals %+v", s)
	}
	// The event is 0.5 s after frame 1, and the file begins with frame 5 at 120 Hz.
	if m := raw.Marks; len(m) != 1 || m[0].Name != "Impact" || m[0].Side != "Right" ||
		math.Abs(m[0].TimeS-(0.5-4.0/120)) > 1e-9 {
		t.Errorf("marks %+v", raw.Marks)
	}
}

// TestSixEncodings compares the standard's take in its six encodings. The integers have steps of 1/12 mm and the reals
// hold the same multiples.
func TestSixEncodings(t *testing.T) {
	first := decode(t, sample(t, "Eb015pi"))
	if first.Frames() != 450 || len(first.Labels) != 26 || first.RateHz != 50 || len(first.Channels) != 16 ||
		first.PerFrame != 4 {
		t.Fatalf("%d frames of %d points at %v Hz, %d channels", first.Frames(), len(first.Labels), first.RateHz,
			len(first.Channels))
	}
	// Read off the bytes by a script with nothing but struct.unpack: places in mm, fourth word.
	for _, c := range []struct {
		frame, point int
		place        [3]float64
		fourth       float32
	}{{0, 0, [3]float64{248.583341, 226.833340, 37.416668}, 15888}, {100, 5, [3]float64{-64.750002, 431.083346, 34.750001},
		10507}, {449, 25, [3]float64{}, -1}} {
		at := c.frame*26 + c.point
		for k, want := range c.place {
			if v := float64(first.XYZ[3*at+k]); math.Abs(v-want) > 1e-4 || first.Fourth[at] != c.fourth {
				t.Errorf("frame %d, point %d: %v, %v", c.frame, c.point, first.XYZ[3*at:3*at+3], first.Fourth[at])
			}
		}
	}
	for _, name := range []string{"Eb015pr", "Eb015vi", "Eb015vr", "Eb015si", "Eb015sr", "TESTAPI", "TESTBPI"} {
		f := decode(t, sample(t, name))
		if len(f.Notes) > 0 {
			t.Errorf("%s: %v", name, f.Notes)
		}
		if !reflect.DeepEqual(f.Labels, first.Labels) || !reflect.DeepEqual(f.Channels, first.Channels) ||
			!reflect.DeepEqual(f.Fourth, first.Fourth) || !reflect.DeepEqual(f.Analog, first.Analog) ||
			!reflect.DeepEqual(f.Events(), first.Events()) {
			t.Errorf("%s: labels, channels, residuals, analog values or events differ", name)
		}
		worst := 0.0
		for i, v := range f.XYZ {
			worst = max(worst, math.Abs(float64(v-first.XYZ[i])))
		}
		if len(f.XYZ) != len(first.XYZ) || worst != 0 {
			t.Errorf("%s: places differ by up to %v", name, worst)
		}
	}
}

// TestSamples reads the standard's test files. The figures are those of the files' headers and parameters, and places
// read off their bytes by a script of its own.
func TestSamples(t *testing.T) {
	for _, c := range []struct {
		name            string
		frames, points  int
		signals, marks  int
		rate            float64
		units, up, note string
	}{
		{"Eb015pi", 450, 26, 16, 3, 50, "mm", "+z", ""},
		{"16bitanalog", 237, 27, 40, 0, 60, "mm", "+z", ""},
		{"gait-pig", 142, 49, 114, 9, 50, "mm", "+z", ""},
		{"golf", 137, 21, 0, 0, 200, "", "", "every point is marked as missing"},
		{"bad_parameter_section", 332, 45, 32, 7, 120, "mm", "+z", "the parameter section is damaged"},
	} {
		b := sample(t, c.name)
		raw, err := Read(bytes.NewReader(b), int64(len(b)))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		t.Logf("%s: %d frames, %d points, %d signals, %d marks, %v Hz, %q %q; %v", c.name, raw.Frames(), len(raw.Points),
			len(raw.Signals), len(raw.Marks), raw.RateHz, raw.Units, raw.UpIs, raw.Notes)
		if raw.Frames() != c.frames || len(raw.Points) != c.points || len(raw.Signals) != c.signals ||
			len(raw.Marks) != c.marks || raw.RateHz != c.rate || raw.Units != c.units || raw.UpIs != c.up {
			t.Errorf("%s: wrong", c.name)
		}
		noted := ""
		for _, n := range raw.Notes {
			noted += n.Text + "\n"
		}
		if c.note == "" && noted != "" || !strings.Contains(noted, c.note) {
			t.Errorf("%s: notes %q, want %q", c.name, noted, c.note)
		}
	}
}

// TestSamplesWrittenAgain writes every test file in every encoding that holds its numbers and reads it again.
func TestSamplesWrittenAgain(t *testing.T) {
	for _, name := range []string{"Eb015pi", "Eb015sr", "TESTBPI", "16bitanalog", "gait-pig", "golf",
		"bad_parameter_section"} {
		f := decode(t, sample(t, name))
		for _, p := range processors {
			f.Processor, f.Notes = p, nil
			got := decode(t, encode(t, f))
			if len(got.Notes) > 0 {
				t.Errorf("%s as %s: %v", name, p, got.Notes)
			}
			checkSame(t, name+" as "+p.String(), got, f)
		}
	}
}

// TestLongTake has more frames than the header can count.
func TestLongTake(t *testing.T) {
	f := &File{Processor: Intel, Scale: -1, RateHz: 240, First: 1, Labels: []string{"A"}, GenScale: 1}
	for i := range 70_000 {
		f.XYZ = append(f.XYZ, float32(i+1), 1, 1)
		f.Fourth = append(f.Fourth, 0)
	}
	b := encode(t, f)
	got := decode(t, b)
	if got.Frames() != 70_000 || got.XYZ[3*69_999] != 70_000 || len(got.Notes) > 0 {
		t.Errorf("%d frames, notes %v", got.Frames(), got.Notes)
	}
	for _, lost := range []string{"ACTUAL_END_FIELD", "LONG_FRAMES"} {
		b = bytes.Replace(b, []byte(lost), bytes.Repeat([]byte("X"), len(lost)), 1)
		if got := decode(t, b); got.Frames() < 70_000 || got.Frames() > 70_031 {
			t.Errorf("without %s: %d frames", lost, got.Frames())
		}
	}
}

// TestWrittenIsRead writes files of every kind and size and reads them again: identical to the last bit.
func TestWrittenIsRead(t *testing.T) {
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 5))
		f := &File{Processor: processors[r.IntN(3)], Scale: []float32{0.1, -0.1, 0.005, -1}[r.IntN(4)], GenScale: 1,
			RateHz: []float64{50, 59.94, 240, 1000}[r.IntN(4)], First: 1 + r.IntN(300), MaxGap: r.IntN(20)}
		frames, points, channels := 1+r.IntN(40), 1+r.IntN(300), r.IntN(300)
		if seed%20 == 0 {
			frames, points, channels = 65_530+r.IntN(20), 1+r.IntN(3), 1+r.IntN(3) // around the most that the header counts
		}
		for k := range points {
			f.Labels = append(f.Labels, fmt.Sprintf("P%d", k+1))
		}
		step := math.Abs(float64(f.Scale))
		value := func() float32 {
			if f.Real() {
				return float32(r.NormFloat64() * 1000)
			}
			return float32(r.IntN(1<<16)-1<<15) * float32(step)
		}
		for range frames * points {
			if r.IntN(10) == 0 {
				f.XYZ, f.Fourth = append(f.XYZ, 0, 0, 0), append(f.Fourth, -1)
				continue
			}
			f.XYZ = append(f.XYZ, value(), value(), value())
			f.Fourth = append(f.Fourth, float32(r.IntN(1<<15)))
		}
		if channels > 0 {
			f.PerFrame = 1 + r.IntN(4)
		}
		for k := range channels {
			f.Channels = append(f.Channels, Channel{Name: fmt.Sprintf("C%d", k+1), Unit: "V", Offset: float32(r.IntN(100)),
				Scale: float32(r.NormFloat64())})
		}
		for range frames * channels * f.PerFrame {
			f.Analog = append(f.Analog, float32(r.IntN(1<<16)-1<<15))
		}
		var events []Event
		for k := range r.IntN(20) {
			events = append(events, Event{fmt.Sprintf("E%d", k), []string{"Left", "Right", "General"}[r.IntN(3)],
				float64(r.IntN(1000)) / 8, false})
		}
		f.setEvents(events)
		got := decode(t, encode(t, f))
		if len(got.Notes) > 0 {
			t.Errorf("seed %d: notes %v", seed, got.Notes)
		}
		checkSame(t, fmt.Sprintf("seed %d, %s, %d frames", seed, f.Processor, frames), got, f)
	}
}

func TestManyPoints(t *testing.T) {
	f := &File{Processor: MIPS, Scale: -1, RateHz: 100, First: 1, GenScale: 1}
	for i := range 600 {
		f.Labels = append(f.Labels, "P"+strings.Repeat("x", i%7)+string(rune('A'+i%26)))
		f.XYZ, f.Fourth = append(f.XYZ, float32(i+1), 2, 3), append(f.Fourth, 0)
	}
	got := decode(t, encode(t, f))
	if !reflect.DeepEqual(got.Labels, f.Labels) || got.Frames() != 1 {
		t.Errorf("%d labels, %d frames", len(got.Labels), got.Frames())
	}
}

// TestDamage changes a sound file and looks at what is still had.
func TestDamage(t *testing.T) {
	whole := encode(t, made(Intel, -0.1))
	change := func(f func(b []byte) []byte) []byte { return f(bytes.Clone(whole)) }
	for _, c := range []struct {
		name   string
		b      []byte
		frames int
		want   string // of a note, or of the error where frames is 0
	}{
		{"cut in the data", change(func(b []byte) []byte { return b[:len(b)-700] }), 29, "cut short"},
		{"cut in the parameters", change(func(b []byte) []byte {
			return b[:blockLen*int(b[16]-1)]
		}), 0, "frames should start at"},
		{"cut in the header", whole[:300], 0, "too few for C3D"},
		{"no processor", change(func(b []byte) []byte { b[515] = 3; return b }), 40, "taken as Intel"},
		{"no parameter block", change(func(b []byte) []byte { b[0] = 0; return b }), 40, "block 2 is taken"},
		{"header without points", change(func(b []byte) []byte { b[2] = 0; return b }), 40, "disagree"},
		{"data in the header", change(func(b []byte) []byte { b[16] = 1; return b }), 40, "disagree"},
		{"first parameter damaged", change(func(b []byte) []byte {
			b[518] = 1
			return b
		}), 40, "parameter section is damaged"},
		{"no frames", change(func(b []byte) []byte {
			b[6], b[8] = 1, 0
			b = bytes.Replace(b, []byte("FRAMES"), []byte("XXXXXX"), 1)
			return b[:blockLen*int(b[16]-1)]
		}), 0, "the file holds no frames"},
		{"not C3D", []byte(strings.Repeat("abcd", 400)), 0, "does not start like C3D"},
	} {
		f, err := Decode(bytes.NewReader(c.b), int64(len(c.b)))
		text := ""
		if err != nil {
			text = err.Error()
		} else {
			for _, n := range f.Notes {
				text += n.Text + "\n"
			}
			if f.Frames() != c.frames {
				t.Errorf("%s: %d frames, want %d", c.name, f.Frames(), c.frames)
			}
		}
		if (err != nil) != (c.frames == 0) || !strings.Contains(text, c.want) {
			t.Errorf("%s: %q, want %q", c.name, text, c.want)
		}
	}
}

// TestDECNumbers checks the VAX format by its definition: sign, exponent with a bias of 128, and a fraction from 0.5.
func TestDECNumbers(t *testing.T) {
	c := codecOf(DEC)
	for _, v := range []struct {
		bytes [4]byte
		value float32
	}{
		{[4]byte{0x80, 0x40, 0, 0}, 1},   // 0.5 * 2^(129-128)
		{[4]byte{0x80, 0xc0, 0, 0}, -1},  // as before, with the sign
		{[4]byte{0x48, 0x44, 0, 0}, 200}, // 0.78125 * 2^(136-128)
		{[4]byte{0x49, 0x41, 0xdb, 0x0f}, math.Pi},
		{[4]byte{0, 0, 0, 0}, 0},
		{[4]byte{0xff, 0x7f, 0xff, 0xff}, 1.7014117e38}, // the largest
	} {
		if got := c.real(v.bytes[:]); got != v.value {
			t.Errorf("% x is %v, want %v", v.bytes, got, v.value)
		}
		var b [4]byte
		if c.putReal(b[:], v.value); b != v.bytes {
			t.Errorf("%v is written % x, want % x", v.value, b, v.bytes)
		}
	}
	if v := c.real([]byte{0, 0x80, 0, 0}); v == v {
		t.Errorf("the reserved operand is %v", v)
	}
}

func TestRefusedToWrite(t *testing.T) {
	far := made(Intel, 0.1)
	far.XYZ[0] = 1e6
	none := made(Intel, 0.1)
	none.XYZ, none.Fourth = nil, nil
	scale := made(Intel, 0)
	for _, c := range []struct {
		name, want string
		f          *File
	}{
		{"too far for integers", "does not fit an integer", far}, {"no frames", "no whole frames", none},
		{"no scale", "cannot be written", scale},
	} {
		if err := c.f.Encode(&bytes.Buffer{}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, p := range processors {
		for _, scale := range []float32{0.1, -0.1} {
			var b bytes.Buffer
			if err := made(p, scale).Encode(&b); err != nil {
				f.Fatal(err)
			}
			f.Add(b.Bytes())
		}
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		Probe(b)
		file, err := Decode(bytes.NewReader(b), int64(len(b)))
		if err != nil {
			return
		}
		if size := len(file.XYZ) + len(file.Fourth) + len(file.Analog); size > 2*len(b) {
			t.Fatalf("%d values out of %d bytes", size, len(b))
		}
		var out bytes.Buffer
		if file.Encode(&out) == nil {
			again, err := Decode(bytes.NewReader(out.Bytes()), int64(out.Len()))
			if err != nil || again.Frames() != file.Frames() {
				t.Fatalf("written and read again: %v", err)
			}
		}
		if raw, err := file.raw(func() {}); err == nil && raw.Frames() != file.Frames() {
			t.Fatalf("%d frames of %d", raw.Frames(), file.Frames())
		}
	})
}
