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

var limbPoints = []point{leftShoulder, rightShoulder, leftElbow, rightElbow, leftWrist, rightWrist,
	leftHip, rightHip, leftKnee, rightKnee, leftAnkle, rightAnkle}

// bodyPoints are the sets of points from which the centre of mass is computed.
var bodyPoints = [][]point{append([]point{head}, limbPoints...), append([]point{headTop}, limbPoints...),
	append([]point{c7}, limbPoints...)}

// massHeight gives the function of the height of the body's centre of mass between samples, and whether the whole body
// goes into it; without limbs it is the middle of the hips, and nil without hips.
func (v *view) massHeight() (height func(t float64) float64, whole bool) {
	top, ok := v.firstOf(head, headTop, c7)
	if ok && v.has(limbPoints...) {
		return func(t float64) float64 { return v.centreHeight(top, t) }, true
	}
	if v.has(leftHip, rightHip) {
		return func(t float64) float64 { return v.endHeight(middleHips, t) }, false
	}
	return nil, false
}

func (v *view) centreHeight(top point, t float64) float64 {
	sum, mass := headMass*v.heightAt(top, t), float64(headMass)
	for _, s := range segments {
		from, to := v.endHeight(s.from, t), v.endHeight(s.to, t)
		sum, mass = sum+s.mass*(from+s.centre*(to-from)), mass+s.mass
	}
	for _, p := range [...]struct {
		at   point
		mass float64
	}{{leftWrist, handMass}, {rightWrist, handMass}, {leftAnkle, footMass}, {rightAnkle, footMass}} {
		sum, mass = sum+p.mass*v.heightAt(p.at, t), mass+p.mass
	}
	return sum / mass
}

func (v *view) endHeight(p point, t float64) float64 {
	switch p {
	case middleShoulders:
		return (v.heightAt(leftShoulder, t) + v.heightAt(rightShoulder, t)) / 2
	case middleHips:
		return (v.heightAt(leftHip, t) + v.heightAt(rightHip, t)) / 2
	}
	return v.heightAt(p, t)
}

// heightAt is the height of a point between samples.
func (v *view) heightAt(p point, t float64) float64 {
	if i := math.Floor(t); i == t {
		return v.pos(p, int(i)).Y
	}
	return v.posAt(p, t).Y
}
