package stats

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/combin"

	"tossline/kernel/result"
)

// Permutation is a test that asks how often chance alone would give as much.
type Permutation struct {
	Observed Estimate // the statistic, without an interval of its own: take it from Welch, Paired or Within
	P        float64  // two-sided; NaN where lacking
	Exact    bool     // all arrangements were tried
	Tried    int      // arrangements
	Lack     string
	Sentence string
}

// String is the sentence.
func (p Permutation) String() string { return p.Sentence }

// EncodeResult shows the observed statistic with the sentence.
func (p Permutation) EncodeResult() (result.Result, []result.Attachment, error) {
	return p.Observed.EncodeResult()
}

const (
	allArrangements = 20000 // at most so many are all tried; of more, some are drawn
	someOf          = 9999
)

// Permute tests whether two samples differ in their means by handing the serves out to both sides anew: every way where
// there are at most 20,000, else 9999 drawn ones (Fisher 1935; Phipson & Smyth 2010 for the p-value of draws). Serves
// must be exchangeable; where sessions matter, give the samples' SessionMeans.
func Permute(first, second Sample) Permutation {
	w := Welch(first, second)
	p := Permutation{Observed: w.Difference, P: math.NaN()}
	if why, more := tooFew(first, second); why != "" {
		return p.lacking(more, why)
	}
	a, b := first.present(), second.present()
	all := append(append([]float64{}, a...), b...)
	total := 0.0
	for _, v := range all {
		total += v
	}
	difference := func(sum float64) float64 { return sum/float64(len(a)) - (total-sum)/float64(len(b)) }
	sum := 0.0
	for _, v := range a {
		sum += v
	}
	t := tally{observed: difference(sum)}
	if ways := combin.GeneralizedBinomial(float64(len(all)), float64(len(a))); ways <= allArrangements {
		generator := combin.NewCombinationGenerator(len(all), len(a))
		for generator.Next() {
			sum := 0.0
			for _, i := range generator.Combination(nil) {
				sum += all[i]
			}
			t.count(difference(sum))
		}
		return p.judged(t, true)
	}
	random := Resampling{}.random()
	for range someOf {
		random.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
		sum := 0.0
		for _, v := range all[:len(a)] {
			sum += v
		}
		t.count(difference(sum))
	}
	return p.judged(t, false)
}

// PermutePaired tests whether pairs differ on average by turning pairs round: every way where there are at most 14
// pairs, else 9999 drawn ones (Fisher 1935).
func PermutePaired(first, second Sample) Permutation {
	c := Paired(first, second)
	p := Permutation{Observed: c.Difference, P: math.NaN()}
	diffs := differences(first, second)
	if !c.Difference.Sure() {
		return p.lacking(c.Difference.More, c.Difference.Lack)
	}
	t := tally{observed: Mean(diffs)}
	turned := func(turn func(i int) bool) float64 {
		sum := 0.0
		for i, d := range diffs {
			if turn(i) {
				d = -d
			}
			sum += d
		}
		return sum / float64(len(diffs))
	}
	if len(diffs) <= 14 {
		for way := range 1 << len(diffs) {
			t.count(turned(func(i int) bool { return way>>i&1 == 1 }))
		}
		return p.judged(t, true)
	}
	random := Resampling{}.random()
	for range someOf {
		t.count(turned(func(int) bool { return random.Uint64()&1 == 1 }))
	}
	return p.judged(t, false)
}

// PermuteWithin tests whether two measures go together within players by handing each player's values of the second
// out anew among the same player's serves, 9999 times. x must know its players.
func PermuteWithin(x, y Sample) Permutation {
	w := Within(x, y)
	p := Permutation{Observed: w.Within, P: math.NaN()}
	if !w.Within.Has() {
		return p.lacking(w.Within.More, w.Within.Lack)
	}
	x, y = bothKnown(x, y)
	y.Players = x.Players
	random := Resampling{}.random()
	members := playerPlaces(x)
	before := withinSums(x, y)
	t := tally{observed: before.xy}
	for range someOf {
		for _, places := range members {
			shuffle(random, y.Values, places)
		}
		t.count(crossSum(x.Values, y.Values, members))
	}
	return p.judged(t, false)
}

// playerPlaces are the places of each player's values.
func playerPlaces(s Sample) [][]int {
	var places [][]int
	for _, name := range playersOf(s) {
		var mine []int
		for i := range s.Values {
			if labelAt(s.Players, i) == name {
				mine = append(mine, i)
			}
		}
		places = append(places, mine)
	}
	return places
}

func shuffle(random *rand.Rand, values []float64, places []int) {
	random.Shuffle(len(places), func(i, j int) {
		values[places[i]], values[places[j]] = values[places[j]], values[places[i]]
	})
}

// crossSum is the sum of products about the players' means.
func crossSum(x, y []float64, members [][]int) float64 {
	total := 0.0
	for _, places := range members {
		sx, sy, sxy := 0.0, 0.0, 0.0
		for _, i := range places {
			sx, sy, sxy = sx+x[i], sy+y[i], sxy+x[i]*y[i]
		}
		total += sxy - sx*sy/float64(len(places))
	}
	return total
}

// tally counts arrangements that give at least as much as was observed.
type tally struct {
	observed    float64
	tried, much int
}

func (t *tally) count(x float64) {
	t.tried++
	if math.Abs(x) >= math.Abs(t.observed)*(1-1e-12) { // sums in another order round otherwise
		t.much++
	}
}

func (p Permutation) lacking(more int, why string) Permutation {
	p.Lack = why
	p.Observed = p.Observed.lacking(more, why)
	p.Sentence = p.Observed.Sentence
	return p
}

func (p Permutation) judged(t tally, exact bool) Permutation {
	p.Tried, p.Exact = t.tried, exact
	p.P = float64(t.much) / float64(t.tried)
	how := fmt.Sprintf("in all %d arrangements", t.tried)
	if !exact {
		p.P = float64(t.much+1) / float64(t.tried+1)
		how = fmt.Sprintf("in %d random arrangements", t.tried)
	}
	p.Sentence = fmt.Sprintf("%s: %s. Chance alone gives as much in %s %% of cases (permutation test, %s).",
		p.Observed.Name, p.Observed.inWords(true), number(100*p.P, percentPlaces(p.P), false), how)
	p.Observed.Sentence = p.Sentence
	return p
}

func percentPlaces(p float64) int {
	if p < 0.001 {
		return 3
	}
	return 1
}
