package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The intervals that say 95 % cover the true value in 93 to 97 % of samples.
func TestCoverage(t *testing.T) {
	normal := func(r *rand.Rand, n int, mean, sd float64) Sample {
		values := make([]float64, n)
		for i := range values {
			values[i] = mean + sd*r.NormFloat64()
		}
		return Values("x", "", values)
	}
	sessions := func(r *rand.Rand) Sample {
		p := player{random: r, day: 1, sd: 2}
		return p.serve(10, 5, 9, 12, 7, 3, 8)
	}
	players := func(r *rand.Rand, n, serves int, between, sd float64) [][]float64 {
		rows := make([][]float64, n)
		for k := range rows {
			rows[k] = normal(r, serves, between*r.NormFloat64(), sd).Values
		}
		return rows
	}
	paired := func(r *rand.Rand) (Sample, Sample) {
		a, b := normal(r, 9, 1, 1), normal(r, 9, 0, 0.5)
		for i := range a.Values {
			shared := r.NormFloat64()
			a.Values[i] += shared
			b.Values[i] += shared
		}
		return a, b
	}
	together := func(r *rand.Rand) (x, y Sample) {
		rx, ry := players(r, 6, 8, 5, 1), players(r, 6, 8, 0, 1)
		for k := range rx {
			shift := -5 * rx[k][0] // players differ the other way
			for i := range rx[k] {
				ry[k][i] += rx[k][i] + shift
			}
		}
		return grouped("x", "", rx), grouped("y", "", ry)
	}
	quick := Resampling{Draws: 599}
	cases := []struct {
		name  string
		truth float64
		runs  int
		draw  func(r *rand.Rand) Estimate
	}{
		{"mean of 6", 3, 1000, func(r *rand.Rand) Estimate { return normal(r, 6, 3, 2).Mean() }},
		{"mean of sessions", 10, 1000, func(r *rand.Rand) Estimate { return sessions(r).MeanOfSessions() }},
		{"Welch, 5 and 12", 1, 1000, func(r *rand.Rand) Estimate {
			return Welch(normal(r, 5, 1, 3), normal(r, 12, 0, 1)).Difference
		}},
		{"paired", 1, 1000, func(r *rand.Rand) Estimate {
			a, b := paired(r)
			return Paired(a, b).Difference
		}},
		{"Hedges g of 8 and 10", 0.8, 1000, func(r *rand.Rand) Estimate {
			return HedgesG(normal(r, 8, 0.8, 1), normal(r, 10, 0, 1))
		}},
		{"typical error", 2, 1000, func(r *rand.Rand) Estimate {
			return NoiseOf(grouped("x", "", players(r, 5, 4, 3, 2))).TypicalError
		}},
		{"within players", math.Sqrt(0.5), 1000, func(r *rand.Rand) Estimate {
			x, y := together(r)
			return Within(x, y).Within
		}},
		{"slope within players", 1, 1000, func(r *rand.Rand) Estimate {
			x, y := together(r)
			return Within(x, y).Slope
		}},
		{"ICC(1,1) of 10 by 4", 0.5, 1000, func(r *rand.Rand) Estimate {
			return ICC("x", players(r, 10, 4, 2, 2)).OneSingle
		}},
		{"lower limit of agreement of 20", -1.959963984540054, 1000, func(r *rand.Rand) Estimate {
			return AgreementOf(normal(r, 20, 0, 1), normal(r, 20, 0, 1e-9)).Lower
		}},
		{"bootstrapped mean of 60", 3, 400, func(r *rand.Rand) Estimate {
			return quick.Of(normal(r, 60, 3, 2), "mean", Mean)
		}},
		{"bootstrapped difference of 50 and 60", 1, 400, func(r *rand.Rand) Estimate {
			return quick.Difference(normal(r, 50, 1, 2), normal(r, 60, 0, 1), "mean", Mean)
		}},
		{"regression", 2, 1000, func(r *rand.Rand) Estimate {
			x, y := normal(r, 10, 0, 1), normal(r, 10, 0, 1)
			for i, v := range x.Values {
				y.Values[i] += 2 * v
			}
			return Regress(y, x).Coefficients[0]
		}},
		{"robust regression", 2, 1000, func(r *rand.Rand) Estimate {
			x, y := normal(r, 30, 0, 1), normal(r, 30, 0, 1)
			for i, v := range x.Values {
				y.Values[i] += 2 * v
			}
			return RobustRegress(y, x).Coefficients[0]
		}},
		{"trend", 0.3, 1000, func(r *rand.Rand) Estimate {
			s := normal(r, 12, 0, 1)
			for i := range s.Values {
				s.Values[i] += 0.3 * float64(i)
			}
			return TrendOf(s, upTo(12), "day").Slope
		}},
	}
	for k, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(uint64(k), 99))
			covered := 0.0
			for range c.runs {
				if e := c.draw(random); e.Low <= c.truth && c.truth <= e.High {
					covered++
				}
			}
			if share := covered / float64(c.runs); share < 0.93 || share > 0.97 {
				t.Errorf("the interval covers %g in %.1f %% of samples", c.truth, 100*share)
			}
		})
	}
}
