package recording

import (
	"tossline/kernel/motion"
)

// Options is what a person says about a recording. The zero value says nothing: everything is taken from the file or
// guessed from the data, and reported. It has a JSON form, which a preview sends back with corrections.
type Options struct {
	Units   string      `json:"units,omitempty"`    // mm, cm, m, in or ft, or so many of them: "2.35 mm"
	Length  *Length     `json:"length,omitempty"`   // a length that is known, instead of the units
	Up      string      `json:"up,omitempty"`       // axis of the file that points up: +x, -y, z, ...
	Forward string      `json:"forward,omitempty"`  // direction of the serve in the file's axes: -x or "0.8,0,0.6"
	RateHz  float64     `json:"rate_hz,omitempty"`  // frames a second
	FloorM  *float64    `json:"floor_m,omitempty"`  // height of the court's surface above the file's zero, m
	Sides   Sides       `json:"sides,omitempty"`    // what to do about left and right
	Hand    motion.Hand `json:"hand,omitempty"`     // hitting hand
	Player  string      `json:"player,omitempty"`   // name or pseudonym
	Session string      `json:"session,omitempty"`  // ISO date
	HeightM float64     `json:"height_m,omitempty"` // standing height of the player

	// Map is the landmark map by hand: a landmark's name to the text of its origin in the file, such as "LKNE" or
	// "middle(LKNE, LKNM)", or to "" for leaving it out. What it does not name is mapped by rules.
	Map map[string]string `json:"map,omitempty"`

	// Maps are maps by hand that were kept, by marker set. Where Map is empty, that of the file's marker set is used.
	Maps Maps `json:"maps,omitempty"`
}

// Length is a distance that somebody measured, between two landmarks or two points of the file.
type Length struct {
	From string  `json:"from"`
	To   string  `json:"to"`
	M    float64 `json:"m"` // metres
}

// Sides says how to repair a file whose left and right come out wrong.
type Sides string

// The repairs.
const (
	SidesKept     Sides = ""
	SidesSwapped  Sides = "swapped"  // the names are wrong: left is called right
	SidesMirrored Sides = "mirrored" // the axes are left-handed: the picture is a mirror image
)

// Ground says where a fact comes from.
type Ground string

// The grounds: a person said it, the file says it, or it was guessed from the data.
const (
	Said    Ground = "said"
	InFile  Ground = "file"
	Guessed Ground = "guessed"
	Unknown Ground = "unknown"
)

// Fact is one thing understood about a recording, where it comes from, and the evidence as a sentence.
type Fact[T any] struct {
	Value    T      `json:"value"`
	Source   Ground `json:"source"`
	Evidence string `json:"evidence,omitempty"`
}

// Understanding is what was made of a file, before anything is stored. Its JSON form is an interface: fields may be
// added and are never renamed.
type Understanding struct {
	File      string `json:"file"`
	Recording string `json:"recording"` // the recording's id: first twelve digits of the hash
	Format    string `json:"format"`
	SHA256    string `json:"sha256"` // of the file; of hash and Part where the file holds several recordings

	Part       string `json:"part,omitempty"`       // what tells the recording from others of the same file
	Recordings int    `json:"recordings,omitempty"` // how many the file holds, where it is several

	Frames    int     `json:"frames"`
	RateHz    float64 `json:"rate_hz"`
	DurationS float64 `json:"duration_s"`

	Rate    Fact[float64]     `json:"rate"`
	Units   Fact[string]      `json:"units"`
	Up      Fact[string]      `json:"up"`
	Forward Fact[string]      `json:"forward"` // in the file's axes, in the form of Options.Forward
	Floor   Fact[float64]     `json:"floor"`   // metres above the file's zero
	Hand    Fact[motion.Hand] `json:"hand"`
	Player  Fact[string]      `json:"player"`
	Session Fact[string]      `json:"session"`
	Height  Fact[float64]     `json:"height_m"` // standing height, m; 0 where unknown

	Landmarks Landmarks    `json:"landmarks"`
	Signals   []Signal     `json:"signals,omitempty"` // channels beside the points, without their values
	Marks     []Mark       `json:"marks,omitempty"`   // moments marked in the file
	Serves    []ServeFound `json:"serves"`
	Notes     []Note       `json:"notes"`
}

// Landmarks is the landmark map of a recording.
type Landmarks struct {
	Found   []string          `json:"found"`   // landmarks that the take has
	Missing []string          `json:"missing"` // landmarks of the standard list that it lacks
	Unknown []string          `json:"unknown"` // points of the file that are none, kept under their own names
	Set     string            `json:"set"`     // the marker set: a hash of the names of the file's points
	Kept    bool              `json:"kept"`    // a map that was kept for this marker set is used
	Map     map[string]string `json:"map"`     // every channel of the take and its origin, in the form of Options.Map
}

// ServeFound is one line of the summary of serves.
type ServeFound struct {
	FromS    float64  `json:"from_s"`
	ToS      float64  `json:"to_s"`
	ContactS *float64 `json:"contact_s"` // null where the contact lies outside the take
	CutOff   bool     `json:"cut_off"`
	Why      string   `json:"why,omitempty"`
}

// Failed gives the first note that forbids the import, or nil.
func (u *Understanding) Failed() *Note {
	for i := range u.Notes {
		if u.Notes[i].Severity == Fail {
			return &u.Notes[i]
		}
	}
	return nil
}
