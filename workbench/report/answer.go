package report

import (
	"math"

	"tossline/kernel/motion"
	"tossline/kernel/stats"
)

// answer is one question with its evidence.
type answer struct {
	kind     Kind
	measure  motion.Measure
	estimate stats.Estimate
	chance   float64 // adjusted, NaN where nothing could be asked
	noise    float64 // see noiseOf
	sentence string
	single   bool // single serves are compared, not sessions

	own, other stats.Sample // player and reference, or after and before
	told       bool         // among the findings
}

// enough is how many sessions each player needs for sessions to be compared.
const enough = 3

// ask asks every question, and adjusts the chances for asking so many.
func (q Question) ask(p parts) []*answer {
	var answers []*answer
	for _, m := range q.Measures {
		if m.ID == motion.SequenceOrder.ID || m.ID == motion.Stance.ID || !q.Serves.Has(m.Column()) {
			continue // an order or a class is no amount
		}
		noise := noiseOf(p, m)
		answers = append(answers, changed(m, p, noise))
		if q.Reference != "" {
			answers = append(answers, differs(q, m, p, noise))
		}
	}
	chances := make([]float64, len(answers))
	for k, a := range answers {
		chances[k] = a.chance
	}
	for k, chance := range stats.Holm(chances) {
		answers[k].chance = chance
	}
	return answers
}

// noiseOf is the larger of two noises: the player's typical error, and what a good marker system adds. NaN where the
// typical error isn't known.
func noiseOf(p parts, m motion.Measure) float64 {
	return math.Max(stats.NoiseOf(sample(p.player, m)).TypicalError.Value, m.Noise)
}

func changed(m motion.Measure, p parts, noise float64) *answer {
	before, after := sample(p.before, m), sample(p.after, m)
	c := stats.ChangeOf(before, after, noise)
	return &answer{kind: Changed, measure: m, estimate: c.Difference, chance: c.P, noise: noise, sentence: c.Sentence,
		own: after, other: before}
}

func differs(q Question, m motion.Measure, p parts, noise float64) *answer {
	own, other := sample(p.player, m), sample(p.reference, m)
	a := &answer{kind: Differs, measure: m, noise: noise, own: own, other: other}
	a.single = len(own.BySession()) < enough || len(other.BySession()) < enough
	x, y := own, other
	if !a.single {
		x, y = own.SessionMeans(), other.SessionMeans()
	}
	c := stats.Welch(x, y)
	a.estimate, a.chance = c.Difference, c.P
	a.sentence = differsInWords(q, a, c)
	return a
}

// shown tells whether there is evidence.
func (a *answer) shown() bool { return a.chance <= 0.05 && a.estimate.Excludes(0) }

// counts tells whether there is evidence of something that is as large as the noise.
func (a *answer) counts() bool { return a.shown() && a.times() >= 1 }

// times is the size in units of the noise, NaN where there is none.
func (a *answer) times() float64 {
	if !(a.noise > 0) {
		return math.NaN()
	}
	return math.Abs(a.estimate.Value) / a.noise
}

// verdict is why the answer is not among the findings, or "" where it is, be it as a part of height.
func (a *answer) verdict() Verdict {
	switch {
	case a.told:
		return ""
	case math.IsNaN(a.chance):
		return Lacking
	case a.counts():
		return Further
	case a.shown():
		return Small
	}
	return NotShown
}

// finding is the answer as it stands on the page.
func (a *answer) finding(q Question, p parts) Finding {
	e := a.estimate
	return Finding{Kind: a.kind, Measure: a.measure.ID, Headline: headline(q, a), Sentence: a.sentence, Value: e.Value,
		Low: e.Low, High: e.High, Unit: a.measure.Unit, Chance: a.chance, Noise: a.noise, Work: work(q, p, a),
		Check: check(p, a), Picture: a.picture(q)}
}
