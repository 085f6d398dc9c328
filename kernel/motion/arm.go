package motion

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/kernel/signal"
	"tossline/kernel/spatial"
)

// The hitting arm and the tossing arm.

// straightest is the elbow flexion below which the forearm no longer tells how the upper arm is turned.
const straightest = 20 // deg

// humerusInThorax is the frame of the hitting upper arm seen from the trunk at the samples first to last; NaN while the
// elbow is too straight.
func (v *view) humerusInThorax(first, last int) []spatial.Frame {
	return v.humeri.over(v, first, last, func(v *view, first int, found []spatial.Frame) {
		last := first + len(found) - 1
		bend, thorax := v.over(hittingElbow, first, last), v.thorax(first, last)
		shoulder, elbow, wrist := v.track(rightShoulder), v.track(rightElbow), v.track(rightWrist)
		for k := range found {
			i := first + k
			if bend[k] >= straightest {
				found[k] = spatial.Humerus(shoulder.at(i), elbow.at(i), wrist.at(i)).In(thorax[k])
			} else {
				found[k] = spatial.Frame{X: missingPoint, Y: missingPoint, Z: missingPoint}
			}
		}
	})
}

// externalRotation is the humeral external rotation in degrees within (-160, 200], where no shoulder gets farther: its
// third angle in the order Y-X-Y, with the sign of clinicians. 0 = forearm pointing forwards when the arm is held out
// sideways, 90 = upwards, 180 = backwards.
var externalRotation = newQuantity(func(v *view, first int, found []float64) {
	humeri := v.humerusInThorax(first, first+len(found)-1)
	v.angles(first, found, func(_ *view, _ int, sine, cosine []float64) {
		for k, humerus := range humeri {
			sine[k], cosine[k] = humerus.AxialPartsYXY()
		}
	})
	for k := range found {
		found[k] = -found[k]
		if found[k] <= -160 {
			found[k] += 360
		}
	}
})

var armAndTrunk = append([]point{leftShoulder, leftHip, rightHip}, hittingArm.points()...)

// Rotation of the hitting arm about its long axis.
var (
	ExternalRotation = register(Measure{
		ID: "external_rotation", Title: "Largest external rotation", Unit: "deg",
		Sign: "0 = forearm forwards with the arm held out sideways, 90 = upwards, 180 = backwards",
		Definition: "Largest external rotation of the hitting upper arm against the trunk between trophy and " +
			"contact: the third angle of the Y-X-Y order, from joint centres, with the forearm for the axial " +
			"direction. No value while the elbow is within 20 degrees of straight.",
		Needs: "both shoulders and hips, hitting elbow and wrist", Source: "Wu et al. 2005, humerus option 2",
		Version: 3,
	}, rule{from: Trophy, to: Contact, points: armAndTrunk, eval: func(v *view) Value {
		if why := v.lacks(armAndTrunk...); why != "" {
			return missing(why)
		}
		return v.largestBent(Trophy, Contact, externalRotation)
	}})
	LongAxisSpeed = register(Measure{
		ID: "long_axis_speed", Title: "Long-axis speed", Unit: "deg/s", Sign: "positive = internal rotation",
		Definition: "Largest speed of internal rotation about the long axis of the hitting upper arm in the last " +
			"0.1 s before contact, against the trunk: of the racket head where it is tracked, else of the upper arm " +
			"with the forearm for the axial direction. At 50 Hz it comes out about an eighth too low.",
		Needs:  "both shoulders and hips, hitting elbow; and racket throat or grip, tip and edges, or hitting wrist",
		Source: "common practice; axes as Wu et al. 2005", Version: 3,
	}, rule{from: Trophy, to: Contact, points: armAndTrunk, oneOf: rackets, eval: longAxisSpeed})
)

// largestBent is the largest of a quantity over the samples at which the elbow is bent enough for it. A stretch without
// any says so; missing points say that.
func (v *view) largestBent(from, to EventKind, q *quantity) Value {
	first, last, why := v.span(from, to)
	if why != "" {
		return missing(why)
	}
	best, where := math.Inf(-1), -1
	values := v.over(q, first, last)
	for k, bend := range v.over(hittingElbow, first, last) {
		if bend != bend || values[k] != values[k] && bend >= straightest {
			return missing(v.orView(gapBetween(from, to)))
		}
		if values[k] > best {
			best, where = values[k], first+k
		}
	}
	if where < 0 {
		return missing(straightElbow)
	}
	height, _ := vertex(v.value(q, where-1), best, v.value(q, where+1), where)
	return value(height, fromBody)
}

// rackets are the sets of points that tell how the racket is turned.
var rackets = [][]point{{racketThroat, racketLeft, racketRight, racketTip},
	{racketGrip, racketLeft, racketRight, racketTip}}

