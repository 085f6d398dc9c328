package motion

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/kernel/spatial"
)

// Feet, jump and drift.

// Jump.
var (
	JumpHeight = register(Measure{
		ID: "jump_height", Title: "Jump height", Unit: "m", Sign: "positive = higher than standing",
		Definition: "Height of the centre of mass at contact above its height in quiet standing, the mean of the last " +
			"0.2 s before the start.",
		Needs: "hips, knees, ankles, shoulders, elbows, wrists and a point of head or neck; the middle of the hips " +
			"stands in where limbs are missing",
		Source: "de Leva 1996 for the segments", Version: 2,
	}, rule{from: Start, to: Contact, points: trunkPoints, oneOf: bodyPoints, eval: jumpHeight})
	FlightTime = register(Measure{
		ID: "flight_time", Title: "Flight time", Unit: "s", Definition: "Time from takeoff to landing.",
		Needs: "toes or heels; ankles stand in", Source: "common practice", Version: 2,
	}, rule{from: Takeoff, to: Landing, eval: func(v *view) Value {
		found := interval(Takeoff, Landing).eval(v)
		if found.Missing == "" && !found.StandIn {
			found.Basis = fromBody
		}
		return found
	}})
)

// standingS is the quiet time before the start over which the standing height is averaged: less than the margin that a
// view has before its first event.
const standingS = 0.2

func jumpHeight(v *view) Value {
	start, contact := v.at(Start), v.at(Contact)
	if math.IsNaN(start) || math.IsNaN(contact) {
		return missing(v.firstAbsent(Start, Contact))
	}
	if !v.has(leftHip, rightHip) {
		return missing(noPoint(rightHip))
	}
	sum, n := 0.0, 0
	for _, y := range v.over(massHeights, max(int(start-standingS*v.rate), 0), min(int(start), v.samples-1)) {
		if y == y {
			sum, n = sum+y, n+1
		}
	}
	if n == 0 {
		return missing(gapAt(Start))
	}
	rise := v.instant(v.massHeight(contact)-sum/float64(n), Contact, fromBody)
	if rise.Missing == "" {
		rise.StandIn = !v.wholeBody()
	}
	return rise
}

// firstAbsent names the first event that the serve lacks.
func (v *view) firstAbsent(events ...EventKind) string {
	for _, e := range events {
		if math.IsNaN(v.at(e)) {
			return noEvent(e)
		}
	}
	return ""
}

// Drift of the pelvis.
var (
	DriftContact = drift("drift_contact", "Drift to contact", Contact)
	DriftLanding = drift("drift_landing", "Drift to landing", Landing)
)

func drift(id, title string, to EventKind) Measure {
	return register(Measure{
		ID: id, Title: title, Unit: "m", Sign: "positive = towards the hitting side",
		Definition: "Lateral travel of the pelvis (middle of the hips) from trophy to " + inWords(to) + ".",
		Needs:      "both hips", Source: "common practice", Version: 1,
	}, rule{from: Trophy, to: to, points: []point{leftHip, rightHip}, eval: func(v *view) Value {
		if why := v.lacks(leftHip, rightHip); why != "" {
			return missing(why)
		}
		if why := v.firstAbsent(Trophy, to); why != "" {
			return missing(why)
		}
		middle := func(t float64) float64 { return spatial.Middle(v.posAt(leftHip, t), v.posAt(rightHip, t)).Z }
		return v.instant(middle(v.at(to))-middle(v.at(Trophy)), to, fromBody)
	}})
}

// Stance.
var (
	StanceStart  = stance(Start)
	StanceTrophy = stance(Trophy)
	Stance       = register(Measure{
		ID: "stance", Title: "Stance", Unit: "",
		Sign: "0 = platform (feet kept apart), 1 = pinpoint (back foot joined the front one)",
		Definition: "Pinpoint when the distance between the feet at trophy is less than 60 % of that at the start, " +
			"else platform.",
		Needs: "both ankles", Source: "common practice; the limit is this program's", Version: 1,
	}, rule{from: Start, to: Trophy, points: feetPoints, eval: func(v *view) Value {
		if why := v.lacks(feetPoints...); why != "" {
			return missing(why)
		}
		part := v.feetApart(v.at(Trophy)) / v.feetApart(v.at(Start))
		if math.IsNaN(part) {
			return missing(v.whyFeet())
		}
		if part < pinpointPart {
			return value(1, fromBody)
		}
		return value(0, fromBody)
	}})
)

