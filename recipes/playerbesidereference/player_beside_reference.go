// Player beside a reference
//
// Which of a player's measures differ from those of a chosen reference, by how much, how sure that is, how large it is
// against the player's own noise, and where in the serve the two part.
//
// A reference is a choice, not a truth: take one of like age, size and hand, and say why. Lengths grow with the player;
// those given as a part of height can be compared between a tall and a short one. A difference is a difference: nothing
// here says that it is a fault, or that closing it would make a serve faster or safer.
//
// Where both players have three sessions or more, every session counts as one value, its mean, because the serves of
// one day are alike. Else serves count one by one, and a difference between two days can't be told from one between two
// players; the first result says which it is.
package recipe

import (
	"fmt"
	"math"
	"strings"

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
	// Curve to look at.
	Curve string `choices:"Front knee flexion,Separation,Shoulder tilt,External rotation,Racket speed,Hand speed"`
}

// enough is how many sessions each player needs for sessions to count as the values.
const enough = 3

// What counts
//
// Whether sessions or single serves are compared.
func Basis(serves table.Table, settings Settings) string {
	if settings.Reference == "" || settings.Reference == settings.Player {
		return "Choose a reference that is another player."
	}
	player := serves.Where("player", settings.Player)
	reference := serves.Where("player", settings.Reference)
	said := fmt.Sprintf("%s: %d serves in %d sessions. %s: %d serves in %d sessions. ", settings.Player, player.Len(),
		len(player.Distinct("session")), settings.Reference, reference.Len(), len(reference.Distinct("session")))
	if bySession(serves, settings) {
		return said + "Sessions are compared."
	}
	return said + fmt.Sprintf("Single serves are compared: with fewer than %d sessions of each, what the day did is "+
		"taken for what the player does.", enough)
}

// bySession tells whether both players have enough sessions.
func bySession(serves table.Table, settings Settings) bool {
	return len(serves.Where("player", settings.Player).Distinct("session")) >= enough &&
		len(serves.Where("player", settings.Reference).Distinct("session")) >= enough
}

// What stands out
//
// The differences that are shown, those that are largest against the player's noise first. One noise is how far a serve
// lies from the mean of its session: at twice that, most single serves look different.
func Largest(compared table.Table, settings Settings) chart.Chart {
	return chart.Intervals(compared.Where("verdict", "shown").First(12), "measure", "times", "times_low", "times_high").
		Sides("player has less", "player has more")
}

// In words
//
// The three that stand out most, one to a chapter of the serve, so that they don't say the same thing thrice.
func InWords(compared table.Table) []stats.Estimate {
	var said []stats.Estimate
	told := map[string]bool{}
	shown := compared.Where("verdict", "shown")
	for i := range shown.Len() {
		row := shown.Row(i)
		if chapter := row.Text("chapter"); len(said) < 3 && !told[chapter] {
			told[chapter] = true
			said = append(said, stats.Estimate{Name: row.Text("measure"), Value: row.Number("difference"),
				Low: row.Number("low"), High: row.Number("high"), Unit: row.Text("unit"), N: int(row.Number("n")),
				Sentence: row.Text("sentence")})
		}
	}
	if len(said) == 0 {
		none := math.NaN()
		said = append(said, stats.Estimate{Name: "Difference", Value: none, Low: none, High: none,
			Sentence: "No difference is shown."})
	}
	return said
}

// At contact
//
// The middle serve of each, of all ordered by contact offset, from behind.
func Contact(season motion.Season, serves table.Table, settings Settings) figure.Figure {
	return figure.Contact(season,
		motion.MiddleServe(serves.Where("player", settings.Player), motion.ContactOffset.Column()),
		motion.MiddleServe(serves.Where("player", settings.Reference), motion.ContactOffset.Column()))
}

