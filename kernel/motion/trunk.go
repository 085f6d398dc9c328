package motion

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/kernel/spatial"
)

// The trunk and the two lines across it.

var trunkPoints = []point{leftShoulder, rightShoulder, leftHip, rightHip}

// thorax is the frame of the trunk at the samples first to last: up from the middle of the hips to the middle of the
// shoulders, to the right from the left shoulder to the right one.
func (v *view) thorax(first, last int) []spatial.Frame {
	return v.thoraxes.over(v, first, last, func(v *view, first int, found []spatial.Frame) {
		t := v.trunk()
		for k := range found {
			i := first + k
			found[k] = spatial.FrameYZ(t.up(i), r3.Sub(t.rightShoulder.at(i), t.leftShoulder.at(i)))
		}
	})
}

// trunk is the points of the trunk.
type trunk struct{ leftShoulder, rightShoulder, leftHip, rightHip track }

func (v *view) trunk() trunk {
	return trunk{v.track(leftShoulder), v.track(rightShoulder), v.track(leftHip), v.track(rightHip)}
}

// up is the axis of the trunk at a sample.
func (t *trunk) up(i int) r3.Vec {
	return r3.Sub(spatial.Middle(t.leftShoulder.at(i), t.rightShoulder.at(i)),
		spatial.Middle(t.leftHip.at(i), t.rightHip.at(i)))
}

// trunkUpAt is the axis of the trunk between samples.
func (v *view) trunkUpAt(t float64) r3.Vec {
	return r3.Sub(spatial.Middle(v.posAt(leftShoulder, t), v.posAt(rightShoulder, t)),
		spatial.Middle(v.posAt(leftHip, t), v.posAt(rightHip, t)))
}

// atEvent registers a measure of one instant, computed by f at that sample.
func atEvent(m Measure, at EventKind, points []point, f func(v *view, t float64) float64) Measure {
	return register(m, rule{from: at, to: at, points: points, eval: func(v *view) Value {
		if why := v.lacks(points...); why != "" {
			return missing(why)
		}
		return v.instant(f(v, v.at(at)), at, fromBody)
	}})
}

// Tilt of shoulders and pelvis.
var (
	ShoulderTiltTrophy  = tilt("shoulder", "Shoulder", Trophy, leftShoulder, rightShoulder)
	ShoulderTiltContact = tilt("shoulder", "Shoulder", Contact, leftShoulder, rightShoulder)
	PelvisTiltTrophy    = tilt("pelvis", "Pelvis", Trophy, leftHip, rightHip)
	PelvisTiltContact   = tilt("pelvis", "Pelvis", Contact, leftHip, rightHip)
)

func tilt(id, title string, at EventKind, left, right point) Measure {
	line := map[string]string{"shoulder": "shoulders", "pelvis": "hip joints"}[id]
	return atEvent(Measure{
		ID: id + "_tilt_" + string(at), Title: title + " tilt at " + string(at), Unit: "deg",
		Sign: "positive = tossing side up",
		Definition: "Angle of the line through both " + line + " to the horizontal at " + string(at) +
			". The line's own angle is taken, whichever way the player faces.",
		Needs: "both " + line, Source: "common practice", Version: 1,
	}, at, []point{left, right}, func(v *view, t float64) float64 {
		return tiltOf(v.posAt(left, t), v.posAt(right, t))
	})
}

// tiltOf is the angle in degrees of a line to the horizontal, its left end up positive.
func tiltOf(left, right r3.Vec) float64 {
	return spatial.Degrees(math.Atan2(tiltParts(left, right)))
}

// tiltParts are the sine and the cosine of a line's angle to the horizontal, times its length.
func tiltParts(left, right r3.Vec) (sine, cosine float64) {
	d := r3.Sub(left, right)
	return d.Y, math.Sqrt(d.X*d.X + d.Z*d.Z)
}

// tiltCourse is the tilt of a line at every sample.
func tiltCourse(left, right point) *quantity {
	return newAngle(func(v *view, first int, sine, cosine []float64) {
		from, to := v.track(left), v.track(right)
		for k := range sine {
			sine[k], cosine[k] = tiltParts(from.at(first+k), to.at(first+k))
		}
	})
}

