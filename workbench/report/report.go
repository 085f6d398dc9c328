package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tossline/kernel/motion"
	"tossline/kernel/stats"
	"tossline/kernel/table"
	"tossline/kernel/words"
)

// Question is what a report is about.
type Question struct {
	Recipe    string // its title
	Season    string
	Player    string
	Reference string           // "" for none
	Measures  []motion.Measure // that the recipe looked at
	// Serves has a row for each serve of the player and of the reference that the recipe looked at: the particulars,
	// the measures and the handles as motion.Season.Measure gives them, and perhaps the column block.
	Serves table.Table
}

// Report is the page as numbers and sentences.
type Report struct {
	Recipe    string    `json:"recipe"`
	Season    string    `json:"season"`
	Player    string    `json:"player"`
	Reference string    `json:"reference,omitempty"`
	Basis     string    `json:"basis"` // how many serves, of how many sessions, from when to when
	Findings  []Finding `json:"findings"`
	Rest      []Rest    `json:"rest"`
	Cautions  []string  `json:"cautions"`
	Questions int       `json:"questions"` // how many could be asked
}

// Kind is which of the two questions a finding answers.
type Kind string

// The kinds.
const (
	Changed Kind = "changed"
	Differs Kind = "differs from the reference"
)

// Finding is one finding, with what follows from it.
type Finding struct {
	Kind     Kind    `json:"kind"`
	Measure  string  `json:"measure"` // its ID
	Headline string  `json:"headline"`
	Sentence string  `json:"sentence"`
	Value    float64 `json:"value"`
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
	Unit     string  `json:"unit"`
	Chance   float64 `json:"chance"` // adjusted for all questions of the page
	Noise    float64 `json:"noise"`  // the player's typical error, or that of a marker system where it is larger
	Work     string  `json:"work"`
	Check    string  `json:"check"`

	Picture Picture `json:"-"`
}

// Verdict is why an answer is not among the findings.
type Verdict string

// The verdicts.
const (
	Further  Verdict = "shown, beside the three"
	Small    Verdict = "shown, but smaller than the noise"
	NotShown Verdict = "not shown"
	Lacking  Verdict = "could not be asked"
)

// Rest is one answer that is not among the findings.
type Rest struct {
	Kind     Kind    `json:"kind"`
	Measure  string  `json:"measure"`
	Title    string  `json:"title"`
	Verdict  Verdict `json:"verdict"`
	Sentence string  `json:"sentence"`
}

// most is how many findings a page holds.
const most = 3

// Of answers a question. A player without serves among those of the recipe is an error.
func Of(q Question) (Report, error) {
	r := Report{Recipe: q.Recipe, Season: q.Season, Player: q.Player, Reference: q.Reference, Findings: []Finding{},
		Rest: []Rest{}}
	if err := q.Serves.Err(); err != nil {
		return r, err
	}
	if len(q.Measures) == 0 {
		return r, fmt.Errorf("the recipe shows no measure of any serve, so there is nothing to report; take one " +
			"that does")
	}
	if q.Player == "" {
		return r, fmt.Errorf("a report is about one player; say which")
	}
	if q.Reference == q.Player {
		return r, fmt.Errorf("%s can't be the reference of a report about %s; choose another player, or none", q.Player,
			q.Player)
	}
	p := q.parts()
	if p.player.Len() == 0 {
		return r, fmt.Errorf("the recipe looked at no serve of %s; choose a player who served, or other settings",
			q.Player)
	}
	r.Basis = basis(q, p)
	answers := q.ask(p)
	for _, a := range answers {
		if !math.IsNaN(a.chance) {
			r.Questions++
		}
	}
	chosen := choose(answers)
	for _, a := range answers {
		a.told = slices.ContainsFunc(chosen, func(c *answer) bool { return c.kind == a.kind && c.base() == a.base() })
	}
	for _, a := range chosen {
		r.Findings = append(r.Findings, a.finding(q, p))
	}
	for _, a := range answers {
		if verdict := a.verdict(); verdict != "" {
			r.Rest = append(r.Rest, Rest{a.kind, a.measure.ID, a.measure.Title, verdict, a.sentence})
		}
	}
	r.Cautions = cautions(q, p, chosen)
	return r, nil
}

// parts are the serves by whose they are and when they were.
type parts struct {
	player, reference table.Table
	before, after     table.Table // of the player
}

func (q Question) parts() parts {
	none := q.Serves.First(0)
	p := parts{player: q.Serves.Where("player", q.Player), reference: none}
	if q.Reference != "" {
		p.reference = q.Serves.Where("player", q.Reference)
	}
	if q.Serves.Has("block") {
		p.before, p.after = p.player.Where("block", "before"), p.player.Where("block", "after")
		return p
	}
	days := p.player.OrderBy("session").Distinct("session")
	half := (len(days) + 1) / 2
	p.before, p.after = p.player.Where("session", days[:half]...), p.player.Where("session", days[half:]...)
	return p
}

// sessions is how many sessions serves are of.
func sessions(serves table.Table) int { return len(serves.Distinct("session")) }

// basis says what the page rests on.
func basis(q Question, p parts) string {
	text := q.Player + ": " + extent(p.player)
	if p.reference.Len() > 0 {
		text += " " + q.Reference + ": " + extent(p.reference)
	} else if q.Reference != "" {
		text += " " + q.Reference + " has no serve among those that the recipe looked at."
	}
	return text
}

// extent is "130 serves in 12 sessions, 7 February to 19 September 2026."
func extent(serves table.Table) string {
	text := words.Count(serves.Len(), "serve") + " in " + words.Count(sessions(serves), "session")
	if span := span(serves); span != "" {
		text += ", " + span
	}
	return text + "."
}

// choose puts the answers that are findings in their order, three at most.
func choose(answers []*answer) []*answer {
	var ranked []*answer
	for _, a := range answers {
		if a.counts() {
			ranked = append(ranked, a)
		}
	}
	slices.SortStableFunc(ranked, func(a, b *answer) int {
		switch {
		case a.times() > b.times():
			return -1
		case a.times() < b.times():
			return 1
		}
		return 0
	})
	if k := slices.IndexFunc(ranked, func(a *answer) bool { return a.kind == Changed }); k > 0 {
		own := ranked[k]
		ranked = slices.Insert(slices.Delete(ranked, k, k+1), 0, own)
	}
	var chosen []*answer
	measures, chapters := map[string]bool{}, map[string]bool{}
	for _, anyChapter := range []bool{false, true} {
		for _, a := range ranked {
			if len(chosen) < most && !measures[a.base()] && (anyChapter || !chapters[a.chapter()]) {
				measures[a.base()], chapters[a.chapter()] = true, true
				chosen = append(chosen, a)
			}
		}
	}
	return chosen
}

// chapter is the part of the serve that the measure is about.
func (a *answer) chapter() string {
	for _, c := range motion.Chapters() {
		if slices.ContainsFunc(c.Measures, func(m motion.Measure) bool { return m.ID == a.measure.ID }) {
			return c.Title
		}
	}
	return ""
}

// base is the measure, be it in metres or as a part of height.
func (a *answer) base() string { return strings.TrimSuffix(a.measure.ID, "_of_height") }

// sample is one measure of serves.
func sample(serves table.Table, m motion.Measure) stats.Sample { return stats.Of(serves, m.Column()) }