// Measure by measure
//
// Player less reference with its 95 % interval (Welch 1947), Hedges g over single serves, the difference in units of
// the player's noise, and the chance of so large a difference if there were none, adjusted for asking of so many
// measures at once (Holm 1979): at or below 0.05 the difference is shown. Not shown is not the same as equal.
func Compared(serves table.Table, settings Settings) table.Table {
	var titles, chapters, units, verdicts, sentences, lack []string
	var player, reference, difference, low, high, effect, noise, chance []float64
	var counts []int64
	sessions := bySession(serves, settings)
	ofPlayer, ofReference := serves.Where("player", settings.Player), serves.Where("player", settings.Reference)
	for _, chapter := range motion.Chapters() {
		for _, m := range chapter.Measures {
			if m.ID == motion.SequenceOrder.ID || m.ID == motion.Stance.ID {
				continue // an order or a class is no amount
			}
			own := stats.Of(ofPlayer, m.Column())
			other := stats.Of(ofReference, m.Column())
			typical := math.Max(stats.NoiseOf(own).TypicalError.Value, m.Noise)
			effect, noise = append(effect, stats.HedgesG(own, other).Value), append(noise, typical)
			if sessions {
				own, other = own.SessionMeans(), other.SessionMeans()
			}
			c := stats.Welch(own, other)
			titles, chapters, units = append(titles, m.Title), append(chapters, chapter.Title), append(units, m.Unit)
			player, reference = append(player, c.First.Value), append(reference, c.Second.Value)
			difference, chance = append(difference, c.Difference.Value), append(chance, c.P)
			low, high = append(low, c.Difference.Low), append(high, c.Difference.High)
			counts = append(counts, int64(c.Difference.N))
			sentences, lack = append(sentences, inWords(m, c, typical)), append(lack, c.Difference.Lack)
		}
	}
	chance = stats.Holm(chance)
	for _, p := range chance {
		switch {
		case math.IsNaN(p):
			verdicts = append(verdicts, "not compared")
		case p <= 0.05:
			verdicts = append(verdicts, "shown")
		default:
			verdicts = append(verdicts, "not shown")
		}
	}
	times := func(column string) func(table.Row) float64 {
		return func(row table.Row) float64 { return row.Number(column) / row.Number("noise") }
	}
	return table.New(table.Text("measure", titles).Titled("Measure"), table.Text("unit", units).Titled("Unit"),
		table.Number("player", "", player).Titled("Player"),
		table.Number("reference", "", reference).Titled("Reference"),
		table.Number("difference", "", difference).Titled("Difference"),
		table.Number("low", "", low).Titled("95 % from"), table.Number("high", "", high).Titled("95 % to"),
		table.Number("g", "", effect).Titled("Hedges g"), table.Number("noise", "", noise).Titled("Player's noise"),
		table.Number("chance", "", chance).Titled("Chance, adjusted"),
		table.Text("verdict", verdicts).Titled("Verdict"),
		table.Integer("n", counts).Titled("Sessions or serves"),
		table.Text("lack", lack).Titled("Lacking"), table.Text("chapter", chapters).Titled("Part of the serve"),
		table.Text("sentence", sentences).Titled("In words")).
		WithNumber("times", "", times("difference")).Titled("times", "Difference in units of the player's noise").
		WithNumber("times_low", "", times("low")).WithNumber("times_high", "", times("high")).
		WithNumber("size", "", func(row table.Row) float64 { return math.Abs(row.Number("times")) }).
		OrderBy("-size").
		Drop("size")
}

// inWords is one comparison in a sentence.
func inWords(m motion.Measure, c stats.Comparison, noise float64) string {
	if !c.Difference.Sure() {
		return m.Title + " could not be compared. " + c.Difference.Lack
	}
	said := fmt.Sprintf("%s: %s, against %s of the reference. The difference is %s (95 %% interval %s to %s)", m.Title,
		amount(c.First.Value, m.Unit), amount(c.Second.Value, m.Unit), amount(c.Difference.Value, m.Unit),
		amount(c.Difference.Low, m.Unit), amount(c.Difference.High, m.Unit))
	if noise > 0 {
		said += fmt.Sprintf(", %.1f times the player's noise", math.Abs(c.Difference.Value)/noise)
	}
	return said + "."
}

// amount writes a number with the decimals that its unit deserves.
func amount(x float64, unit string) string {
	places := map[string]int{"m": 3, "s": 3, "deg": 1, "m/s": 1, "%": 1, "": 2}[unit]
	text := strings.TrimSpace(fmt.Sprintf("%.*f %s", places, x, unit))
	return strings.NewReplacer("-", "−", " deg", "°").Replace(text)
}

// One curve
//
// The chosen curve from release to contact: each player's mean with a band that holds the whole true curve with 95 %
// confidence. Release, trophy position, low point and contact lie at the same place for every serve, that of their mean
// times.
func Bands(courses table.Table, settings Settings) (chart.Chart, error) {
	curve, err := chosen(settings)
	if err != nil {
		return chart.Chart{}, err
	}
	bands := of(courses, curve, settings.Player, settings).Band().Table()
	if other := of(courses, curve, settings.Reference, settings); other.N() > 0 {
		bands = bands.Append(other.Band().Table())
	}
	return chart.Lines(bands, "phase_pct", "mean", "who").Band("low", "high").Highlight(settings.Player), nil
}

// chosen is the curve of the settings.
func chosen(settings Settings) (motion.Curve, error) {
	for _, c := range motion.Curves() {
		if c.Title == settings.Curve {
			return c, nil
		}
	}
	return motion.Curve{}, fmt.Errorf("no curve %q; choose one in the settings", settings.Curve)
}

// of are the curves of one player: the mean curve of each session where sessions are compared, else those of serves.
func of(courses table.Table, curve motion.Curve, player string, settings Settings) stats.Curves {
	own := courses.Where("player", player)
	if bySession(courses, settings) {
		own = own.GroupBy("player", "session", "phase_pct").
			Summary(table.Mean(curve.Column()).As(curve.Column())).
			Titled(curve.Column(), curve.Title).
			Rename("session", "serve")
	}
	return stats.CurvesOf(own, curve.Column()).Named(player)
}

