package motion

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// flight is the ball between release and contact: the parabola of least squares through its tracked positions, whose
// noise it averages away. The filter would round off the two instants at which the ball's velocity jumps.
type flight struct {
	done  bool
	ok    bool
	start float64       // the sample that is t = 0
	seen  float64       // the last sample at which the ball was tracked
	x     [3][3]float64 // x y z as c0 + c1 t + c2 t^2, t in seconds
}

const (
	// flightEdgeS is kept clear of release and contact, where hand or strings touch the ball.
	flightEdgeS = 0.01
	// fewestInFlight is how many tracked positions a parabola needs to be better than one of them.
	fewestInFlight = 6
)

// ballFlight fits the toss.
func (v *view) ballFlight() *flight {
	f := &v.flight
	if f.done {
		return f
	}
	f.done = true
	release, contact := v.at(Release), v.at(Contact)
	if v.places[ball] < 0 || math.IsNaN(release) || math.IsNaN(contact) {
		return f
	}
	edge := flightEdgeS * v.rate
	f.start = contact
	first, last := max(int(math.Ceil(release+edge)), 0), min(int(math.Floor(contact-edge)), v.samples-1)
	f.ok = f.fit(v, first, last)
	return f
}

// fit solves the normal equations of the three parabolas, which share their left side.
func (f *flight) fit(v *view, first, last int) bool {
	var s [5]float64
	var r [3][3]float64
	for i := first; i <= last; i++ {
		p := v.raw(ball, i)
		if p.Y != p.Y {
			continue
		}
		f.seen = float64(i)
		t := (float64(i) - f.start) / v.rate
		for k, power := 0, 1.0; k < 5; k, power = k+1, power*t {
			s[k] += power
			if k < 3 {
				r[0][k] += power * p.X
				r[1][k] += power * p.Y
				r[2][k] += power * p.Z
			}
		}
	}
	if s[0] < fewestInFlight {
		return false
	}
	for k := range f.x {
		f.x[k] = solveParabola(s, r[k])
	}
	return true
}

// solveParabola solves the normal equations of a parabola by Cramer's rule.
func solveParabola(s [5]float64, r [3]float64) [3]float64 {
	det := func(a, b, c, d, e, f, g, h, i float64) float64 { return a*(e*i-f*h) - b*(d*i-f*g) + c*(d*h-e*g) }
	whole := det(s[0], s[1], s[2], s[1], s[2], s[3], s[2], s[3], s[4])
	return [3]float64{
		det(r[0], s[1], s[2], r[1], s[2], s[3], r[2], s[3], s[4]) / whole,
		det(s[0], r[0], s[2], s[1], r[1], s[3], s[2], r[2], s[4]) / whole,
		det(s[0], s[1], r[0], s[1], s[2], r[1], s[2], s[3], r[2]) / whole,
	}
}

// at is the ball at a sample of the view, by the parabola.
func (f *flight) at(v *view, sample float64) r3.Vec {
	if !f.ok {
		return missingPoint
	}
	t := (sample - f.start) / v.rate
	along := func(c [3]float64) float64 { return c[0] + t*(c[1]+t*c[2]) }
	return r3.Vec{X: along(f.x[0]), Y: along(f.x[1]), Z: along(f.x[2])}
}

// trustS is how long after it was last seen the ball's path says where it is.
const trustS = 0.05

// reaches reports whether the ball was seen until shortly before a sample.
func (f *flight) reaches(v *view, sample float64) bool {
	return f.ok && sample-f.seen <= trustS*v.rate+1
}

// atContact is the ball at contact; missing when it was lost from sight before.
func (f *flight) atContact(v *view) r3.Vec {
	if !f.reaches(v, v.at(Contact)) {
		return missingPoint
	}
	return f.at(v, v.at(Contact))
}

// apex is the sample at which the ball is highest, or NaN when it was struck while still rising or never rose.
func (f *flight) apex(v *view) float64 {
	if !f.ok || f.x[1][2] >= 0 {
		return math.NaN()
	}
	sample := f.start - f.x[1][1]/(2*f.x[1][2])*v.rate
	if sample > v.at(Contact) || sample < v.at(Release) {
		return math.NaN()
	}
	return sample
}

// raw is a point at a sample as it was recorded, mirrored for a left-hander but not filtered.
func (v *view) raw(p point, i int) r3.Vec {
	if v.places[p] < 0 || i < 0 || i >= v.samples {
		return missingPoint
	}
	at := (v.first+i)*3*v.clip.Layout.Len() + 3*v.places[p]
	xyz := v.clip.Frames[at : at+3 : at+3]
	return r3.Vec{X: float64(xyz[0]), Y: float64(xyz[1]), Z: v.mirror * float64(xyz[2])}
}
