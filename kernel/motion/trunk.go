package motion

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/kernel/spatial"
)

// The trunk and the two lines across it.

var trunkPoints = []point{leftShoulder, rightShoulder, leftHip, rightHip}

// thorax is the frame of the trunk at a sample: up from the middle of the hips to the middle of the shoulders, to the
// right from the left shoulder to the right one.
func (v *view) thorax(i int) spatial.Frame { return v.thoraxes.at(v, i, (*view).findThorax) }

func (v *view) findThorax(i int) spatial.Frame {
	return spatial.FrameYZ(v.trunkUp(i), r3.Sub(v.pos(rightShoulder, i), v.pos(leftShoulder, i)))
}

// trunkUp is the axis of the trunk at a sample.
func (v *view) trunkUp(i int) r3.Vec {
	return r3.Sub(spatial.Middle(v.pos(leftShoulder, i), v.pos(rightShoulder, i)),
		spatial.Middle(v.pos(leftHip, i), v.pos(rightHip, i)))
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
	d := r3.Sub(left, right)
	return spatial.Degrees(math.Atan2(d.Y, math.Sqrt(d.X*d.X+d.Z*d.Z)))
}

// Separation of shoulders and hips.
var (
	Separation = register(Measure{
		ID: "separation", Title: "Largest separation", Unit: "deg", Sign: separationSign,
		Definition: "Largest angle, seen from above, by which the line of the shoulders is turned back behind the " +
			"line of the hips, from release to contact.",
		Needs: "both shoulders and both hips", Source: "common practice", Version: 1,
	}, rule{from: Release, to: Contact, points: trunkPoints, eval: func(v *view) Value {
		if why := v.lacks(trunkPoints...); why != "" {
			return missing(why)
		}
		return v.largest(Release, Contact, fromBody, func(i int) float64 {
			return separation(v.pos(leftShoulder, i), v.pos(rightShoulder, i), v.pos(leftHip, i), v.pos(rightHip, i))
		})
	}})
	SeparationTrophy = atEvent(Measure{
		ID: "separation_trophy", Title: "Separation at trophy", Unit: "deg", Sign: separationSign,
		Definition: "Angle, seen from above, by which the line of the shoulders is turned back behind the line of " +
			"the hips at trophy.",
		Needs: "both shoulders and both hips", Source: "common practice", Version: 1,
	}, Trophy, trunkPoints, func(v *view, t float64) float64 {
		return separation(v.posAt(leftShoulder, t), v.posAt(rightShoulder, t), v.posAt(leftHip, t),
			v.posAt(rightHip, t))
	})
)

const separationSign = "positive = shoulders turned farther away from the net than the hips"

func separation(leftShoulder, rightShoulder, leftHip, rightHip r3.Vec) float64 {
	hips, shoulders := r3.Sub(rightHip, leftHip), r3.Sub(rightShoulder, leftShoulder)
	return spatial.Degrees(spatial.TurnLevel(shoulders, hips))
}

// Inclination of the trunk, whole and in its two parts.
var (
	TrunkInclinationTrophy  = inclination(Trophy)
	TrunkInclinationContact = inclination(Contact)
	TrunkForwardTrophy      = leanForward(Trophy)
	TrunkForwardContact     = leanForward(Contact)
	TrunkSidewaysTrophy     = leanSideways(Trophy)
	TrunkSidewaysContact    = leanSideways(Contact)
)

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
