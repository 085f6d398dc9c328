// The season at a glance
//
// Who served how often, when, how one chosen measure lies in all of it, and what of the season can be measured at all.
//
// Read this page first, before any finding: a difference between two players means little when one was recorded in
// March and the other in September, or one with a racket and the other without. What is left out stands at the end, and
// in more detail in the recipe Data quality.
package recipe

import (
	"fmt"
	"math"
	"strings"
	"time"

	"tossline/kernel/chart"
	"tossline/kernel/motion"
	"tossline/kernel/stats"
	"tossline/kernel/table"
)

// Settings of this recipe.
type Settings struct {
	Measure string `from:"measures" default:"racket_speed"` // Measure to look at.
	Player  string `from:"players" default:""`              // Player to mark.
	From    string `from:"sessions" default:""`             // From the session of.
}

// In a sentence
//
// Counted are the serves that can be measured; those that a recording cuts off or that a person discarded are not.
func Summary(season motion.Season, settings Settings) string {
	part := season.Between(settings.From, "")
	days := part.Sessions()
	if len(days) == 0 {
		return fmt.Sprintf("%d serves of %d players, without dates.", part.Len(), len(part.Players()))
	}
	return fmt.Sprintf("%d serves of %d players in %d sessions, from %s to %s.",
		part.Len(), len(part.Players()), len(days), written(days[0]), written(days[len(days)-1]))
}

// written is the date of a session as one writes it.
func written(day string) string {
	date, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return day
	}
	return date.Format("2 January 2006")
}

// The roster
//
// Each player's serves and sessions. Age matters when players are compared: legs and trunk take over late in growing
// players (Whiteside et al. 2013).
func Roster(serves table.Table) table.Table {
	var names, levels, first, last []string
	var counts, days []int64
	var born, tall []float64
	for _, player := range serves.OrderBy("player").Distinct("player") {
		own := serves.Where("player", player).OrderBy("session")
		sessions := own.Distinct("session")
		names, levels = append(names, player), append(levels, end(own.Distinct("level"), 0))
		counts, days = append(counts, int64(own.Len())), append(days, int64(len(sessions)))
		first, last = append(first, end(sessions, 0)), append(last, end(sessions, len(sessions)-1))
		born = append(born, stats.Median(own.Numbers("birth_year")))
		tall = append(tall, stats.Median(own.Numbers("height_m")))
	}
	return table.New(table.Text("player", names).Titled("Player"), table.Text("level", levels).Titled("Level"),
		table.Number("birth_year", "", born).Titled("Born"), table.Number("height_m", "m", tall).Titled("Height"),
		table.Integer("serves", counts).Titled("Serves"), table.Integer("sessions", days).Titled("Sessions"),
		table.Text("first", first).Titled("First session"), table.Text("last", last).Titled("Last session"))
}

// end is one text of a list, or "" where there is none.
func end(list []string, at int) string {
	if at < 0 || at >= len(list) {
		return ""
	}
	return list[at]
}

// When they served
//
// Serves that were recorded in each session, player by player. A gap is a session missed, or a recording that nobody
// made.
func Sessions(serves table.Table, settings Settings) chart.Chart {
	counts := serves.OrderBy("session", "player").
		GroupBy("player", "session").
		Summary(table.Rows().As("serves")).
		Titled("serves", "Serves in the session")
	return chart.Course(counts, "serves", "player").Highlight(settings.Player)
}

// The chosen measure
//
// Each point is one serve. The means' intervals take serves as independent; where a player has several sessions, the
// table below gives the wider one over sessions.
func Spread(serves table.Table, settings Settings) (chart.Chart, error) {
	m, err := chosen(settings)
	if err != nil {
		return chart.Chart{}, err
	}
	return chart.Strip(serves.OrderBy("player"), m.Column(), "player").Highlight(settings.Player), nil
}

// The chosen measure over the season
//
// The mean of each session with its 95 % interval.
func Course(serves table.Table, settings Settings) (chart.Chart, error) {
	m, err := chosen(settings)
	if err != nil {
		return chart.Chart{}, err
	}
	return chart.Course(serves, m.Column(), "player").Highlight(settings.Player), nil
}

// chosen is the measure of the settings.
func chosen(settings Settings) (motion.Measure, error) {
	m, found := motion.Lookup(settings.Measure)
	if !found {
		return m, fmt.Errorf("no measure %q; choose one in the settings", settings.Measure)
	}
	return m, nil
}

// Player by player
//
// Mean over sessions with its 95 % interval, and the noise: the typical error, how far a serve lies from the mean of
// its session without anything having changed.
func Players(serves table.Table, settings Settings) (table.Table, error) {
	m, err := chosen(settings)
	if err != nil {
		return table.Table{}, err
	}
	var names []string
	var counts []int64
	var mean, low, high, noise []float64
	for _, player := range serves.OrderBy("player").Distinct("player") {
		own := stats.Of(serves.Where("player", player), m.Column())
		e := own.MeanOfSessions()
		names, counts = append(names, player), append(counts, int64(own.N()))
		mean, low, high = append(mean, e.Value), append(low, e.Low), append(high, e.High)
		noise = append(noise, stats.NoiseOf(own).TypicalError.Value)
	}
	return table.New(table.Text("player", names).Titled("Player"), table.Integer("serves", counts).Titled("Serves"),
		table.Number("mean", m.Unit, mean).Titled(m.Title), table.Number("low", m.Unit, low).Titled("95 % from"),
		table.Number("high", m.Unit, high).Titled("95 % to"), table.Number("noise", m.Unit, noise).Titled("Noise")).
		OrderBy("-mean"), nil
}

// What can be measured
//
// For every measure that Tossline knows: the share of serves that have it, and of those the share that a stand-in gave
// (the hand for the racket). The middle is the median over all players, for orientation alone.
func Measurable(serves table.Table) table.Table {
	var names, units []string
	var share, standIns, middle []float64
	for _, m := range motion.All() {
		known := serves.Pick(m.Column(), m.BasisColumn()).Present(m.Column())
		standing := known.Keep(func(serve table.Row) bool { return isStandIn(serve.Text(m.BasisColumn())) })
		names, units = append(names, m.Title), append(units, m.Unit)
		share = append(share, percent(known.Len(), serves.Len()))
		standIns = append(standIns, percent(standing.Len(), known.Len()))
		middle = append(middle, stats.Median(known.Numbers(m.Column())))
	}
	return table.New(table.Text("measure", names).Titled("Measure"),
		table.Number("share_pct", "%", share).Titled("Serves that have it"),
		table.Number("stand_in_pct", "%", standIns).Titled("Of these, from a stand-in"),
		table.Number("median", "", middle).Titled("Middle"), table.Text("unit", units).Titled("Unit"))
}

// isStandIn tells whether a basis is that of a stand-in: "hand (stand-in)".
func isStandIn(basis string) bool {
	return strings.HasSuffix(basis, "(stand-in)")
}

func percent(part, whole int) float64 {
	if whole == 0 {
		return math.NaN()
	}
	return 100 * float64(part) / float64(whole)
}

// What was left out, and why
//
// Serves without the chosen measure, by player and reason.
func LeftOut(serves table.Table, settings Settings) (table.Table, error) {
	m, err := chosen(settings)
	if err != nil {
		return table.Table{}, err
	}
	return motion.Unmeasured(serves, m), nil
}

// Every serve
//
// All measures of all serves. Choose a row to see the serve.
func Serves(season motion.Season, settings Settings) (table.Table, error) {
	return season.Between(settings.From, "").Measure(motion.All()...)
}
