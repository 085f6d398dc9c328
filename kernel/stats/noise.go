package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tossline/kernel/result"
	"tossline/kernel/words"
)

// Noise is how much a measure differs without anything having changed.
type Noise struct {
	TypicalError Estimate // SD of one player's serves within a session; N counts serves
	CV           Estimate // typical error as % of the mean; only of measures that are never negative
	Worthwhile   Estimate // smallest worthwhile change between players: 0.2 true SDs between players
	Detectable   Estimate // smallest change between two single serves that exceeds the noise, 95 %
	Sentence     string

	df float64 // of the typical error
}

// String is the sentence.
func (n Noise) String() string { return n.Sentence }

// EncodeResult shows typical error, smallest worthwhile change and minimal detectable change.
func (n Noise) EncodeResult() (result.Result, []result.Attachment, error) {
	return encodeAll(n.TypicalError, n.Worthwhile, n.Detectable)
}

// DetectableOver is the smallest difference between two means of n serves each that exceeds the noise within sessions:
// 1.96 * sqrt 2 * typical error / sqrt n. What differs between sessions comes on top; see [Change].
func (n Noise) DetectableOver(serves int) float64 {
	return detectable * n.TypicalError.Value / math.Sqrt(float64(max(serves, 1)))
}

var detectable = distuv.UnitNormal.Quantile(0.5+level/2) * math.Sqrt2

// NoiseOf measures the noise of a measure from serves that were repeated: the typical error is the pooled SD of a
// player's serves within a session (Hopkins 2000), with the interval of chi squared. The smallest worthwhile change is
// 0.2 of the SD between players, after the noise of their means is taken off (Hopkins 2004), and needs 3 players; the
// minimal detectable change is 1.96 * sqrt 2 * typical error (Weir 2005).
func NoiseOf(s Sample) Noise {
	k := s.known()
	of, occasions := k.clusters()
	sizes := make([]int, occasions)
	for _, c := range of {
		sizes[c]++
	}
	df, repeated := 0, 0
	for _, size := range sizes {
		df += size - 1
		if size > 1 {
			repeated += size
		}
	}
	n := Noise{TypicalError: estimate("Typical error of "+s.what()+s.whose(), s.Unit, repeated),
		CV:         estimate("Typical error of "+s.what()+s.whose()+" as a share of the mean", "%", repeated),
		Worthwhile: estimate("Smallest worthwhile change of "+s.what(), s.Unit, len(k.ByPlayer())),
		Detectable: estimate("Minimal detectable change of "+s.what()+s.whose(), s.Unit, repeated), df: float64(df)}
	if df < 1 {
		return n.lacking(2, "No session has 2 serves of one player with a value; 2 in one session would do.")
	}
	te := math.Sqrt(innerSquares(k) / float64(df))
	if te == 0 {
		return n.lacking(0, "The serves of a session never differ, so there is no noise to measure.")
	}
	n.fill(te, float64(df), k)
	n.Worthwhile = worthwhile(n.Worthwhile, k, te)
	n.Sentence = fmt.Sprintf("From serve to serve within a session, %s%s varies by %s, its typical error: two single "+
		"serves must differ by %s before the difference exceeds the noise.%s", s.what(), s.whose(),
		n.TypicalError.inWords(false),
		amount(n.Detectable.Value, s.Unit, places(n.Detectable.High-n.Detectable.Low), false), aside(s))
	n.TypicalError.Sentence = n.Sentence
	return n
}

func (n Noise) lacking(more int, why string) Noise {
	n.TypicalError, n.CV = n.TypicalError.lacking(more, why), n.CV.lacking(more, why)
	n.Worthwhile, n.Detectable = n.Worthwhile.lacking(more, why), n.Detectable.lacking(more, why)
	n.Sentence = n.TypicalError.Sentence
	return n
}

