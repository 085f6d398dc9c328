package motion

import (
	"math"

	"tossline/kernel/signal"
	"tossline/kernel/spatial"
)

// leg is the chain of a leg's joints.
type leg struct{ hip, knee, ankle point }

var (
	frontLeg = leg{leftHip, leftKnee, leftAnkle}
	backLeg  = leg{rightHip, rightKnee, rightAnkle}
)

func (l leg) points() []point { return []point{l.hip, l.knee, l.ankle} }

// The legs.
var (
	FrontKneeFlexion = register(kneeFlexion("front", frontLeg))
	BackKneeFlexion  = register(kneeFlexion("back", backLeg))

	FrontKneeExtensionSpeed = register(kneeExtension("front", frontLeg))
	BackKneeExtensionSpeed  = register(kneeExtension("back", backLeg))
)

func kneeFlexion(side string, l leg) (Measure, rule) {
	return Measure{
			ID: side + "_knee_flexion", Title: upper(side) + " knee flexion", Unit: "deg",
			Sign:       "0 = straight leg, larger = more bent",
			Definition: "Largest flexion of the " + side + " knee from release to contact: 180 degrees less the angle hip, knee, ankle.",
			Needs:      "hip, knee and ankle of the " + side + " leg",
			Source:     "three-point joint angle, common practice", Version: 1,
		}, rule{from: Release, to: Contact, points: l.points(), eval: func(v *view) Value {
			if why := v.lacks(l.points()...); why != "" {
				return missing(why)
			}
			return v.largest(Release, Contact, fromBody, func(i int) float64 { return v.flexion(l.hip, l.knee, l.ankle, i) })
		}}
}

func kneeExtension(side string, l leg) (Measure, rule) {
	return Measure{
			ID: side + "_knee_extension_speed", Title: upper(side) + " knee extension speed", Unit: "deg/s",
			Sign:       "positive = straightening",
			Definition: "Largest speed at which the " + side + " knee straightens between trophy and contact.",
			Needs:      "hip, knee and ankle of the " + side + " leg", Source: "common practice", Version: 1,
		}, rule{from: Trophy, to: Contact, points: l.points(), eval: func(v *view) Value {
			if why := v.lacks(l.points()...); why != "" {
				return missing(why)
			}
			return v.largest(Trophy, Contact, fromBody, func(i int) float64 { return v.extension(l.hip, l.knee, l.ankle, i) })
		}}
}

// flexion is the bend in degrees of the joint at middle at a sample.
func (v *view) flexion(proximal, middle, distal point, i int) float64 {
	return spatial.Degrees(spatial.Flexion(v.pos(proximal, i), v.pos(middle, i), v.pos(distal, i)))
}

// vertex refines a peak at sample i by its neighbours and gives its height and place.
func vertex(before, middle, after float64, i int) (height, at float64) {
	offset, height := signal.Vertex(before, middle, after)
	if math.IsNaN(height) {
		return middle, float64(i)
	}
	return height, float64(i) + offset
}

// upper begins a sentence with the word.
func upper(word string) string { return string(word[0]-'a'+'A') + word[1:] }
