package motion

import (
	"cmp"
	"math"
	"slices"
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

// Every measure, read off the body's curves or off its poses at many moments, at 200 Hz. Tolerances are what the filter
// and the sampling leave: 0.05 deg, 1 mm, 1 % of a speed.
func TestMeasuresOfAKnownBody(t *testing.T) {
	b := newBody()
	b.wrist = curve{20, []bump{{25, 2.3, 0.3}}}
	c := b.clip(200)
	of := func(n landmark.Name) func(t float64) r3.Vec { return func(t float64) r3.Vec { return b.pose(t)[n] } }
	tip, heel := of(landmark.RacketTip), of(landmark.RightHeel)
	met, toe := b.contactPoint(), of(landmark.LeftToe)(bodyRelease)
	apexS := bodyContact - 2/gravity // the ball falls at 2 m/s at contact
	apex, _ := b.ball(apexS)
	ankle, along := of(landmark.LeftAnkle)(bodyContact), r3.Sub(tip(bodyContact), tip(bodyContact-0.02))
	stance := func(t float64) float64 {
		d := r3.Sub(of(landmark.LeftAnkle)(t), of(landmark.RightAnkle)(t))
		return math.Hypot(d.X, d.Z)
	}
	depth := func(t float64) float64 { return b.shoulder(t).Y - tip(t).Y }
	heelLow := -largestOn(bodyStart, bodyContact, func(t float64) float64 { return -heel(t).Y })
	lifted := bodyContact
	for heel(lifted).Y > heelLow+0.03 {
		lifted -= 1e-4
	}
	quiet := 0.0
	for k := range 41 {
		quiet += b.massHeight(bodyStart-0.2*float64(k)/40) / 41
	}
	times := [linkCount]float64{
		fastestAt(bodyTrophy, bodyContact, func(t float64) float64 { return -b.frontKnee.slope(t) }),
		fastestAt(bodyTrophy, bodyContact, b.hipHeading.slope),
		fastestAt(bodyTrophy, bodyContact, b.shoulderHeading.slope),
		fastestAt(bodyTrophy, bodyContact, func(t float64) float64 { return -b.elbow.slope(t) }),
		fastestAt(bodyTrophy, bodyContact, b.axial.slope),
		fastestAt(bodyTrophy, bodyContact, b.faceSpeed),
	}
	known := map[string]bool{}
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
		{ContactForwardOfHeight, b.ballFront / 1.8 * 100, 0.06},
		{DropDepth, largestOn(bodyTrophy, bodyContact, depth), 0.002},
		{DropDepthOfHeight, largestOn(bodyTrophy, bodyContact, depth) / 1.8 * 100, 0.12},
		{BodyLine, math.Atan2(met.Z-ankle.Z, met.Y-ankle.Y) * 180 / math.Pi, 0.05},
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
		{TrunkInclinationContact, math.Acos(b.trunk(bodyContact).Y) * 180 / math.Pi, 0.05},
		{TossArmElevation, b.tossElevation.at(bodyTrophy), 0.05},
		{TossElbowFlexion, b.tossElbow.at(bodyTrophy), 0.1},
		{HittingElbowElevationTrophy, -b.elevation.at(bodyTrophy), 0.05},
		{HittingElbowElevationContact, -b.elevation.at(bodyContact), 0.05},
		{ElbowFlexionTrophy, b.elbow.at(bodyTrophy), 0.05},
		{ElbowFlexionLowPoint, b.elbow.at(bodyLow), 0.1},
		{ElbowFlexionContact, b.elbow.at(bodyContact), 0.2},
		{HittingElbowHeightTrophy, b.elbowHeight(bodyTrophy), 0.001},
		{HittingElbowHeightContact, b.elbowHeight(bodyContact), 0.001},
		{WristTrophy, b.wrist.at(bodyTrophy), 0.1},
		{WristLowPoint, b.wrist.at(bodyLow), 0.1},
		{WristContact, b.wrist.at(bodyContact), 0.2},
		{ExternalRotation, largestOn(bodyTrophy, bodyContact, func(t float64) float64 { return -b.axial.at(t) }), 0.1},
		{LongAxisSpeed, largestOn(bodyContact-0.1, bodyContact,
			func(t float64) float64 { return b.axial.slope(t) + b.racketTurn.slope(t) }), 8},
		{RacketSpeed, largestOn(bodyContact-0.05, bodyContact, func(t float64) float64 { return b.faceSpeed(t) }),
			0.12},
		{TossApex, b.ballHeight + 2*2/(2*gravity), 0.001},
		{HandSpeed, largestOn(bodyContact-0.05, bodyContact, func(t float64) float64 {
			return r3.Norm(b.velocity(t, func(p map[landmark.Name]r3.Vec) r3.Vec { return p[landmark.RightHand] }))
		}), 0.08},
		{FaceOnEdge, b.edgeAngle(bodyContact - 0.03), 0.3},
		{PathDirection, math.Atan2(along.Z, along.X) * 180 / math.Pi, 0.3},
		{TossApexLateral, apex.Z - toe.Z, 0.001},
		{TossApexForward, apex.X - toe.X, 0.001},
		{TossContactLateral, met.Z - toe.Z, 0.001},
		{TossContactForward, met.X - toe.X, 0.001},
		{TossTime, bodyContact - bodyRelease, 1e-9},
		{TossingHandTuck, firstAt(bodyTrophy, bodyEnd, func(t float64) bool {
			p := b.pose(t)
			return p[landmark.LeftHand].Y < p[landmark.LeftShoulder].Y
		}) - bodyTrophy, 0.001},
		{JumpHeight, b.massHeight(bodyContact) - quiet, 0.001},
		{FlightTime, bodyLanding - bodyTakeoff, 1e-9},
		{DriftContact, b.z.at(bodyContact) - b.z.at(bodyTrophy), 0.001},
		{DriftLanding, b.z.at(bodyLanding) - b.z.at(bodyTrophy), 0.001},
		{StanceStart, stance(bodyStart), 0.001},
		{StanceTrophy, stance(bodyTrophy), 0.001},
		{Stance, 0, 0},
		{HeelLift, lifted - bodyRelease, 0.003},
		{TempoReleaseTrophy, bodyTrophy - bodyRelease, 1e-9},
		{TempoTrophyLow, bodyLow - bodyTrophy, 1e-9},
		{TempoLowContact, bodyContact - bodyLow, 1e-9},
		{SequenceKnee, bodyContact - times[0], 0.01},
		{SequencePelvis, bodyContact - times[1], 0.01},
		{SequenceTrunk, bodyContact - times[2], 0.01},
		{SequenceElbow, bodyContact - times[3], 0.01},
		{SequenceLongAxis, bodyContact - times[4], 0.015},
		{SequenceRacket, bodyContact - times[5], 0.01},
		{SequenceOrder, orderOf(times), 0},
	} {
		known[want.m.ID] = true
		got := Compute(c, want.m)[0]
		if got.Missing != "" || !(math.Abs(got.Number-want.number) <= want.tolerance) {
			t.Errorf("%s = %g (%s), want %g", want.m.Column(), got.Number, got.Missing, want.number)
		}
	}
	for _, m := range All() {
		if !known[m.ID] {
			t.Errorf("the truth of %s is not known here", m.ID)
		}
	}
}

