// Toss consistency
//
// How alike each player's tosses are, whether that has changed over the season, and whether a toss to the side takes
// the contact with it.
//
// Places are counted from the tip of the front foot: forward into the court, and sideways towards the hitting side.
// Only recordings in which the ball was tracked have them; nothing stands in for a ball. Consistency is a spread, not a
// mean: a toss that is always 0.2 m farther out is another toss, not a worse one. A spread needs many serves before it
// is known well, which its intervals show.
package recipe

import (
	"tossline/kernel/chart"
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
	lateral = "toss_contact_lateral_m"
	forward = "toss_contact_forward_m"
	apex    = "toss_apex_m"
	offset  = "contact_offset_m"
)

// Seen from above
//
// Where the ball is at contact: across, towards the hitting side, and up the page into the court. The origin is the tip
// of the front foot. One round cloud is one toss; two clouds are often two kinds of serve.
func Above(tosses table.Table, settings Settings) chart.Chart {
	return chart.Scatter(tosses.Where("player", settings.Player, settings.Reference), lateral, forward, "player").
		Highlight(settings.Player)
}

// How much tosses spread
//
// The spread sideways from serve to serve within a session, with its 95 % interval: the typical error of each player.
// Two players whose intervals overlap widely may well toss equally alike.
func Spread(tosses table.Table, settings Settings) chart.Chart {
	return chart.Intervals(spreads(tosses, lateral), "player", "spread", "low", "high").
		Axis("Sideways spread of the ball at contact").
		Highlight(settings.Player)
}

// The other directions
//
// Spread within a session, sideways, forward and in height, and of the time from release to contact.
func Directions(tosses table.Table) table.Table {
	side, into := spreads(tosses, lateral), spreads(tosses, forward)
	up, time := spreads(tosses, apex), spreads(tosses, "toss_time_s")
	return side.Pick("player", "serves", "spread").Rename("spread", "side_m").Titled("side_m", "Sideways").
		Join(into.Pick("player", "spread").Rename("spread", "into_m").Titled("into_m", "Forward"), "player").
		Join(up.Pick("player", "spread").Rename("spread", "up_m").Titled("up_m", "Height of the apex"), "player").
		Join(time.Pick("player", "spread").Rename("spread", "time_s").Titled("time_s", "Release to contact"), "player").
		OrderBy("side_m")
}

// spreads is the typical error of a column for each player, with its interval.
func spreads(tosses table.Table, column string) table.Table {
	var names []string
	var serves []int64
	var spread, low, high []float64
	for _, own := range stats.Of(tosses, column).ByPlayer() {
		e := stats.NoiseOf(own).TypicalError
		names, serves = append(names, own.Who), append(serves, int64(own.N()))
		spread, low, high = append(spread, e.Value), append(low, e.Low), append(high, e.High)
	}
	unit := tosses.Unit(column)
	return table.New(table.Text("player", names).Titled("Player"), table.Integer("serves", serves).Titled("Serves"),
		table.Number("spread", unit, spread).Titled("Spread"), table.Number("low", unit, low).Titled("95 % from"),
		table.Number("high", unit, high).Titled("95 % to"))
}

// Session by session
//
// The player's sideways spread in each session, with its 95 % interval. A dozen serves tell a spread only roughly:
// sessions whose intervals overlap have not been shown to differ.
func Sessions(tosses table.Table, settings Settings) chart.Chart {
	var dates []string
	var spread, low, high []float64
	for _, day := range stats.Of(tosses.Where("player", settings.Player), lateral).BySession() {
		e := stats.NoiseOf(day).TypicalError
		dates = append(dates, day.Who)
		spread, low, high = append(spread, e.Value), append(low, e.Low), append(high, e.High)
	}
	days := table.New(table.Text("session", dates).Titled("Session"),
		table.Number("spread", "m", spread).Titled("Sideways spread"),
		table.Number("low", "m", low), table.Number("high", "m", high))
	return chart.Intervals(days, "session", "spread", "low", "high")
}

// Does the contact follow the toss?
//
// The ball's place at contact from the front foot, and from the hitting shoulder. A player who steps under the ball
// keeps the second steady while the first wanders.
func Follow(tosses table.Table, settings Settings) chart.Chart {
	return chart.Scatter(tosses.Where("player", settings.Player, settings.Reference), lateral, offset, "player").
		Highlight(settings.Player)
}

// The same within players
//
// Over all players of the season, each with an own level. The slope says how much of each metre that the toss lies
// farther out is found again at the shoulder: 1 is all of it, 0 none.
func Within(tosses table.Table) stats.WithinCorrelation {
	return stats.Within(stats.Of(tosses, lateral), stats.Of(tosses, offset))
}

// What was left out, and why
//
// Serves without a place of the ball at contact, or without its apex, by player and reason.
func LeftOut(tosses table.Table) table.Table {
	return motion.Unmeasured(tosses, motion.TossContactLateral, motion.TossApex)
}

// Every serve
//
// The measures that the results above are drawn from. Choose a row to see the serve.
func Tosses(season motion.Season, settings Settings) (table.Table, error) {
	return season.Between(settings.From, "").Measure(motion.TossContactLateral, motion.TossContactForward,
		motion.TossApex, motion.TossApexLateral, motion.TossApexForward, motion.TossTime, motion.ContactOffset)
}
