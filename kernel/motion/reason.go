package motion

import (
	"math"
	"strings"
)

// Reasons why a measure is missing. They are shown to readers and counted by them, so there are few.
const (
	noRacket       = "no racket"
	noBall         = "no ball"
	noHeight       = "height unknown"
	straightElbow  = "elbow too straight for axial rotation"
	behindViewOnly = "behind view only"
	sideViewOnly   = "side view only"
	tooShort       = "too few frames"
	notComputed    = "not a measure of this program"
)

// Bases: what a value was computed from.
const (
	fromBody   = "body"
	fromHand   = "hand"
	fromRacket = "racket"
	fromBall   = "ball"
)

func noEvent(kind EventKind) string { return "no " + inWords(kind) }
func noPoint(p point) string        { return "no " + strings.ReplaceAll(string(p.name()), "_", " ") }
func gapAt(kind EventKind) string   { return "gap at " + inWords(kind) }
func gapBetween(from, to EventKind) string {
	return "gap between " + inWords(from) + " and " + inWords(to)
}

func outOfOrder(from, to EventKind) string { return inWords(to) + " before " + inWords(from) }

// inWords writes an event as readers do.
func inWords(kind EventKind) string { return strings.ReplaceAll(string(kind), "_", " ") }

// missing is the value that is not there, and why.
func missing(why string) Value { return Value{Number: math.NaN(), Missing: why} }

// value is a number from what its definition asks for.
func value(number float64, basis string) Value { return Value{Number: number, Basis: basis} }

// standIn is a number from something that stands in for what the definition asks for.
func standIn(number float64, basis string) Value {
	return Value{Number: number, Basis: basis, StandIn: true}
}

// lacks gives the reason why the points cannot be read from the recording, or "".
func (v *view) lacks(points ...point) string {
	for _, p := range points {
		if v.places[p] < 0 {
			if p == ball {
				return noBall
			}
			if p.group() == racketGroup {
				return noRacket
			}
			return noPoint(p)
		}
	}
	return ""
}

// instant turns a number found at an event into a value; a number that is NaN means that a point was missing there.
func (v *view) instant(number float64, at EventKind, basis string) Value {
	if math.IsNaN(number) {
		return missing(v.why(at))
	}
	return value(number, basis)
}

// why says what keeps a number at an event from existing.
func (v *view) why(at EventKind) string {
	if math.IsNaN(v.at(at)) {
		return noEvent(at)
	}
	return v.orView(gapAt(at))
}

// orView gives the reason, unless the recording is of one camera and the number needs what that camera does not see.
func (v *view) orView(reason string) string {
	switch v.clip.seen() {
	case seenFromBehind:
		return behindViewOnly
	case seenFromSide:
		return sideViewOnly
	}
	return reason
}

// largest is the largest of a quantity over the samples from one event to another, as a value; a sample at which it is
// NaN makes the value missing, for it may have been the largest.
func (v *view) largest(from, to EventKind, basis string, q *quantity) Value {
	first, last, why := v.span(from, to)
	if why != "" {
		return missing(why)
	}
	values := v.over(q, first, last)
	best := peak(values)
	if math.IsNaN(best) {
		return missing(v.orView(gapBetween(from, to)))
	}
	// What is largest at an end is larger yet at the event, between samples.
	if best == values[0] {
		best = max(best, v.atOr(q, v.at(from), best))
	}
	if best == values[len(values)-1] {
		best = max(best, v.atOr(q, v.at(to), best))
	}
	return value(best, basis)
}

// atOr is a quantity between samples, by the cubic through the four around; other where one of them is missing.
func (v *view) atOr(q *quantity, t, other float64) float64 {
	i := int(t) - 1
	if i < 0 || i+3 >= v.samples {
		return other
	}
	if at := cubicAt(v.over(q, i, i+3), t-float64(i)); at == at {
		return at
	}
	return other
}

// peak is the largest of a series, refined between samples; NaN when one of them is.
func peak(series []float64) float64 {
	best, where := math.Inf(-1), 0
	for i, y := range series {
		if y != y {
			return math.NaN()
		}
		if y > best {
			best, where = y, i
		}
	}
	if where == 0 || where == len(series)-1 {
		return best
	}
	height, _ := vertex(series[where-1], best, series[where+1], where)
	return height
}
