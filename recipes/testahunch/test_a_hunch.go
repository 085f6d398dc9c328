// Test a hunch
//
// Whether two measures go together from serve to serve, within players; and what the same serves would seem to say
// when all players are thrown together.
//
// A hunch is a sentence about one player: "when your contact drifts outside, your arm turns slower". So it is tested
// within players: every player has an own level, and what is compared is a serve with the other serves of the same
// player. The correlation over all serves pooled answers another question, who is who; it can be large where no player
// shows anything, and can even point the other way. It stands here only to be seen through.
//
// Choose the two measures before you look. Of twenty hunches without any truth in them, one is expected to look shown.
// And what goes together need not cause each other: a toss to the side moves contact and trunk at once.
package recipe

import (
	"fmt"
	"math"
	"strings"

	"tossline/kernel/chart"
	"tossline/kernel/motion"
	"tossline/kernel/stats"
	"tossline/kernel/table"
)

// Settings of this recipe.
type Settings struct {
	First  string `from:"measures" default:"contact_offset"`  // When this one is larger.
	Second string `from:"measures" default:"long_axis_speed"` // Is this one larger or smaller?
	Player string `from:"players" default:""`                 // Player to mark.
	From   string `from:"sessions" default:""`                // From the session of.
}

// The answer
//
// The correlation within players with its 95 % interval, then the slope: how much the second measure changes for one
// unit of the first. The pooled correlation comes last, as a warning.
func Answer(serves table.Table, settings Settings) (stats.WithinCorrelation, error) {
	first, second, err := chosen(settings)
	if err != nil {
		return stats.WithinCorrelation{}, err
	}
	return stats.Within(stats.Of(serves, first.Column()), stats.Of(serves, second.Column())), nil
}

// chosen are the two measures of the settings.
func chosen(settings Settings) (first, second motion.Measure, err error) {
	first, found := motion.Lookup(settings.First)
	if !found {
		return first, second, fmt.Errorf("no measure %q; choose one in the settings", settings.First)
	}
	second, found = motion.Lookup(settings.Second)
	if !found {
		return first, second, fmt.Errorf("no measure %q; choose one in the settings", settings.Second)
	}
	if first.ID == second.ID {
		return first, second, fmt.Errorf("both measures are %q; choose two", first.ID)
	}
	return first, second, nil
}

// Within players
//
// Each serve as it differs from the mean of its player. The players' levels are gone; what is left is what the hunch is
// about. The line is the common slope.
func Within(serves table.Table, answer stats.WithinCorrelation, settings Settings) (chart.Chart, error) {
	first, second, err := chosen(settings)
	if err != nil {
		return chart.Chart{}, err
	}
	centred := serves.Pick("serve", "player", "session").
		With(table.Number("x", first.Unit, own(serves, first)).Titled(first.Title + ", from the own mean")).
		With(table.Number("y", second.Unit, own(serves, second)).Titled(second.Title + ", from the own mean"))
	return chart.Scatter(centred.Present("x", "y"), "x", "y", "player").
		Fit("", 0, answer.Slope.Value).
		Highlight(settings.Player), nil
}

// own is a measure with the mean of each serve's player taken off; missing where it is, or where a stand-in gave it.
func own(serves table.Table, m motion.Measure) []float64 {
	sample := stats.Of(serves, m.Column())
	means := map[string]float64{}
	for _, player := range sample.ByPlayer() {
		means[player.Who] = stats.Mean(player.Values)
	}
	values := make([]float64, len(sample.Values))
	for i, value := range sample.Values {
		values[i] = value - means[sample.Players[i]]
	}
	return values
}

// Player by player
//
// The same correlation for each player alone. With a few dozen serves the intervals are wide: players whose intervals
// overlap have not been shown to differ, and one whose interval holds zero has not been shown to lack it.
func Players(serves table.Table, settings Settings) (chart.Chart, error) {
	first, second, err := chosen(settings)
	if err != nil {
		return chart.Chart{}, err
	}
	var names []string
	var r, low, high []float64
	for _, player := range serves.OrderBy("player").Distinct("player") {
		mine := serves.Where("player", player)
		e := stats.Within(stats.Of(mine, first.Column()), stats.Of(mine, second.Column())).Within
		names, r = append(names, player), append(r, e.Value)
		low, high = append(low, e.Low), append(high, e.High)
	}
	each := table.New(table.Text("player", names), table.Number("r", "", r).Titled("Correlation"),
		table.Number("low", "", low), table.Number("high", "", high))
	return chart.Intervals(each, "player", "r", "low", "high").
		Sides("larger goes with smaller", "larger goes with larger").
		Highlight(settings.Player), nil
}

