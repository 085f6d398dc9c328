package recording

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"tossline/datasets/landmark"
)

// figure is a standing player of 1.80 m who bobs and swings the arms, in the global frame: metres, Y up, X forward,
// Z to the right. Heights of joints are those of Winter's table of segment lengths.
var figure = []struct {
	name    string
	x, y, z float64
	swing   float64
}{
	{"Hips", 0, 0.95, 0, 0}, {"Neck", 0, 1.50, 0, 0}, {"Head", 0, 1.68, 0, 0}, {"Head_end", 0, 1.80, 0, 0},
	{"LeftShoulder", 0, 1.472, -0.18, 0}, {"RightShoulder", 0, 1.472, 0.18, 0},
	{"LeftElbow", 0, 1.137, -0.2, 0.1}, {"RightElbow", 0, 1.137, 0.2, -0.1},
	{"LeftWrist", 0, 0.874, -0.2, 0.2}, {"RightWrist", 0, 0.874, 0.2, -0.2},
	{"LeftHip", 0, 0.954, -0.12, 0}, {"RightHip", 0, 0.954, 0.12, 0},
	{"LeftKnee", 0, 0.513, -0.12, 0}, {"RightKnee", 0, 0.513, 0.12, 0},
	{"LeftAnkle", 0, 0.07, -0.12, 0}, {"RightAnkle", 0, 0.07, 0.12, 0},
	{"LeftToe", 0.18, 0.02, -0.12, 0}, {"RightToe", 0.18, 0.02, 0.12, 0},
}

// stand makes a recording of the figure. place turns a point of the global frame into the file's axes and units.
func stand(frames int, place func(x, y, z float64) (float64, float64, float64)) *Raw {
	raw := &Raw{Format: "test", File: "figure.test", SHA256: strings.Repeat("ab", 32), RateHz: 100}
	for _, p := range figure {
		raw.Points = append(raw.Points, p.name)
	}
	for f := range frames {
		phase := float64(f) / 20
		for _, p := range figure {
			x, y, z := place(p.x+0.01*math.Sin(phase)+p.swing*math.Sin(phase), p.y, p.z+0.01*math.Cos(phase))
			raw.XYZ = append(raw.XYZ, float32(x), float32(y), float32(z))
		}
	}
	return raw
}

func same(x, y, z float64) (float64, float64, float64) { return x, y, z }

// position is where a landmark is in a frame of a take.
func position(t *testing.T, raw *Raw, o Options, name landmark.Name, frame int) (vector, Understanding) {
	t.Helper()
	u, take, err := Interpret(raw, o)
	if err != nil {
		t.Fatal(err)
	}
	c := take.Layout.Index(name)
	if c < 0 {
		t.Fatalf("there is no %s among %v", name, take.Layout.Names())
	}
	return at(take, c, frame), u
}

func TestGuessUnits(t *testing.T) {
	for unit, metre := range map[string]float64{"m": 1, "cm": 100, "mm": 1000, "in": 1 / 0.0254, "ft": 1 / 0.3048} {
		raw := stand(100, func(x, y, z float64) (float64, float64, float64) { return x * metre, y * metre, z * metre })
		head, u := position(t, raw, Options{Forward: "+x"}, landmark.HeadTop, 0)
		if u.Units.Value != unit || u.Units.Source != Guessed || math.Abs(head[1]-1.8) > 1e-4 {
			t.Errorf("%s was understood as %+v, head at %v", unit, u.Units, head)
		}
	}
}

func TestGuessUp(t *testing.T) {
	for axis, place := range map[string]func(x, y, z float64) (float64, float64, float64){
		"+y": same,
		"-y": func(x, y, z float64) (float64, float64, float64) { return x, -y, -z },
		"+z": func(x, y, z float64) (float64, float64, float64) { return x, -z, y },
		"-z": func(x, y, z float64) (float64, float64, float64) { return x, z, -y },
		"+x": func(x, y, z float64) (float64, float64, float64) { return y, -x, z },
		"-x": func(x, y, z float64) (float64, float64, float64) { return -y, x, z },
	} {
		_, take, err := Interpret(stand(100, place), Options{})
		if err != nil {
			t.Fatal(err)
		}
		head, u := position(t, stand(100, place), Options{}, landmark.HeadTop, 0)
		if u.Up.Value != axis || math.Abs(head[1]-1.8) > 1e-4 {
			t.Errorf("%s was understood as %+v, head at %v", axis, u.Up, head)
		}
		// Whatever the heading, left stays left of where the toes point.
		l, r := take.Layout.Index(landmark.LeftHip), take.Layout.Index(landmark.RightHip)
		a, toe := take.Layout.Index(landmark.LeftAnkle), take.Layout.Index(landmark.LeftToe)
		right := at(take, r, 0).minus(at(take, l, 0))
		ahead := at(take, toe, 0).minus(at(take, a, 0))
		if ahead.cross(vector{0, 1, 0}).dot(right) <= 0 {
			t.Errorf("%s: the figure came out as its mirror image", axis)
		}
	}
}

