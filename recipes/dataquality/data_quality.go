// Data quality
//
// What of the season can be trusted: what was left out and why, what a stand-in gave, how sure the events are, and
// which recordings deserve a second look.
//
// A finding is as good as the serves under it. A measure that a tenth of a player's serves lack may still describe that
// player; one that is there for slow serves only does not. Tossline never fills a missing value in, so nothing here is
// repaired, only told.
package recipe

import (
	"math"
	"strings"

	"tossline/kernel/chart"
	"tossline/kernel/motion"
	"tossline/kernel/stats"
	"tossline/kernel/table"
)

// Settings of this recipe.
type Settings struct {
	Player string `from:"players" default:""`  // Player to look at, or all.
	From   string `from:"sessions" default:""` // From the session of.
}

// Not measured at all
//
// Serves that a recording cuts off, that a person discarded, or of which the frames can't be read. They are in no
// recipe.
func NotMeasured(season motion.Season, settings Settings) table.Table {
	left := season.Of(settings.Player).Between(settings.From, "").LeftOut()
	if left.Len() == 0 {
		return table.New(table.Text("player", nil).Titled("Player"), table.Text("left_out", nil).Titled("Reason"))
	}
	return left.GroupBy("player", "left_out").
		Summary(table.Rows().As("serves")).
		Titled("serves", "Serves").
		OrderBy("-serves", "player")
}

// How sure the events are
//
// For each event: the share of serves that have it, that took it from a stand-in, and that a person set; and how sure
// the program is of those that it found itself, from 0 to 1. A contact without racket and ball is an estimate.
func Events(moments table.Table) table.Table {
	var names []string
	var found, standIns, byHand, middle, lowest []float64
	for _, kind := range motion.EventKinds {
		id := string(kind)
		known := moments.Present(id + "_s")
		names = append(names, strings.ReplaceAll(id, "_", " "))
		found = append(found, percent(known.Len(), moments.Len()))
		standIns = append(standIns, percent(known.Where(id+"_stand_in", "yes").Len(), known.Len()))
		byHand = append(byHand, percent(known.Where(id+"_by_hand", "yes").Len(), known.Len()))
		sure := known.Where(id+"_by_hand", "no").Numbers(id + "_confidence")
		middle, lowest = append(middle, stats.Median(sure)), append(lowest, stats.Quantile(sure, 0.05))
	}
	return table.New(table.Text("event", names).Titled("Event"),
		table.Number("found_pct", "%", found).Titled("Found"),
		table.Number("stand_in_pct", "%", standIns).Titled("From a stand-in"),
		table.Number("by_hand_pct", "%", byHand).Titled("Set by a person"),
		table.Number("middle", "", middle).Titled("Confidence, middle"),
		table.Number("lowest", "", lowest).Titled("Confidence, lowest twentieth"))
}

// Serves to look at
//
// The serves of which contact, release or low point is least sure. Choose a row to see the serve, and correct the event
// where it is wrong: what you set wins over what was found, for ever.
func Doubtful(moments table.Table) table.Table {
	least := func(serve table.Row) float64 {
		lowest := math.NaN()
		for _, kind := range []string{"contact", "release", "low_point"} {
			sure := serve.Number(kind + "_confidence")
			if serve.Text(kind+"_by_hand") != "yes" && !(lowest <= sure) {
				lowest = sure
			}
		}
		return lowest
	}
	return moments.WithNumber("least", "", least).
		Titled("least", "Least confidence").
		Pick("serve", "player", "session", "file", "contact_s", "least", "contact_method", "release_method").
		Present("least").
		OrderBy("least", "serve").
		First(30)
}

// Measure by measure
//
// The share of serves that have a value, from a stand-in or not. The measures that most serves lack stand first.
func Completeness(serves table.Table) chart.Chart {
	var names []string
	var share []float64
	for _, m := range motion.All() {
		names = append(names, m.Title)
		share = append(share, percent(serves.Pick(m.Column()).Present(m.Column()).Len(), serves.Len()))
	}
	all := table.New(table.Text("measure", names), table.Number("share", "%", share).Titled("Serves with a value"))
	return chart.Bars(all.OrderBy("share").First(20), "measure", "share")
}