// One slope for all?
//
// A mixed model with an own level and an own slope for each player: the slope of the middle player with its 95 %
// interval, and how much the players' slopes differ.
func Slopes(serves table.Table, settings Settings) (stats.MixedModel, error) {
	first, second, err := chosen(settings)
	if err != nil {
		return stats.MixedModel{}, err
	}
	return stats.Mixed(stats.Of(serves, first.Column()), stats.Of(serves, second.Column())), nil
}

// All serves pooled
//
// The picture that misleads: every serve where it lies, a line for each player, and the line through all of them in
// ink. Where players differ in both measures, the line in ink follows the players, not the serves.
func Pooled(serves table.Table, settings Settings) (chart.Chart, error) {
	first, second, err := chosen(settings)
	if err != nil {
		return chart.Chart{}, err
	}
	both := serves.Present(first.Column(), second.Column())
	picture := chart.Scatter(both, first.Column(), second.Column(), "player").Highlight(settings.Player)
	for _, player := range both.Distinct("player") {
		intercept, slope := line(both.Where("player", player), first.Column(), second.Column())
		picture = picture.Fit(player, intercept, slope)
	}
	intercept, slope := line(both, first.Column(), second.Column())
	return picture.Fit("", intercept, slope), nil
}

// line is the least-squares line through serves, without those that a stand-in gave.
func line(serves table.Table, first, second string) (intercept, slope float64) {
	x, y := stats.Of(serves, first).Values, stats.Of(serves, second).Values
	var n, sx, sy, xx, xy float64
	for i := range x {
		if math.IsNaN(x[i]) || math.IsNaN(y[i]) {
			continue
		}
		n, sx, sy, xx, xy = n+1, sx+x[i], sy+y[i], xx+x[i]*x[i], xy+x[i]*y[i]
	}
	slope = (n*xy - sx*sy) / (n*xx - sx*sx)
	return (sy - slope*sx) / n, slope
}

// Why not pool?
//
// What makes the two correlations differ in this season.
func Fallacy(answer stats.WithinCorrelation) string {
	within, pooled, between := answer.Within, answer.Pooled, answer.Between
	switch {
	case !within.Sure() || !pooled.Sure():
		return "There are too few serves to set the two correlations beside each other."
	case answer.Players < 2:
		return "All serves are of one player, so there is nothing to pool."
	}
	said := "Within players the correlation is " + signed(within.Value) + ", pooled it is " +
		signed(pooled.Value) + ". "
	switch {
	case within.Value*pooled.Value < 0 && within.Excludes(0):
		said += "They point in opposite ways (Simpson 1951): "
	case within.Excludes(0) && !pooled.Excludes(0):
		said += "Pooling hides what every player shows: "
	case !within.Excludes(0) && pooled.Excludes(0):
		said += "Pooling shows what no player has been shown to do: "
	default:
		return said + "Here they agree, which luck allows and nothing guarantees. The one within players is the answer."
	}
	if between.Has() {
		said += "the players' means alone correlate with " + signed(between.Value) + ", and pooling mixes that in. "
	} else {
		said += "the players differ in level, and pooling mixes that in. "
	}
	return said + "Who the player is (older, taller, stronger) moves both measures at once; that says nothing about " +
		"what happens when one player changes one of them."
}

// signed writes a correlation with its sign.
func signed(r float64) string { return strings.Replace(fmt.Sprintf("%+.2f", r), "-", "−", 1) }

// What was left out, and why
//
// Serves that lack one of the two measures, by player and reason.
func LeftOut(serves table.Table, settings Settings) (table.Table, error) {
	first, second, err := chosen(settings)
	if err != nil {
		return table.Table{}, err
	}
	return motion.Unmeasured(serves, first, second), nil
}

// Every serve
//
// Both measures of every serve. Choose a row to see the serve.
func Serves(season motion.Season, settings Settings) (table.Table, error) {
	first, second, err := chosen(settings)
	if err != nil {
		return table.Table{}, err
	}
	return season.Between(settings.From, "").Measure(first, second)
}
