package stats

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tossline/kernel/result"
	"tossline/kernel/words"
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
	Serves   int     // in each of both groups, or in all new sessions; 0 where no number would do
	Sessions int     // new ones, of SessionsNeeded
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

// SessionsNeeded is the number of new sessions, each of a number of serves (0: as many as usual), that show a change of
// a size from one player's serves so far with a power of 80 %, judged as [ChangeOf] does: with the noise of serves and
// of sessions.
func SessionsNeeded(change float64, soFar Sample, serves int) Plan {
	s := soFar.known()
	b := meansOf(s, s.keep(func(int) bool { return false }))
	if serves <= 0 {
		serves = max(b.size, 1)
	}
	if b.k < 2 || s.Sessions == nil {
		return s.noPlan(fmt.Sprintf("How sessions differ is known from 2 sessions on; here is %s.",
			words.Count(len(distinct(s.Sessions)), "session")))
	}
	day := b.variance // without serves that were repeated in a session, all noise counts as that of sessions
	fresh := day
	if !missing(b.serveSD) {
		day = max(day-square(b.serveSD)*s.inverseServes(), 0)
		fresh = day + square(b.serveSD)/float64(serves)
	}
	if b.variance == 0 || change == 0 {
		return s.noPlan("Without any noise, or for no change at all, no number of sessions can be given.")
	}
	power := func(sessions int) float64 {
		se := math.Sqrt(b.variance/float64(b.k) + fresh/float64(sessions))
		return powerOf(change, se, float64(b.k+sessions-2))
	}
	wanted := amount(math.Abs(change), s.Unit, usual(change, s.Unit), false)
	n, found := smallest(1, mostSessions, func(n int) bool { return power(n) >= aim })
	if !found {
		return s.noPlan(fmt.Sprintf("A change of %s is too small beside the noise of the %d sessions so far for any number "+
			"of new ones up to %d.", wanted, b.k, mostSessions))
	}
	p := Plan{Serves: n * serves, Sessions: n, Power: power(n)}
	p.Sentence = fmt.Sprintf("A change of %s in %s%s would show with a chance of %.0f %% after %s of %s.", wanted,
		s.what(), s.whose(), 100*p.Power, words.Count(n, "new session"), words.Count(serves, "serve"))
	return p
}

// mostSessions is the largest number of new sessions that is looked for.
const mostSessions = 60

func (s Sample) noPlan(why string) Plan {
	return Plan{Lack: why, Power: math.NaN(), Sentence: fmt.Sprintf("How many sessions would show a change of %s%s can't "+
		"be said. %s", s.what(), s.whose(), why)}
}

// inverseServes is the mean over sessions of 1 over their serves.
func (s Sample) inverseServes() float64 {
	of, n := s.clusters()
	sizes := make([]float64, n)
	for _, c := range of {
		sizes[c]++
	}
	sum := 0.0
	for _, size := range sizes {
		sum += 1 / size
	}
	return sum / float64(n)
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
