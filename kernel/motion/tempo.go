package motion

import "math"

// interval is the rule of the time between two events. It is a stand-in when one of them is.
func interval(from, to EventKind) rule {
	return rule{from: from, to: to, eval: func(v *view) Value {
		a, b := v.at(from), v.at(to)
		switch {
		case math.IsNaN(a):
			return missing(noEvent(from))
		case math.IsNaN(b):
			return missing(noEvent(to))
		}
		seconds := (b - a) / v.rate
		if v.standIn[eventIndex(from)] || v.standIn[eventIndex(to)] {
			return standIn(seconds, fromBody)
		}
		return value(seconds, v.eventBasis(from, to))
	}}
}

// eventBasis is what events are found from when nothing stands in: the knee for the trophy, ball or racket for most.
func (v *view) eventBasis(events ...EventKind) string {
	for _, e := range events {
		if e == Release || e == Contact {
			return fromBall
		}
	}
	for _, e := range events {
		if e == LowPoint {
			return fromRacket
		}
	}
	return fromBody
}

// Tempo.
var (
	TempoReleaseTrophy = tempo("tempo_release_trophy", "Release to trophy", Release, Trophy)
	TempoTrophyLow     = tempo("tempo_trophy_low_point", "Trophy to low point", Trophy, LowPoint)
	TempoLowContact    = tempo("tempo_low_point_contact", "Low point to contact", LowPoint, Contact)
)

func tempo(id, title string, from, to EventKind) Measure {
	return register(Measure{
		ID: id, Title: title, Unit: "s", Definition: "Time from " + inWords(from) + " to " + inWords(to) + ".",
		Needs:   "both events; found from the body where racket or ball are missing",
		Source:  "Kovacs & Ellenbecker 2011 for the stages",
		Version: 1,
	}, interval(from, to))
}
