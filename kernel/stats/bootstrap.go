package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"tossline/kernel/words"
)

// Resampling says how to draw. The zero Resampling draws 4999 times from seed 1, without strata, and gives the BCa
// interval.
type Resampling struct {
	Draws      int    // 0: 4999
	Seed       uint64 // 0: 1
	Percentile bool   // the percentile interval in place of BCa
	BySession  bool   // draw within each session of each player, as many serves as it had
}

// Bootstrap is a statistic of a sample with the bias-corrected and accelerated interval (BCa: Efron 1987) of the zero
// [Resampling]. The statistic may be [Mean], [Median], [SD] or any function of values.
func Bootstrap(s Sample, name string, statistic func(values []float64) float64) Estimate {
	return Resampling{}.Of(s, name, statistic)
}

// BootstrapDifference is the statistic of the first less that of the second, with the BCa interval of the zero
// [Resampling].
func BootstrapDifference(first, second Sample, name string, statistic func(values []float64) float64) Estimate {
	return Resampling{}.Difference(first, second, name, statistic)
}

// Of is a statistic of a sample with its bootstrap interval. The name is that of the statistic: "median".
func (r Resampling) Of(s Sample, name string, statistic func(values []float64) float64) Estimate {
	e := estimate(words.Capital(name)+" of "+s.what()+s.whose(), s.Unit, s.N())
	whole := func(parts [][]float64) float64 { return statistic(slices.Concat(parts...)) }
	return r.run(e, r.strata(s), whole, s)
}

// Difference is a statistic of the first sample less that of the second, with its bootstrap interval.
func (r Resampling) Difference(first, second Sample, name string,
	statistic func(values []float64) float64) Estimate {
	e := estimate(fmt.Sprintf("Difference in %s of %s, %s less %s", name, first.what(), first.called("the first"),
		second.called("the second")), first.Unit, first.N()+second.N())
	if why, more := tooFew(first, second); why != "" {
		return e.lacking(more, why)
	}
	a, b := r.strata(first), r.strata(second)
	whole := func(parts [][]float64) float64 {
		return statistic(slices.Concat(parts[:len(a)]...)) - statistic(slices.Concat(parts[len(a):]...))
	}
	return r.run(e, slices.Concat(a, b), whole, first, second)
}

// strata are the parts to draw within.
func (r Resampling) strata(s Sample) [][]float64 {
	k := s.known()
	if !r.BySession {
		return [][]float64{k.Values}
	}
	of, n := k.clusters()
	parts := make([][]float64, n)
	for i, v := range k.Values {
		parts[of[i]] = append(parts[of[i]], v)
	}
	return parts
}

// fewest is how many serves a bootstrap needs: with fewer there are too few different draws for an interval.
const fewest = 5

func (r Resampling) run(e Estimate, strata [][]float64, statistic func([][]float64) float64, of ...Sample) Estimate {
	if e.N == 0 {
		return e.lacking(fewest, fmt.Sprintf("No serve has a value; %d would give an interval.", fewest))
	}
	e.Value = statistic(cloneAll(strata))
	if e.N < fewest {
		return e.lacking(fewest-e.N, fmt.Sprintf("%s; drawing again from so few gives no interval worth having. %s "+
			"would do.", words.Capital(words.Count(e.N, "serve")), words.Capital(more(fewest-e.N, "serve"))))
	}
	draws := r.draw(strata, statistic)
	if len(draws) == 0 || draws[0] == draws[len(draws)-1] {
		return e.lacking(0, "All draws give the same value, so there is no spread to judge by.")
	}
	low, high := 0.5-level/2, 0.5+level/2
	if !r.Percentile {
		low, high = bcaLevels(bias(draws, e.Value), acceleration(strata, statistic), low, high)
	}
	e = e.between(e.Value, drawQuantile(draws, low), drawQuantile(draws, high))
	e.Sentence = fmt.Sprintf("%s: %s, over %s.%s", e.Name, e.inWords(false), words.Count(e.N, "serve"), aside(of...))
	return e
}

// draw gives the sorted statistics of the draws that have one.
func (r Resampling) draw(strata [][]float64, statistic func([][]float64) float64) []float64 {
	random := r.random()
	drawn := cloneAll(strata)
	out := make([]float64, 0, r.draws())
	for range r.draws() {
		for k, part := range strata {
			if cap(drawn[k]) < len(part) {
				drawn[k] = make([]float64, len(part))
			}
			drawn[k] = drawn[k][:len(part)]
			for i := range part {
				drawn[k][i] = part[random.IntN(len(part))]
			}
		}
		if t := statistic(drawn); !missing(t) {
			out = append(out, t)
		}
	}
	slices.Sort(out)
	return out
}

func (r Resampling) draws() int {
	if r.Draws <= 0 {
		return 4999
	}
	return r.Draws
}

func (r Resampling) random() *rand.Rand {
	seed := r.Seed
	if seed == 0 {
		seed = 1
	}
	return rand.New(rand.NewPCG(seed, 0x7055))
}

// bias is the bias correction z0: where the estimate lies among the draws, ties counted half.
func bias(sorted []float64, value float64) float64 {
	below, _ := slices.BinarySearch(sorted, value)
	above := below
	for above < len(sorted) && sorted[above] == value {
		above++
	}
	share := (float64(below) + float64(above)) / 2 / float64(len(sorted))
	edge := 0.5 / float64(len(sorted))
	return distuv.UnitNormal.Quantile(min(max(share, edge), 1-edge))
}

// acceleration is the skewness of the jackknife values (Efron 1987, eq. 6.6; over several strata as Davison & Hinkley
// 1997, section 5.3.2, weigh them).
func acceleration(strata [][]float64, statistic func([][]float64) float64) float64 {
	cubes, squares := 0.0, 0.0
	left := slices.Clone(strata)
	for k, part := range strata {
		n := len(part)
		if n < 2 {
			continue
		}
		values := make([]float64, n)
		for i := range part {
			left[k] = slices.Concat(part[:i], part[i+1:])
			values[i] = statistic(left)
		}
		left[k] = part
		mean := stat.Mean(values, nil)
		for _, v := range values {
			influence := float64(n-1) / float64(n) * (mean - v)
			cubes += influence * influence * influence
			squares += influence * influence
		}
	}
	if squares == 0 || missing(cubes) {
		return 0
	}
	return cubes / (6 * math.Pow(squares, 1.5))
}

// bcaLevels are the levels among the draws at which the BCa interval ends (Efron 1987, eq. 3.8).
func bcaLevels(z0, a, low, high float64) (float64, float64) {
	at := func(p float64) float64 {
		z := z0 + distuv.UnitNormal.Quantile(p)
		return distuv.UnitNormal.CDF(z0 + z/(1-a*z))
	}
	return at(low), at(high)
}

// drawQuantile is a quantile of the draws, interpolated on the normal scale (Davison & Hinkley 1997, eq. 5.8).
func drawQuantile(sorted []float64, p float64) float64 {
	n := len(sorted)
	at := p * float64(n+1)
	k := int(at)
	switch {
	case k < 1:
		return sorted[0]
	case k >= n:
		return sorted[n-1]
	}
	z := distuv.UnitNormal.Quantile
	below, above := z(float64(k)/float64(n+1)), z(float64(k+1)/float64(n+1))
	return sorted[k-1] + (z(p)-below)/(above-below)*(sorted[k]-sorted[k-1])
}

func cloneAll(parts [][]float64) [][]float64 {
	out := make([][]float64, len(parts))
	for i, p := range parts {
		out[i] = slices.Clone(p)
	}
	return out
}
