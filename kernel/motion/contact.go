package motion

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/kernel/spatial"
)

// contactPoint is where racket and ball meet: the ball by the parabola of its toss; else the middle of the racket
// face; else, standing in, the racket's tip, the hitting hand or the wrist.
func (v *view) contactPoint() (at r3.Vec, from Value) {
	contact := v.at(Contact)
	if math.IsNaN(contact) {
		return missingPoint, missing(noEvent(Contact))
	}
	if f := v.ballFlight(); f.reaches(v, contact) {
		return f.at(v, contact), value(0, fromBall)
	}
	if v.has(racketLeft, racketRight) {
		face := spatial.Middle(v.posAt(racketLeft, contact), v.posAt(racketRight, contact))
		if face.Y == face.Y { // a single camera sees no depth
			return face, value(0, fromRacket)
		}
	}
	if v.has(racketTip) {
		return v.posAt(racketTip, contact), standIn(0, fromRacket)
	}
	if p, ok := v.firstOf(rightHand, rightWrist); ok {
		return v.posAt(p, contact), standIn(0, fromHand)
	}
	return missingPoint, missing(noRacket)
}

// contactPoints are the sets of points that the contact point is computed from.
var contactPoints = [][]point{{ball}, {racketLeft, racketRight}, {racketTip}, {rightHand}, {rightWrist}}

const contactNeeds = "hitting shoulder, and ball or racket face; racket tip or hitting hand stand in"

// The place of contact.
var (
	ContactOffset = register(Measure{
		ID: "contact_offset", Title: "Contact offset", Unit: "m", Sign: "positive = outside, away from the head",
		Definition: "Lateral distance of the contact point from the vertical plane through the hitting shoulder " +
			"along the direction of the serve, at contact.",
		Needs: contactNeeds, Source: "common practice", Version: 2,
	}, fromShoulder(func(d r3.Vec) float64 { return d.Z }))
	ContactForward = register(Measure{
		ID: "contact_forward", Title: "Contact forward", Unit: "m", Sign: "positive = in front of the hitting shoulder",
		Definition: "Distance of the contact point from the hitting shoulder along the direction of the serve, at " +
			"contact.",
		Needs: contactNeeds, Source: "common practice", Version: 2,
	}, fromShoulder(func(d r3.Vec) float64 { return d.X }))
	ContactHeight = register(Measure{
		ID: "contact_height", Title: "Contact height", Unit: "m", Sign: "above the court",
		Definition: "Height of the contact point above the court.",
		Needs:      "ball or racket face; racket tip or hitting hand stand in", Source: "common practice", Version: 2,
	}, rule{from: Release, to: Contact, oneOf: contactPoints, eval: func(v *view) Value {
		at, from := v.contactPoint()
		return v.atContact(at.Y, from)
	}})
)

// fromShoulder is the rule of a part of the way from the hitting shoulder to the contact point.
func fromShoulder(part func(r3.Vec) float64) rule {
	return rule{from: Release, to: Contact, points: []point{rightShoulder}, oneOf: contactPoints,
		eval: func(v *view) Value {
			if why := v.lacks(rightShoulder); why != "" {
				return missing(why)
			}
			at, from := v.contactPoint()
			return v.atContact(part(r3.Sub(at, v.posAt(rightShoulder, v.at(Contact)))), from)
		}}
}

// atContact gives a number the basis of the contact point that it was computed from.
func (v *view) atContact(number float64, from Value) Value {
	if from.Missing != "" {
		return from
	}
	if math.IsNaN(number) {
		return missing(v.why(Contact))
	}
	from.Number = number
	return from
}

// strikers are the points that stand for the end of the swinging chain, the best first.
var strikers = [][]point{{racketTip}, {rightHand}, {rightWrist}}

// How far racket and hand are below the hitting shoulder.
var (
	racketDepth = differenceOfHeights(rightShoulder, func(*view) point { return racketTip })
	handDepth   = differenceOfHeights(rightShoulder, (*view).hittingHand)
)

// hittingHand is the hitting hand, or the wrist where it is not tracked.
func (v *view) hittingHand() point {
	p, _ := v.firstOf(rightHand, rightWrist)
	return p
}

// DropDepth is how deep the racket hangs behind the back.
var DropDepth = register(Measure{
	ID: "drop_depth", Title: "Drop depth", Unit: "m", Sign: "positive = below the hitting shoulder",
	Definition: "Height of the hitting shoulder less that of the racket tip, where the difference is largest " +
		"between trophy and contact.",
	Needs: "hitting shoulder and racket tip; the hitting hand stands in", Source: "common practice", Version: 2,
}, rule{from: Trophy, to: Contact, points: []point{rightShoulder}, oneOf: strikers, eval: func(v *view) Value {
	if why := v.lacks(rightShoulder); why != "" {
		return missing(why)
	}
	if v.has(racketTip) {
		return v.largest(Trophy, Contact, fromRacket, racketDepth)
	}
	if _, ok := v.firstOf(rightHand, rightWrist); !ok {
		return missing(noRacket)
	}
	depth := v.largest(Trophy, Contact, fromHand, handDepth)
	depth.StandIn = depth.Missing == ""
	return depth
}})
