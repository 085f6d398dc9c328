package signal

import "math"

// DerivativeTo is the first derivative of x a second: central differences inside, one-sided first differences at the
// two ends, as numpy.gradient. A missing neighbour makes the derivative missing. dst must not be x.
func DerivativeTo(dst, x []float64, rateHz float64) {
	sameLength(dst, x)
	n := len(x)
	if n < 2 {
		for i := range dst {
			dst[i] = math.NaN()
		}
		return
	}
	dst[0], dst[n-1] = (x[1]-x[0])*rateHz, (x[n-1]-x[n-2])*rateHz
	for i := 1; i < n-1; i++ {
		dst[i] = (x[i+1] - x[i-1]) * (rateHz / 2)
	}
}

// Vertex refines an extremum found at a sample by the parabola through it and its neighbours: offset is where the
// parabola's vertex lies from the middle sample, in samples within [-1, 1], and value the parabola there. Three
// values on a line, or a missing one, give the middle sample itself.
func Vertex(before, middle, after float64) (offset, value float64) {
	bend := before - 2*middle + after
	if bend == 0 || math.IsNaN(bend) {
		return 0, middle
	}
	offset = (before - after) / (2 * bend)
	if math.Abs(offset) > 1 {
		return 0, middle
	}
	return offset, middle - (before-after)*offset/4
}

// VertexAt is Vertex of x around sample i; at an end of x it is the sample itself. The first result is the place of
// the vertex, in samples from the start of x.
func VertexAt(x []float64, i int) (at, value float64) {
	if i <= 0 || i >= len(x)-1 {
		return float64(i), x[i]
	}
	offset, value := Vertex(x[i-1], x[i], x[i+1])
	return float64(i) + offset, value
}
