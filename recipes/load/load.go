// Load
//
// How many serves each player hit in a session and in a week, as far as they were recorded.
//
// # Read this before the numbers
//
// Serving loads the shoulder, the elbow and the back, most of all in growing players. This page counts; it judges
// nothing. It knows the serves that were recorded, not those that were hit without a camera, in matches, or for another
// coach, so every count is a lower bound. No number of serves is known to be safe, and none is printed here; neither is
// a ratio of one week to the weeks before, because what it says about injury is disputed. For players under 18 the
// workload rules of the national body hold, whatever stands here. Pain in shoulder, elbow or back ends the session and
// is for a licensed clinician.
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
	Player string `from:"players"`             // Player to look at.
	From   string `from:"sessions" default:""` // From the session of.
}

// dateForm is how dates are written in a season.
const dateForm = "2006-01-02"

// Week by week
//
// Recorded serves of each week, which is named by its Monday. A week without a recording between a player's first and
// last counts as none, which may mean rest, or no camera.
func Weeks(weekly table.Table, settings Settings) chart.Chart {
	return chart.Course(weekly, "serves", "player").Highlight(settings.Player)
}

// Session by session
//
// Recorded serves of each session.
func Sessions(serves table.Table, settings Settings) chart.Chart {
	counts := serves.OrderBy("session", "player").
		GroupBy("player", "session").
		Summary(table.Rows().As("serves")).
		Titled("serves", "Recorded serves in the session")
	return chart.Course(counts, "serves", "player").Highlight(settings.Player)
}

// Player by player
//
// The most in one session and in one week, and how the largest week compares with the middle one of the weeks that have
// any. Age is what the player reaches in the year of the last session.
func Players(serves, weekly table.Table) table.Table {
	var names []string
	var total, sessions, largest, most []int64
	var middle, age []float64
	for _, player := range serves.OrderBy("player").Distinct("player") {
		own := serves.Where("player", player).OrderBy("session")
		days := own.GroupBy("session").Summary(table.Rows().As("serves")).Numbers("serves")
		weeks := weekly.Where("player", player).Between("serves", 1, 1e9).Numbers("serves")
		names, age = append(names, player), append(age, ageAt(own))
		total, sessions = append(total, int64(own.Len())), append(sessions, int64(len(days)))
		largest, most = append(largest, int64(stats.Quantile(days, 1))), append(most, int64(stats.Quantile(weeks, 1)))
		middle = append(middle, stats.Median(weeks))
	}
	return table.New(table.Text("player", names).Titled("Player"), table.Number("age", "", age).Titled("Age"),
		table.Integer("serves", total).Titled("Recorded serves"),
		table.Integer("sessions", sessions).Titled("Sessions"),
		table.Integer("largest", largest).Titled("Most in a session"),
		table.Integer("most", most).Titled("Most in a week"),
		table.Number("middle", "", middle).Titled("Middle week")).
		OrderBy("-most", "player")
}

// ageAt is the age in years that a player reaches in the year of the last session.
func ageAt(serves table.Table) float64 {
	last := serves.Row(serves.Len() - 1)
	day, err := time.Parse(dateForm, last.Text("session"))
	if err != nil {
		return math.NaN()
	}
	return float64(day.Year()) - last.Number("birth_year")
}

// Growing players
//
// Who of the season is or may be under 18, and what that asks for. Only the year of birth is known, so a player who
// reaches 18 this year counts as young, and so does one whose year of birth nobody wrote down.
func Young(players table.Table) string {
	var names []string
	players = players.OrderBy("player")
	for i := range players.Len() {
		if player := players.Row(i); player.Missing("age") || player.Number("age") <= 18 {
			names = append(names, player.Text("player"))
		}
	}
	if len(names) == 0 {
		return "All players of this season are over 18."
	}
	return "Are or may be under 18: " + strings.Join(names, ", ") + ". The national body's workload rules for " +
		"juniors come before anything that this page shows."
}

// What is not counted
//
// Recorded serves without a date are in no week, and are counted here.
func LeftOut(season motion.Season, settings Settings) table.Table {
	return season.Particulars().
		Keep(func(serve table.Row) bool { return serve.Text("session") == "" }).
		GroupBy("player").
		Summary(table.Rows().As("serves")).
		Titled("serves", "Serves without a date")
}

// The weeks
//
// One row for each player and week.
func Weekly(serves table.Table) (table.Table, error) {
	var names, mondays []string
	var counts []int64
	for _, player := range serves.OrderBy("player").Distinct("player") {
		own := serves.Where("player", player).OrderBy("session")
		perWeek := map[string]int64{}
		for _, date := range own.Texts("session") {
			monday, err := mondayOf(date)
			if err != nil {
				return table.Table{}, err
			}
			perWeek[monday.Format(dateForm)]++
		}
		first, _ := mondayOf(own.Row(0).Text("session"))
		last, _ := mondayOf(own.Row(own.Len() - 1).Text("session"))
		for week := first; !week.After(last); week = week.AddDate(0, 0, 7) {
			name := week.Format(dateForm)
			names, mondays, counts = append(names, player), append(mondays, name), append(counts, perWeek[name])
		}
	}
	return table.New(table.Text("player", names).Titled("Player"), table.Text("session", mondays).Titled("Week of"),
		table.Integer("serves", counts).Titled("Recorded serves in the week")), nil
}

// mondayOf is the Monday of a date's week.
func mondayOf(date string) (time.Time, error) {
	day, err := time.Parse(dateForm, date)
	if err != nil {
		return day, fmt.Errorf("session %q is no date like 2026-03-14; correct it in the roster", date)
	}
	return day.AddDate(0, 0, -(int(day.Weekday())+6)%7), nil
}

// Every serve
//
// The serves that have a date. Choose a row to see the serve.
func Serves(season motion.Season, settings Settings) table.Table {
	return season.Between(settings.From, "").Particulars().
		Keep(func(serve table.Row) bool { return serve.Text("session") != "" })
}
