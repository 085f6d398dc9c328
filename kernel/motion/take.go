package motion

import "tossline/datasets/landmark"

// Hand is the hitting hand of a player.
type Hand string

// The hitting hands. HandUnknown asks Cut to find out.
const (
	HandUnknown Hand = ""
	HandLeft    Hand = "left"
	HandRight   Hand = "right"
)

// Take is one recording in the global frame of this package, at a uniform rate. Frames holds
// 3*Layout.Len() values a frame, x y z by landmark, row by row; NaN where a coordinate is missing. It may be a
// memory-mapped file: it is read, never written.
type Take struct {
	Rate   float64 // Hz
	Layout *landmark.Layout
	Frames []float32
	Hand   Hand // HandUnknown where nobody said

	// Cutoffs holds the low-pass cutoff of each landmark in hertz, in the layout's order; nil or 0 leaves it to the
	// package, which goes by how fast the landmark moves in a serve.
	Cutoffs []float64
}

// Len is the number of frames.
func (t Take) Len() int {
	if t.Layout == nil || t.Layout.Len() == 0 {
		return 0
	}
	return len(t.Frames) / (3 * t.Layout.Len())
}

// Clip is the stretch of a take around one serve: frames First to First+Len()-1 of the recording, sharing its
// memory.
type Clip struct {
	Take            // Frames holds the stretch alone
	First    int    // index in the recording of the clip's first frame
	Events   Events // in seconds from the start of the recording
	Serve    ServeID
	HeightM  float64 // the player's standing height, m; 0 where unknown
	Position int     // place of the serve in the season's order
}

// ServeID names one serve of a season for ever: the recording's id, a hyphen and the contact time in hundredths of
// a second when the serve was first cut, such as "3f9a2c41b07d-00226".
type ServeID string

// Serve is what Cut found: where a serve lies in its take, and its events.
type Serve struct {
	First, Last int    // frames of the take, inclusive, with the margin that filtering needs
	Events      Events // in seconds from the start of the take
	CutOff      bool   // contact or release lies outside the take: kept, not measured
	CutOffWhy   string // "release before the take starts" or "contact after the take ends"
}
