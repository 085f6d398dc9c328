package recording

import (
	"math"
	"strings"
	"testing"
)

// TestAbsentPlaces tells a number that stands for a missing place from a place.
func TestAbsentPlaces(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(frame int, p []float32)
		lost   int
	}{
		{"zeros", func(f int, p []float32) {
			if f >= 10 && f < 14 || f == 20 {
				p[0], p[1], p[2] = 0, 0, 0
			}
		}, 5},
		{"nines, at the start", func(f int, p []float32) {
			if f < 3 {
				p[0], p[1], p[2] = -9999, -9999, -9999
			}
		}, 3},
		{"zeros between gaps", func(f int, p []float32) {
			switch f {
			case 9, 11:
				p[0], p[1], p[2] = nanOf, nanOf, nanOf
			case 10, 12:
				p[0], p[1], p[2] = 0, 0, 0
			}
		}, 2},
		{"through the origin", func(f int, p []float32) {
			p[0], p[1], p[2] = float32(f-10)*0.001, 0, float32(f-10)*0.001
		}, 0},
		{"the same by chance", func(f int, p []float32) {
			if f == 10 {
				p[0], p[1], p[2] = 1.1, 1.1, 1.1
			}
		}, 0},
		{"always at the origin", func(_ int, p []float32) { p[0], p[1], p[2] = 0, 0, 0 }, 0},
	} {
		raw := stand(50, same)
		raw.Alike = true
		width := 3 * len(raw.Points)
		had := 0
		for f := range 50 {
			c.change(f, raw.XYZ[f*width:][:3])
			if v := raw.XYZ[f*width]; v != v {
				had++
			}
		}
		u, _, err := Interpret(raw, Options{Forward: "+x"})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		lost := -had
		for f := range 50 {
			if v := raw.XYZ[f*width]; v != v {
				lost++
			}
		}
		if lost != c.lost || hasNote(u, "away from where it is before and after") != (c.lost > 0) {
			t.Errorf("%s: %d places are missing, want %d; %v", c.name, lost, c.lost, u.Notes)
		}
	}
}

var nanOf = float32(math.NaN())

// TestSeveralPersons maps the landmarks of one person alone, and a racket that is a subject of its own.
func TestSeveralPersons(t *testing.T) {
	points := []string{"Returner:LKNE", "Returner:RKNE", "Returner:LANK", "Server:LKNE", "Server:RKNE", "Server:LANK",
		"Server:RANK", "Racket:Tip", "Racket:RacketTip"}
	m, err := mapPoints(points, nil, false)
	if err != nil {
		t.Fatal(err)
	}
	text := m.text()
	for name, want := range map[string]string{"left_knee": "Server:LKNE", "left_ankle": "Server:LANK",
		"right_ankle": "Server:RANK", "racket_tip": "Racket:RacketTip"} {
		if text[name] != want {
			t.Errorf("%s is %s, want %s", name, text[name], want)
		}
	}
	if len(m.notes) != 1 || !strings.Contains(m.notes[0].Text, "those of Server; the points of Returner keep") {
		t.Errorf("notes %v", m.notes)
	}
	if m, _ := mapPoints(points[3:], nil, false); len(m.notes) != 0 {
		t.Errorf("one person: notes %v", m.notes)
	}
}

// TestRateOfStrayingTimes finds the rate where each time strays, and where frames are lost.
func TestRateOfStrayingTimes(t *testing.T) {
	for _, c := range []struct {
		name string
		time func(frame int) float64
		hz   float64
	}{
		{"late by turns", func(f int) float64 { return float64(f)/50 + 0.004*float64(f%3) }, 50},
		{"every tenth is lost", func(f int) float64 { return float64(f+f/9) / 100 }, 100},
		{"a long gap", func(f int) float64 { return float64(f)/200 + 3*float64(f/40) }, 200},
	} {
		raw := stand(90, same)
		for f := range 90 {
			raw.TimeS = append(raw.TimeS, c.time(f))
		}
		u, _, err := Interpret(raw, Options{Forward: "+x"})
		if err != nil || math.Abs(u.RateHz/c.hz-1) > 0.001 {
			t.Errorf("%s: %v Hz, want %v; %v", c.name, u.RateHz, c.hz, err)
		}
	}
}

func TestSignificant(t *testing.T) {
	for v, want := range map[float64]string{1709.6: "1710", 0.0171: "0.0171", 1.5e12: "1.5e+12", 0: "0",
		0.00000004: "4e-08", 281.77: "282"} {
		if got := significant(v); got != want {
			t.Errorf("%v is %s, want %s", v, got, want)
		}
	}
}
