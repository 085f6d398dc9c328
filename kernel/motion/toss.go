package motion

import (
	"math"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"
)

// The toss. Distances along and across the serve are from the tip of the front foot at release, when it stands.

// The ball.
var (
	TossApex = tossMeasure("toss_apex", "Toss apex", "m", "above the court",
		"Height of the ball's highest point between release and contact.", nil,
		func(v *view, f *flight) float64 { return f.at(v, f.apex(v)).Y })
	TossApexLateral = tossMeasure("toss_apex_lateral", "Toss apex, lateral", "m", "positive = towards the hitting side",
		"Lateral distance of the ball's highest point from the tip of the front foot.", frontToe,
		func(v *view, f *flight) float64 { return r3.Sub(f.at(v, f.apex(v)), v.frontToe()).Z })
	TossApexForward = tossMeasure("toss_apex_forward", "Toss apex, forward", "m", "positive = into the court",
		"Distance of the ball's highest point in front of the tip of the front foot.", frontToe,
		func(v *view, f *flight) float64 { return r3.Sub(f.at(v, f.apex(v)), v.frontToe()).X })
	TossContactLateral = tossMeasure("toss_contact_lateral", "Toss at contact, lateral", "m",
		"positive = towards the hitting side", "Lateral distance of the ball at contact from the tip of the front "+
			"foot.", frontToe,
		func(v *view, f *flight) float64 { return r3.Sub(f.atContact(v), v.frontToe()).Z })
	TossContactForward = tossMeasure("toss_contact_forward", "Toss at contact, forward", "m",
		"positive = into the court",
		"Distance of the ball at contact in front of the tip of the front foot.", frontToe,
		func(v *view, f *flight) float64 { return r3.Sub(f.atContact(v), v.frontToe()).X })
	TossTime = register(Measure{
		ID: "toss_time", Title: "Toss time", Unit: "s", Definition: "Time from release to contact.",
		Needs: "both events; found from the body without a ball", Source: "common practice", Version: 2,
	}, interval(Release, Contact))
)

var frontToe = []point{leftToe, leftAnkle}

// frontToe is where the front foot's tip stands at release; the ankle where no toe is tracked.
func (v *view) frontToe() r3.Vec {
	p, _ := v.firstOf(frontToe...)
	return v.posAt(p, v.at(Release))
}

func tossMeasure(id, title, unit, sign, definition string, foot []point, f func(*view, *flight) float64) Measure {
	needs := "ball"
	if foot != nil {
		needs = "ball and front toe; the front ankle stands in"
	}
	var feet [][]point
	for _, p := range foot {
		feet = append(feet, []point{p})
	}
	atApex := strings.HasPrefix(id, "toss_apex")
	return register(Measure{
		ID: id, Title: title, Unit: unit, Sign: sign, Needs: needs, Source: "common practice", Version: 1,
		Definition: definition + " The ball's path is the parabola through its tracked positions.",
	}, rule{from: Release, to: Contact, oneOf: feet, eval: func(v *view) Value {
		if why := v.lacks(ball); why != "" {
			return missing(why)
		}
		if _, ok := v.firstOf(foot...); foot != nil && !ok {
			return missing(noPoint(leftToe))
		}
		path := v.ballFlight()
		if !path.ok {
			return missing(gapBetween(Release, Contact))
		}
		n := f(v, path)
		switch {
		case math.IsNaN(n) && atApex && math.IsNaN(path.apex(v)):
			return missing(noApex)
		case math.IsNaN(n) && !path.reaches(v, v.at(Contact)):
			return missing(gapAt(Contact))
		case math.IsNaN(n):
			return missing(v.orView(gapAt(Release)))
		case foot != nil && !v.has(leftToe):
			return standIn(n, fromBall)
		}
		return value(n, fromBall)
	}})
}

// noApex is the reason of apex measures of a ball that was hit on the rise.
const noApex = "ball hit before its highest point"

// tossingHands are the sets of points that stand for the tossing hand.
var tossingHands = [][]point{{leftHand}, {leftWrist}}

// TossingHandTuck is how soon the tossing arm comes in.
var TossingHandTuck = register(Measure{
	ID: "tossing_hand_tuck", Title: "Tossing-hand tuck", Unit: "s", Sign: "smaller = sooner",
	Definition: "Time from trophy until the tossing hand (else the wrist) is below the tossing shoulder.",
	Needs:      "tossing hand or wrist and shoulder", Source: "common practice", Version: 1,
}, rule{from: Trophy, to: Finish, points: []point{leftShoulder}, oneOf: tossingHands, eval: func(v *view) Value {
	hand, ok := v.firstOf(leftHand, leftWrist)
	if why := v.lacks(leftShoulder); why != "" || !ok {
		return missing(noPoint(leftHand))
	}
	trophy := v.at(Trophy)
	if math.IsNaN(trophy) {
		return missing(noEvent(Trophy))
	}
	above := func(i int) float64 { return v.pos(hand, i).Y - v.pos(leftShoulder, i).Y }
	for i := max(int(math.Ceil(trophy)), 1); i < v.samples; i++ {
		now := above(i)
		if now != now {
			return missing(gapBetween(Trophy, Finish))
		}
		if now <= 0 {
			at := crossedAt(above(i-1), now, i)
			return value(max(at-trophy, 0)/v.rate, fromBody)
		}
	}
	return missing("tossing hand stays up")
}})

// crossedAt is where a quantity that is now not above 0 crossed it since the sample before.
func crossedAt(before, now float64, i int) float64 {
	if !(before > 0) {
		return float64(i)
	}
	return float64(i) - now/(now-before)
}
