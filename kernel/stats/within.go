package stats

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"tossline/kernel/result"
	"tossline/kernel/words"
)

// WithinCorrelation tells how two measures go together within players, and beside it what the pooled serves of all
// players would have said.
type WithinCorrelation struct {
	Within   Estimate // repeated-measures correlation; N counts serves
	Slope    Estimate // common slope: change of the second measure for one unit of the first, within players
	Pooled   Estimate // correlation of all serves regardless of the player; not an answer, a warning
	Between  Estimate // correlation of the players' means
	Players  int      // players with at least two serves that have both measures
	DF, P    float64  // of Within; NaN where lacking
	Sentence string
}

// String is the sentence.
func (w WithinCorrelation) String() string { return w.Sentence }

// EncodeResult shows the correlation within players, its slope, then the pooled one.
func (w WithinCorrelation) EncodeResult() (result.Result, []result.Attachment, error) {
	return encodeAll(w.Within, w.Slope, w.Pooled)
}

// Within correlates two measures of the same serves within players: every player has an own level, and all have one
// slope (repeated-measures correlation: Bland & Altman 1995; Bakdash & Marusich 2017, whose interval by Fisher's z is
// used). x must know its players. Players with fewer than two serves that have both measures are left out.
func Within(x, y Sample) WithinCorrelation {
	x, y = bothKnown(x, y)
	counts := map[string]int{}
	for i := range x.Values {
		counts[labelAt(x.Players, i)]++
	}
	enough := func(i int) bool { return counts[labelAt(x.Players, i)] >= 2 }
	pooled := correlation("Pooled correlation of "+x.what()+" and "+y.what(), x.Values, y.Values)
	between := betweenPlayers(x, y)
	players := x.Players
	x, y = x.keep(enough), y.keep(func(i int) bool { return counts[labelAt(players, i)] >= 2 })

	sums := withinSums(x, y)
	n := len(x.Values)
	df := n - sums.players - 1
	nan := math.NaN()
	w := WithinCorrelation{Pooled: pooled, Between: between, Players: sums.players, DF: nan, P: nan,
		Within: estimate("Correlation of "+x.what()+" and "+y.what()+" within players", "", n),
		Slope:  estimate(fmt.Sprintf("Change of %s for one %s of %s", y.what(), unitOr(x.Unit), x.what()), y.Unit, n)}
	if df < 2 {
		return w.lacking(3-max(df, -1), fmt.Sprintf("%s of %s with both measures, of which each player's level takes "+
			"one; %s would do.", words.Capital(words.Count(n, "serve")), words.Count(sums.players, "player"),
			more(3-max(df, -1), "serve")))
	}
	if sums.xx == 0 || sums.yy == 0 {
		return w.lacking(0, "One of the measures does not vary within any player.")
	}
	r := sums.xy / math.Sqrt(sums.xx*sums.yy)
	low, high := fisher(r, float64(df-1))
	w.Within = w.Within.between(r, low, high)
	slope := sums.xy / sums.xx
	se := math.Sqrt(max(sums.yy-slope*sums.xy, 0) / float64(df) / sums.xx)
	w.Slope = w.Slope.between(slope, slope-tQuantile(float64(df))*se, slope+tQuantile(float64(df))*se)
	w.DF = float64(df)
	w.P = tChance(slope/se, w.DF)
	w.say(x, y)
	return w
}

// unitOr is one unit in words: "m", "degree"; "unit" where there is none.
func unitOr(unit string) string {
	switch unit {
	case "":
		return "unit"
	case "deg":
		return "degree"
	}
	return strings.ReplaceAll(unit, "deg", "°")
}

func (w WithinCorrelation) lacking(more int, why string) WithinCorrelation {
	w.Within, w.Slope = w.Within.lacking(more, why), w.Slope.lacking(more, why)
	w.Sentence = w.Within.Sentence
	return w
}

func (w *WithinCorrelation) say(x, y Sample) {
	shown, direction := "not shown", ""
	if w.Within.Excludes(0) {
		shown = "shown"
		direction = fmt.Sprintf(" Serves with more %s have %s %s.", x.what(), moreOrLess(w.Within.Value), y.what())
	}
	w.Sentence = fmt.Sprintf("Within players, %s and %s correlate with r = %s, %s, over %s of %s: %s.%s", x.what(),
		y.what(), w.Within.inWords(true), chance(w.P), words.Count(w.Within.N, "serve"), words.Count(w.Players, "player"), shown,
		direction)
	w.Within.Sentence = w.Sentence
	if !w.Pooled.Sure() || w.Players < 2 {
		return
	}
	w.Pooled.Sentence = fmt.Sprintf("All serves pooled, regardless of the player: r = %s. This mixes differences "+
		"between players with what changes from serve to serve, and is no answer to the question.",
		w.Pooled.inWords(true))
	if w.Pooled.Value*w.Within.Value < 0 {
		w.Pooled.Sentence += " Here it even points the other way."
	}
}

func moreOrLess(x float64) string {
	if x < 0 {
		return "less"
	}
	return "more"
}

// sums of squares and products about each player's means.
type sums struct {
	xx, yy, xy float64
	players    int
}

func withinSums(x, y Sample) sums {
	var s sums
	for _, name := range playersOf(x) {
		mine := func(i int) bool { return labelAt(x.Players, i) == name }
		px, py := x.keep(mine).Values, y.keep(mine).Values
		mx, my := stat.Mean(px, nil), stat.Mean(py, nil)
		for i := range px {
			s.xx += (px[i] - mx) * (px[i] - mx)
			s.yy += (py[i] - my) * (py[i] - my)
			s.xy += (px[i] - mx) * (py[i] - my)
		}
		s.players++
	}
	return s
}

// playersOf are the labels of players, the unknown one included, in the order of their first values.
func playersOf(s Sample) []string {
	var names []string
	seen := map[string]bool{}
	for i := range s.Values {
		if name := labelAt(s.Players, i); !seen[name] {
			seen[name] = true
			names = append(names, name)
		}
	}
	return names
}

func betweenPlayers(x, y Sample) Estimate {
	var mx, my []float64
	for _, name := range playersOf(x) {
		mine := func(i int) bool { return labelAt(x.Players, i) == name }
		mx, my = append(mx, Mean(x.keep(mine).Values)), append(my, Mean(y.keep(mine).Values))
	}
	return correlation("Correlation of the players' means of "+x.what()+" and "+y.what(), mx, my)
}

// Correlation is Pearson's correlation of two measures of the same serves, taken as independent, with the interval by
// Fisher's z. For serves of several players use [Within].
func Correlation(x, y Sample) Estimate {
	x, y = bothKnown(x, y)
	return correlation("Correlation of "+x.what()+" and "+y.what(), x.Values, y.Values)
}

func correlation(name string, x, y []float64) Estimate {
	e := estimate(name, "", len(x))
	if len(x) < 4 {
		return e.lacking(4-len(x), fmt.Sprintf("%s; a correlation with an interval needs 4.",
			words.Capital(words.Count(len(x), "pair")+" of values")))
	}
	r := stat.Correlation(x, y, nil)
	if missing(r) {
		return e.lacking(0, "One of the two does not vary.")
	}
	low, high := fisher(r, float64(len(x)-3))
	return e.between(r, low, high)
}

// fisher is the interval of a correlation by Fisher's z (Fisher 1921), whose variance is 1/k.
func fisher(r, k float64) (low, high float64) {
	half := distuv.UnitNormal.Quantile(0.5+level/2) / math.Sqrt(k)
	z := math.Atanh(r)
	return math.Tanh(z - half), math.Tanh(z + half)
}