func TestForwardAndFloor(t *testing.T) {
	// The file has Z up, serves go along -y, the court lies 0.4 m below its zero, in cm.
	raw := func() *Raw {
		return stand(100, func(x, y, z float64) (float64, float64, float64) { return -100 * z, -100 * x, 100*y - 40 })
	}
	toe, u := position(t, raw(), Options{Forward: "-y"}, landmark.RightToe, 0)
	if want := (vector{0.18, 0.02, 0.13}); toe.distance(want) > 0.002 {
		t.Errorf("the right toe is at %v, want %v; %+v", toe, want, u.Floor)
	}
	if u.Floor.Source != Guessed || math.Abs(u.Floor.Value+0.4) > 0.02 {
		t.Errorf("floor %+v", u.Floor)
	}
	said := 0.25
	if toe, _ = position(t, raw(), Options{Forward: "0,-1,0", FloorM: &said}, landmark.RightToe, 0); math.Abs(toe[1]+0.63) > 1e-4 {
		t.Errorf("with the floor said the toe is at %v", toe)
	}
	if toe, _ = position(t, raw(), Options{Forward: "-y", Sides: SidesMirrored}, landmark.RightToe, 0); math.Abs(toe[2]+0.13) > 1e-4 {
		t.Errorf("mirrored, the right toe is at %v", toe)
	}
	if toe, _ = position(t, raw(), Options{Forward: "-y", Sides: SidesSwapped}, landmark.RightToe, 0); math.Abs(toe[2]+0.11) > 1e-4 {
		t.Errorf("swapped, the right toe is at %v", toe)
	}
}

func TestRefusedOptions(t *testing.T) {
	for _, c := range []struct {
		name string
		o    Options
		want string
	}{
		{"wrong units", Options{Units: "mm"}, "in mm the player would be 0.00182 m tall"},
		{"wrong units, remedy", Options{Units: "mm"}, "say m, or leave"},
		{"unknown units", Options{Units: "parsec"}, `the units "parsec" are not known; say mm, cm, m, in or ft`},
		{"unknown axis", Options{Up: "w"}, `the vertical "w" is not known`},
		{"forward is up", Options{Forward: "+y"}, "which points up or down"},
		{"forward unknown", Options{Forward: "north"}, `the forward direction "north" is not known`},
		{"unknown sides", Options{Sides: "upside down"}, "are not known"},
		{"impossible rate", Options{RateHz: -5}, "is impossible"},
		{"absent point", Options{Map: map[string]string{"ball": "Ball"}}, `names point "Ball"`},
	} {
		if _, _, err := Interpret(stand(50, same), c.o); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	raw := stand(50, same)
	raw.RateHz = 0
	if _, _, err := Interpret(raw, Options{}); err == nil ||
		!strings.Contains(err.Error(), "does not say how many frames a second") {
		t.Errorf("no rate: %v", err)
	}
}

func TestWhatTheFileSaysIsChecked(t *testing.T) {
	raw := stand(50, same)
	raw.Units, raw.UpIs = "mm", "+z"
	_, u := position(t, raw, Options{}, landmark.Head, 0)
	if u.Units.Value != "m" || u.Up.Value != "+y" || len(u.Notes) < 2 {
		t.Errorf("units %+v, up %+v, notes %v", u.Units, u.Up, u.Notes)
	}
}

func TestUnevenTimes(t *testing.T) {
	raw := stand(200, same)
	raw.RateHz = 0
	for f := range 200 {
		jitter := 0.003 * math.Sin(float64(f))
		if f == 0 {
			jitter = 0
		}
		late := 0.0
		if f >= 100 {
			late = 0.5 // a gap
		}
		raw.TimeS = append(raw.TimeS, 5+float64(f)*0.01+jitter+late)
	}
	u, take, err := Interpret(raw, Options{Forward: "+x"})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(u.RateHz-100) > 0.5 || take.Len() < 248 || take.Len() > 251 {
		t.Errorf("%v Hz, %d frames", u.RateHz, take.Len())
	}
	c := take.Layout.Index(landmark.LeftWrist)
	for f := range take.Len() {
		now := float64(f) / u.RateHz
		x := at(take, c, f)[0]
		switch {
		case now > 1.01 && now < 1.47 && !math.IsNaN(x):
			t.Fatalf("frame %d lies in the gap and has a value", f)
		case now < 0.97:
			if want := 0.21 * math.Sin(now*5); math.Abs(x-want) > 0.01 {
				t.Fatalf("frame %d: the wrist is at %v, want about %v", f, x, want)
			}
		}
	}
	if !hasNote(u, "uneven") {
		t.Errorf("notes %v", u.Notes)
	}
}

func TestEvenTimes(t *testing.T) {
	raw := stand(300, same)
	for f := range 300 {
		raw.TimeS = append(raw.TimeS, math.Round(float64(f)/240*1e4)/1e4) // rounded to 0.1 ms, as files have them
	}
	u, take, err := Interpret(raw, Options{})
	if err != nil || u.RateHz != 240 || take.Len() != 300 || len(u.Notes) > 1 {
		t.Errorf("%v Hz, %d frames, %v, %v", u.RateHz, take.Len(), u.Notes, err)
	}
}

func hasNote(u Understanding, text string) bool {
	for _, n := range u.Notes {
		if strings.Contains(n.Where+": "+n.Text, text) {
			return true
		}
	}
	return false
}

// set overwrites a point in some frames of a recording.
func set(raw *Raw, name string, first, last int, change func(v []float32)) {
	i := indexPoint(raw.Points, name)
	for f := first; f <= last; f++ {
		at := 3 * (f*len(raw.Points) + i)
		change(raw.XYZ[at : at+3])
	}
}

func TestQuality(t *testing.T) {
	nan := float32(math.NaN())
	gone := func(v []float32) { v[0], v[1], v[2] = nan, nan, nan }
	raw := stand(300, same)
	set(raw, "LeftKnee", 120, 131, gone)
	set(raw, "Neck", 5, 9, gone)
	set(raw, "RightWrist", 200, 200, func(v []float32) { v[1] += 3 })
	width := 3 * len(raw.Points)
	for f := 51; f <= 60; f++ {
		copy(raw.XYZ[f*width:(f+1)*width], raw.XYZ[50*width:])
	}
	for f := 250; f < 260; f++ {
		l, r := 3*(f*len(raw.Points)+indexPoint(raw.Points, "LeftToe")),
			3*(f*len(raw.Points)+indexPoint(raw.Points, "RightToe"))
		for k := range 3 {
			raw.XYZ[l+k], raw.XYZ[r+k] = raw.XYZ[r+k], raw.XYZ[l+k]
		}
	}
	u, _, err := Interpret(raw, Options{Forward: "+x"})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"left_knee: missing in 4.0 % of the frames; the longest gap is frames 120-131 (1.20-1.31 s)",
		"right_wrist: jumps 2 times, first at frame 200 (2.00 s)",
		"frames 51-60 (0.51-0.60 s): all points stand exactly still",
		"left_toe, right_toe: left and right change places 2 times, first at frame 250 (2.50 s)",
	} {
		if !hasNote(u, want) {
			t.Errorf("there is no note %q in %v", want, u.Notes)
		}
	}
	if hasNote(u, "c7") {
		t.Error("a gap of 0.05 s, which filtering fills, was reported")
	}
}

