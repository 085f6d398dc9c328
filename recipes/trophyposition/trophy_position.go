// Trophy position
//
// How each player stands at trophy position, how alike they stand there from serve to serve, and how that differs from
// a chosen reference.
//
// Trophy position is the instant of the deepest front knee between the ball's release and the racket's low point. The
// numbers of this page describe one frame; what brought the player there, and what comes of it, is in other recipes.
// Common practice looks for a stretched tossing arm, the front shoulder above the back one, and bent legs. None of
// these is a target by itself: adults' means are no aim for juniors, whose leg drive and shoulder-over-shoulder
// rotation come late (Whiteside et al. 2013).
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
	tossArm = "toss_arm_elevation_deg"
	tilt    = "shoulder_tilt_trophy_deg"
	knee    = "front_knee_flexion_deg"
)

// stance lists what is measured at trophy position, from the feet up.
func stance() []motion.Measure {
	return []motion.Measure{
		motion.FrontKneeFlexion, motion.BackKneeFlexion, motion.PelvisTiltTrophy, motion.SeparationTrophy,
		motion.TrunkForwardTrophy, motion.TrunkSidewaysTrophy, motion.ShoulderTiltTrophy, motion.TossArmElevation,
		motion.TossElbowFlexion, motion.HittingElbowElevationTrophy, motion.ElbowFlexionTrophy,
	}
}

// The middle serve
//
// The player's middle serve, of all ordered by elevation of the tossing arm, beside that of the reference, from the
// hitting side.
func Position(season motion.Season, poses table.Table, settings Settings) figure.Figure {
	return figure.At(season, motion.Trophy, figure.FromSide,
		motion.MiddleServe(poses.Where("player", settings.Player), tossArm),
		motion.MiddleServe(poses.Where("player", settings.Reference), tossArm))
}

// From behind
//
// The same two serves from behind. The line of the shoulders shows the tilt, that of the hips how much of it comes from
// the pelvis.
func Behind(season motion.Season, poses table.Table, settings Settings) figure.Figure {
	return figure.At(season, motion.Trophy, figure.FromBehind,
		motion.MiddleServe(poses.Where("player", settings.Player), tossArm),
		motion.MiddleServe(poses.Where("player", settings.Reference), tossArm))
}

// How high the tossing arm reaches
//
// The angle between the upper arm and the trunk: 90 is square to the trunk, 180 straight up along it. Each point is one
// serve.
//
// The mean's interval takes the serves as independent. Over several sessions they are not; the table below gives the
// wider one.
func Reach(poses table.Table, settings Settings) chart.Chart {
	return chart.Strip(poses.OrderBy("player"), tossArm, "player").Highlight(settings.Player)
}

// Arm and shoulders
//
// A tossing arm that stays up goes, in common practice, with a front shoulder that is above the back one. Whether it
// does within one player shows in the shape of that player's cloud, not in how the clouds of two players lie.
func Shoulders(poses table.Table, settings Settings) chart.Chart {
	return chart.Scatter(poses.Where("player", settings.Player, settings.Reference), tossArm, tilt, "player").
		Highlight(settings.Player)
}

// Legs over the season
//
// The bend of the front knee: each session's mean with its 95 % interval, and the single serves behind it.
func Legs(poses table.Table, settings Settings) chart.Chart {
	return chart.Course(poses.Where("player", settings.Player, settings.Reference), knee, "player").
		Highlight(settings.Player)
}

// Measure by measure
//
// The player's mean and that of the reference, each with the 95 % interval over sessions: serves of one day share its
// court, balls and legs, and are not as many independent trials. Noise is the typical error, how far a serve lies from
// the mean of its session without anything having changed. Whether a difference is more than chance is asked, for all
// measures at once, by the recipe Player beside a reference.
func Compare(poses table.Table, settings Settings) table.Table {
	var names, units []string
	var mean, low, high, noise, other, otherLow, otherHigh []float64
	player := poses.Where("player", settings.Player)
	reference := poses.Where("player", settings.Reference)
	for _, m := range stance() {
		names, units = append(names, m.Title), append(units, m.Unit)
		own := stats.Of(player, m.Column())
		e, r := own.MeanOfSessions(), stats.Of(reference, m.Column()).MeanOfSessions()
		mean, low, high = append(mean, e.Value), append(low, e.Low), append(high, e.High)
		noise = append(noise, stats.NoiseOf(own).TypicalError.Value)
		other, otherLow, otherHigh = append(other, r.Value), append(otherLow, r.Low), append(otherHigh, r.High)
	}
	return table.New(
		table.Text("measure", names).Titled("Measure"), table.Text("unit", units).Titled("Unit"),
		table.Number("mean", "", mean).Titled("Player"),
		table.Number("low", "", low).Titled("95 % from"), table.Number("high", "", high).Titled("95 % to"),
		table.Number("noise", "", noise).Titled("Noise"),
		table.Number("other", "", other).Titled("Reference"),
		table.Number("other_low", "", otherLow).Titled("95 % from"),
		table.Number("other_high", "", otherHigh).Titled("95 % to"),
	)
}

// What was left out, and why
//
// Serves without an elevation of the tossing arm or a bend of the front knee, by player and reason. A serve can lack
// one and have the other: it is then in some of the results above and not in others.
func LeftOut(poses table.Table) table.Table {
	return motion.Unmeasured(poses, motion.TossArmElevation, motion.FrontKneeFlexion)
}

// Every serve
//
// The measures that the results above are drawn from. Choose a row to see the serve.
func Poses(season motion.Season, settings Settings) (table.Table, error) {
	return season.Between(settings.From, "").Measure(stance()...)
}
