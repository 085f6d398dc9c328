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
	"math"

	"tossline/kernel/chart"
	"tossline/kernel/figure"
	"tossline/kernel/motion"
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
// Each point is one serve, each dot a player's mean with its 95 % interval. At the right stands how many of a player's
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
	return figure.Knees(season, middle(player), middle(reference))
}

// middle is the serve in the middle of all ordered by front knee flexion, or "" where no serve has one.
func middle(serves table.Table) string {
	known := serves.Present(front).OrderBy(front)
	if known.Len() == 0 {
		return ""
	}
	return known.Row(known.Len() / 2).Text("serve")
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
// Spread is the standard deviation from serve to serve. The difference is that of the front knee less the back knee.
func Players(loading table.Table) table.Table {
	difference := func(serve table.Row) float64 {
		if serve.Missing(front) || serve.Missing(back) {
			return math.NaN()
		}
		return serve.Number(front) - serve.Number(back)
	}
	return loading.WithNumber("difference_deg", "deg", difference).
		OrderBy("player").
		GroupBy("player").
		Summary(table.Count(front).As("serves"), table.Mean(front), table.SD(front).As("spread_deg"),
			table.Mean(back), table.Mean("difference_deg").As("difference_deg")).
		Titled("serves", "Serves").
		Titled("mean_front_knee_flexion_deg", "Front knee").
		Titled("spread_deg", "Spread, front knee").
		Titled("mean_back_knee_flexion_deg", "Back knee").
		Titled("difference_deg", "Front less back").
		OrderBy("-mean_front_knee_flexion_deg")
}

// What was left out, and why
//
// Serves without a flexion of the front knee, by player and reason. They are in no chart above.
func LeftOut(loading table.Table) table.Table {
	return loading.Keep(func(serve table.Row) bool { return serve.Missing(front) }).
		GroupBy("player", "front_knee_flexion_missing").
		Summary(table.Rows().As("serves")).
		Titled("front_knee_flexion_missing", "Reason").
		Titled("serves", "Serves").
		OrderBy("-serves", "player")
}

// Every serve
//
// The measures that the results above are drawn from. Choose a row to see the serve.
func Loading(season motion.Season, settings Settings) (table.Table, error) {
	return season.Between(settings.From, "").Measure(motion.FrontKneeFlexion, motion.BackKneeFlexion)
}
