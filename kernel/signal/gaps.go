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
	at := func(i int) *float64 { return &x[offset+i*stride] }
	for i := 0; i < n; i++ {
		if !math.IsNaN(*at(i)) {
			continue
		}
		end := i
		for end < n && math.IsNaN(*at(end)) {
			end++
		}
		if i > 0 && end < n && end-i <= longest {
			filled += fillGap(at, i, end, n)
		}
		i = end
	}
	return filled
}

// fillGap fills samples from to end-1.
func fillGap(at func(int) *float64, from, end, n int) int {
	var knots, values [2 * knotsASide]float64
	count := 0
	first := from
	for first > 0 && from-first < knotsASide && !math.IsNaN(*at(first - 1)) {
		first--
	}
	for i := first; i < n && i < end+knotsASide; i++ {
		if i >= from && i < end {
			continue
		}
		if math.IsNaN(*at(i)) {
			break
		}
		knots[count], values[count] = float64(i), *at(i)
		count++
	}
	var spline Spline
	spline.fit(knots[:count], values[:count])
	for i := from; i < end; i++ {
		*at(i) = spline.At(float64(i))
	}
	return end - from
}
