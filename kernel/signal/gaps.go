package signal

import (
	"math"
	"sync"
)

// knotsASide is how many samples on each side of a gap carry the spline that fills it. A cubic spline's memory fades
// by a factor of about four a knot, so more would change nothing that can be measured. They are looked for as far as
// knotsWithin from the gap, over other gaps.
const (
	knotsASide  = 8
	knotsWithin = 2 * knotsASide
)

// fewestASide is how many samples each side of a gap must have: with fewer, the spline is an extrapolation from the
// other side.
const fewestASide = 3

// FillGaps fills, in place, every run of at most longest missing samples that has three samples or more on either
// side nearby, by the cubic spline with not-a-knot ends through the nearest samples (up to eight a side). Longer runs
// and runs at an end stay missing. It returns how many samples it filled.
func FillGaps(x []float64, longest int) (filled int) {
	for i := 0; i < len(x); i++ {
		end := i
		for end < len(x) && math.IsNaN(x[end]) {
			end++
		}
		if i < end && end < len(x) && end-i <= longest && fillGap(x, 1, i, end, len(x)) {
			filled += end - i
		}
		i = end
	}
	return filled
}

// fillGap fills samples from to end-1 of the n samples x[0], x[stride], ..., if enough of them lie on either side.
func fillGap(x []float64, stride, from, end, n int) bool {
	var knots, values, slopes [2 * knotsASide]float64
	count := knotsASide
	for i := from - 1; i >= max(from-knotsWithin, 0) && count > 0; i-- {
		if !math.IsNaN(x[i*stride]) {
			count--
			knots[count], values[count] = float64(i), x[i*stride]
		}
	}
	first := count
	count = knotsASide
	for i := end; i < min(end+knotsWithin, n) && count < len(knots); i++ {
		if !math.IsNaN(x[i*stride]) {
			knots[count], values[count] = float64(i), x[i*stride]
			count++
		}
	}
	if knotsASide-first < fewestASide || count-knotsASide < fewestASide {
		return false
	}
	if gap := end - from; gap <= longestWeighed && first == 0 && count == len(knots) &&
		knots[0] == float64(from-knotsASide) &&
		knots[count-1] == float64(end+knotsASide-1) {
		weights := gapWeights[gap]()
		for i := range gap {
			sum := 0.0
			for k, w := range weights[i] {
				sum += w * values[k]
			}
			x[(from+i)*stride] = sum
		}
		return true
	}
	var room [4 * 2 * knotsASide]float64
	spline := Spline{knots[first:count], values[first:count], slopes[first:count]}
	fitSlopes(spline.slope, spline.x, spline.y, room[:])
	for i := from; i < end; i++ {
		x[i*stride] = spline.At(float64(i))
	}
	return true
}

// longestWeighed is the longest gap for which the weights are kept.
const longestWeighed = 64

// gapWeights gives, for a gap between eight samples on either side, the weight that each of them has in each missing
// one: the spline is linear in its values.
var gapWeights = func() (all [longestWeighed + 1]func() [][2 * knotsASide]float64) {
	for gap := range all {
		all[gap] = sync.OnceValue(func() [][2 * knotsASide]float64 { return weighGap(gap) })
	}
	return all
}()

func weighGap(gap int) [][2 * knotsASide]float64 {
	knots, values := make([]float64, 2*knotsASide), make([]float64, 2*knotsASide)
	for k := range knots {
		knots[k] = float64(k)
		if k >= knotsASide {
			knots[k] += float64(gap)
		}
	}
	weights := make([][2 * knotsASide]float64, gap)
	for k := range values {
		values[k] = 1
		spline := NewSpline(knots, values)
		for i := range weights {
			weights[i][k] = spline.At(float64(knotsASide + i))
		}
		values[k] = 0
	}
	return weights
}
