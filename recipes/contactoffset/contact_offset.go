// Contact offset
//
// How far inside or outside the hitting shoulder each player meets the ball, and whether that has moved over the
// season.
//
// Contact offset is the sideways distance, at contact, from the vertical plane through the hitting shoulder to the
// ball. It is positive outside, away from the head. Many coaches look for contact a little inside the shoulder, where
// the shoulders can tilt and the arm can rotate about its long axis. That is common practice and no law: compare a
// player with a chosen reference and with their own season before changing anything.
package recipe

import (
	"math"

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
	Limit     float64 `unit:"m" min:"0" max:"0.4" step:"0.01" default:"0.10"` // Mark serves met further outside than.
	From      string  `from:"sessions" default:""`                            // From the session of.
}

// offset is the column that this recipe is about.
const offset = "contact_offset_m"

// Where the ball is met
//
// Each point is one serve, each dot a player's mean with its 95 % interval, which takes the serves as independent; the
// one over sessions, in the table below, is wider and fairer. Left of the line the ball is met inside
// the hitting shoulder. At the right stands how many of a player's serves lie over the limit. A hollow point was
// measured at the hitting hand, because the recording has neither racket nor ball; the hand is closer to the shoulder
// than the ball, so hollow and full points are not compared with each other.
func Spread(contacts table.Table, settings Settings) chart.Chart {
	return chart.Strip(contacts.OrderBy("player"), offset, "player").
		Sides("inside", "outside the hitting shoulder").
		MarkAbove(settings.Limit, "the limit").
		Highlight(settings.Player)
}

// From behind, at contact
//
// The player's middle serve, of all ordered by contact offset, beside that of the reference. The dashed line is the
// vertical plane through the hitting shoulder; the offset is measured from it. Choose any point above to see that
// serve.
func Behind(season motion.Season, contacts table.Table, settings Settings) figure.Figure {
	player := contacts.Where("player", settings.Player)
	reference := contacts.Where("player", settings.Reference)
	return figure.Contact(season, motion.MiddleServe(player, offset), motion.MiddleServe(reference, offset))
}

// Over the season
//
// The mean of each session with its 95 % interval, and the single serves behind it in the order in which they were hit.
// One session is one day: look for a run of sessions on one side before you call it a drift. Whether it is one, the
// trend below and the recipe Did it change? tell.
func Season(contacts table.Table, settings Settings) chart.Chart {
	return chart.Course(contacts.Where("player", settings.Player, settings.Reference), offset, "player").
		Sides("inside", "outside").
		MarkAbove(settings.Limit, "limit").
		Highlight(settings.Player)
}

// The trend
//
// How much the player's sessions have moved in a month, by the middle of the slopes between all pairs of sessions,
// which a single odd day does not bend.
func Trend(contacts table.Table, settings Settings) stats.Trend {
	return stats.SessionTrend(stats.Of(contacts.Where("player", settings.Player), offset))
}

// How high, how far out
//
// Where the contact point lies for someone standing behind the player: across, from the hitting shoulder, and up,
// from the court. Serves of one player should make one cloud; two clouds are often two kinds of serve.
func Place(contacts table.Table, settings Settings) chart.Chart {
	return chart.Scatter(contacts.Where("player", settings.Player, settings.Reference),
		offset, "contact_height_m", "player").
		Highlight(settings.Player)
}

// Player by player
//
// The mean over each player's sessions with its 95 % interval: serves of one day are alike, so a session counts once.
// Noise is the typical error, how far a serve lies from the mean of its session without anything having changed. The
// share over the limit is that of the ball; stand-ins are not judged.
func Players(contacts table.Table, settings Settings) table.Table {
	var names, bases []string
	var serves, sessions []int64
	var mean, low, high, noise, inside, outside, past []float64
	for _, group := range contacts.Present(offset).GroupBy("player", "contact_offset_basis").Tables() {
		own := stats.Of(group, offset)
		e := own.MeanOfSessions()
		names = append(names, group.Row(0).Text("player"))
		bases = append(bases, group.Row(0).Text("contact_offset_basis"))
		serves, sessions = append(serves, int64(own.N())), append(sessions, int64(e.N))
		mean, low, high = append(mean, e.Value), append(low, e.Low), append(high, e.High)
		noise = append(noise, stats.NoiseOf(own).TypicalError.Value)
		inside, outside = append(inside, stats.Quantile(own.Values, 0)), append(outside, stats.Quantile(own.Values, 1))
		if over := group.Between(offset, settings.Limit, math.Inf(1)).Len(); own.StandIn {
			past = append(past, math.NaN())
		} else {
			past = append(past, 100*float64(over)/float64(own.N()))
		}
	}
	return table.New(table.Text("player", names).Titled("Player"), table.Text("basis", bases).Titled("Measured at"),
		table.Integer("serves", serves).Titled("Serves"), table.Integer("sessions", sessions).Titled("Sessions"),
		table.Number("mean_m", "m", mean).Titled("Mean"), table.Number("low_m", "m", low).Titled("95 % from"),
		table.Number("high_m", "m", high).Titled("95 % to"), table.Number("noise_m", "m", noise).Titled("Noise"),
		table.Number("inside_m", "m", inside).Titled("Furthest inside"),
		table.Number("outside_m", "m", outside).Titled("Furthest outside"),
		table.Number("past_pct", "%", past).Titled("Over the limit")).
		OrderBy("-mean_m")
}

// What was left out, and why
//
// Serves without a contact offset, by player and reason. They are in no chart above.
func LeftOut(contacts table.Table) table.Table {
	return motion.Unmeasured(contacts, motion.ContactOffset)
}

// Every serve
//
// The measures that the results above are drawn from. Choose a row to see the serve.
func Contacts(season motion.Season, settings Settings) (table.Table, error) {
	return season.Between(settings.From, "").
		Measure(motion.ContactOffset, motion.ContactHeight, motion.ContactForward)
}
