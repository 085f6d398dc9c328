package motion

import (
	"math"
	"testing"
)

// The shares add up to the whole body: in de Leva (1996) the printed masses of men sum to 1.0000, those of women to
// 0.9999.
func TestSharesMakeUpTheBody(t *testing.T) {
	sum := headMass
	for _, s := range shares {
		sum += s.part
	}
	if math.Abs(sum-(1.0000+0.9999)/2) > 1e-12 {
		t.Errorf("the shares sum to %.6f", sum)
	}
}

// The centre of mass of the body at some moments, segment by segment: trunk 0.43015 at 0.4046 of the way from the
// middle of the shoulders to that of the hips, and so on.
func TestCentreOfMass(t *testing.T) {
	b := newBody()
	c := b.clip(200)
	v := new(view)
	v.look(&c, "", "")
	for _, at := range []float64{0.5, 1.9, 2.5} {
		if got, want := v.massHeight(at*200), b.massHeight(at); math.Abs(got-want) > 2e-4 {
			t.Errorf("at %g s: %.5f m, want %.5f m", at, got, want)
		}
	}
}

// massHeight is the height of the body's centre of mass from its pose.
func (b body) massHeight(t float64) float64 {
	p := b.pose(t)
	y := func(k point) float64 { return p[k.name()].Y }
	between := func(mass, centre, from, to float64) float64 { return mass * (from + centre*(to-from)) }
	sum := 0.0681*y(headTop) + between(0.43015, 0.4046, (y(leftShoulder)+y(rightShoulder))/2,
		(y(leftHip)+y(rightHip))/2)
	for _, s := range [][6]point{
		{leftShoulder, leftElbow, leftWrist, leftHip, leftKnee, leftAnkle},
		{rightShoulder, rightElbow, rightWrist, rightHip, rightKnee, rightAnkle},
	} {
		sum += between(0.0263, 0.5763, y(s[0]), y(s[1])) + between(0.015, 0.45665, y(s[1]), y(s[2])) +
			0.00585*y(s[2]) +
			between(0.1447, 0.38535, y(s[3]), y(s[4])) + between(0.0457, 0.43735, y(s[4]), y(s[5])) + 0.0133*y(s[5])
	}
	return sum / 0.99995
}
