package motion

import (
	"math"

	"tossline/kernel/signal"
	"tossline/kernel/spatial"
	"tossline/kernel/words"
)

// chain is three points of which the middle one bends.
type chain struct{ proximal, middle, distal point }

var (
	frontLeg   = chain{leftHip, leftKnee, leftAnkle}
	backLeg    = chain{rightHip, rightKnee, rightAnkle}
	hittingArm = chain{rightShoulder, rightElbow, rightWrist}
	tossingArm = chain{leftShoulder, leftElbow, leftWrist}
)

func (c chain) points() []point { return []point{c.proximal, c.middle, c.distal} }

// The legs.
var (
	FrontKneeFlexion = register(kneeFlexion("front", frontLeg))
	BackKneeFlexion  = register(kneeFlexion("back", backLeg))

	FrontKneeExtensionSpeed = register(kneeExtension("front", frontLeg))
	BackKneeExtensionSpeed  = register(kneeExtension("back", backLeg))
)

func kneeFlexion(side string, l chain) (Measure, rule) {
	return Measure{
			ID: side + "_knee_flexion", Title: words.Capital(side) + " knee flexion", Unit: "deg",
			Sign: "0 = straight leg, larger = more bent",
			Definition: "Largest flexion of the " + side +
				" knee from release to contact: 180 degrees less the angle hip, knee, ankle.",
			Needs:  "hip, knee and ankle of the " + side + " leg",
			Source: "three-point joint angle, common practice", Version: 1,
		}, rule{from: Release, to: Contact, points: l.points(), eval: func(v *view) Value {
			if why := v.lacks(l.points()...); why != "" {
				return missing(why)
			}
			return v.largest(Release, Contact, fromBody, func(i int) float64 { return v.flexion(l, i) })
		}}
}

func kneeExtension(side string, l chain) (Measure, rule) {
	return Measure{
			ID: side + "_knee_extension_speed", Title: words.Capital(side) + " knee extension speed", Unit: "deg/s",
			Sign:       "positive = straightening",
			Definition: "Largest speed at which the " + side + " knee straightens between trophy and contact.",
			Needs:      "hip, knee and ankle of the " + side + " leg", Source: "common practice", Version: 1,
		}, rule{from: Trophy, to: Contact, points: l.points(), eval: func(v *view) Value {
			if why := v.lacks(l.points()...); why != "" {
				return missing(why)
			}
			return v.largest(Trophy, Contact, fromBody, func(i int) float64 { return v.extension(l, i) })
		}}
}

// flexion is the bend in degrees of a chain at a sample.
func (v *view) flexion(c chain, i int) float64 {
	switch c {
	case frontLeg:
		return v.frontKnee.at(v, i, func(v *view, i int) float64 { return v.findFlexion(frontLeg, i) })
	case backLeg:
		return v.backKnee.at(v, i, func(v *view, i int) float64 { return v.findFlexion(backLeg, i) })
	case hittingArm:
		return v.elbow.at(v, i, func(v *view, i int) float64 { return v.findFlexion(hittingArm, i) })
	}
	return v.findFlexion(c, i)
}

func (v *view) findFlexion(c chain, i int) float64 {
	return spatial.Degrees(spatial.Flexion(v.pos(c.proximal, i), v.pos(c.middle, i), v.pos(c.distal, i)))
}

// flexionAt is the bend in degrees of a chain between samples.
func (v *view) flexionAt(c chain, t float64) float64 {
	return spatial.Degrees(spatial.Flexion(v.posAt(c.proximal, t), v.posAt(c.middle, t), v.posAt(c.distal, t)))
}

// vertex refines a peak at sample i by its neighbours and gives its height and place.
func vertex(before, middle, after float64, i int) (height, at float64) {
	offset, height := signal.Vertex(before, middle, after)
	if math.IsNaN(height) {
		return middle, float64(i)
	}
	return height, float64(i) + offset
}
