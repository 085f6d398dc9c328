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
	fitted := throwThrough(first, last, func(i int) (float64, r3.Vec) {
		return (float64(i) - f.start) / v.rate, v.raw(ball, i)
	})
	f.x, f.seen = fitted.x, float64(fitted.last)
	f.ok = fitted.places >= fewestInFlight && fitted.falls(float64(fitted.last-fitted.first)/v.rate)
	return f
}

// throw is the flight of a ball through some of its tracked places.
type throw struct {
	x      [3][3]float64 // x y z as c0 + c1 t + c2 t^2
	places int           // through how many it goes

	first, last int // of them
}

// falls reports whether a throw that was seen for some time is bent as gravity bends it. What lies on the court is not
// the ball. In less time than fallsS, noise bends it more.
func (f *throw) falls(seconds float64) bool {
	return seconds < fallsS || math.Abs(2*f.x[1][2]+gravity) < 0.4*gravity
}

const fallsS = 0.15

// fitRounds is how often places off the flight are left out and the others fitted anew.
const fitRounds = 5

// throwThrough is the parabola of least squares through the places that at gives, with their times, for first to last.
// Places that lie off it are left out, the farthest first: another ball, or this one before its release or after it was
// hit. It has no meaning with fewer than fewestInFlight places.
func throwThrough(first, last int, at func(i int) (t float64, p r3.Vec)) (f throw) {
	within := math.Inf(1)
	for range fitRounds {
		f = f.refit(first, last, within, at)
		worst, sum := 0.0, 0.0
		for i := first; i <= last && f.places >= fewestInFlight; i++ {
			if t, p := at(i); p.Y == p.Y {
				if off := f.off(t, p); off <= within {
					worst, sum = max(worst, off), sum+off
				}
			}
		}
		if worst <= offPath*offPath {
			break
		}
		within = max(4*sum/float64(f.places), offPath*offPath)
	}
	return f
}

// refit solves the normal equations of the three parabolas, which share their left side, for the places that lie within
// a distance, squared, of the flight.
func (f throw) refit(first, last int, within float64, at func(i int) (t float64, p r3.Vec)) (next throw) {
	var s [5]float64
	var r [3][3]float64
	for i := first; i <= last; i++ {
		t, p := at(i)
		if p.Y != p.Y || f.places > 0 && f.off(t, p) > within {
			continue
		}
		if next.places++; next.places == 1 {
			next.first = i
		}
		next.last = i
		for k, power := 0, 1.0; k < 5; k, power = k+1, power*t {
			s[k] += power
			if k < 3 {
				r[0][k] += power * p.X
				r[1][k] += power * p.Y
				r[2][k] += power * p.Z
			}
		}
	}
	for k := range next.x {
		next.x[k] = solveParabola(s, r[k])
	}
	return next
}

// off is the square of how far a place lies off the flight, as far as the cameras see it.
func (f *throw) off(t float64, p r3.Vec) float64 {
	along := func(c [3]float64) float64 { return c[0] + t*(c[1]+t*c[2]) }
	return present(along(f.x[0])-p.X) + present(along(f.x[1])-p.Y) + present(along(f.x[2])-p.Z)
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

// trustS is how long after it was last seen the ball's path says where it is: nearly as long as a gap may be that is
// filled.
const trustS = 0.08

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
