package motion

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/datasets/landmark"
)

// largestOn is the largest of f over an interval, by brute force.
func largestOn(from, to float64, f func(t float64) float64) float64 {
	best := math.Inf(-1)
	for t := from; t <= to; t += 1e-4 {
		best = max(best, f(t))
	}
	return best
}

// Every measure that can be read off the body's curves, at 200 Hz. Tolerances are what the filter and the sampling
// leave: 0.05 deg, 1 mm, 1 % of a speed.
func TestMeasuresOfAKnownBody(t *testing.T) {
	b := newBody()
	c := b.clip(200)
	tip := func(t float64) r3.Vec { return b.pose(t)[landmark.RacketTip] }
	shoulder := b.shoulder(bodyContact)
	for _, want := range []struct {
		m         Measure
		number    float64
		tolerance float64
	}{
		{FrontKneeFlexion, 78, 0.05},
		{BackKneeFlexion, 79, 0.05},
		{FrontKneeExtensionSpeed, largestOn(bodyTrophy, bodyContact,
			func(t float64) float64 { return -b.frontKnee.slope(t) }), 1},
		{BackKneeExtensionSpeed, largestOn(bodyTrophy, bodyContact,
			func(t float64) float64 { return -b.backKnee.slope(t) }), 1},
		{ContactOffset, b.ballOut, 0.001},
		{ContactForward, b.ballFront, 0.001},
		{ContactHeight, b.ballHeight, 0.001},
		{ContactHeightOfHeight, b.ballHeight / 1.8 * 100, 0.06},
		{ContactOffsetOfHeight, b.ballOut / 1.8 * 100, 0.06},
		{DropDepth, largestOn(bodyTrophy, bodyContact, func(t float64) float64 { return b.shoulder(t).Y - tip(t).Y }),
			0.002},
		{ShoulderTiltTrophy, b.shoulderTilt.at(bodyTrophy), 0.05},
		{ShoulderTiltContact, b.shoulderTilt.at(bodyContact), 0.05},
		{PelvisTiltTrophy, b.hipTilt.at(bodyTrophy), 0.05},
		{PelvisTiltContact, b.hipTilt.at(bodyContact), 0.05},
		{SeparationTrophy, b.hipHeading.at(bodyTrophy) - b.shoulderHeading.at(bodyTrophy), 0.05},
		{Separation, largestOn(bodyRelease, bodyContact,
			func(t float64) float64 { return b.hipHeading.at(t) - b.shoulderHeading.at(t) }), 0.05},
		{TrunkForwardTrophy, b.forward.at(bodyTrophy), 0.05},
		{TrunkForwardContact, b.forward.at(bodyContact), 0.05},
		{TrunkSidewaysTrophy, b.sideways.at(bodyTrophy), 0.05},
		{TrunkSidewaysContact, b.sideways.at(bodyContact), 0.05},
		{TrunkInclinationTrophy, math.Acos(b.trunk(bodyTrophy).Y) * 180 / math.Pi, 0.05},
		{TossArmElevation, b.tossElevation.at(bodyTrophy), 0.05},
		{TossElbowFlexion, b.tossElbow.at(bodyTrophy), 0.1},
		{HittingElbowElevationTrophy, -b.elevation.at(bodyTrophy), 0.05},
		{HittingElbowElevationContact, -b.elevation.at(bodyContact), 0.05},
		{ElbowFlexionTrophy, b.elbow.at(bodyTrophy), 0.05},
		{ElbowFlexionLowPoint, b.elbow.at(bodyLow), 0.1},
		{ElbowFlexionContact, b.elbow.at(bodyContact), 0.2},
		{WristContact, 0, 0.2},
		{ExternalRotation, largestOn(bodyTrophy, bodyContact, func(t float64) float64 { return -b.axial.at(t) }), 0.1},
		{LongAxisSpeed, largestOn(bodyContact-0.1, bodyContact,
			func(t float64) float64 { return b.axial.slope(t) + b.racketTurn.slope(t) }), 8},
		{RacketSpeed, largestOn(bodyContact-0.05, bodyContact, func(t float64) float64 { return b.faceSpeed(t) }),
			0.12},
		{TossApex, b.ballHeight + 2*2/(2*gravity), 0.001},
		{TossContactLateral, shoulder.Z + b.ballOut - b.pose(bodyRelease)[landmark.LeftToe].Z, 0.001},
		{TossContactForward, shoulder.X + b.ballFront - b.pose(bodyRelease)[landmark.LeftToe].X, 0.001},
		{TossTime, bodyContact - bodyRelease, 1e-9},
		{FlightTime, bodyLanding - bodyTakeoff, 1e-9},
		{DriftContact, b.z.at(bodyContact) - b.z.at(bodyTrophy), 0.001},
		{DriftLanding, b.z.at(bodyLanding) - b.z.at(bodyTrophy), 0.001},
		{TempoLowContact, bodyContact - bodyLow, 1e-9},
		{SequencePelvis, bodyContact - fastestAt(bodyTrophy, bodyContact, b.hipHeading.slope), 0.01},
		{SequenceTrunk, bodyContact - fastestAt(bodyTrophy, bodyContact, b.shoulderHeading.slope), 0.01},
		{SequenceKnee, bodyContact - fastestAt(bodyTrophy, bodyContact,
			func(t float64) float64 { return -b.frontKnee.slope(t) }), 0.01},
		{SequenceElbow, bodyContact - fastestAt(bodyTrophy, bodyContact,
			func(t float64) float64 { return -b.elbow.slope(t) }), 0.01},
	} {
		got := Compute(c, want.m)[0]
		if got.Missing != "" || math.Abs(got.Number-want.number) > want.tolerance {
			t.Errorf("%s = %g (%s), want %g", want.m.Column(), got.Number, got.Missing, want.number)
		}
	}
}

func (b body) faceSpeed(t float64) float64 {
	const h = 1e-4
	middle := func(t float64) r3.Vec {
		p := b.pose(t)
		return r3.Scale(0.5, r3.Add(p[landmark.RacketLeft], p[landmark.RacketRight]))
	}
	return r3.Norm(r3.Sub(middle(t+h), middle(t-h))) / (2 * h)
}

func fastestAt(from, to float64, f func(t float64) float64) float64 {
	best, at := math.Inf(-1), from
	for t := from; t <= to; t += 1e-4 {
		if y := f(t); y > best {
			best, at = y, t
		}
	}
	return at
}
