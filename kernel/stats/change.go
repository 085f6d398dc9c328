package stats

import (
	"fmt"
	"math"

	"tossline/kernel/result"
	"tossline/kernel/words"
)

// Verdict is the answer to "did it change?".
type Verdict string

// The verdicts.
const (
	Changed   Verdict = "changed"           // the interval excludes no change
	NotShown  Verdict = "not shown"         // a change that counts would have shown, and did not
	NeedsMore Verdict = "needs more serves" // there are too few to say either
)

// Change is a follow-up: a player's serves after something beside those before, against the player's own noise.
type Change struct {
	Verdict    Verdict
	Difference Estimate // after less before; N counts serves
	Before     Estimate // mean of sessions; N counts sessions
	After      Estimate
	Worthwhile float64 // the change that counts, in the unit of the measure; NaN where it isn't known
	Power      float64 // chance that these serves would have shown a change that counts; NaN where not known
	P, DF      float64 // two-sided p, and degrees of freedom; NaN where lacking
	Sessions   int     // how many more sessions would do, 0 where none are needed or none would do
	Serves     int     // how many more serves that is
	Sentence   string
}

// String is the sentence.
func (c Change) String() string { return c.Sentence }

// EncodeResult shows the difference with the verdict.
func (c Change) EncodeResult() (result.Result, []result.Attachment, error) {
	return c.Difference.EncodeResult()
}

// ChangeOf compares the serves of one player before and after, with the noise of both serves and sessions.
//
// Serves of one session share its day; a difference between two days is no change yet. So each session counts as one
// value, its mean, and the two groups of means are compared by Student's t with pooled variance (the summary-measures
// analysis of clustered data: Donner & Klar 2000). That takes 3 sessions in all; where no sessions are known, serves
// are taken as independent.
//
// worthwhile is the size of the change that counts; at 0 or below it is the player's typical error, by which one serve
// differs from another of the same session anyway. The verdict is Changed when the 95 % interval excludes 0; NotShown
// when it doesn't although it lies within the change that counts, or such a change would have shown with a chance of
// 80 %; else NeedsMore, with the number of sessions after, as large as those already there, that raise the chance to
// 80 %.
func ChangeOf(before, after Sample, worthwhile float64) Change {
	before, after = before.known(), after.known()
	nan := math.NaN()
	c := Change{Verdict: NeedsMore, Before: before.MeanOfSessions(), After: after.MeanOfSessions(),
		Worthwhile: worthwhile, Power: nan, P: nan, DF: nan,
		Difference: estimate("Change of "+before.what()+before.whose(), before.Unit, before.N()+after.N())}
	if before.StandIn != after.StandIn && before.N() > 0 && after.N() > 0 {
		return c.lacking(0, 0, "One side was measured from a stand-in (the hand for the racket) and the other was not; "+
			"the two are not compared.")
	}
	if before.N() == 0 || after.N() == 0 {
		side := map[bool]string{true: "before", false: "after"}[before.N() == 0]
		return c.lacking(1, usualServes(before, after), fmt.Sprintf("No serve %s has a value; 1 session would be a "+
			"beginning.", side))
	}
	m := meansOf(before, after)
	if !(worthwhile > 0) {
		c.Worthwhile = m.serveSD
	}
	c.Difference.Value = m.after - m.before
	if short := m.shortOf(); short > 0 {
		return c.lacking(short, short*m.size, m.whyShort(short))
	}
	if m.variance == 0 {
		return c.lacking(0, 0, fmt.Sprintf("The %ss never differ, so there is no noise to judge by.", m.noun))
	}
	c.judge(m)
	c.say(m, before, after)
	return c
}

func (c Change) lacking(sessions, serves int, why string) Change {
	c.Sessions, c.Serves = sessions, serves
	if !(c.Worthwhile > 0) {
		c.Worthwhile = math.NaN()
	}
	c.Difference = c.Difference.lacking(serves, why)
	c.Sentence = c.Difference.Sentence
	return c
}

// blocks are two groups of units that are independent: sessions, or serves where sessions aren't known.
type blocks struct {
	noun          string
	k, l          int // units before, after
	before, after float64
	variance      float64 // pooled, of a unit
	serveSD       float64 // of serves within sessions; NaN where no session has two
	size          int     // usual number of serves in a unit
}

func meansOf(before, after Sample) blocks {
	b := blocks{noun: "session", size: usualServes(before, after)}
	x, y := before.occasionMeans(), after.occasionMeans()
	if before.Sessions == nil && after.Sessions == nil {
		b.noun, x, y = "serve", before.Values, after.Values
	}
	b.k, b.l, b.before, b.after = len(x), len(y), Mean(x), Mean(y)
	if df := b.k + b.l - 2; df > 0 {
		b.variance = (sumSquares(x) + sumSquares(y)) / float64(df)
	}
	b.serveSD = math.Sqrt((innerSquares(before) + innerSquares(after)) / float64(before.N()+after.N()-b.k-b.l))
	if b.noun == "serve" {
		b.serveSD = math.Sqrt(b.variance)
	}
	return b
}

