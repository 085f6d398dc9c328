package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"tossline/kernel/result"
)

// hostile is a sample of odd numbers, missing, infinite, huge, tiny and equal ones, of players and sessions of any
// size.
func hostile(r *rand.Rand, n int) Sample {
	odd := []float64{0, 0, 1, 1, -1, 2.5, math.NaN(), math.NaN(), math.Inf(1), math.Inf(-1), 1e-300, -1e160, 1e300,
		math.MaxFloat64, 5e-324, 1e9, 1e9 + 1e-6}
	few := 1 + r.IntN(len(odd))
	values, players, sessions := make([]float64, n), make([]string, n), make([]string, n)
	for i := range values {
		values[i] = odd[r.IntN(few)]
		if r.IntN(3) == 0 {
			values[i] = r.NormFloat64()
		}
		players[i] = []string{"", "A", "B", "C", "D"}[r.IntN(1+r.IntN(5))]
		sessions[i] = []string{"", "2026-03-01", "2026-03-02", "2026-02-30", "x"}[r.IntN(5)]
	}
	s := Values([]string{"Drop depth", "", "ÄB"}[r.IntN(3)], []string{"m", "", "deg/s", "%"}[r.IntN(4)], values)
	if r.IntN(2) == 0 {
		s = s.In(players, sessions)
	}
	return s
}

func rowsOf(s Sample, width int) [][]float64 {
	var rows [][]float64
	for i := 0; i+width <= len(s.Values); i += width {
		rows = append(rows, s.Values[i:i+width])
	}
	return rows
}

// Whatever the numbers, every answer can be shown, says something, and holds no NaN.
func FuzzAnswersCanBeShown(f *testing.F) {
	for seed := range uint64(60) {
		f.Add(seed, uint8(seed/2))
	}
	f.Fuzz(func(t *testing.T, seed uint64, size uint8) {
		r := rand.New(rand.NewPCG(seed, 1))
		n := int(size % 40)
		x, y, z := hostile(r, n), hostile(r, n), hostile(r, int(size%7))
		quick := Resampling{Draws: 49, BySession: seed%2 == 0}
		noise := NoiseOf(x)
		a, b := CurveRows("Height", "m", rowsOf(x, 3)), CurveRows("Height", "m", rowsOf(y, 3))
		answers := map[string]result.Encoder{
			"mean": x.Mean(), "mean of sessions": x.MeanOfSessions(), "Welch": Welch(x, z), "paired": Paired(x, y),
			"g": HedgesG(x, z), "within": Within(x, y), "correlation": Correlation(x, y), "noise": noise,
			"retest": RetestOf(x, y), "agreement": AgreementOf(x, y), "bootstrap": quick.Of(x, "median", Median),
			"bootstrapped difference": quick.Difference(x, z, "mean", Mean), "change": ChangeOf(x, z, 0),
			"change that counts": ChangeOf(z, y, 1), "plan": ServesNeeded(1, noise, 0),
			"sessions": SessionsNeeded(1, x, 0), "ICC": ICC("Height", rowsOf(x, 3)), "regression": Regress(y, x),
			"robust": RobustRegress(y, x), "mixed": Mixed(x, y), "trend": TrendOf(x, y.Values, "day"),
			"session trend": SessionTrend(x), "shifts": ShiftsOf(x), "band": a.Band(), "curves": CompareCurves(a, b),
		}
		if len(a.Rows) == len(b.Rows) {
			answers["paired curves"] = PairedCurves(a, b)
		}
		if n < 12 {
			answers["permuted"], answers["permuted pairs"] = Permute(x, z), PermutePaired(x, y)
			answers["permuted within"] = PermuteWithin(x, y)
		}
		for name, answer := range answers {
			if !t.Run(name, func(t *testing.T) { noNaN(t, answer) }) {
				t.Logf("%v | %v | %v", x.Values, y.Values, z.Values)
			}
		}
	})
}
