package stats

import "testing"

// Deterministic parts from R 4.2.2's formulas; the interval beside scipy.stats.bootstrap (1.10.1, BCa, 99,999 draws:
// 1.05, 2.64) and R's boot (BCa 1.050, 2.614; percentile 0.960, 2.370), which differ by chance.
func TestBootstrapOfSleep(t *testing.T) {
	diffs := []float64{1.2, 2.4, 1.3, 1.3, 0, 1, 1.8, .8, 4.6, 1.4}
	mean := func(parts [][]float64) float64 { return Mean(parts[0]) }
	near(t, "acceleration", acceleration([][]float64{diffs}, mean), 0.07757998547517216, 1e-12)
	for _, c := range []struct{ z0, a, low, high float64 }{{0, 0, .025, .975},
		{.1, .05, 0.05461007689835953, 0.9917237368688839},
		{-.05, .07757998547517, 0.03682158348574762, 0.9858175471307926}} {
		low, high := bcaLevels(c.z0, c.a, 0.025, 0.975)
		near(t, "low level", low, c.low, 1e-12)
		near(t, "high level", high, c.high, 1e-12)
	}
	s := Values("Extra sleep", "h", diffs)
	nearEstimate(t, "BCa", Bootstrap(s, "mean", Mean), 1.58, 1.05, 2.62, 0.05)
	nearEstimate(t, "percentile", Resampling{Percentile: true}.Of(s, "mean", Mean), 1.58, 0.96, 2.37, 0.05)
	if Bootstrap(s, "mean", Mean) != Bootstrap(s, "mean", Mean) {
		t.Error("two bootstraps of the same serves differ")
	}
}

func TestBootstrapKeepsStrata(t *testing.T) {
	// Sessions that differ and serves within them that hardly do: drawing within sessions sees little spread.
	s := Values("x", "m", []float64{1, 1.01, 1.02, 5, 5.01, 5.02}).
		In(nil, []string{"a", "a", "a", "b", "b", "b"})
	within, across := Resampling{BySession: true}.Of(s, "mean", Mean), Bootstrap(s, "mean", Mean)
	if w, a := within.High-within.Low, across.High-across.Low; w > 0.03 || a < 1 {
		t.Errorf("widths %g within sessions, %g across; want below 0.03 and above 1", w, a)
	}
}