// usualServes is the mean number of serves in a session.
func usualServes(before, after Sample) int {
	_, k := before.clusters()
	_, l := after.clusters()
	if before.Sessions == nil && after.Sessions == nil || k+l == 0 {
		return 1
	}
	return int(math.Round(float64(before.N()+after.N()) / float64(k+l)))
}

// shortOf is how many units are missing for an interval.
func (b blocks) shortOf() int { return max(3-b.k-b.l, 0) }

func (b blocks) whyShort(short int) string {
	return fmt.Sprintf("With %s before and %s after, a change can't be told from how one %s differs from the next; %s "+
		"would do for a first interval.", words.Count(b.k, b.noun), words.Count(b.l, b.noun), b.noun, more(short, b.noun))
}

func (b blocks) standardError(moreAfter int) (se, df float64) {
	k, l := float64(b.k), float64(b.l+moreAfter)
	return math.Sqrt(b.variance * (1/k + 1/l)), k + l - 2
}

// judge decides.
func (c *Change) judge(b blocks) {
	se, df := b.standardError(0)
	half := tQuantile(df) * se
	c.Difference = c.Difference.between(c.Difference.Value, c.Difference.Value-half, c.Difference.Value+half)
	c.DF, c.P = df, tChance(c.Difference.Value/se, df)
	if !missing(c.Worthwhile) && c.Worthwhile > 0 {
		c.Power = powerOf(c.Worthwhile, se, df)
	}
	inside := c.Difference.Low > -c.Worthwhile && c.Difference.High < c.Worthwhile
	switch {
	case c.Difference.Excludes(0):
		c.Verdict = Changed
	case inside || c.Power >= aim:
		c.Verdict = NotShown
	default:
		enough := func(n int) bool {
			se, df := b.standardError(n)
			return powerOf(c.Worthwhile, se, df) >= aim
		}
		if missing(c.Worthwhile) {
			return
		}
		if n, ok := smallest(1, mostSessions, enough); ok {
			c.Sessions, c.Serves = n, n*b.size
		}
	}
}

// say puts the verdict into words.
func (c *Change) say(b blocks, before, after Sample) {
	measured := places(c.Difference.High - c.Difference.Low)
	counts := amount(c.Worthwhile, before.Unit, measured, false)
	text := fmt.Sprintf("%s%s went from %s (%s) to %s (%s): a difference of %s, %s. ", words.Capital(before.what()),
		before.whose(), number(b.before, measured, false), inUnits(b.noun, b.k, before.N()),
		amount(b.after, before.Unit, measured, false), inUnits(b.noun, b.l, after.N()), c.Difference.inWords(true),
		chance(c.P))
	switch {
	case c.Verdict == Changed && c.reaches(c.Worthwhile):
		text += fmt.Sprintf("Changed, and by more than the %s that counts.", counts)
	case c.Verdict == Changed && math.Max(-c.Difference.Low, c.Difference.High) < c.Worthwhile:
		text += fmt.Sprintf("Changed, but by less than the %s that counts.", counts)
	case c.Verdict == Changed:
		text += "Changed"
		if c.Worthwhile > 0 {
			text += fmt.Sprintf("; whether by the %s that counts is open", counts)
		}
		text += "."
	case c.Verdict == NotShown:
		text += fmt.Sprintf("A change is not shown; one of %s, which counts, ", counts)
		if c.Power >= aim {
			text += fmt.Sprintf("would have shown with a chance of %.0f %%.", math.Floor(100*c.Power))
		} else {
			text += "is ruled out by the interval."
		}
	case c.Sessions > 0:
		text += fmt.Sprintf("A change is not shown, but one of %s, which counts, could have been missed: %s after%s "+
			"would show it with a chance of 80 %%.", counts, more(c.Sessions, b.noun), ofServes(b.noun, c.Serves))
	case missing(c.Worthwhile):
		text += "A change is not shown. No session has 2 serves, so it can't be said which change counts."
	default:
		text += "A change is not shown, but one that counts could have been missed; with so few before, more serves " +
			"after won't settle it."
	}
	c.Sentence = text + aside(before, after)
	c.Difference.Sentence = c.Sentence
	c.Difference.More = c.Serves
}

// reaches tells whether the whole interval lies beyond a size.
func (c *Change) reaches(size float64) bool {
	return c.Difference.Low > size || c.Difference.High < -size
}

func inUnits(noun string, units, serves int) string {
	if noun == "serve" {
		return words.Count(units, noun)
	}
	return words.Count(units, noun) + ", " + words.Count(serves, "serve")
}

func ofServes(noun string, serves int) string {
	if noun == "serve" {
		return ""
	}
	return fmt.Sprintf(" (%d serves)", serves)
}

func sumSquares(values []float64) float64 {
	if len(values) < 2 {
		return 0
	}
	return square(SD(values)) * float64(len(values)-1)
}

// innerSquares are the squares about the means of the sessions.
func innerSquares(s Sample) float64 {
	total := 0.0
	of, _ := s.clusters()
	means := s.occasionMeans()
	for i, v := range s.Values {
		total += square(v - means[of[i]])
	}
	return total
}
