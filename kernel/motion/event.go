package motion

// EventKind is a named instant of a serve. The names of the stages between them follow the eight-stage model of
// Kovacs & Ellenbecker (2011).
type EventKind string

// The events, in the order of time.
const (
	Start    EventKind = "start"     // first sustained movement of either hand before the toss
	Release  EventKind = "release"   // the ball leaves the tossing hand
	Trophy   EventKind = "trophy"    // largest front knee flexion between release and low point
	LowPoint EventKind = "low_point" // lowest racket tip between trophy and contact
	Takeoff  EventKind = "takeoff"   // the last foot leaves the court
	Contact  EventKind = "contact"   // racket and ball meet
	Landing  EventKind = "landing"   // the first foot meets the court
	Finish   EventKind = "finish"    // hitting hand at its lowest after contact
)

// EventKinds lists every event in the order of time.
var EventKinds = []EventKind{Start, Release, Trophy, LowPoint, Takeoff, Contact, Landing, Finish}

// Event is one found or hand-set instant.
type Event struct {
	TimeS      float64 `json:"time_s"`     // from the start of the recording; between frames where the method allows
	Method     string  `json:"method"`     // how it was found, e.g. "ball velocity", "hand highest (stand-in)"
	Confidence float64 `json:"confidence"` // 0 to 1
	StandIn    bool    `json:"stand_in"`   // found from the body because racket or ball are missing
	ByHand     bool    `json:"by_hand"`    // set by a person: wins over every method, for ever
}

// Events holds the events that were found; a kind that is absent could not be found.
type Events map[EventKind]Event

// EventDefinition says what an event is, and how it is found without racket and ball.
type EventDefinition struct {
	Kind       EventKind
	Definition string
	StandIn    string // "" where nothing stands in
}

// EventDefinitions describes every kind of event, in the order of time.
func EventDefinitions() []EventDefinition {
	return []EventDefinition{
		{Start, "First sustained movement of either hand before the toss.", ""},
		{Release, "The ball leaves the tossing hand: their distance starts to grow for good.",
			"Largest upward speed of the tossing hand."},
		{Trophy, "Largest flexion of the front knee between release and low point.", "Tossing hand at its highest."},
		{LowPoint, "Lowest racket tip between trophy and contact.", "Hitting hand lowest relative to the shoulder."},
		{Takeoff, "The last foot leaves the court.", "Ankles rise above their standing height."},
		{Contact, "Racket and ball meet: where the ball's path before and after cross; without its path after, the " +
			"racket " +
			"face nearest to it.", "Hitting hand at its highest."},
		{Landing, "The first foot meets the court.", "Ankles come down to their standing height."},
		{Finish, "Hitting hand at its lowest after contact.", ""},
	}
}
