package motion

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/kernel/spatial"
)

// Speeds and directions of racket and hand into contact.

const (
	lastSpeedS = 0.05 // before contact, for the largest speeds
	onEdgeS    = 0.03 // before contact, for the angle of the face
	pathS      = 0.02 // before contact, for the direction of the path
)

// heads and hittingHands are the sets of points that stand for the racket's head and for the hand.
var (
	heads        = [][]point{{racketLeft, racketRight}, {racketTip}}
	hittingHands = [][]point{{rightHand}, {rightWrist}}
)

// The speeds.
var (
	RacketSpeed = register(Measure{
		ID: "racket_speed", Title: "Racket speed", Unit: "m/s",
		Definition: "Largest speed of the middle of the racket head (else of its tip) within 0.05 s before contact, " +
			"filtered up to contact alone.",
		Needs: "racket edges or tip", Source: "common practice", Version: 1,
	}, rule{from: Trophy, to: Contact, oneOf: heads, eval: func(v *view) Value {
		if v.has(racketLeft, racketRight) {
			return v.speedBefore(fromRacket, racketLeft, racketRight)
		}
		if v.has(racketTip) {
			return v.speedBefore(fromRacket, racketTip, racketTip)
		}
		return missing(noRacket)
	}})
	HandSpeed = register(Measure{
		ID: "hand_speed", Title: "Hand speed", Unit: "m/s",
		Definition: "Largest speed of the hitting hand (else the wrist) within 0.05 s before contact, filtered up " +
			"to contact alone.",
		Needs: "hitting hand or wrist", Source: "common practice", Version: 1,
	}, rule{from: Trophy, to: Contact, oneOf: hittingHands, eval: func(v *view) Value {
		p, ok := v.firstOf(rightHand, rightWrist)
		if !ok {
			return missing(noPoint(rightHand))
		}
		return v.speedBefore(fromHand, p, p)
	}})
)

// speedBefore is the largest speed just before contact of the middle between two points.
func (v *view) speedBefore(basis string, p, q point) Value {
	contact := v.at(Contact)
	if math.IsNaN(contact) {
		return missing(noEvent(Contact))
	}
	first := max(int(math.Ceil(contact-lastSpeedS*v.rate)), 0)
	best, _ := v.peak(first, v.last, func(i int) float64 {
		return spatial.Norm(r3.Scale(0.5, r3.Add(v.velocity(p, i), v.velocity(q, i))))
	})
	if math.IsNaN(best) || math.IsInf(best, -1) {
		return missing(v.orView(gapAt(Contact)))
	}
	return value(best, basis)
}

var racketHead = []point{racketTip, racketLeft, racketRight}

// The racket on its way to the ball.
var (
	FaceOnEdge = register(Measure{
		ID: "face_on_edge", Title: "Face-on-edge angle", Unit: "deg", Sign: "0 = the edge leads, 90 = the face leads",
		Definition: "Angle between the plane of the racket face and the velocity of its middle 0.03 s before contact.",
		Needs:      "racket tip and both edges", Source: "common practice", Version: 1,
	}, rule{from: Trophy, to: Contact, points: racketHead, eval: func(v *view) Value {
		if why := v.lacks(racketHead...); why != "" {
			return missing(why)
		}
		t := v.at(Contact) - onEdgeS*v.rate
		return v.instant(v.edgeAngle(t), Contact, fromRacket)
	}})
	PathDirection = register(Measure{
		ID: "path_direction", Title: "Path direction", Unit: "deg",
		Sign: "0 = along the serve, positive = towards the outside",
		Definition: "Horizontal direction in which the racket tip moves over the last 0.02 s before contact, " +
			"against the direction of the serve.",
		Needs: "racket tip; the hitting hand stands in", Source: "common practice", Version: 1,
	}, rule{from: Trophy, to: Contact, oneOf: strikers, eval: func(v *view) Value {
		p, ok := v.firstOf(racketTip, rightHand, rightWrist)
		if !ok {
			return missing(noRacket)
		}
		t := v.at(Contact)
		d := r3.Sub(v.posAt(p, t), v.posAt(p, t-pathS*v.rate))
		found := v.instant(-spatial.Degrees(spatial.Heading(d)), Contact, fromRacket)
		if p != racketTip && found.Missing == "" {
			return standIn(found.Number, fromHand)
		}
		return found
	}})
)

// edgeAngle is the angle between face and velocity at a time between samples.
func (v *view) edgeAngle(t float64) float64 {
	left, right := v.posAt(racketLeft, t), v.posAt(racketRight, t)
	middle := spatial.Middle(left, right)
	normal := r3.Cross(r3.Sub(v.posAt(racketTip, t), middle), r3.Sub(right, left))
	before := spatial.Middle(v.posAt(racketLeft, t-1), v.posAt(racketRight, t-1))
	after := spatial.Middle(v.posAt(racketLeft, t+1), v.posAt(racketRight, t+1))
	across := spatial.Angle(normal, r3.Sub(after, before))
	return math.Abs(90 - spatial.Degrees(across))
}
