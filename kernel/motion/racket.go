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
		Needs: "both racket edges; the tip stands in", Source: "common practice", Version: 2,
	}, rule{from: Trophy, to: Contact, oneOf: heads, eval: func(v *view) Value {
		if !v.has(racketLeft, racketRight) && !v.has(racketTip) {
			return missing(noRacket)
		}
		speed := v.speedBefore(fromRacket, strikerSpeed)
		speed.StandIn = speed.Missing == "" && !v.has(racketLeft, racketRight)
		return speed
	}})
	HandSpeed = register(Measure{
		ID: "hand_speed", Title: "Hand speed", Unit: "m/s",
		Definition: "Largest speed of the hitting hand (else the wrist) within 0.05 s before contact, filtered up " +
			"to contact alone.",
		Needs: "hitting hand or wrist", Source: "common practice", Version: 1,
	}, rule{from: Trophy, to: Contact, oneOf: hittingHands, eval: func(v *view) Value {
		if _, ok := v.firstOf(rightHand, rightWrist); !ok {
			return missing(noPoint(rightHand))
		}
		return v.speedBefore(fromHand, handSpeed)
	}})
)

// The speeds at every sample: of what strikes the ball (the racket head, else its tip, the hand or the wrist), and of
// the hand.
var (
	strikerSpeed = speedOf(func(v *view) (p, q point) {
		if v.has(racketLeft, racketRight) {
			return racketLeft, racketRight
		}
		p, _ = v.firstOf(racketTip, rightHand, rightWrist)
		return p, p
	})
	handSpeed = speedOf(func(v *view) (p, q point) { return v.hittingHand(), v.hittingHand() })
)

// speedBefore is the largest of a speed just before contact.
func (v *view) speedBefore(basis string, speed *quantity) Value {
	contact := v.at(Contact)
	if math.IsNaN(contact) {
		return missing(noEvent(Contact))
	}
	first := max(int(math.Ceil(contact-lastSpeedS*v.rate)), 0)
	best := peak(v.over(speed, first, v.last))
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
