package stats

import (
	"math"
	"testing"
)

// Brute force in Python 3.11 over itertools: combinations(range(20), 10) of the sleep data are too many for all, so the
// first five of each; product((-1, 1), repeat = 10) of the differences.
func TestPermutationsOfSleep(t *testing.T) {
	first, second := Values("Extra sleep", "h", sleep1[:5]), Values("Extra sleep", "h", sleep2[:5])
	p := Permute(first, second)
	near(t, "p of 5 and 5", p.P, 0.047619047619047616, 1e-12)
	if !p.Exact || p.Tried != 252 {
		t.Errorf("exact %v after %d", p.Exact, p.Tried)
	}
	paired := PermutePaired(Values("Extra sleep", "h", sleep1), Values("Extra sleep", "h", sleep2))
	near(t, "p of 10 pairs", paired.P, 0.00390625, 1e-12)
	drawn := Permute(Values("Extra sleep", "h", sleep1), Values("Extra sleep", "h", sleep2))
	near(t, "p of 10 and 10", drawn.P, 0.08144796380090498, 0.01)
	if drawn.Exact || drawn != Permute(Values("Extra sleep", "h", sleep1), Values("Extra sleep", "h", sleep2)) {
		t.Error("184756 arrangements were all tried, or two tests differ")
	}
	noNaN(t, p)
	noNaN(t, Permute(first, Sample{}))
	noNaN(t, PermutePaired(first, Values("", "", []float64{math.NaN(), 1, math.NaN(), math.NaN(), math.NaN()})))
}

func TestPermuteWithin(t *testing.T) {
	x, y := grouped("PaCO2", "kPa", pressure), grouped("Acidity", "", acidity)
	p := PermuteWithin(x, y)
	if p.P < 0.0001 || p.P > 0.003 { // Bland & Altman's p is 0.0008 by normal theory
		t.Errorf("p = %g", p.P)
	}
	noNaN(t, p)
	noNaN(t, PermuteWithin(x.keep(func(i int) bool { return i < 2 }), y.keep(func(i int) bool { return i < 2 })))
}