const (
	// lastTenthS is how long before contact the arm's rotation is looked at.
	lastTenthS = 0.1
	// fewFramesHz is the rate above which the last sample before contact is left out: its speed is that of one interval,
	// twice as noisy as the others. With fewer frames a second, leaving it out loses more than its noise.
	fewFramesHz = 150
)

func longAxisSpeed(v *view) Value {
	if why := v.lacks(leftShoulder, rightShoulder, leftHip, rightHip, rightElbow); why != "" {
		return missing(why)
	}
	contact := v.at(Contact)
	if math.IsNaN(contact) {
		return missing(noEvent(Contact))
	}
	first, last := max(int(math.Ceil(contact-lastTenthS*v.rate)), 1), v.last
	if v.rate > fewFramesHz {
		last--
	}
	if _, ok := v.firstOf(racketThroat, racketGrip); ok && v.has(racketLeft, racketRight, racketTip) {
		best := peak(v.over(racketAxialSpeed, first, last))
		if math.IsNaN(best) || last < first {
			return missing(v.orView(gapAt(Contact)))
		}
		return value(best, fromRacket)
	}
	if why := v.lacks(rightWrist); why != "" {
		return missing(why)
	}
	speeds := v.over(humeralSpeed, first, last)
	if v.torn(speeds, first) || last < first {
		return missing(v.orView(gapAt(Contact)))
	}
	best := math.Inf(-1)
	for _, speed := range speeds {
		if speed > best {
			best = speed
		}
	}
	if math.IsInf(best, -1) {
		return missing(straightElbow)
	}
	return standIn(best, fromBody)
}

// torn reports whether one of the axial speeds of the upper arm, from a sample on, is missing for another reason than
// an elbow that is too straight.
func (v *view) torn(speeds []float64, first int) bool {
	for k, speed := range speeds {
		if speed != speed && !v.straightAround(first+k) {
			return true
		}
	}
	return false
}

// straightAround reports whether the elbow is too straight at a sample or beside it.
func (v *view) straightAround(i int) bool {
	for j := i - 1; j <= i+1; j++ {
		if v.value(hittingElbow, j) < straightest {
			return true
		}
	}
	return false
}

// racketInThorax is the frame of the racket head seen from the trunk at the samples first to last: up from throat or
// grip to tip, to the right from the left edge to the right one.
func (v *view) racketInThorax(first, last int) []spatial.Frame {
	return v.rackets.over(v, first, last, func(v *view, first int, found []spatial.Frame) {
		thorax := v.thorax(first, first+len(found)-1)
		low, _ := v.firstOf(racketThroat, racketGrip)
		base, left, right, tip := v.track(low), v.track(racketLeft), v.track(racketRight), v.track(racketTip)
		for k := range found {
			i := first + k
			racket := spatial.FrameYZ(r3.Sub(tip.at(i), base.at(i)), r3.Sub(right.at(i), left.at(i)))
			found[k] = racket.In(thorax[k])
		}
	})
}

// The long-axis speed of the upper arm and of the racket at every sample.
var (
	humeralSpeed     = axialSpeed((*view).humerusInThorax)
	racketAxialSpeed = axialSpeed((*view).racketInThorax)
)

// axialSpeed is the speed in deg/s at which a frame, seen from the trunk, turns about the upper arm's long axis: from
// the rotation between the samples before and after, or the sample itself at contact.
func axialSpeed(frames func(v *view, first, last int) []spatial.Frame) *quantity {
	return newQuantity(func(v *view, first int, found []float64) {
		last := first + len(found) - 1
		thorax, from := v.thorax(first, last), max(first-1, 0)
		seen := frames(v, from, min(last+1, v.samples-1))
		shoulder, elbow := v.track(rightShoulder), v.track(rightElbow)
		if len(v.turned) < len(found) {
			v.turned = make([]r3.Vec, v.samples)
		}
		// The angle of the rotation is found from its sine, which stays in found, and its cosine.
		angle := v.cosines(len(found))
		for k := range found {
			before, after := max(first+k-1, 0), min(first+k+1, v.last)
			if after <= before {
				v.turned[k], angle[k] = missingPoint, math.NaN()
			} else {
				v.turned[k], angle[k] = spatial.RotationParts(seen[before-from], seen[after-from])
			}
			found[k] = spatial.Norm(v.turned[k])
		}
		signal.AnglesTo(angle, found, angle)
		for k, sine := range found {
			i := first + k
			turned := r3.Scale(angle[k]/sine, v.turned[k])
			if sine == 0 {
				turned = r3.Scale(0, v.turned[k])
			}
			axis := thorax[k].Components(spatial.Unit(r3.Sub(shoulder.at(i), elbow.at(i))))
			found[k] = spatial.Degrees(r3.Dot(turned, axis)) * v.rate / float64(min(i+1, v.last)-max(i-1, 0))
		}
	})
}

