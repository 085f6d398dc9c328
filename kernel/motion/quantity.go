package motion

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/kernel/signal"
	"tossline/kernel/spatial"
)

// quantity is a number that has a value at every sample of a serve; NaN where it has none. It is found for many samples
// at once, and once for all measures and curves that look at it.
type quantity struct {
	place int // among those that a view keeps
	find  func(v *view, first int, found []float64)
}

// quantities is how many there are.
var quantities int

// newQuantity makes a quantity of a function that gives it from a sample on.
func newQuantity(find func(v *view, first int, found []float64)) *quantity {
	quantities++
	return &quantity{quantities - 1, find}
}

// newAngle makes a quantity in degrees of a function that gives the sines and cosines of an angle, times the same
// positive number, from a sample on.
func newAngle(parts func(v *view, first int, sine, cosine []float64)) *quantity {
	return newQuantity(func(v *view, first int, found []float64) { v.angles(first, found, parts) })
}

func (v *view) angles(first int, found []float64, parts func(v *view, first int, sine, cosine []float64)) {
	cosine := v.cosines(len(found))
	parts(v, first, found, cosine)
	signal.AnglesTo(found, found, cosine)
	for k := range found {
		found[k] = spatial.Degrees(found[k])
	}
}

// cosines is room for so many numbers, until it is asked for again.
func (v *view) cosines(n int) []float64 {
	if len(v.room) < n {
		v.room = make([]float64, max(n, v.samples))
	}
	return v.room[:n]
}

// over is a quantity at the samples first to last.
func (v *view) over(q *quantity, first, last int) []float64 {
	return v.courses[q.place].over(v, first, last, q.find)
}

// around is a quantity from the sample before first to the one after last, where the stretch has them, and the sample
// at which that begins.
func (v *view) around(q *quantity, first, last int) (values []float64, from int) {
	from = max(first-1, 0)
	return v.over(q, from, min(last+1, v.samples-1)), from
}

// value is a quantity at one sample; NaN outside the stretch.
func (v *view) value(q *quantity, i int) float64 {
	if i < 0 || i >= v.samples {
		return math.NaN()
	}
	return v.over(q, i, i)[0]
}

// neighbours gives the samples before and after one, at the ends of a track of n samples one of them and the sample
// itself; ok is false outside the track.
func neighbours(i, n int) (before, after int, ok bool) {
	before, after = max(i-1, 0), min(i+1, n-1)
	return before, after, after > before
}

// speedOf makes the quantity of the speed of a point, or of the middle between two, that the recording decides on.
func speedOf(points func(v *view) (p, q point)) *quantity {
	return newQuantity(func(v *view, first int, found []float64) {
		p, q := points(v)
		one, other := v.track(p), v.track(q)
		for k := range found {
			found[k] = spatial.Norm(r3.Scale(0.5, r3.Add(one.velocity(first+k, v.rate), other.velocity(first+k, v.rate))))
		}
	})
}

// differenceOfHeights makes the quantity of how much higher one point is than another one that the recording decides
// on.
func differenceOfHeights(upper point, lower func(v *view) point) *quantity {
	return newQuantity(func(v *view, first int, found []float64) {
		up, low := v.track(upper), v.track(lower(v))
		for k := range found {
			found[k] = up.at(first+k).Y - low.at(first+k).Y
		}
	})
}
