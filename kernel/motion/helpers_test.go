package motion

import (
	"gonum.org/v1/gonum/spatial/r3"

	"tossline/kernel/spatial"
)

// eachPoint changes every point of a take in place.
func eachPoint(t *Take, f func(p r3.Vec) r3.Vec) {
	for i := 0; i < len(t.Frames); i += 3 {
		p := f(r3.Vec{X: float64(t.Frames[i]), Y: float64(t.Frames[i+1]), Z: float64(t.Frames[i+2])})
		t.Frames[i], t.Frames[i+1], t.Frames[i+2] = float32(p.X), float32(p.Y), float32(p.Z)
	}
}

func turnTake(t *Take, radians float64) {
	eachPoint(t, func(p r3.Vec) r3.Vec { return spatial.TurnAbout(p, radians) })
}