// Separation of shoulders and hips.
var (
	Separation = register(Measure{
		ID: "separation", Title: "Largest separation", Unit: "deg", Sign: separationSign,
		Definition: "Largest angle, seen from above, by which the line of the shoulders is turned back behind the " +
			"line of the hips, from release to contact.",
		Needs: "both shoulders and both hips", Source: "common practice", Version: 2,
	}, rule{from: Release, to: Contact, points: trunkPoints, eval: func(v *view) Value {
		if why := v.lacks(trunkPoints...); why != "" {
			return missing(why)
		}
		return v.largest(Release, Contact, fromBody, separation)
	}})
	SeparationTrophy = atEvent(Measure{
		ID: "separation_trophy", Title: "Separation at trophy", Unit: "deg", Sign: separationSign,
		Definition: "Angle, seen from above, by which the line of the shoulders is turned back behind the line of " +
			"the hips at trophy.",
		Needs: "both shoulders and both hips", Source: "common practice", Version: 1,
	}, Trophy, trunkPoints, func(v *view, t float64) float64 {
		return spatial.Degrees(spatial.TurnLevel(r3.Sub(v.posAt(rightShoulder, t), v.posAt(leftShoulder, t)),
			r3.Sub(v.posAt(rightHip, t), v.posAt(leftHip, t))))
	})
)

const separationSign = "positive = shoulders turned farther away from the net than the hips"

// separation is the angle by which the shoulders are turned back behind the hips at every sample.
var separation = newAngle(func(v *view, first int, sine, cosine []float64) {
	t := v.trunk()
	for k := range sine {
		i := first + k
		sine[k], cosine[k] = spatial.TurnLevelParts(r3.Sub(t.rightShoulder.at(i), t.leftShoulder.at(i)),
			r3.Sub(t.rightHip.at(i), t.leftHip.at(i)))
	}
})

// Inclination of the trunk, whole and in its two parts.
var (
	TrunkInclinationTrophy  = inclination(Trophy)
	TrunkInclinationContact = inclination(Contact)
	TrunkForwardTrophy      = leanForward(Trophy)
	TrunkForwardContact     = leanForward(Contact)
	TrunkSidewaysTrophy     = leanSideways(Trophy)
	TrunkSidewaysContact    = leanSideways(Contact)
)

// lean is the angle of a horizontal part of the trunk's axis from the vertical at every sample.
func lean(part func(up r3.Vec) float64) *quantity {
	return newAngle(func(v *view, first int, sine, cosine []float64) {
		t := v.trunk()
		for k := range sine {
			up := t.up(first + k)
			sine[k], cosine[k] = part(up), up.Y
		}
	})
}

const trunkAxis = "The trunk's axis runs from the middle of the hips to the middle of the shoulders."

func inclination(at EventKind) Measure {
	return atEvent(Measure{
		ID: "trunk_inclination_" + string(at), Title: "Trunk inclination at " + string(at), Unit: "deg",
		Sign:       "0 = upright",
		Definition: "Angle of the trunk's axis from the vertical at " + string(at) + ". " + trunkAxis,
		Needs:      "both shoulders and both hips", Source: "common practice", Version: 1,
	}, at, trunkPoints, func(v *view, t float64) float64 {
		return spatial.Degrees(spatial.Angle(v.trunkUpAt(t), spatial.Up))
	})
}

func leanForward(at EventKind) Measure {
	return atEvent(Measure{
		ID: "trunk_forward_" + string(at), Title: "Trunk lean forward at " + string(at), Unit: "deg",
		Sign: "positive = towards the net",
		Definition: "Trunk inclination in the vertical plane along the direction of the serve, at " + string(at) +
			". " + trunkAxis,
		Needs: "both shoulders and both hips", Source: "common practice", Version: 1,
	}, at, trunkPoints, func(v *view, t float64) float64 {
		up := v.trunkUpAt(t)
		return spatial.Degrees(math.Atan2(up.X, up.Y))
	})
}

func leanSideways(at EventKind) Measure {
	return atEvent(Measure{
		ID: "trunk_sideways_" + string(at), Title: "Trunk lean sideways at " + string(at), Unit: "deg",
		Sign: "positive = towards the hitting side",
		Definition: "Trunk inclination in the vertical plane across the direction of the serve, at " + string(at) +
			". " + trunkAxis,
		Needs: "both shoulders and both hips", Source: "common practice", Version: 1,
	}, at, trunkPoints, func(v *view, t float64) float64 {
		up := v.trunkUpAt(t)
		return spatial.Degrees(math.Atan2(up.Z, up.Y))
	})
}
