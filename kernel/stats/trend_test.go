package stats

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func upTo(n int) []float64 {
	times := make([]float64, n)
	for i := range times {
		times[i] = float64(i + 1)
	}
	return times
}

// scipy 1.10.1: theilslopes(y, x), kendalltau; Z and its p-value from the formulas of Kendall 1975, computed exactly.
func TestTrend(t *testing.T) {
	tr := TrendOf(Values("Speed", "m/s", []float64{64, 66, 63, 67, 68, 66, 70, 69, 72, 71}), upTo(10), "session")
	nearEstimate(t, "slope", tr.Slope, 1, 0.5, 1.1428571428571428, 1e-12)
	near(t, "intercept", tr.Intercept, 62, 1e-12)
	near(t, "S", tr.S, 32, 0)
	near(t, "Z", tr.Z, 2.783882181415011, 1e-12)
	near(t, "p", tr.P, 0.005371254121580114, 1e-12)
	near(t, "tau-b", tr.Tau, 0.7191465199607916, 1e-12)
	if !tr.Shown() || !strings.Contains(tr.Sentence, "it rises") {
		t.Error(tr.Sentence)
	}
	noNaN(t, tr)
}

// Where neighbours go together, the plain test finds trends that are none; the corrected one far fewer.
func TestTrendOfCorrelatedValues(t *testing.T) {
	random := rand.New(rand.NewPCG(13, 14))
	const runs = 400
	plain, corrected, independent := 0, 0, 0
	for range runs {
		values, level := make([]float64, 40), 0.0
		white := make([]float64, 40)
		for i := range values {
			level = 0.6*level + random.NormFloat64()
			values[i], white[i] = level, random.NormFloat64()
		}
		tr := TrendOf(Values("x", "", values), upTo(40), "day")
		if tr.P <= 0.05 {
			plain++
		}
		if tr.Shown() {
			corrected++
		}
		if TrendOf(Values("x", "", white), upTo(40), "day").Shown() {
			independent++
		}
	}
	if plain < runs/6 || corrected > plain/2 {
		t.Errorf("of %d without a trend, %d shown, %d with correction", runs, plain, corrected)
	}
	if independent < runs*2/100 || independent > runs*8/100 {
		t.Errorf("of %d independent series %d show a trend, want 5 %%", runs, independent)
	}
}

func TestSessionTrend(t *testing.T) {
	s := Values("Offset", "m", []float64{1, 3, 3, 4, 4, 6, 6}).
		In(nil, []string{"2026-01-01", "2026-01-01", "2026-01-31", "2026-03-02", "2026-03-02", "2026-04-01", "?"})
	near(t, "slope of the means 2, 3, 4, 6 over months", SessionTrend(s).Slope.Value, (1+4./3)/2, 1e-9)
}

func TestTrendsWithTooLittle(t *testing.T) {
	nan := math.NaN()
	for name, values := range map[string][]float64{"nothing": nil, "three": {1, 2, 3}, "missing": {1, nan, 2, nan, 3},
		"alike": {2, 2, 2, 2, 2}} {
		tr := TrendOf(Values("x", "m", values), upTo(len(values)), "day")
		if tr.Lack == "" || tr.Shown() {
			t.Errorf("%s: %s", name, tr)
		}
		noNaN(t, tr)
		noNaN(t, ShiftsOf(Values("x", "m", values)))
	}
	noNaN(t, TrendOf(Values("x", "m", []float64{1, 2, 3, 4, 5}), []float64{1, 1, 1, 1, 1}, "day"))
	noNaN(t, SessionTrend(Values("x", "m", []float64{1, 2, 3, 4, 5})))
}

// Yearly flow of the Nile at Aswan, 1871-1970, 10^8 m³ (R dataset Nile).
var nile = []float64{1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180,
	799, 958, 1140, 1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833, 701, 916, 692, 1020,
	1050,
	969, 831, 726, 456, 824, 702, 1120, 1100, 832, 764, 821, 768, 845, 864, 862, 698, 845, 744, 796, 1040, 759, 781,
	865, 845, 944, 984, 897, 822, 1010, 771, 676, 649, 846, 812, 742, 801, 1040, 860, 874, 848, 890, 744, 749, 838,
	1050, 918, 986, 797, 923, 975, 815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740}

// scipy 1.10.1: theilslopes, kendalltau, and the corrected p-value by numpy from the published formulas.
func TestTrendOfTheNile(t *testing.T) {
	tr := TrendOf(Values("Flow", "", nile), upTo(100), "year")
	near(t, "slope", tr.Slope.Value, -2.6, 1e-12)
	near(t, "S", tr.S, -1387, 0)
	near(t, "Z", tr.Z, -4.128066522844101, 1e-12)
	near(t, "tau", tr.Tau, -0.2807413347246131, 1e-12)
	near(t, "correlation of neighbours", tr.Lag1, 0.35644292160722, 1e-9)
	near(t, "corrected p", tr.Corrected, 0.00613397065030406, 1e-9)
	if !tr.Alike || !strings.Contains(tr.Sentence, "Neighbouring values go together") {
		t.Error(tr.Sentence)
	}
}

// The Nile fell after 1898, from 1098 to 850 on average (Cobb 1978).
func TestShiftOfTheNile(t *testing.T) {
	s := ShiftsOf(Values("Flow", "", nile))
	if len(s.Found) != 1 || s.Found[0].At != 28 {
		t.Fatalf("%+v", s)
	}
	near(t, "size", s.Found[0].Size.Value, Mean(nile[28:])-Mean(nile[:28]), 1e-12)
	near(t, "mean before", Mean(nile[:28]), 1097.75, 1e-12)
	noNaN(t, s)
}

func TestShiftsAtTheNominalRate(t *testing.T) {
	random := rand.New(rand.NewPCG(15, 16))
	const runs = 300
	found, planted := 0, 0
	for range runs {
		values := make([]float64, 12)
		for i := range values {
			values[i] = random.NormFloat64()
		}
		if len(ShiftsOf(Values("x", "", values)).Found) > 0 {
			found++
		}
		for i := range values[7:] {
			values[7+i] += 4
		}
		if s := ShiftsOf(Values("x", "", values)); len(s.Found) > 0 && max(s.Found[0].At, 13-s.Found[0].At) <= 8 {
			planted++
		}
	}
	if found < runs*2/100 || found > runs*9/100 || planted < runs*85/100 {
		t.Errorf("of %d series shifts in %d without and %d with one", runs, found, planted)
	}
}
