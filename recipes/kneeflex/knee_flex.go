// Knee flex
//
// How deep each player's legs load before the drive upwards, how alike the two legs are, and whether that has changed
// over the season.
//
// Knee flexion is 0 for a straight leg. What counts is the largest value between the ball's release and contact; it
// comes near trophy position. The front leg is the one nearer the net. Deeper is no aim by itself: legs that bend far
// and stretch slowly lift nobody, and in juniors the strength for it comes late (Whiteside et al. 2013).
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
	Player    string  `from:"players"`                                      // Player to look at.
	Reference string  `from:"players" default:""`                           // Compared with.
	Limit     float64 `unit:"deg" min:"20" max:"110" step:"1" default:"50"` // Mark serves with less flexion than.
	From      string  `from:"sessions" default:""`                          // From the session of.
}

// The columns that this recipe is about.
const (
	front = "front_knee_flexion_deg"
	back  = "back_knee_flexion_deg"
)

// How deep the front leg loads
//
// Each point is one serve, each dot a player's mean with its 95 % interval, which takes the serves as independent; the
// one over sessions, in the table below, is wider and fairer. At the right stands how many of a player's
// serves stay under the limit.
func Spread(loading table.Table, settings Settings) chart.Chart {
	return chart.Strip(loading.OrderBy("player"), front, "player").
		MarkBelow(settings.Limit, "the limit").
		Highlight(settings.Player)
}

// The deepest moment
//
// The player's middle serve, of all ordered by flexion of the front knee, beside that of the reference, seen from the
// hitting side. Flexion is the angle between the line of the thigh, carried on, and the shank.
func Deepest(season motion.Season, loading table.Table, settings Settings) figure.Figure {
	player := loading.Where("player", settings.Player)
	reference := loading.Where("player", settings.Reference)
	return figure.Knees(season, motion.MiddleServe(player, front), motion.MiddleServe(reference, front))
}

// Over the season
//
// The mean of each session with its 95 % interval, and the single serves behind it in the order in which they were
// hit. A step that stays is more than a good day.
func Season(loading table.Table, settings Settings) chart.Chart {
	return chart.Course(loading.Where("player", settings.Player, settings.Reference), front, "player").
		MarkBelow(settings.Limit, "limit").
		Highlight(settings.Player)
}

// The trend
//
// How much the player's sessions have moved in a month, by the middle of the slopes between all pairs of sessions,
// which a single odd day does not bend. A step after a block of work is asked for in the recipe Did it change?
func Trend(loading table.Table, settings Settings) stats.Trend {
	return stats.SessionTrend(stats.Of(loading.Where("player", settings.Player), front))
}

// Front leg and back leg
//
// Both legs of the same serves. A cloud far from equal flexion shows a player who loads one leg; which one is often a
// matter of stance.
func Legs(loading table.Table, settings Settings) chart.Chart {
	return chart.Scatter(loading.Where("player", settings.Player, settings.Reference), front, back, "player").
		Highlight(settings.Player)
}

// Player by player
//
// The means over each player's sessions, that of the front knee with its 95 % interval: serves of one day are alike, so
// a session counts once. Noise is the typical error, how far a serve lies from the mean of its session without anything
// having changed. The difference is that of the front knee less the back knee of the same serves.
func Players(loading table.Table) table.Table {
	difference := loading.Numbers(front)
	for i, bend := range loading.Numbers(back) {
		difference[i] -= bend
	}
	loading = loading.With(table.Number("difference", "deg", difference))
	var names []string
	var serves, sessions []int64
	var mean, low, high, noise, other, apart []float64
	for _, player := range loading.OrderBy("player").Distinct("player") {
		own := loading.Where("player", player)
		knee := stats.Of(own, front)
		e := knee.MeanOfSessions()
		names = append(names, player)
		serves, sessions = append(serves, int64(knee.N())), append(sessions, int64(e.N))
		mean, low, high = append(mean, e.Value), append(low, e.Low), append(high, e.High)
		noise = append(noise, stats.NoiseOf(knee).TypicalError.Value)
		other = append(other, stats.Of(own, back).MeanOfSessions().Value)
		apart = append(apart, stats.Of(own, "difference").MeanOfSessions().Value)
	}
	return table.New(table.Text("player", names).Titled("Player"), table.Integer("serves", serves).Titled("Serves"),
		table.Integer("sessions", sessions).Titled("Sessions"),
		table.Number("front_deg", "deg", mean).Titled("Front knee"),
		table.Number("low_deg", "deg", low).Titled("95 % from"),
		table.Number("high_deg", "deg", high).Titled("95 % to"),
		table.Number("noise_deg", "deg", noise).Titled("Noise, front knee"),
		table.Number("back_deg", "deg", other).Titled("Back knee"),
		table.Number("apart_deg", "deg", apart).Titled("Front less back")).
		OrderBy("-front_deg")
}

// What was left out, and why
//
// Serves without a flexion of the front knee, by player and reason. They are in no chart above.
func LeftOut(loading table.Table) table.Table {
	return motion.Unmeasured(loading, motion.FrontKneeFlexion)
}

// Every serve
//
// The measures that the results above are drawn from. Choose a row to see the serve.
func Loading(season motion.Season, settings Settings) (table.Table, error) {
	return season.Between(settings.From, "").Measure(motion.FrontKneeFlexion, motion.BackKneeFlexion)
}
