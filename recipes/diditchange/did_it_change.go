// Did it change?
//
// Whether one of a player's measures is different after something (a block of work, a new racket, a break) than it was
// before, judged against the player's own noise.
//
// Every session counts as one value, its mean: serves of one day share its court, balls and legs, and thirty serves of
// one afternoon say nothing about the next. So a change needs several sessions on both sides before it can be told
// from the way that one day differs from another. There are three answers: changed; not shown, although a change that
// counts would have been seen; and too few sessions to say either, with the number that would do.
//
// Choose measure, blocks and the change that counts before you look at the numbers. Who tries all measures finds one
// that changed by chance; the table of all measures below is adjusted for that, the answer at the top is not.
package recipe

import (
	"errors"
	"fmt"

	"tossline/kernel/chart"
	"tossline/kernel/motion"
	"tossline/kernel/stats"
	"tossline/kernel/table"
)

// Settings of this recipe.
type Settings struct {
	Player  string  `from:"players"`                              // Player to look at.
	Measure string  `from:"measures" default:"contact_offset"`    // Measure that should have changed.
	From    string  `from:"sessions" default:""`                  // First session before.
	Until   string  `from:"sessions" default:""`                  // Last session before.
	After   string  `from:"sessions" default:""`                  // First session after.
	To      string  `from:"sessions" default:""`                  // Last session after.
	Counts  float64 `min:"0" max:"1000" step:"0.001" default:"0"` // Change that counts; 0 is the own noise.
}

// The answer
//
// After less before, with its 95 % interval. Without a last session before or a first session after, the player's
// sessions are halved. The change that counts is yours to say, in the unit of the measure; where you don't, it is the
// noise: the typical error, the spread from serve to serve within a session.
func Answer(serves table.Table, settings Settings) (stats.Change, error) {
	m, err := chosen(settings)
	if err != nil {
		return stats.Change{}, err
	}
	before, after := blocks(serves)
	return change(before, after, m, settings), nil
}

// blocks are the serves before and those after.
func blocks(serves table.Table) (before, after table.Table) {
	return serves.Where("block", "before"), serves.Where("block", "after")
}

// change compares the two blocks in one measure.
func change(before, after table.Table, m motion.Measure, settings Settings) stats.Change {
	return stats.ChangeOf(stats.Of(before, m.Column()).Named(settings.Player),
		stats.Of(after, m.Column()).Named(settings.Player), settings.Counts)
}

// chosen is the measure of the settings.
func chosen(settings Settings) (motion.Measure, error) {
	m, found := motion.Lookup(settings.Measure)
	if !found {
		return m, fmt.Errorf("no measure %q; choose one in the settings", settings.Measure)
	}
	return m, nil
}

// Session by session
//
// The mean of each session with its 95 % interval over its serves, and the single serves behind it. A step between the
// blocks looks different from a slope through both: a slope was under way before anything was done.
func Sessions(serves table.Table, settings Settings) (chart.Chart, error) {
	m, err := chosen(settings)
	return chart.Course(serves, m.Column(), "block").Highlight("after"), err
}

// The trend
//
// How much the sessions of both blocks together have moved in a month. Where the trend is as large as the change, the
// change may have been on its way before anything was done.
func Trend(serves table.Table, settings Settings) (stats.Trend, error) {
	m, err := chosen(settings)
	if err != nil {
		return stats.Trend{}, err
	}
	return stats.SessionTrend(stats.Of(serves, m.Column())), nil
}

// Before and after
//
// The mean of the sessions of each block with its 95 % interval. Two intervals may overlap a little and the change be
// shown all the same: the answer above is the test, this is the picture.
func Blocks(serves table.Table, settings Settings) (chart.Chart, error) {
	m, err := chosen(settings)
	if err != nil {
		return chart.Chart{}, err
	}
	var mean, low, high []float64
	for _, block := range []string{"before", "after"} {
		e := stats.Of(serves.Where("block", block), m.Column()).MeanOfSessions()
		mean, low, high = append(mean, e.Value), append(low, e.Low), append(high, e.High)
	}
	both := table.New(table.Text("block", []string{"before", "after"}),
		table.Number("mean", m.Unit, mean).Titled(m.Title),
		table.Number("low", m.Unit, low), table.Number("high", m.Unit, high))
	return chart.Intervals(both, "block", "mean", "low", "high").Highlight("after"), nil
}

