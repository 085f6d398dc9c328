// The way to contact
//
// What the racket and the arm do between the low point and the ball: how deep the racket falls, whether it travels up
// on edge, where it meets the ball, how fast the arm turns about its long axis, and in which order body, arm and racket
// are fastest.
//
// From the low point to contact a serve lasts about a tenth of a second. Below some 100 frames a second it is ten
// frames or fewer, and the fastest parts of it cannot be measured well: look at the rate of the recordings before you
// compare. The order of the peaks is described here and never graded: in Olympic players the upper trunk was fastest
// before the pelvis (Fleisig et al. 2003), so there is no right order to miss.
package recipe

import (
	"strconv"
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
}

// The columns that the charts are about.
const (
	offset   = "contact_offset_m"
	onEdge   = "face_on_edge_deg"
	rotation = "long_axis_speed_deg_s"
	fall     = "tempo_low_point_contact_s"
)

// links are the parts of the sequence: those of the legs and the trunk first, the racket last.
func links() []motion.Measure {
	return []motion.Measure{motion.SequenceKnee, motion.SequencePelvis, motion.SequenceTrunk, motion.SequenceElbow,
		motion.SequenceLongAxis, motion.SequenceRacket}
}

// The low point
//
// The player's middle serve, of all ordered by contact offset, where the racket hangs lowest, beside that of the
// reference. The thin line is the way of the racket tip.
func LowPoint(season motion.Season, swings table.Table, settings Settings) figure.Figure {
	return figure.Drop(season,
		motion.MiddleServe(swings.Where("player", settings.Player), offset),
		motion.MiddleServe(swings.Where("player", settings.Reference), offset))
}

// Contact
//
// The same serves at contact, from behind.
func Contact(season motion.Season, swings table.Table, settings Settings) figure.Figure {
	return figure.Contact(season,
		motion.MiddleServe(swings.Where("player", settings.Player), offset),
		motion.MiddleServe(swings.Where("player", settings.Reference), offset))
}

// On edge
//
// The angle between the racket face and the way that it moves, 0.03 s before contact: 0 is the edge leading, 90 the
// face. In common practice the racket goes up to the ball on edge and the arm turns the face into it. Without both
// edges of the racket there is no value, and the hand doesn't stand in.
func OnEdge(swings table.Table, settings Settings) chart.Chart {
	return chart.Strip(swings.OrderBy("player"), onEdge, "player").Highlight(settings.Player)
}

// How long the racket takes
//
// The time from low point to contact.
func Fall(swings table.Table, settings Settings) chart.Chart {
	return chart.Strip(swings.OrderBy("player"), fall, "player").Highlight(settings.Player)
}

// Place and rotation
//
// Where the ball is met, and how fast the arm turns about its long axis just before. Read each player's cloud for
// itself: between players the picture can be the other way round, because the stronger ones both meet the ball farther
// outside and turn faster.
func Rotation(swings table.Table, settings Settings) chart.Chart {
	return chart.Scatter(swings.Where("player", settings.Player, settings.Reference), offset, rotation, "player").
		Highlight(settings.Player)
}

// The same within players
//
// Whether a player's own serves met farther outside are the slower ones, over all players of the season, each with an
// own level. The pooled correlation beside it is a warning and no answer.
func Within(swings table.Table) stats.WithinCorrelation {
	return stats.Within(stats.Of(swings, offset), stats.Of(swings, rotation))
}

// The order of the peaks
//
// When each part is fastest, counted back from contact: the player's mean over sessions with its 95 % interval. Time
// runs from right to left. Two parts whose intervals overlap have no order that this season could tell.
func Sequence(swings table.Table, settings Settings) chart.Chart {
	var names []string
	var mean, low, high []float64
	serves := swings.Where("player", settings.Player)
	for _, m := range links() {
		e := stats.Of(serves, m.Column()).MeanOfSessions()
		names = append(names, strings.TrimSuffix(m.Title, ", peak before contact"))
		mean, low, high = append(mean, e.Value), append(low, e.Low), append(high, e.High)
	}
	peaks := table.New(table.Text("part", names), table.Number("before", "s", mean).Titled("Before contact"),
		table.Number("low", "s", low), table.Number("high", "s", high))
	return chart.Intervals(peaks, "part", "before", "low", "high")
}

// Orders that were seen
//
// How often the player's serves had each order of the peaks. Peaks that lie closer together than a frame or two change
// places by chance.
func Orders(swings table.Table, settings Settings) table.Table {
	return swings.Where("player", settings.Player).
		Present("sequence_order").
		WithText("order", func(serve table.Row) string { return inWords(serve.Number("sequence_order")) }).
		GroupBy("order").
		Summary(table.Rows().As("serves")).
		Titled("order", "Order in time").
		Titled("serves", "Serves").
		OrderBy("-serves", "order")
}

// inWords reads the digits of an order: 132456 is knee, trunk, pelvis, elbow, long axis, racket.
func inWords(order float64) string {
	parts := []string{"knee", "pelvis", "trunk", "elbow", "long axis", "racket"}
	var said []string
	for _, digit := range strconv.Itoa(int(order)) {
		if k := int(digit - '1'); k >= 0 && k < len(parts) {
			said = append(said, parts[k])
		}
	}
	return strings.Join(said, ", ")
}

// Player by player
//
// Means over each player's sessions. A player whose recordings have no racket has no angle on edge.
func Players(swings table.Table) table.Table {
	var names []string
	var deep, edge, place, turn, speed []float64
	for _, player := range swings.OrderBy("player").Distinct("player") {
		serves := swings.Where("player", player)
		mean := func(column string) float64 { return stats.Of(serves, column).MeanOfSessions().Value }
		names = append(names, player)
		deep, edge, place = append(deep, mean("drop_depth_m")), append(edge, mean(onEdge)), append(place, mean(offset))
		turn, speed = append(turn, mean(rotation)), append(speed, mean("racket_speed_m_s"))
	}
	return table.New(table.Text("player", names).Titled("Player"),
		table.Number("drop_depth_m", "m", deep).Titled("Drop depth"),
		table.Number("face_on_edge_deg", "deg", edge).Titled("On edge"),
		table.Number("contact_offset_m", "m", place).Titled("Contact offset"),
		table.Number("long_axis_speed_deg_s", "deg/s", turn).Titled("Long-axis speed"),
		table.Number("racket_speed_m_s", "m/s", speed).Titled("Racket speed"))
}

// What was left out, and why
//
// Serves without a contact offset, an angle on edge or a long-axis speed, by player and reason.
func LeftOut(swings table.Table) table.Table {
	return motion.Unmeasured(swings, motion.ContactOffset, motion.FaceOnEdge, motion.LongAxisSpeed)
}

// Every serve
//
// The measures that the results above are drawn from. Choose a row to see the serve.
func Swings(season motion.Season, settings Settings) (table.Table, error) {
	measures := append(links(), motion.SequenceOrder, motion.DropDepth, motion.FaceOnEdge, motion.PathDirection,
		motion.ContactOffset, motion.ContactForward, motion.LongAxisSpeed, motion.RacketSpeed, motion.TempoLowContact)
	return season.Between(settings.From, "").Measure(measures...)
}