// Where they part
//
// The difference of the two mean curves, player less reference, with its band. They part where the band leaves zero.
func Parting(courses table.Table, settings Settings) (chart.Chart, error) {
	curve, err := chosen(settings)
	if err != nil {
		return chart.Chart{}, err
	}
	c := stats.CompareCurves(of(courses, curve, settings.Player, settings),
		of(courses, curve, settings.Reference, settings))
	return chart.Lines(c.Table(), "phase_pct", "difference", "").Band("low", "high").Guide(0, "no difference"), nil
}

// In which phase
//
// Every curve, tested as a whole (statistical parametric mapping in one dimension), and the stretch in which the two
// players part most clearly; the clearest curve stands first. The chance is that of a stretch as long anywhere along
// the curve if there were no difference, times the number of curves that were asked. Phases lie between the mean times
// of the events.
func Phases(season motion.Season, settings Settings) (table.Table, error) {
	var titles, where, units, lack []string
	var from, to, difference, chance, clear []float64
	both := season.Of(settings.Player, settings.Reference).Between(settings.From, "")
	events, err := both.Events()
	if err != nil {
		return table.Table{}, err
	}
	all := motion.Curves()
	for _, curve := range all {
		courses, err := both.Curves(curve, 101, motion.Release, motion.Trophy, motion.LowPoint, motion.Contact)
		if err != nil {
			return table.Table{}, err
		}
		c := stats.CompareCurves(of(courses, curve, settings.Player, settings),
			of(courses, curve, settings.Reference, settings))
		nan := math.NaN()
		best := stats.Stretch{From: nan, To: nan, At: nan, Difference: nan, P: nan, T: nan}
		for _, s := range c.Apart {
			if !(math.Abs(s.T) <= math.Abs(best.T)) {
				best = s
			}
		}
		titles, units, lack = append(titles, curve.Title), append(units, curve.Unit), append(lack, c.Lack)
		where = append(where, phaseAt(events, best.At))
		from, to = append(from, best.From), append(to, best.To)
		difference, clear = append(difference, best.Difference), append(clear, math.Abs(best.T))
		chance = append(chance, math.Min(1, best.P*float64(len(all))))
	}
	return table.New(table.Text("curve", titles).Titled("Curve"), table.Text("where", where).Titled("They part most"),
		table.Number("from", "%", from).Titled("From"), table.Number("to", "%", to).Titled("To"),
		table.Number("difference", "", difference).Titled("Difference there"), table.Text("unit", units).Titled("Unit"),
		table.Number("chance", "", chance).Titled("Chance, adjusted"), table.Text("lack", lack).Titled("Lacking"),
		table.Number("clear", "", clear)).
		OrderBy("-clear").
		Drop("clear").
		Captioned(fmt.Sprintf("From release, at 0 %%, to contact, at 100 %%. Trophy position lies at %.0f %%, the low "+
			"point at %.0f %%.", placeOf(events, "trophy_s"), placeOf(events, "low_point_s"))), nil
}

// phaseAt names the part of the serve that lies at a share of the way from release to contact.
func phaseAt(events table.Table, share float64) string {
	switch {
	case math.IsNaN(share):
		return ""
	case share < placeOf(events, "trophy_s"):
		return "from release to trophy position"
	case share < placeOf(events, "low_point_s"):
		return "from trophy position to low point"
	}
	return "from low point to contact"
}

// placeOf is the mean place of an event on the way from release to contact, in %.
func placeOf(events table.Table, column string) float64 {
	release, contact := events.Numbers("release_s"), events.Numbers("contact_s")
	shares := events.Numbers(column)
	for i, at := range shares {
		shares[i] = 100 * (at - release[i]) / (contact[i] - release[i])
	}
	return stats.Mean(shares)
}

// What was left out, and why
//
// Measures that could not be compared, and what they lack.
func LeftOut(compared table.Table) table.Table {
	return compared.Present("lack").Pick("measure", "lack").OrderBy("measure")
}

// Every curve
//
// The chosen curve of every serve of both players, from release to contact.
func Courses(season motion.Season, settings Settings) (table.Table, error) {
	curve, err := chosen(settings)
	if err != nil {
		return table.Table{}, err
	}
	return season.Of(settings.Player, settings.Reference).Between(settings.From, "").
		Curves(curve, 101, motion.Release, motion.Trophy, motion.LowPoint, motion.Contact)
}

// Every serve
//
// All measures of both players' serves. Choose a row to see the serve.
func Serves(season motion.Season, settings Settings) (table.Table, error) {
	return season.Of(settings.Player, settings.Reference).Between(settings.From, "").Measure(motion.All()...)
}