const pinpointPart = 0.6

var feetPoints = []point{leftAnkle, rightAnkle}

func stance(at EventKind) Measure {
	return register(Measure{
		ID: "stance_" + string(at), Title: "Stance at " + inWords(at), Unit: "m",
		Definition: "Horizontal distance between the ankles at " + inWords(at) + ".",
		Needs:      "both ankles", Source: "common practice", Version: 1,
	}, rule{from: at, to: at, points: feetPoints, eval: func(v *view) Value {
		if why := v.lacks(feetPoints...); why != "" {
			return missing(why)
		}
		return v.instant(v.feetApart(v.at(at)), at, fromBody)
	}})
}

func (v *view) feetApart(t float64) float64 {
	d := r3.Sub(v.posAt(leftAnkle, t), v.posAt(rightAnkle, t))
	return math.Sqrt(d.X*d.X + d.Z*d.Z)
}

func (v *view) whyFeet() string {
	if why := v.firstAbsent(Start, Trophy); why != "" {
		return why
	}
	return v.orView(gapBetween(Start, Trophy))
}

// HeelLift is when the back heel leaves the court.
var HeelLift = register(Measure{
	ID: "heel_lift", Title: "Heel lift", Unit: "s", Sign: "positive = after release",
	Definition: "Time, relative to release, at which the back heel (else the ankle) rises 0.03 m above its lowest " +
		"level since the start and stays above it until contact.",
	Needs: "back heel; the back ankle stands in", Source: "common practice; the limit is this program's", Version: 1,
}, rule{from: Start, to: Contact, oneOf: [][]point{{rightHeel}, {rightAnkle}}, eval: heelLift})

const heelUp = 0.03 // m

func heelLift(v *view) Value {
	heel, ok := v.firstOf(rightHeel, rightAnkle)
	if !ok {
		return missing(noPoint(rightHeel))
	}
	if why := v.firstAbsent(Start, Release, Contact); why != "" {
		return missing(why)
	}
	first, last, why := v.span(Start, Contact)
	if why != "" {
		return missing(why)
	}
	low, track := math.Inf(1), v.track(heel)
	for i := first; i <= last; i++ {
		y := track.at(i).Y
		if y != y {
			return missing(gapBetween(Start, Contact))
		}
		low = min(low, y)
	}
	for i := last; i > first; i-- {
		now, before := track.at(i).Y-low-heelUp, track.at(i-1).Y-low-heelUp
		if now > 0 && before <= 0 {
			at := float64(i) - now/(now-before)
			found := value((at-v.at(Release))/v.rate, fromBody)
			found.StandIn = heel != rightHeel
			return found
		}
	}
	return missing("back heel stays down")
}

// BodyLine is how the body leans at full stretch.
var BodyLine = register(Measure{
	ID: "body_line", Title: "Body line", Unit: "deg", Sign: "positive = leaning to the hitting side",
	Definition: "Angle from the vertical, seen from behind, of the line from the front ankle to the contact point, " +
		"at contact.",
	Needs: "front ankle, and ball or racket face; racket tip or hitting hand stand in", Source: "common practice",
	Version: 2,
}, rule{from: Release, to: Contact, points: []point{leftAnkle}, oneOf: contactPoints, eval: func(v *view) Value {
	if why := v.lacks(leftAnkle); why != "" {
		return missing(why)
	}
	at, from := v.contactPoint()
	d := r3.Sub(at, v.posAt(leftAnkle, v.at(Contact)))
	return v.atContact(spatial.Degrees(math.Atan2(d.Z, d.Y)), from)
}})
