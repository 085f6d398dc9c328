package motion

import "math"

// segment is a part of the body with its share of the mass and the place of its centre, from the first end towards the
// second: the mean of the male and female values of de Leva (1996), J Biomech 29:1223-1230, table 4 and the
// alternative end points of its table 4 (trunk from the middle of the shoulders to that of the hips).
type segment struct {
	mass, centre float64
	from, to     point
}

// middleShoulders and middleHips stand for the middle of two points in segments.
const (
	middleShoulders = pointCount + iota
	middleHips
)

var segments = []segment{
	{(0.4346 + 0.4257) / 2, (0.4310 + 0.3782) / 2, middleShoulders, middleHips},
	{(0.0271 + 0.0255) / 2, (0.5772 + 0.5754) / 2, leftShoulder, leftElbow},
	{(0.0271 + 0.0255) / 2, (0.5772 + 0.5754) / 2, rightShoulder, rightElbow},
	{(0.0162 + 0.0138) / 2, (0.4574 + 0.4559) / 2, leftElbow, leftWrist},
	{(0.0162 + 0.0138) / 2, (0.4574 + 0.4559) / 2, rightElbow, rightWrist},
	{(0.1416 + 0.1478) / 2, (0.4095 + 0.3612) / 2, leftHip, leftKnee},
	{(0.1416 + 0.1478) / 2, (0.4095 + 0.3612) / 2, rightHip, rightKnee},
	{(0.0433 + 0.0481) / 2, (0.4395 + 0.4352) / 2, leftKnee, leftAnkle},
	{(0.0433 + 0.0481) / 2, (0.4395 + 0.4352) / 2, rightKnee, rightAnkle},
}

// Shares of the parts that are taken as points: a head at its centre, hands at the wrists, feet at the ankles.
const (
	headMass = (0.0694 + 0.0668) / 2
	handMass = (0.0061 + 0.0056) / 2
	footMass = (0.0137 + 0.0129) / 2
)

// share is how much of the body's centre of mass a point makes up.
type share struct {
	at   point
	part float64
}

// shares spreads the masses of the segments over the points at their ends: the centre of mass is linear in them. The
// head's share comes besides.
var shares = spreadMass()

func spreadMass() []share {
	var parts [middleHips + 1]float64
	for _, s := range segments {
		parts[s.from] += s.mass * (1 - s.centre)
		parts[s.to] += s.mass * s.centre
	}
	for _, p := range [...]share{{leftWrist, handMass}, {rightWrist, handMass}, {leftAnkle, footMass},
		{rightAnkle, footMass},
		{leftShoulder, parts[middleShoulders] / 2}, {rightShoulder, parts[middleShoulders] / 2},
		{leftHip, parts[middleHips] / 2}, {rightHip, parts[middleHips] / 2}} {
		parts[p.at] += p.part
	}
	var all []share
	for _, p := range limbPoints {
		all = append(all, share{p, parts[p]})
	}
	return all
}

var limbPoints = []point{leftShoulder, rightShoulder, leftElbow, rightElbow, leftWrist, rightWrist,
	leftHip, rightHip, leftKnee, rightKnee, leftAnkle, rightAnkle}

// bodyPoints are the sets of points from which the centre of mass is computed; the middle of the hips stands in.
var bodyPoints = [][]point{append([]point{head}, limbPoints...), append([]point{headTop}, limbPoints...),
	append([]point{c7}, limbPoints...)}

// massHeight is the height of the body's centre of mass between samples, or without limbs of the middle of the hips.
func (v *view) massHeight(t float64) float64 {
	top, ok := v.firstOf(head, headTop, c7)
	if !ok || !v.has(limbPoints...) {
		return (v.heightAt(leftHip, t) + v.heightAt(rightHip, t)) / 2
	}
	sum, mass := headMass*v.heightAt(top, t), headMass
	for _, s := range shares {
		sum, mass = sum+s.part*v.heightAt(s.at, t), mass+s.part
	}
	return sum / mass
}

// massHeights is massHeight at every sample.
var massHeights = newQuantity(func(v *view, first int, found []float64) {
	top, ok := v.firstOf(head, headTop, c7)
	if !ok || !v.has(limbPoints...) {
		left, right := v.track(leftHip), v.track(rightHip)
		for k := range found {
			found[k] = (left.at(first+k).Y + right.at(first+k).Y) / 2
		}
		return
	}
	// Point after point, which is the order in which massHeight adds them.
	mass, track := headMass, v.track(top)
	for k := range found {
		found[k] = headMass * track.at(first+k).Y
	}
	for _, s := range shares {
		track = v.track(s.at)
		for k := range found {
			found[k] += s.part * track.at(first+k).Y
		}
		mass += s.part
	}
	for k := range found {
		found[k] /= mass
	}
})

// wholeBody reports whether massHeight is that of the whole body.
func (v *view) wholeBody() bool {
	_, ok := v.firstOf(head, headTop, c7)
	return ok && v.has(limbPoints...)
}

// heightAt is the height of a point between samples.
func (v *view) heightAt(p point, t float64) float64 {
	if i := math.Floor(t); i == t {
		return v.pos(p, int(i)).Y
	}
	return v.posAt(p, t).Y
}
