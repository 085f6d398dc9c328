package motion

import (
	"math"
	"math/rand/v2"
	"testing"

	"tossline/datasets/landmark"
)

// Residual analysis gives what moves fast a higher cutoff than what moves slowly, and leaves to the package what it
// cannot tell.
func TestChooseCutoffs(t *testing.T) {
	c := withNoise(newBody().clip(200), 0.003, rand.New(rand.NewPCG(41, 42)))
	for i := range c.Len() {
		c.punch(c.Layout.Index(landmark.LeftToe), 3, i/40*40, 25)
		c.Frames[(i*c.Layout.Len()+c.Layout.Index(landmark.RacketTip))*3] += float32(0.1 * math.Sin(float64(i)/200*2*math.Pi*8))
	}
	serve := Serve{Last: c.Len() - 1, Events: bodyEvents()}
	cutoffs := ChooseCutoffs(c.Take, []Serve{{CutOff: true, Events: bodyEvents()}, serve, serve})
	of := func(n landmark.Name) float64 { return cutoffs[c.Layout.Index(n)] }
	for _, n := range c.Layout.Names() {
		switch hz := of(n); {
		case n == landmark.Ball || n == landmark.LeftToe:
			if hz != 0 {
				t.Errorf("%s has the cutoff %g Hz, though its movement was not seen whole", n, hz)
			}
		case hz < 1 || hz > 50:
			t.Errorf("%s has the cutoff %g Hz", n, hz)
		}
	}
	if of(landmark.RacketTip) < 1.3*of(landmark.RightHip) {
		t.Errorf("racket tip %g Hz, hip %g Hz", of(landmark.RacketTip), of(landmark.RightHip))
	}
	if got := ChooseCutoffs(c.Take, nil); got != nil {
		t.Errorf("cutoffs without a serve: %v", got)
	}
	// They are used: a lower one takes more of the racket's speed away.
	fast := Compute(c, RacketSpeed)[0].Number
	c.Cutoffs = cutoffs
	c.Cutoffs[c.Layout.Index(landmark.RacketLeft)], c.Cutoffs[c.Layout.Index(landmark.RacketRight)] = 4, 4
	if slow := Compute(c, RacketSpeed)[0].Number; !(slow < fast) {
		t.Errorf("racket speed %g m/s at 4 Hz, %g m/s at the package's cutoff", slow, fast)
	}
}