// orderOf writes the links in the order of their times.
func orderOf(times [linkCount]float64) (digits float64) {
	links := []int{0, 1, 2, 3, 4, 5}
	slices.SortFunc(links, func(a, b int) int { return cmp.Compare(times[a], times[b]) })
	for _, k := range links {
		digits = 10*digits + float64(k+1)
	}
	return digits
}

// elbowHeight is how far the hitting elbow is from the line of the shoulders: along what is across both that line and
// the direction that is across line and trunk.
func (b body) elbowHeight(t float64) float64 {
	p := b.pose(t)
	line := r3.Sub(p[landmark.RightShoulder], p[landmark.LeftShoulder])
	up := r3.Cross(line, r3.Cross(b.trunk(t), line))
	return r3.Dot(r3.Unit(up), r3.Sub(p[landmark.RightElbow], p[landmark.RightShoulder]))
}

// edgeAngle is the angle between the velocity of the racket's face and its plane.
func (b body) edgeAngle(t float64) float64 {
	p := b.pose(t)
	normal := r3.Unit(r3.Cross(r3.Sub(p[landmark.RacketTip], p[landmark.RacketGrip]),
		r3.Sub(p[landmark.RacketRight], p[landmark.RacketLeft])))
	return math.Asin(math.Abs(r3.Dot(normal, r3.Unit(b.velocity(t, faceOf))))) * 180 / math.Pi
}

// velocity of what is found in the body's pose.
func (b body) velocity(t float64, of func(p map[landmark.Name]r3.Vec) r3.Vec) r3.Vec {
	const h = 1e-4
	return r3.Scale(1/(2*h), r3.Sub(of(b.pose(t+h)), of(b.pose(t-h))))
}

func faceOf(p map[landmark.Name]r3.Vec) r3.Vec {
	return r3.Scale(0.5, r3.Add(p[landmark.RacketLeft], p[landmark.RacketRight]))
}

func (b body) faceSpeed(t float64) float64 { return r3.Norm(b.velocity(t, faceOf)) }

// firstAt is when something first holds.
func firstAt(from, to float64, holds func(t float64) bool) float64 {
	for t := from; t <= to; t += 1e-4 {
		if holds(t) {
			return t
		}
	}
	return math.NaN()
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
