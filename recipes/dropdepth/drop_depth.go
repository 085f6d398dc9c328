// Drop depth
//
// How low the racket falls behind the back before it goes up to the ball, and whether that has changed over the season.
//
// Drop depth is the height of the hitting shoulder less that of the racket tip, where it is largest between trophy
// position and contact. A deep drop gives the racket a longer way to gather speed. It follows from what the legs and
// the trunk do: a racket that is placed low by the arm gains nothing. Taller players have longer rackets' ways, so
// depth is also given as a share of standing height where that is known.
package recipe

import (
	"tossline/kernel/chart"
	"tossline/kernel/figure"
	"tossline/kernel/motion"
	"tossline/kernel/stats"
	"tossline/kernel/table"
)

// Settings of this recipe.
type Settings struct {
	Player    string  `from:"players"`                                        // Player to look at.
	Reference string  `from:"players" default:""`                             // Compared with.
	Limit     float64 `unit:"m" min:"0" max:"1.2" step:"0.01" default:"0.40"` // Mark serves with a drop of less than.
	From      string  `from:"sessions" default:""`                            // From the session of.
}

// depth is the column that this recipe is about.
const depth = "drop_depth_m"

// How low the racket falls
//
// Each point is one serve, each dot a player's mean with its 95 % interval, which takes the serves as independent; the
// one over sessions, in the table below, is wider and fairer. At the right stands how many of a player's
// serves stay short of the limit. A hollow point was measured at the hitting hand, because the recording has no racket:
// the hand never falls as low as the racket tip, so hollow and full points are not compared with each other.
func Spread(drops table.Table, settings Settings) chart.Chart {
	return chart.Strip(drops.OrderBy("player"), depth, "player").
		MarkBelow(settings.Limit, "the limit").
		Highlight(settings.Player)
}

// The lowest moment
//
// The player's middle serve, of all ordered by drop depth, beside that of the reference, seen from the hitting side.
// The thin line is the way of the racket tip from trophy to contact; the dashed one is the height of the hitting
// shoulder.
func Lowest(season motion.Season, drops table.Table, settings Settings) figure.Figure {
	player := drops.Where("player", settings.Player)
	reference := drops.Where("player", settings.Reference)
	return figure.Drop(season, motion.MiddleServe(player, depth), motion.MiddleServe(reference, depth))
}

// Over the season
//
// The mean of each session with its 95 % interval, and the single serves behind it in the order in which they were hit.
func Season(drops table.Table, settings Settings) chart.Chart {
	return chart.Course(drops.Where("player", settings.Player, settings.Reference), depth, "player").
		MarkBelow(settings.Limit, "limit").
		Highlight(settings.Player)
}

// The trend
//
// How much the player's sessions have moved in a month, by the middle of the slopes between all pairs of sessions,
// which a single odd day does not bend.
func Trend(drops table.Table, settings Settings) stats.Trend {
	return stats.SessionTrend(stats.Of(drops.Where("player", settings.Player), depth))
}

// All serves together
//
// How the player's own serves are spread. Two hills are often two kinds of serve, or two ways of tossing.
func Shape(drops table.Table, settings Settings) chart.Chart {
	return chart.Histogram(drops.Where("player", settings.Player), depth).Guide(settings.Limit, "the limit")
}

// Player by player
//
// The mean over each player's sessions with its 95 % interval: serves of one day are alike, so a session counts once.
// Noise is the typical error, how far a serve lies from the mean of its session without anything having changed. The
// share of height is the mean depth by the player's standing height, where that is known.
func Players(drops table.Table) table.Table {
	var names, bases []string
	var serves, sessions []int64
	var mean, low, high, noise, least, most, share []float64
	for _, group := range drops.Present(depth).GroupBy("player", "drop_depth_basis").Tables() {
		own := stats.Of(group, depth)
		e := own.MeanOfSessions()
		names, bases = append(names, group.Row(0).Text("player")), append(bases, group.Row(0).Text("drop_depth_basis"))
		serves, sessions = append(serves, int64(own.N())), append(sessions, int64(e.N))
		mean, low, high = append(mean, e.Value), append(low, e.Low), append(high, e.High)
		noise = append(noise, stats.NoiseOf(own).TypicalError.Value)
		least, most = append(least, stats.Quantile(own.Values, 0)), append(most, stats.Quantile(own.Values, 1))
		share = append(share, 100*e.Value/stats.Median(group.Numbers("height_m")))
	}
	return table.New(table.Text("player", names).Titled("Player"), table.Text("basis", bases).Titled("Measured at"),
		table.Integer("serves", serves).Titled("Serves"), table.Integer("sessions", sessions).Titled("Sessions"),
		table.Number("mean_m", "m", mean).Titled("Mean"), table.Number("low_m", "m", low).Titled("95 % from"),
		table.Number("high_m", "m", high).Titled("95 % to"), table.Number("noise_m", "m", noise).Titled("Noise"),
		table.Number("least_m", "m", least).Titled("Shallowest"), table.Number("most_m", "m", most).Titled("Deepest"),
		table.Number("share_pct", "%", share).Titled("Share of height")).
		OrderBy("-mean_m")
}

// What was left out, and why
//
// Serves without a drop depth, by player and reason. They are in no chart above.
func LeftOut(drops table.Table) table.Table {
	return motion.Unmeasured(drops, motion.DropDepth)
}

// Every serve
//
// The measures that the results above are drawn from. Choose a row to see the serve.
func Drops(season motion.Season, settings Settings) (table.Table, error) {
	return season.Between(settings.From, "").Measure(motion.DropDepth)
}
