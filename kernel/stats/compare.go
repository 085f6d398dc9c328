package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tossline/kernel/result"
	"tossline/kernel/words"
)

// Comparison is two samples of one measure beside each other.
type Comparison struct {
	Difference Estimate // mean of the first less mean of the second
	Effect     Estimate // Hedges g: the difference in standard deviations
	First      Estimate // mean of the first
	Second     Estimate
	T, DF, P   float64 // Student's t, its degrees of freedom, two-sided p; NaN where lacking
	Sentence   string
}

// String is the sentence.
func (c Comparison) String() string { return c.Sentence }

// Shown tells whether the interval of the difference excludes zero.
func (c Comparison) Shown() bool { return c.Difference.Excludes(0) }

// EncodeResult shows the difference, then the effect.
func (c Comparison) EncodeResult() (result.Result, []result.Attachment, error) {
	return encodeAll(c.Difference, c.Effect)
}

// Welch compares the means of two samples of serves without taking their spread as equal (Welch 1947; degrees of
// freedom of Satterthwaite 1946). Serves are taken as independent. The effect is that of [HedgesG].
func Welch(first, second Sample) Comparison {
	a, b := first.present(), second.present()
	c := newComparison(first, second, len(a)+len(b))
	c.Effect = HedgesG(first, second)
	d := c.Difference
	if why, more := tooFew(first, second); why != "" {
		if len(a) > 0 && len(b) > 0 && first.StandIn == second.StandIn {
			d.Value = Mean(a) - Mean(b)
		}
		return c.lacking(d, more, why)
	}
	d.Value = Mean(a) - Mean(b)
	va, vb := square(SD(a))/float64(len(a)), square(SD(b))/float64(len(b))
	if va+vb == 0 {
		return c.lacking(d, 0, "Neither side has any spread, so there is nothing to judge the difference by.")
	}
	df := square(va+vb) / (square(va)/float64(len(a)-1) + square(vb)/float64(len(b)-1))
	c.judge(d, math.Sqrt(va+vb), df)
	c.Sentence = fmt.Sprintf("%s: %s, %s. The difference is %s, %s: %s. %s%s", words.Capital(first.what()),
		sideInWords(first, c.First, "first"), sideInWords(second, c.Second, "second"), c.Difference.inWords(true),
		chance(c.P), c.verdict(), effectInWords(c.Effect), aside(first, second))
	c.Difference.Sentence = c.Sentence
	return c
}

// Paired compares two values of the same serves, sessions or players: value i of the first with value i of the second
// (Student 1908). Pairs with a missing value are left out. The effect is the mean difference over the root mean square
// of both standard deviations, so that it can be read beside that of [Welch]; its interval is that of Algina &
// Keselman 2003.
func Paired(first, second Sample) Comparison {
	a, b := bothKnown(first, second)
	diffs := differences(a, b)
	n := len(diffs)
	c := newComparison(a, b, n)
	d := c.Difference
	c.Effect = pairedEffect(a, b, diffs)
	d.Value = Mean(diffs)
	if n < 2 {
		return c.lacking(d, 2-n, fmt.Sprintf("%s with both values; at least 2 are needed, so %s would do.",
			words.Count(n, "pair"), more(2-n, "pair")))
	}
	sd := SD(diffs)
	if sd == 0 {
		return c.lacking(d, 0, "All pairs differ by the same amount, so there is no spread to judge by.")
	}
	c.judge(d, sd/math.Sqrt(float64(n)), float64(n-1))
	c.Sentence = fmt.Sprintf("%s: %s less %s is %s over %s, %s: %s. %s%s", words.Capital(first.what()),
		first.called("the first"), second.called("the second"), c.Difference.inWords(true), words.Count(n, "pair"),
		chance(c.P), c.verdict(), effectInWords(c.Effect), aside(first, second))
	c.Difference.Sentence = c.Sentence
	return c
}

// differences are those of the pairs of which both values are there.
func differences(first, second Sample) []float64 {
	a, b := bothKnown(first, second)
	diffs := make([]float64, len(a.Values))
	for i := range diffs {
		diffs[i] = a.Values[i] - b.Values[i]
	}
	return diffs
}

func newComparison(first, second Sample, n int) Comparison {
	nan := math.NaN()
	name := fmt.Sprintf("Difference in %s, %s less %s", first.what(), first.called("the first"),
		second.called("the second"))
	return Comparison{Difference: estimate(name, first.Unit, n), First: first.Mean(), Second: second.Mean(), T: nan,
		DF: nan, P: nan}
}

// judge fills in test and interval from the standard error of the difference.
func (c *Comparison) judge(d Estimate, se, df float64) {
	half := tQuantile(df) * se
	c.Difference = d.between(d.Value, d.Value-half, d.Value+half)
	c.T, c.DF = d.Value/se, df
	c.P = tChance(c.T, df)
}

func (c Comparison) lacking(d Estimate, more int, why string) Comparison {
	c.Difference = d.lacking(more, why)
	c.Sentence = c.Difference.Sentence
	return c
}

func (c Comparison) verdict() string {
	if c.Shown() {
		return "shown"
	}
	return "not shown"
}

func sideInWords(s Sample, mean Estimate, otherwise string) string {
	return fmt.Sprintf("%s %s (n = %d)", s.called(otherwise), amount(mean.Value, s.Unit, sidePlaces(mean), false),
		mean.N)
}

