// Package recording is the form every importer hands over: what a file says, before and after it is understood.
//
// A Raw is a file's own content: its names, its units, its axes. Interpret turns it into a motion.Take in the global
// frame, by what the user said or by what the data shows, and reports every guess with its evidence.
package recording

// Raw is what one importer read from one file, unchanged: points by frame in the file's own units and axes.
type Raw struct {
	Format string // "bvh", "csv", "c3d", ...
	File   string // base name of the file
	SHA256 string // of the file's bytes, lower-case hex

	Points []string  // names of the points, as in the file
	XYZ    []float32 // 3*len(Points) values a frame; NaN where missing
	RateHz float64   // 0 where the file does not say
	TimeS  []float64 // time of each frame where the file gives it, else nil

	Units string // what the file itself says of its units: "mm", "cm", "m", "in" or ""
	UpIs  string // what it says of its axes: "+y", "+z", ... or ""

	// Settled says that the file was written by this program from frames of a season: names, units and axes are ours, and
	// nothing is left to guess.
	Settled bool

	// Alike says that some places have the same number in all axes: it may stand for places that are not known.
	Alike bool

	// Planar says that the points are those of a picture: all have z = 0, and nothing is known of depth.
	Planar bool

	Player  string  // what it says of the player, or ""
	Session string  // ISO date, or ""
	Hand    string  // hitting hand as the file writes it, or ""
	HeightM float64 // standing height, m, or 0

	Signals []Signal // what was recorded beside the points
	Marks   []Mark   // moments that someone marked in the file

	Notes []Note // what was odd and what was done about it

	room []float32          // for the frames of the take; see Input
	tick func(part float64) // hears now and then how much of the work on it is done; may be nil

	Part string // what tells this recording from others of the same file, or ""
	More []*Raw // the other recordings of the file; they have none themselves
}

// Signal is a channel of numbers recorded beside the points: force, muscle activity, a model's angles. Values start
// with the first frame and come at a rate of their own; NaN where missing.
type Signal struct {
	Name   string    `json:"name"`
	Unit   string    `json:"unit,omitempty"` // as in the file
	RateHz float64   `json:"rate_hz"`
	Values []float32 `json:"-"`
}

// Mark is a moment that someone marked in the file, in seconds from its first frame.
type Mark struct {
	Name  string  `json:"name"`
	Side  string  `json:"side,omitempty"` // as in the file
	TimeS float64 `json:"time_s"`
}

// Frames is the number of frames.
func (r *Raw) Frames() int {
	if len(r.Points) == 0 {
		return 0
	}
	return len(r.XYZ) / (3 * len(r.Points))
}

// Severity grades a Note.
type Severity string

// The severities: Info is worth knowing, Warn may make numbers wrong, Fail means that the file cannot be imported.
const (
	Info Severity = "info"
	Warn Severity = "warn"
	Fail Severity = "fail"
)

// Note is one remark on a file: where it applies, what was found and what was done or should be done.
type Note struct {
	Severity Severity `json:"severity"`
	Where    string   `json:"where,omitempty"` // "line 12, column 3", "frames 120-131", "left_knee"
	Text     string   `json:"text"`
}
