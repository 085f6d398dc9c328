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
		case b < a:
			return missing(outOfOrder(from, to))
		}
		seconds := (b - a) / v.rate
		if v.standIn[eventIndex(from)] || v.standIn[eventIndex(to)] {
			return standIn(seconds, fromBody)
		}
		return value(seconds, v.eventBasis(from, to))
	}}
}

// eventBasis is what events are found from when nothing stands in: the knee for the trophy, ball or racket for most. Who
// sets an event of a recording without ball and racket sees the body.
func (v *view) eventBasis(events ...EventKind) string {
	basis := fromBody
	for _, e := range events {
		switch {
		case (e == Release || e == Contact) && v.has(ball):
			return fromBall
		case e == LowPoint && v.has(racketTip):
			basis = fromRacket
		}
	}
	return basis
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
		Version: 2,
	}, interval(from, to))
}