func TestMirrorImageIsNoticed(t *testing.T) {
	raw := stand(100, func(x, y, z float64) (float64, float64, float64) { return x, y, -z })
	if u, _, err := Interpret(raw, Options{}); err != nil || !hasNote(u, "the feet point backwards") {
		t.Errorf("%v, %v", u.Notes, err)
	}
}

// TestUnderstandingJSON fixes the names of the fields, which programs rely on.
func TestUnderstandingJSON(t *testing.T) {
	u, _, err := Interpret(stand(50, same), Options{Player: "Tuva Brandt", Session: "2026-03-14"})
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(u)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		`"file":"figure.test"`, `"recording":"abababababab"`, `"format":"test"`, `"frames":50`, `"rate_hz":100`,
		`"duration_s":0.5`, `"units":{"value":"m","source":"guessed","evidence":"`, `"up":{"value":"+y","source":"guessed"`,
		`"forward":{`, `"floor":{`, `"hand":{"value":"","source":"unknown"}`,
		`"player":{"value":"Tuva Brandt","source":"said"}`, `"session":{"value":"2026-03-14","source":"said"}`,
		`"landmarks":{"found":["head_top",`, `"missing":[`, `"unknown":[]`, `"map":{`, `"notes":[`,
	} {
		if !strings.Contains(string(text), want) {
			t.Errorf("%s is not in %s", want, text)
		}
	}
}

// TestHipRegression checks the hip centres against Harrington et al. 2007 worked out by hand for a pelvis 240 mm
// wide and 150 mm deep: 45.9 mm behind, 82.9 mm below and 86.5 mm beside the middle of the front markers.
func TestHipRegression(t *testing.T) {
	raw := &Raw{RateHz: 100, Points: []string{"LASI", "RASI", "LPSI", "RPSI"}, XYZ: []float32{
		0.15, 1, -0.12, 0.15, 1, 0.12, 0, 1, -0.05, 0, 1, 0.05}}
	m, err := mapPoints(raw.Points, nil, false)
	if err != nil {
		t.Fatal(err)
	}
	p := newPoints(raw, m)
	p.mm = 0.001
	left, right := p.at(p.index[landmark.LeftHip], 0), p.at(p.index[landmark.RightHip], 0)
	if want := (vector{0.1041, 0.9171, -0.0865}); left.distance(want) > 1e-4 {
		t.Errorf("the left hip is at %v, want %v", left, want)
	}
	if want := (vector{0.1041, 0.9171, 0.0865}); right.distance(want) > 1e-4 {
		t.Errorf("the right hip is at %v, want %v", right, want)
	}
}
