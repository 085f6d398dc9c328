package signal

import "math"

// knotsASide is how many samples on each side of a gap carry the spline that fills it. A cubic spline's memory fades
// by a factor of about four a knot, so more would change nothing that can be measured.
const knotsASide = 8

// FillGaps fills, in place, every run of at most longest missing samples that has samples on both sides, by the
// cubic spline with not-a-knot ends through the nearest samples (up to eight a side). Longer runs and runs at an end
// stay missing. It returns how many samples it filled.
func FillGaps(x []float64, longest int) int {
	return FillGapsStrided(x, 0, 1, len(x), longest)
}

// FillGapsStrided is FillGaps for the n samples x[offset], x[offset+stride], ...
func FillGapsStrided(x []float64, offset, stride, n, longest int) int {
	filled := 0
	for i := 0; i < n; i++ {
		if !math.IsNaN(x[offset+i*stride]) {
			continue
		}
		end := i
		for end < n && math.IsNaN(x[offset+end*stride]) {
			end++
		}
		if i > 0 && end < n && end-i <= longest {
			fillGap(x[offset:], stride, i, end, n)
			filled += end - i
		}
		i = end
	}
	return filled
}

// fillGap fills samples from to end-1 of the n samples x[0], x[stride], ...
func fillGap(x []float64, stride, from, end, n int) {
	var knots, values, slopes [2 * knotsASide]float64
	count := 0
	keep := func(i int) {
		knots[count], values[count] = float64(i), x[i*stride]
		count++
	}
	first := from
	for first > 0 && from-first < knotsASide && !math.IsNaN(x[(first-1)*stride]) {
		first--
	}
	for i := first; i < from; i++ {
		keep(i)
	}
	for i := end; i < min(n, end+knotsASide) && !math.IsNaN(x[i*stride]); i++ {
		keep(i)
	}
	var room [4 * 2 * knotsASide]float64
	fitSlopes(slopes[:count], knots[:count], values[:count], room[:])
	spline := Spline{knots[:count], values[:count], slopes[:count]}
	for i := from; i < end; i++ {
		x[i*stride] = spline.At(float64(i))
	}
}
