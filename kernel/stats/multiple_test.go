package stats

import (
	"math"
	"testing"
)

// The 15 p-values of Benjamini & Hochberg 1995 (from memory), adjusted by R's p.adjust.
func TestAdjustments(t *testing.T) {
	p := []float64{.0344, .0001, .0004, .0019, .0095, .0201, .0278, .0298, .0459, .3240, .4262, .5719, .6528, .7590, 1,
		math.NaN()}
	bh := []float64{.0645, .0015, .003, .0095, .035625, .0603, .0638571428571429, .0638571428571429, .0765, .486,
		.581181818181818, .714875, .753230769230769, .813214285714286, 1}
	holm := []float64{.278, .0015, .0056, .0247, .114, .2211, .278, .278, .3213, 1, 1, 1, 1, 1, 1}
	gotBH, gotHolm := BenjaminiHochberg(p), Holm(p)
	for i := range bh {
		near(t, "Benjamini-Hochberg", gotBH[i], bh[i], 1e-13)
		near(t, "Holm", gotHolm[i], holm[i], 1e-13)
	}
	if !math.IsNaN(gotBH[15]) || !math.IsNaN(gotHolm[15]) {
		t.Error("a missing p-value was adjusted")
	}
}