// What is missing, and why
//
// Every reason for a missing value, with the measures and the serves that it costs.
func Reasons(missing table.Table) table.Table {
	return missing.GroupBy("measure", "reason").
		Summary(table.Sum("serves").As("serves")).
		Titled("serves", "Serves").
		OrderBy("-serves", "measure")
}

// Which recordings
//
// The share of all values that a recording lacks, and that a stand-in gave. A recording far above the others was set up
// otherwise: no racket markers, a hidden camera, another rate.
func Recordings(serves table.Table) table.Table {
	var files, players, sessions []string
	var counts []int64
	var lacking, standing []float64
	measures := motion.All()
	for _, take := range serves.GroupBy("recording").Tables() {
		first := take.Row(0)
		values, standIns := 0, 0
		for _, m := range measures {
			values += take.Pick(m.Column()).Present(m.Column()).Len()
			for _, basis := range take.Texts(m.BasisColumn()) {
				if strings.Contains(basis, "stand-in") {
					standIns++
				}
			}
		}
		all := take.Len() * len(measures)
		files, players = append(files, first.Text("file")), append(players, first.Text("player"))
		sessions, counts = append(sessions, first.Text("session")), append(counts, int64(take.Len()))
		lacking, standing = append(lacking, percent(all-values, all)), append(standing, percent(standIns, values))
	}
	return table.New(table.Text("file", files).Titled("Recording"), table.Text("player", players).Titled("Player"),
		table.Text("session", sessions).Titled("Session"), table.Integer("serves", counts).Titled("Serves"),
		table.Number("lacking_pct", "%", lacking).Titled("Values missing"),
		table.Number("stand_in_pct", "%", standing).Titled("Values from a stand-in")).
		OrderBy("-lacking_pct", "-stand_in_pct", "file")
}

func percent(part, whole int) float64 {
	if whole == 0 {
		return math.NaN()
	}
	return 100 * float64(part) / float64(whole)
}

// Does it matter who or what is missing?
//
// The noise of each measure within a session, beside the share of serves that have it. Where a measure is missing from
// many serves, ask whether the missing ones are like the others before you use it.
func Noise(serves table.Table) table.Table {
	var names, units, lack []string
	var share, noise, low, high []float64
	for _, m := range motion.All() {
		e := stats.NoiseOf(stats.Of(serves, m.Column())).TypicalError
		names, units, lack = append(names, m.Title), append(units, m.Unit), append(lack, e.Lack)
		share = append(share, percent(serves.Pick(m.Column()).Present(m.Column()).Len(), serves.Len()))
		noise, low, high = append(noise, e.Value), append(low, e.Low), append(high, e.High)
	}
	return table.New(table.Text("measure", names).Titled("Measure"), table.Text("unit", units).Titled("Unit"),
		table.Number("share_pct", "%", share).Titled("Serves with a value"),
		table.Number("noise", "", noise).Titled("Noise in a session"),
		table.Number("low", "", low).Titled("95 % from"), table.Number("high", "", high).Titled("95 % to"),
		table.Text("lack", lack).Titled("Lacking"))
}

// The missing values, player by player
//
// One row for each player, measure and reason.
func Missing(serves table.Table) table.Table { return motion.Unmeasured(serves, motion.All()...) }

// The moments
//
// Every event of every serve: when, how it was found, and how sure that is.
func Moments(season motion.Season, settings Settings) (table.Table, error) {
	return season.Of(settings.Player).Between(settings.From, "").Events()
}

// Every serve
//
// All measures of the serves that were looked at. Choose a row to see the serve.
func Serves(season motion.Season, settings Settings) (table.Table, error) {
	return season.Of(settings.Player).Between(settings.From, "").Measure(motion.All()...)
}
