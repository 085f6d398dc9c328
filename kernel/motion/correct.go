package motion

import "maps"

// Correction is what a person said about one event of a serve.
type Correction struct {
	Kind   EventKind `json:"kind"`
	TimeS  float64   `json:"time_s"` // from the start of the recording
	Absent bool      `json:"absent"` // there is no such event in this serve; TimeS means nothing
}

// MethodByHand is the method of an event that a person set.
const MethodByHand = "by hand"

// ApplyCorrections gives the found events with what people said on top, in the order in which they said it: the last
// word wins, over every method and for ever. found is not changed.
func ApplyCorrections(found Events, corrections []Correction) Events {
	events := maps.Clone(found)
	if events == nil {
		events = Events{}
	}
	for _, c := range corrections {
		if c.Absent {
			delete(events, c.Kind)
			continue
		}
		events[c.Kind] = Event{TimeS: c.TimeS, Method: MethodByHand, Confidence: 1, ByHand: true}
	}
	return events
}