// fill gives typical error, its share of the mean, and the detectable change.
func (n *Noise) fill(te, df float64, s Sample) {
	low, high := spreadFactors(df)
	n.TypicalError = n.TypicalError.between(te, te*low, te*high)
	n.Detectable = n.Detectable.between(detectable*te, detectable*te*low, detectable*te*high)
	mean := Mean(s.Values)
	if Quantile(s.Values, 0) < 0 || mean == 0 {
		n.CV = n.CV.lacking(0, "A share of the mean means nothing for a measure that can be negative or zero.")
		return
	}
	n.CV = n.CV.between(100*te/mean, 100*te*low/mean, 100*te*high/mean)
}

// spreadFactors times an SD with df degrees of freedom are its interval.
func spreadFactors(df float64) (low, high float64) {
	chi := distuv.ChiSquared{K: df}
	return math.Sqrt(df / chi.Quantile(0.5+level/2)), math.Sqrt(df / chi.Quantile(0.5-level/2))
}

// worthwhile takes the noise of the players' means off the spread between them. The interval is Satterthwaite's for the
// difference of two variances, and begins at 0 where they can't be told apart.
func worthwhile(e Estimate, s Sample, te float64) Estimate {
	players := s.ByPlayer()
	if len(players) < 3 {
		return e.lacking(0, fmt.Sprintf("The spread between players needs at least 3 players; here is %s.",
			words.Count(len(players), "player")))
	}
	means, inverse := make([]float64, len(players)), 0.0
	for i, p := range players {
		means[i] = Mean(p.Values)
		inverse += 1 / float64(p.N()) / float64(len(players))
	}
	seen, noise := square(SD(means)), te*te*inverse
	low, high := spreadFactors(float64(len(players) - 1))
	sd := func(variance float64) float64 { return 0.2 * math.Sqrt(max(variance, 0)) }
	if seen <= noise {
		return e.lacking(0, "The players differ no more than the noise would make them, so no worthwhile change can be "+
			"set from the spread between them.")
	}
	return e.between(sd(seen-noise), sd(seen*low*low-noise), sd(seen*high*high-noise))
}

// Retest is two measurements of the same players (or serves) from which nothing should have changed.
type Retest struct {
	Shift        Estimate // mean of the second less the first
	TypicalError Estimate // SD of the differences over sqrt 2
	Detectable   Estimate // minimal detectable change, 95 %
	Agreement    Agreement
	Sentence     string
}

// String is the sentence.
func (r Retest) String() string { return r.Sentence }

// EncodeResult shows shift, typical error and minimal detectable change.
func (r Retest) EncodeResult() (result.Result, []result.Attachment, error) {
	return encodeAll(r.Shift, r.TypicalError, r.Detectable)
}

// RetestOf measures noise from two trials: value i of the first and of the second belong to the same player or serve.
// The typical error is the SD of the differences over the square root of 2, from which a shift of all is taken off
// (Hopkins 2000).
func RetestOf(first, second Sample) Retest {
	p := Paired(second, first)
	a, _ := bothKnown(first, second)
	n := len(a.Values)
	r := Retest{Shift: p.Difference, Agreement: AgreementOf(second, first),
		TypicalError: estimate("Typical error of "+first.what()+" between trials", first.Unit, n),
		Detectable:   estimate("Minimal detectable change of "+first.what(), first.Unit, n)}
	r.Shift.Name = "Shift of " + first.what() + " between trials"
	if !p.Difference.Sure() {
		d := p.Difference
		r.TypicalError, r.Detectable = r.TypicalError.lacking(d.More, d.Lack), r.Detectable.lacking(d.More, d.Lack)
		r.Sentence = r.TypicalError.Sentence
		return r
	}
	noise := Noise{TypicalError: r.TypicalError, Detectable: r.Detectable}
	noise.fill(SD(differences(second, first))/math.Sqrt2, float64(n-1), a)
	r.TypicalError, r.Detectable = noise.TypicalError, noise.Detectable
	r.Sentence = fmt.Sprintf("Between two trials (%s), %s varies by %s, its typical error; all together moved by %s.",
		words.Count(n, "pair"), first.what(), r.TypicalError.inWords(false), r.Shift.inWords(true))
	r.TypicalError.Sentence = r.Sentence
	return r
}
