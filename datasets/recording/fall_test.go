package recording

import (
	"strings"
	"testing"
)

// racketAndBall is a racket that stands still, and a ball that is let fall again and again, in units of perMetre.
func racketAndBall(perMetre float64) *Raw {
	raw := &Raw{Format: "test", File: "ball.test", SHA256: strings.Repeat("ab", 32), RateHz: 200,
		Points: []string{"racket_tip", "racket_throat", "ball"}}
	for f := range 600 {
		s := float64(f%120) / 200
		for _, v := range []float64{0.1, 1, 0, 0.1, 0.7, 0, 1, 3 - 9.81*s*s/2, 0} {
			raw.XYZ = append(raw.XYZ, float32(v*perMetre))
		}
	}
	return raw
}

// TestUnitsWithoutBody has nothing but the spread of points and a falling ball: what is said of units counts, and what
// the ball shows counts more than the spread.
func TestUnitsWithoutBody(t *testing.T) {
	for _, c := range []struct {
		name     string
		perMetre float64
		said     string
		unit     string
		source   Ground
		noted    bool
	}{
		{"metres by the ball", 1, "", "m", Guessed, false},
		{"millimetres by the ball", 1000, "", "mm", Guessed, false},
		{"metres as said", 1, "m", "m", Said, false},
		{"feet said, and the ball shows metres", 1, "ft", "ft", Said, true},
	} {
		u, _, err := Interpret(racketAndBall(c.perMetre), Options{Forward: "+x", Up: "+y", Units: c.said})
		if err != nil || u.Units.Value != c.unit || u.Units.Source != c.source || hasNote(u, "the ball") && !c.noted {
			t.Errorf("%s: %+v, %v, %v", c.name, u.Units, u.Notes, err)
		}
	}
	points := racketAndBall(1)
	points.Points = []string{"net_left", "net_right", "camera"}
	u, _, err := Interpret(points, Options{Forward: "+x", Up: "+y", Units: "ft"})
	if err != nil || u.Units.Value != "ft" || !hasNote(u, "taken as they were said") {
		t.Errorf("posts in feet: %+v, %v, %v", u.Units, u.Notes, err)
	}
}