// The player's noise
//
// What two serves of the same session differ by without anything having changed. A single serve on the court tells no
// change that is smaller.
func Noise(serves table.Table, settings Settings) (stats.Noise, error) {
	m, err := chosen(settings)
	if err != nil {
		return stats.Noise{}, err
	}
	return stats.NoiseOf(stats.Of(serves, m.Column())), nil
}

// All measures
//
// The same question asked of every measure. The column of the chance is adjusted for asking so many (Holm 1979): at or
// below 0.05 a change is shown even so. Those with a change of less are ideas for the next block, no findings of this
// one. The change that counts is the own noise for each.
func Everything(serves table.Table, settings Settings) table.Table {
	settings.Counts = 0
	var names, units, verdicts, lack []string
	var before, after, difference, low, high, chance []float64
	var more []int64
	earlier, later := blocks(serves)
	for _, m := range motion.All() {
		if m.ID == motion.SequenceOrder.ID || m.ID == motion.Stance.ID {
			continue // an order or a class is no amount
		}
		c := change(earlier, later, m, settings)
		names, units = append(names, m.Title), append(units, m.Unit)
		before, after = append(before, c.Before.Value), append(after, c.After.Value)
		difference = append(difference, c.Difference.Value)
		low, high = append(low, c.Difference.Low), append(high, c.Difference.High)
		verdicts, chance = append(verdicts, string(c.Verdict)), append(chance, c.P)
		more, lack = append(more, int64(c.Sessions)), append(lack, c.Difference.Lack)
	}
	chance = stats.Holm(chance)
	for k := range verdicts {
		if verdicts[k] == string(stats.Changed) && chance[k] > 0.05 {
			verdicts[k] = "not shown among so many"
		}
	}
	return table.New(table.Text("measure", names).Titled("Measure"), table.Text("unit", units).Titled("Unit"),
		table.Number("before", "", before).Titled("Before"), table.Number("after", "", after).Titled("After"),
		table.Number("difference", "", difference).Titled("Difference"),
		table.Number("low", "", low).Titled("95 % from"), table.Number("high", "", high).Titled("95 % to"),
		table.Number("chance", "", chance).Titled("Chance, adjusted"),
		table.Text("verdict", verdicts).Titled("Verdict"),
		table.Integer("more", more).Titled("More sessions"), table.Text("lack", lack).Titled("Lacking")).
		OrderBy("chance", "measure")
}

// What was left out, and why
//
// The player's serves that lie in neither block, and those without the measure.
func LeftOut(serves table.Table, season motion.Season, settings Settings) (table.Table, error) {
	m, err := chosen(settings)
	if err != nil {
		return table.Table{}, err
	}
	inBlocks := serves.Pick("serve", "block")
	outside := season.Of(settings.Player).Particulars().
		Join(inBlocks, "serve").
		Keep(func(serve table.Row) bool { return serve.Missing("block") }).
		WithText("reason", func(serve table.Row) string { return "in neither block" })
	lacking := serves.Present(m.MissingColumn()).
		WithText("reason", func(serve table.Row) string { return serve.Text(m.MissingColumn()) })
	return lacking.Pick("session", "reason").
		Append(outside.Pick("session", "reason")).
		GroupBy("session", "reason").
		Summary(table.Rows().As("serves")).
		Titled("reason", "Reason").
		Titled("serves", "Serves").
		OrderBy("session", "reason"), nil
}

// Every serve
//
// The player's serves in the two blocks, with all measures. Choose a row to see the serve.
func Serves(season motion.Season, settings Settings) (table.Table, error) {
	player := season.Of(settings.Player)
	until, after := settings.Until, settings.After
	days := player.Between(settings.From, settings.To).Sessions()
	if until == "" && after == "" && len(days) > 1 {
		until, after = days[(len(days)-1)/2], days[(len(days)-1)/2+1]
	}
	if until != "" && after != "" && after <= until {
		return table.Table{}, errors.New("the second block begins before the first one has ended; " +
			"choose a later first session after")
	}
	serves, err := player.Measure(motion.All()...)
	if err != nil {
		return table.Table{}, err
	}
	return serves.WithText("block", func(serve table.Row) string {
		day := serve.Text("session")
		switch {
		case day == "" || day < settings.From || settings.To != "" && day > settings.To:
			return ""
		case until != "" && day <= until, until == "" && after != "" && day < after:
			return "before"
		case after != "" && day >= after, after == "" && until != "" && day > until:
			return "after"
		}
		return ""
	}).Titled("block", "Block").Present("block"), nil
}
