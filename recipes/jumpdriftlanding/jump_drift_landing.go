// Jump, drift and landing
//
// How high each player is off the court at contact, how far the body travels sideways from trophy position, and whether
// serves that drift to the hitting side are met farther outside.
//
// Jump height is that of the centre of mass at contact over quiet standing, so a player who is still on the way up, or
// on the way down again, shows less than the top of the jump. Drift is the sideways travel of the pelvis, positive
// towards the hitting side. Common practice reads a fall to that side as a toss that went there, or as a body that
// opens early; it is a hunch, and this page shows whether it holds in this season. How a player lands is described:
// nothing here tells whether a landing is safe.
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
	Player    string `from:"players"`             // Player to look at.
	Reference string `from:"players" default:""`  // Compared with.
	From      string `from:"sessions" default:""` // From the session of.
}

// The columns that the charts are about.
const (
	jump   = "jump_height_m"
	drift  = "drift_contact_m"
	offset = "contact_offset_m"
	lift   = "heel_lift_s"
)

// How high
//
// Each point is one serve. A hollow point was measured at the middle of the hips, because limbs are missing in the
// recording.
func Height(jumps table.Table, settings Settings) chart.Chart {
	return chart.Strip(jumps.OrderBy("player"), jump, "player").Sides("lower than standing", "higher").
		Highlight(settings.Player)
}

// Height over the season
//
// The mean of each session with its 95 % interval.
func Season(jumps table.Table, settings Settings) chart.Chart {
	return chart.Course(jumps.Where("player", settings.Player, settings.Reference), jump, "player").
		Highlight(settings.Player)
}

// How far sideways
//
// From trophy position to contact.
func Drift(jumps table.Table, settings Settings) chart.Chart {
	return chart.Strip(jumps.OrderBy("player"), drift, "player").
		Sides("to the tossing side", "to the hitting side").
		Highlight(settings.Player)
}

// At landing
//
// The player's middle serve, of all ordered by drift to contact, as the first foot meets the court, beside that of the
// reference, from behind.
func Landing(season motion.Season, jumps table.Table, settings Settings) figure.Figure {
	return figure.At(season, motion.Landing, figure.FromBehind,
		motion.MiddleServe(jumps.Where("player", settings.Player), drift),
		motion.MiddleServe(jumps.Where("player", settings.Reference), drift))
}

// Drift and the place of contact
//
// If falling to the hitting side goes with outside contact, each player's cloud rises from left to right.
func Outside(jumps table.Table, settings Settings) chart.Chart {
	return chart.Scatter(jumps.Where("player", settings.Player, settings.Reference), drift, offset, "player").
		Highlight(settings.Player)
}

// The same within players
//
// Over all players of the season, each with an own level. The pooled correlation is a warning: it also holds what makes
// one player different from another.
func Within(jumps table.Table) stats.WithinCorrelation {
	return stats.Within(stats.Of(jumps, drift), stats.Of(jumps, offset))
}

// When the back heel lifts
//
// Relative to the ball's release: right of the line after it. In common practice the heel stays down until the ball is
// gone.
func Heel(jumps table.Table, settings Settings) chart.Chart {
	return chart.Strip(jumps.OrderBy("player"), lift, "player").
		Sides("before release", "after release").
		Highlight(settings.Player)
}

// Player by player
//
// The mean over each player's sessions with its 95 % interval, and the noise: the typical error, how far a serve lies
// from the mean of its session without anything having changed. Pinpoint is the share of serves in which the back foot
// joins the front one.
func Players(jumps table.Table) table.Table {
	var names []string
	var serves []int64
	var high, highFrom, highTo, noise, side, flight, land, joined []float64
	for _, player := range jumps.OrderBy("player").Distinct("player") {
		own := jumps.Where("player", player)
		height := stats.Of(own, jump)
		e := height.MeanOfSessions()
		names, serves = append(names, player), append(serves, int64(height.N()))
		high, highFrom, highTo = append(high, e.Value), append(highFrom, e.Low), append(highTo, e.High)
		noise = append(noise, stats.NoiseOf(height).TypicalError.Value)
		side = append(side, stats.Of(own, drift).MeanOfSessions().Value)
		flight = append(flight, stats.Of(own, "flight_time_s").MeanOfSessions().Value)
		land = append(land, stats.Of(own, "drift_landing_m").MeanOfSessions().Value)
		joined = append(joined, 100*stats.Mean(own.Numbers("stance")))
	}
	return table.New(table.Text("player", names).Titled("Player"), table.Integer("serves", serves).Titled("Serves"),
		table.Number("jump_m", "m", high).Titled("Jump height"),
		table.Number("low_m", "m", highFrom).Titled("95 % from"), table.Number("high_m", "m", highTo).Titled("95 % to"),
		table.Number("noise_m", "m", noise).Titled("Noise"),
		table.Number("flight_s", "s", flight).Titled("Flight time"),
		table.Number("drift_m", "m", side).Titled("Drift to contact"),
		table.Number("landing_m", "m", land).Titled("Drift to landing"),
		table.Number("pinpoint_pct", "%", joined).Titled("Pinpoint")).
		OrderBy("-jump_m")
}

// What was left out, and why
//
// Serves without a jump height, a drift or a flight time, by player and reason.
func LeftOut(jumps table.Table) table.Table {
	return motion.Unmeasured(jumps, motion.JumpHeight, motion.DriftContact, motion.FlightTime)
}

// Every serve
//
// The measures that the results above are drawn from. Choose a row to see the serve.
func Jumps(season motion.Season, settings Settings) (table.Table, error) {
	return season.Between(settings.From, "").Measure(motion.JumpHeight, motion.FlightTime, motion.DriftContact,
		motion.DriftLanding, motion.Stance, motion.HeelLift, motion.ContactOffset)
}
