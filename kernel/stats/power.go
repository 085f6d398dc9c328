package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tossline/kernel/result"
)

// aim is the power that a plan aims at: the chance to show a difference that is there.
const aim = 0.8

// most is the largest number that a plan looks for; beyond it the answer is that more serves won't do.
const most = 5000

// Power is the chance that a two-sided test at 5 % between two groups of n serves each shows a difference, when serves
// vary with a standard deviation sd (noncentral t; Cohen 1988). It is NaN below two serves or without spread.
func Power(difference, sd float64, n int) float64 {
	if n < 2 || sd <= 0 || missing(difference) {
		return math.NaN()
	}
	return powerOf(difference, sd*math.Sqrt(2/float64(n)), float64(2*n-2))
}

// powerOf is the power of a t test of a difference with a standard error and degrees of freedom.
func powerOf(difference, se, df float64) float64 {
	shift, limit := math.Abs(difference)/se, tQuantile(df)
	if shift > 30 {
		return 1
	}
	if df > 1e4 { // the noncentral t has become normal, and its series slow
		z := distuv.UnitNormal
		return z.CDF(shift-limit) + z.CDF(-shift-limit)
	}
	t := distuv.NoncentralT{Nu: df, Mu: shift}
	return 1 - t.CDF(limit) + t.CDF(-limit)
}

// Plan says how many serves a comparison needs.
type Plan struct {
	Serves   int     // in each of both groups; 0 when more than 5000 would be needed
	Power    float64 // that these serves have
	Lack     string  // why there is no number
	Sentence string
}

// String is the sentence.
func (p Plan) String() string { return p.Sentence }

// EncodeResult shows the plan as a text.
func (p Plan) EncodeResult() (result.Result, []result.Attachment, error) {
	return result.Result{Kind: result.KindText, Text: p.Sentence}, nil, nil
}

// ServesNeeded is the number of serves in each of two groups that show a difference with a power of 80 % (or another,
// where power is above 0), when serves vary as the noise says.
func ServesNeeded(difference float64, noise Noise, power float64) Plan {
	if power <= 0 || power >= 1 {
		power = aim
	}
	sd, unit := noise.TypicalError.Value, noise.TypicalError.Unit
	if missing(sd) {
		return Plan{Lack: noise.TypicalError.Lack, Power: math.NaN(),
			Sentence: "How many serves are needed can't be said without the noise. " + noise.TypicalError.Lack}
	}
	wanted := amount(math.Abs(difference), unit, usual(difference, unit), false)
	n, found := smallest(2, most, func(n int) bool { return Power(difference, sd, n) >= power })
	if !found || difference == 0 {
		lack := fmt.Sprintf("A difference of %s is too small beside the noise of %s for any number of serves up to %d.",
			wanted, amount(sd, unit, usual(sd, unit), false), most)
		return Plan{Lack: lack, Power: math.NaN(), Sentence: lack}
	}
	p := Plan{Serves: n, Power: Power(difference, sd, n)}
	p.Sentence = fmt.Sprintf("To show a difference of %s with a chance of %.0f %%, beside a noise of %s from serve to "+
		"serve, %d serves on each side are needed, if sessions don't differ.", wanted, 100*p.Power,
		amount(sd, unit, usual(sd, unit), false), n)
	return p
}

// smallest is the least whole number from low to high at which a rising condition holds.
func smallest(low, high int, holds func(int) bool) (int, bool) {
	if !holds(high) {
		return 0, false
	}
	for low < high {
		middle := (low + high) / 2
		if holds(middle) {
			high = middle
		} else {
			low = middle + 1
		}
	}
	return low, true
}
