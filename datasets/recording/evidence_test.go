package recording

import (
	"math"
	"strings"
	"testing"

	"tossline/datasets/landmark"
)

// toss adds a ball that is thrown up again and again, and held in between.
func toss(raw *Raw, g float64, along vector) *Raw {
	n := len(raw.Points)
	old := raw.XYZ
	raw.XYZ = nil
	raw.Points = append(raw.Points, "Ball")
	for f := range len(old) / (3 * n) {
		raw.XYZ = append(raw.XYZ, old[3*n*f:3*n*(f+1)]...)
		s := float64(f%100)/100 - 0.2
		h := 1.0
		if s > 0 && s < 0.6 {
			h += 0.3*g*s - g*s*s/2
		}
		for k := range 3 {
			raw.XYZ = append(raw.XYZ, float32(along[k]*h))
		}
	}
	return raw
}

func TestBallTellsGravity(t *testing.T) {
	for _, c := range []struct {
		name  string
		g     float64
		along vector
		rate  float64
		note  string
	}{
		{"as it should", 9.81, vector{0, 1, 0}, 100, ""},
		{"wrong rate", 9.81, vector{0, 1, 0}, 150, "the rate or the units are wrong"},
		{"aslant", 9.81, vector{0.6, 0.8, 0}, 100, "37° off the vertical"},
	} {
		u, _, err := Interpret(toss(stand(600, same), c.g, c.along), Options{RateHz: c.rate, Forward: "+x"})
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(u.Rate.Evidence, "the ball falls at") ||
			!strings.Contains(u.Up.Evidence, "the ball falls within") {
			t.Errorf("%s: rate %+v, up %+v", c.name, u.Rate, u.Up)
		}
		if c.note != "" && !hasNote(u, c.note) || c.note == "" && hasNote(u, "ball: falls") {
			t.Errorf("%s: notes %v", c.name, u.Notes)
		}
	}
	if u, _, _ := Interpret(stand(100, same), Options{}); strings.Contains(u.Up.Evidence, "ball") {
		t.Errorf("without a ball: %+v", u.Up)
	}
}

func TestHeightIsCompared(t *testing.T) {
	if u, _, err := Interpret(stand(100, same), Options{HeightM: 1.4}); err != nil ||
		!hasNote(u, "said to be 1.40 m tall") {
		t.Errorf("%v %v", u.Notes, err)
	}
	if u, _, err := Interpret(stand(100, same), Options{HeightM: 1.85}); err != nil || hasNote(u, "said to be") {
		t.Errorf("%v %v", u.Notes, err)
	}
}

func TestKeptMaps(t *testing.T) {
	raw := func(subject string) *Raw {
		r := stand(50, same)
		for i, p := range r.Points {
			r.Points[i] = subject + ":" + p
		}
		return r
	}
	first, _, err := Interpret(raw("P1"), Options{Map: map[string]string{"racket_tip": "P1:RightWrist"}})
	if err != nil || first.Landmarks.Kept {
		t.Fatal(first.Landmarks, err)
	}
	maps := Maps{}
	maps.Keep(first.Landmarks.Set, map[string]string{"racket_tip": "P1:RightWrist"})
	kept, err := ParseMaps(maps.Text())
	if err != nil {
		t.Fatal(err)
	}
	u, take, err := Interpret(raw("P2"), Options{Maps: kept})
	if err != nil || !u.Landmarks.Kept || !take.Layout.Has(landmark.RacketTip) ||
		u.Landmarks.Map["racket_tip"] != "P2:RightWrist" {
		t.Errorf("%+v, %v", u.Landmarks, err)
	}
	other := raw("P2")
	other.Points[0] = "P2:Root"
	if u, take, err = Interpret(other, Options{Maps: kept}); err != nil || u.Landmarks.Kept ||
		take.Layout.Has(landmark.RacketTip) {
		t.Errorf("another marker set: %+v, %v", u.Landmarks, err)
	}
	if u, _, _ = Interpret(raw("P2"), Options{Maps: kept, Map: map[string]string{"ball": "P2:Head"}}); u.Landmarks.Kept {
		t.Error("a kept map won over what was said")
	}
}

func TestAlongBySegmentAndByLength(t *testing.T) {
	// The left elbow and wrist of the figure are 0.263 m below each other; the file is in mm.
	mm := func() *Raw {
		return stand(50, func(x, y, z float64) (float64, float64, float64) { return 1000 * x, 1000 * y, 1000 * z })
	}
	for text, reach := range map[string]float64{
		"along(LeftElbow, LeftWrist, 2)": 2 * 0.263, "along(LeftElbow, LeftWrist, 80 mm)": 0.08,
		"along(LeftElbow, LeftWrist, -0.1 m)": -0.1,
	} {
		u, take, err := Interpret(mm(), Options{Units: "mm", Up: "+y", Forward: "+x",
			Map: map[string]string{"racket_tip": text}})
		if err != nil {
			t.Fatal(err)
		}
		frame := 0
		elbow := at(take, take.Layout.Index(landmark.LeftElbow), frame)
		tip := at(take, take.Layout.Index(landmark.RacketTip), frame)
		if d := elbow[1] - tip[1]; math.Abs(d-reach) > 1e-3 {
			t.Errorf("%s: the tip is %v m below the elbow, want %v", text, d, reach)
		}
		if want := strings.Replace(text, "-0.1 m", "-100 mm", 1); u.Landmarks.Map["racket_tip"] != want {
			t.Errorf("%s is told as %s", text, u.Landmarks.Map["racket_tip"])
		}
	}
}

// TestOwnNamesComeFirst checks that a landmark's own name is never taken for anything else.
func TestOwnNamesComeFirst(t *testing.T) {
	var names []string
	for _, n := range landmark.Standard {
		names = append(names, string(n))
	}
	names = append(names, "left_knee_medial", "left_knee_lateral", "LKNE")
	m, err := mapPoints(names, nil, false)
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range landmark.Standard {
		if n != "left_knee" && m.text()[string(n)] != string(n) {
			t.Errorf("%s is made from %s", n, m.text()[string(n)])
		}
	}
	m, err = mapPoints(names, nil, true)
	if err != nil || m.text()["left_knee"] != "left_knee" || m.text()["left_knee_medial"] != "left_knee_medial" {
		t.Errorf("settled: %v, %v", m.text(), err)
	}
}