// sidePlaces are the decimals of a mean.
func sidePlaces(mean Estimate) int {
	if !mean.Sure() {
		return usual(mean.Value, mean.Unit)
	}
	return places(mean.High - mean.Low)
}

func effectInWords(g Estimate) string {
	if !g.Sure() {
		return g.Sentence
	}
	return fmt.Sprintf("In standard deviations: %s.", g.inWords(true))
}

// tooFew says why two samples cannot be compared, and how many more serves would do.
func tooFew(first, second Sample) (string, int) {
	if first.StandIn != second.StandIn && first.N() > 0 && second.N() > 0 {
		return "One side was measured from a stand-in (the hand for the racket) and the other was not; the two are " +
			"not compared.", 0
	}
	for i, s := range []Sample{first, second} {
		if n := s.N(); n < 2 {
			who := s.called([]string{"the first", "the second"}[i])
			return fmt.Sprintf("%s has %s with a value; at least 2 on each side are needed, so %s would do.",
				words.Capital(who), words.Count(n, "serve"), more(2-n, "serve")), 2 - n
		}
	}
	return "", 0
}

// more is "1 more serve", "3 more serves".
func more(n int, noun string) string {
	return fmt.Sprintf("%d more %s", n, words.Count(n, noun)[len(fmt.Sprint(n))+1:])
}

// HedgesG is the difference of two means in pooled standard deviations, freed of the bias of small samples (Hedges
// 1981, the exact factor). Its interval comes from the noncentral t distribution (Steiger & Fouladi 1997), corrected by
// the same factor.
func HedgesG(first, second Sample) Estimate {
	a, b := first.present(), second.present()
	e := estimate(fmt.Sprintf("Effect size (Hedges g) of %s", first.what()), "", len(a)+len(b))
	if why, more := tooFew(first, second); why != "" {
		return e.lacking(more, why)
	}
	na, nb := float64(len(a)), float64(len(b))
	df := na + nb - 2
	pooled := math.Sqrt(((na-1)*square(SD(a)) + (nb-1)*square(SD(b))) / df)
	if pooled <= leastSpread*max(math.Abs(Mean(a)), math.Abs(Mean(b))) {
		return e.lacking(0, "Neither side has any spread to measure the difference by.")
	}
	root := math.Sqrt(na * nb / (na + nb))
	d := (Mean(a) - Mean(b)) / pooled
	low, high := noncentrality(d*root, df)
	j := smallSample(df)
	return e.between(j*d, j*low/root, j*high/root)
}

// leastSpread is the part of a mean below which a standard deviation is what rounding leaves of none.
const leastSpread = 1e-12

func pairedEffect(a, b Sample, diffs []float64) Estimate {
	n := float64(len(diffs))
	e := estimate("Effect size (Hedges g, paired) of "+a.what(), "", len(diffs))
	if n < 2 {
		return e.lacking(2-len(diffs), "At least 2 pairs are needed.")
	}
	sd := SD(diffs)
	average := math.Sqrt((square(SD(a.Values)) + square(SD(b.Values))) / 2)
	if sd <= leastSpread*math.Abs(Mean(diffs)) || average == 0 {
		return e.lacking(0, "There is no spread to measure the difference by.")
	}
	low, high := noncentrality(Mean(diffs)/sd*math.Sqrt(n), n-1)
	j, scale := smallSample(n-1), sd/average/math.Sqrt(n)
	return e.between(j*Mean(diffs)/average, j*low*scale, j*high*scale)
}

// smallSample is Hedges' correction of a standardised difference with df degrees of freedom.
func smallSample(df float64) float64 {
	up, _ := math.Lgamma(df / 2)
	down, _ := math.Lgamma((df - 1) / 2)
	if df <= 1 {
		return 1 // not defined; the bias is without bound
	}
	return math.Exp(up-down) / math.Sqrt(df/2)
}

// noncentrality is the interval of the noncentrality of a t distribution of which t was drawn.
func noncentrality(t, df float64) (low, high float64) {
	at := func(p float64) float64 {
		exceeds := func(nc float64) float64 { return distuv.NoncentralT{Nu: df, Mu: nc}.CDF(t) - p }
		return falls(exceeds, t-1, t+1)
	}
	return at(0.5 + level/2), at(0.5 - level/2)
}

// falls finds where a falling function crosses zero, widening the bracket until it holds the crossing (regula falsi
// with the Illinois rule: Dowell & Jarratt 1971).
func falls(f func(float64) float64, low, high float64) float64 {
	above, below := f(low), f(high)
	for step := high - low; above < 0 && step < 1e6; step *= 2 {
		high, below = low, above
		low -= step
		above = f(low)
	}
	for step := high - low; below > 0 && step < 1e6; step *= 2 {
		low, above = high, below
		high += step
		below = f(high)
	}
	side := 0
	for range 200 {
		x := (low*below - high*above) / (below - above)
		y := f(x)
		if !(x > low && x < high) || high-low < 1e-12*max(1, math.Abs(x)) || y == 0 {
			return x
		}
		if y > 0 {
			if low, above = x, y; side > 0 {
				below /= 2
			}
			side = 1
		} else {
			if high, below = x, y; side < 0 {
				above /= 2
			}
			side = -1
		}
	}
	return (low + high) / 2
}

func square(x float64) float64 { return x * x }