// The tossing arm at trophy.
var (
	TossArmElevation = atEvent(Measure{
		ID: "toss_arm_elevation", Title: "Toss-arm elevation", Unit: "deg",
		Sign:       "0 = down along the trunk, 180 = straight up",
		Definition: "Angle between the tossing upper arm and the trunk's downward axis at trophy. " + trunkAxis,
		Needs:      "both shoulders and hips, tossing elbow", Source: "common practice", Version: 1,
	}, Trophy, append([]point{leftElbow}, trunkPoints...), func(v *view, t float64) float64 {
		return v.elevation(leftShoulder, leftElbow, t)
	})
	TossElbowFlexion = elbowFlexion("toss_elbow_flexion", "Toss-elbow flexion", Trophy, tossingArm, "tossing")
)

// elevation is the angle of an upper arm from the trunk's downward axis.
func (v *view) elevation(shoulder, elbow point, t float64) float64 {
	return spatial.Degrees(spatial.Angle(r3.Sub(v.posAt(elbow, t), v.posAt(shoulder, t)), r3.Scale(-1, v.trunkUpAt(t))))
}

// The hitting elbow.
var (
	HittingElbowElevationTrophy  = hittingElevation(Trophy)
	HittingElbowElevationContact = hittingElevation(Contact)
	HittingElbowHeightTrophy     = hittingHeight(Trophy)
	HittingElbowHeightContact    = hittingHeight(Contact)
	ElbowFlexionTrophy           = elbowFlexion("elbow_flexion_trophy", "Elbow flexion at trophy", Trophy, hittingArm,
		"hitting")
	ElbowFlexionLowPoint = elbowFlexion("elbow_flexion_low_point", "Elbow flexion at low point", LowPoint,
		hittingArm, "hitting")
	ElbowFlexionContact = elbowFlexion("elbow_flexion_contact", "Elbow flexion at contact", Contact,
		hittingArm, "hitting")
	WristTrophy   = wristBend(Trophy, "trophy")
	WristLowPoint = wristBend(LowPoint, "low point")
	WristContact  = wristBend(Contact, "contact")
)

func hittingElevation(at EventKind) Measure {
	return atEvent(Measure{
		ID: "hitting_elbow_elevation_" + string(at), Title: "Hitting-elbow elevation at " + string(at), Unit: "deg",
		Sign: "0 = down along the trunk, 90 = level with the shoulder line, 180 = straight up",
		Definition: "Angle between the hitting upper arm and the trunk's downward axis at " + string(at) + ". " +
			trunkAxis,
		Needs: "both shoulders and hips, hitting elbow", Source: "common practice", Version: 1,
	}, at, append([]point{rightElbow}, trunkPoints...), func(v *view, t float64) float64 {
		return v.elevation(rightShoulder, rightElbow, t)
	})
}

func hittingHeight(at EventKind) Measure {
	return atEvent(Measure{
		ID: "hitting_elbow_height_" + string(at), Title: "Hitting elbow over the shoulder line at " + string(at),
		Unit: "m",
		Sign: "positive = above the line",
		Definition: "Distance of the hitting elbow from the line through both shoulders at " + string(at) +
			", measured across the line towards the trunk's upper end.",
		Needs: "both shoulders and hips, hitting elbow", Source: "common practice", Version: 1,
	}, at, append([]point{rightElbow}, trunkPoints...), func(v *view, t float64) float64 {
		shoulder := v.posAt(rightShoulder, t)
		up := spatial.Across(v.trunkUpAt(t), r3.Sub(shoulder, v.posAt(leftShoulder, t)))
		return r3.Dot(spatial.Unit(up), r3.Sub(v.posAt(rightElbow, t), shoulder))
	})
}

func elbowFlexion(id, title string, at EventKind, arm chain, side string) Measure {
	return atEvent(Measure{
		ID: id, Title: title, Unit: "deg", Sign: "0 = straight",
		Definition: "180 degrees less the angle shoulder, elbow, wrist of the " + side + " arm at that instant.",
		Needs:      "shoulder, elbow and wrist of the " + side + " arm",
		Source:     "three-point joint angle, common practice", Version: 1,
	}, at, arm.points(), func(v *view, t float64) float64 { return v.flexionAt(arm, t) })
}

func wristBend(at EventKind, words string) Measure {
	hand := chain{rightElbow, rightWrist, rightHand}
	return atEvent(Measure{
		ID: "wrist_" + string(at), Title: "Wrist bend at " + words, Unit: "deg",
		Sign: "0 = hand in line with the forearm",
		Definition: "Angle between forearm and hand (elbow to wrist, wrist to hand) at " + words +
			", whichever way it bends.",
		Needs: "hitting elbow, wrist and hand", Source: "three-point joint angle, common practice", Version: 1,
	}, at, hand.points(), func(v *view, t float64) float64 { return v.flexionAt(hand, t) })
}
