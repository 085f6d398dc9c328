package motion

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

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
	FrontKneeFlexion = register(kneeFlexion("front", frontLeg, frontKnee))
	BackKneeFlexion  = register(kneeFlexion("back", backLeg, backKnee))

	FrontKneeExtensionSpeed = register(kneeExtension("front", frontLeg, frontKneeExtension))
	BackKneeExtensionSpeed  = register(kneeExtension("back", backLeg, backKneeExtension))
)

// The bend of joints at every sample, and the speed at which they straighten.
var (
	frontKnee, backKnee, hittingElbow = flexion(frontLeg), flexion(backLeg), flexion(hittingArm)

	frontKneeExtension    = extension(frontKnee, frontLeg)
	backKneeExtension     = extension(backKnee, backLeg)
	hittingElbowExtension = extension(hittingElbow, hittingArm)
)

func kneeFlexion(side string, l chain, flexion *quantity) (Measure, rule) {
	return Measure{
			ID: side + "_knee_flexion", Title: words.Capital(side) + " knee flexion", Unit: "deg",
			Sign: "0 = straight leg, larger = more bent",
			Definition: "Largest flexion of the " + side +
				" knee from release to contact: 180 degrees less the angle hip, knee, ankle.",
			Needs:  "hip, knee and ankle of the " + side + " leg",
			Source: "three-point joint angle, common practice", Version: 2,
		}, rule{from: Release, to: Contact, points: l.points(), eval: func(v *view) Value {
			if why := v.lacks(l.points()...); why != "" {
				return missing(why)
			}
			return v.largest(Release, Contact, fromBody, flexion)
		}}
}

func kneeExtension(side string, l chain, extension *quantity) (Measure, rule) {
	return Measure{
			ID: side + "_knee_extension_speed", Title: words.Capital(side) + " knee extension speed", Unit: "deg/s",
			Sign:       "positive = straightening",
			Definition: "Largest speed at which the " + side + " knee straightens between trophy and contact.",
			Needs:      "hip, knee and ankle of the " + side + " leg", Source: "common practice", Version: 2,
		}, rule{from: Trophy, to: Contact, points: l.points(), eval: func(v *view) Value {
			if why := v.lacks(l.points()...); why != "" {
				return missing(why)
			}
			return v.largest(Trophy, Contact, fromBody, extension)
		}}
}

// flexion is the bend in degrees of a chain.
func flexion(c chain) *quantity {
	return newAngle(func(v *view, first int, sine, cosine []float64) {
		proximal, middle, distal := v.track(c.proximal), v.track(c.middle), v.track(c.distal)
		for k := range sine {
			at := middle.at(first + k)
			sine[k], cosine[k] = spatial.AngleParts(r3.Sub(at, proximal.at(first+k)), r3.Sub(distal.at(first+k), at))
		}
	})
}

// extension is the speed in deg/s at which a chain straightens.
func extension(flexion *quantity, c chain) *quantity {
	return newQuantity(func(v *view, first int, found []float64) {
		bend, from := v.around(flexion, first, first+len(found)-1)
		n := v.track(c.distal).samples
		for k := range found {
			found[k] = math.NaN()
			if before, after, ok := neighbours(first+k, n); ok {
				found[k] = (bend[before-from] - bend[after-from]) * v.rate / float64(after-before)
			}
		}
	})
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
