package signal

import (
	"fmt"
	"math"
	"slices"
)

// Spline is a cubic interpolating spline with not-a-knot ends, as scipy.interpolate.CubicSpline at its defaults: two
// knots give a line, three a parabola. Beyond its ends the outermost cubics go on.
type Spline struct{ x, y, slope []float64 }

// NewSpline fits the spline through (x[i], y[i]); x must increase, and there must be at least two points without
// missing values.
func NewSpline(x, y []float64) *Spline {
	if len(x) != len(y) || len(x) < 2 {
		panic(fmt.Sprintf("signal: spline through %d and %d values", len(x), len(y)))
	}
	for i := 1; i < len(x); i++ {
		if !(x[i] > x[i-1]) {
			panic(fmt.Sprintf("signal: knot %d of the spline does not increase", i))
		}
	}
	s := &Spline{x, y, make([]float64, len(x))}
	fitSlopes(s.slope, x, y, make([]float64, 4*len(x)))
	return s
}

// fitSlopes solves the tridiagonal system for the slopes at the knots; room has four times as many values as there
// are knots. The first and last rows state that the third derivative is continuous at the second and the last but one
// knot (de Boor, A Practical Guide to Splines, IV).
func fitSlopes(slope, x, y, room []float64) {
	n := len(x)
	secant := func(i int) float64 { return (y[i+1] - y[i]) / (x[i+1] - x[i]) }
	switch n {
	case 2:
		slope[0], slope[1] = secant(0), secant(0)
		return
	case 3:
		second := (secant(1) - secant(0)) / (x[2] - x[0])
		slope[0] = secant(0) - second*(x[1]-x[0])
		slope[1] = secant(0) + second*(x[1]-x[0])
		slope[2] = secant(1) + second*(x[2]-x[1])
		return
	}
	below, diagonal, above, right := room[:n], room[n:2*n], room[2*n:3*n], room[3*n:4*n]
	for i := 1; i < n-1; i++ {
		h0, h1 := x[i]-x[i-1], x[i+1]-x[i]
		below[i], diagonal[i], above[i] = h1, 2*(h0+h1), h0
		right[i] = 3 * (h1*secant(i-1) + h0*secant(i))
	}
	h0, h1 := x[1]-x[0], x[2]-x[1]
	diagonal[0], above[0] = h1, h0+h1
	right[0] = ((h0+2*(h0+h1))*h1*secant(0) + h0*h0*secant(1)) / (h0 + h1)
	h0, h1 = x[n-1]-x[n-2], x[n-2]-x[n-3]
	diagonal[n-1], below[n-1] = h1, h0+h1
	right[n-1] = ((h0+2*(h0+h1))*h1*secant(n-2) + h0*h0*secant(n-3)) / (h0 + h1)
	for i := 1; i < n; i++ {
		m := below[i] / diagonal[i-1]
		diagonal[i] -= m * above[i-1]
		right[i] -= m * right[i-1]
	}
	slope[n-1] = right[n-1] / diagonal[n-1]
	for i := n - 2; i >= 0; i-- {
		slope[i] = (right[i] - above[i]*slope[i+1]) / diagonal[i]
	}
}

// At is the spline's value at t.
func (s *Spline) At(t float64) float64 {
	i := s.interval(t)
	h := s.x[i+1] - s.x[i]
	u := (t - s.x[i]) / h
	v := 1 - u
	return v*v*((1+2*u)*s.y[i]+u*h*s.slope[i]) + u*u*((1+2*v)*s.y[i+1]-v*h*s.slope[i+1])
}

// Slope is the spline's first derivative at t.
func (s *Spline) Slope(t float64) float64 {
	i := s.interval(t)
	h := s.x[i+1] - s.x[i]
	u := (t - s.x[i]) / h
	secant := (s.y[i+1] - s.y[i]) / h
	return s.slope[i]*(1-u)*(1-3*u) + s.slope[i+1]*u*(3*u-2) + 6*secant*u*(1-u)
}

func (s *Spline) interval(t float64) int {
	i, _ := slices.BinarySearch(s.x, t)
	return min(max(i-1, 0), len(s.x)-2)
}

// ResampleTo evaluates x, sampled at whole numbers, at len(dst) equally spaced times from first to last (in samples)
// by a cubic spline through the samples that are there. Between samples more than longest apart, and beyond the
// ends, the result is missing. dst must not be x.
func ResampleTo(dst, x []float64, first, last float64, longest int) {
	knots, values := make([]float64, 0, len(x)), make([]float64, 0, len(x))
	for i, v := range x {
		if !math.IsNaN(v) {
			knots, values = append(knots, float64(i)), append(values, v)
		}
	}
	var spline *Spline
	if len(knots) >= 2 {
		spline = NewSpline(knots, values)
	}
	for k := range dst {
		t := first
		if len(dst) > 1 {
			t += (last - first) * float64(k) / float64(len(dst)-1)
		}
		dst[k] = sampleBetween(spline, t, longest)
	}
}

func sampleBetween(spline *Spline, t float64, longest int) float64 {
	const slack = 1e-9 // a time that rounding moved past an end
	if spline == nil || t < spline.x[0]-slack || t > spline.x[len(spline.x)-1]+slack {
		return math.NaN()
	}
	if i := spline.interval(t); spline.x[i+1]-spline.x[i] > float64(longest)+1 && t != spline.x[i] {
		return math.NaN()
	}
	return spline.At(t)
}
