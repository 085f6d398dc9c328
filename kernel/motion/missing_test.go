package motion

import (
	"math"
	"slices"
	"strings"
	"testing"

	"tossline/datasets/landmark"
)

// torn is a clip without a landmark between two moments.
func torn(c Clip, n landmark.Name, fromS, toS float64) Clip {
	c.Frames = slices.Clone(c.Frames)
	c.punch(c.Layout.Index(n), 3, int(fromS*c.Rate), int((toS-fromS)*c.Rate))
	return c
}

// What a recording lacks makes a measure missing with that as the reason, however much of it can still be seen.
func TestWhyMeasuresAreMissing(t *testing.T) {
	whole := newBody().clip(200)
	bare := newBody().clip(200, without(racketAndBall...)...)
	straight := newBody()
	straight.elbow = curve{10, nil}
	stretched := straight.clip(200, without(racketAndBall...)...)
	unbent := newBody() // when the arm is stretched before contact
	unbent.elbow = curve{95, []bump{{-94, 2.46, 0.05}}}
	moved := func(kind EventKind, timeS float64) Clip {
		c := whole
		c.Events = ApplyCorrections(c.Events, []Correction{{Kind: kind, TimeS: timeS}})
		return c
	}
	lost := func(kind EventKind) Clip {
		c := whole
		c.Events = ApplyCorrections(c.Events, []Correction{{Kind: kind, Absent: true}})
		return c
	}
	tall := whole
	tall.HeightM = 0
	short := whole
	short.Frames = short.Frames[:8*3*short.Layout.Len()]
	for _, c := range []struct {
		name    string
		clip    Clip
		why     string // "" for a value
		measure []Measure
	}{
		{"no racket and ball", bare, "no racket", []Measure{RacketSpeed, FaceOnEdge}},
		{"no racket and ball", bare, "no ball", []Measure{TossApex, TossApexLateral, TossContactForward}},
		{"no knee", newBody().clip(200, without(landmark.LeftKnee)...), "no left knee", []Measure{FrontKneeFlexion,
			FrontKneeExtensionSpeed, SequenceKnee, SequenceOrder}},
		{"no height", tall, "height unknown", []Measure{ContactHeightOfHeight, DropDepthOfHeight}},
		{"no frames", short, "too few frames", All()},
		{"knee lost while it stretches", torn(whole, landmark.LeftKnee, 2.0, 2.3), "gap between trophy and contact",
			[]Measure{FrontKneeExtensionSpeed, SequenceKnee, SequenceOrder}},
		{"knee lost while it bends", torn(whole, landmark.LeftKnee, 1.5, 1.7), "gap between release and contact",
			[]Measure{FrontKneeFlexion}},
		{"knee lost before release", torn(whole, landmark.LeftKnee, 0.9, 1.1), "", []Measure{FrontKneeFlexion,
			SequenceKnee}},
		{"shoulder lost", torn(whole, landmark.LeftShoulder, 2.1, 2.3), "gap between trophy and contact",
			[]Measure{SequenceTrunk, SequenceLongAxis, ExternalRotation}},
		{"hip lost", torn(whole, landmark.RightHip, 2.1, 2.3), "gap between trophy and contact", []Measure{SequencePelvis,
			SequenceLongAxis, ExternalRotation}},
		{"hip lost in the swing", torn(bare, landmark.RightHip, 2.3, 2.47), "gap at contact", []Measure{LongAxisSpeed}},
		{"wrist lost in the swing", torn(bare, landmark.RightWrist, 2.41, 2.46), "gap at contact",
			[]Measure{LongAxisSpeed}},
		{"racket lost at contact", torn(whole, landmark.RacketLeft, 2.46, 2.6), "gap at contact", []Measure{RacketSpeed,
			LongAxisSpeed}},
		{"shoulder lost at contact", torn(whole, landmark.RightShoulder, 2.4, 2.6), "gap at contact",
			[]Measure{ContactOffset, ContactForward, HittingElbowElevationContact, ShoulderTiltContact}},
		{"ball lost before contact", torn(whole, landmark.Ball, 2.3, 2.6), "gap at contact", []Measure{TossContactLateral,
			TossContactForward}},
		{"ball lost before contact", torn(whole, landmark.Ball, 2.3, 2.6), "", []Measure{TossApex, ContactOffset}},
		{"arm straight throughout", stretched, "elbow too straight for axial rotation", []Measure{ExternalRotation,
			SequenceLongAxis, LongAxisSpeed}},
		{"arm straight for a moment", unbent.clip(200, without(racketAndBall...)...), "", []Measure{ExternalRotation,
			SequenceLongAxis, LongAxisSpeed}},
		{"no trophy", lost(Trophy), "no trophy", []Measure{DropDepth, TempoReleaseTrophy, ShoulderTiltTrophy, Stance,
			DriftContact}},
		{"no takeoff", lost(Takeoff), "no takeoff", []Measure{FlightTime}},
		{"trophy set after contact", moved(Trophy, bodyContact+0.1), "contact before trophy", []Measure{DropDepth,
			FrontKneeExtensionSpeed, ExternalRotation, SequenceRacket}},
		{"trophy set before release", moved(Trophy, bodyRelease-0.1), "trophy before release",
			[]Measure{TempoReleaseTrophy}},
		{"landing set before takeoff", moved(Landing, bodyTakeoff-0.1), "landing before takeoff", []Measure{FlightTime}},
	} {
		for k, v := range Compute(c.clip, c.measure...) {
			if v.Missing != c.why || math.IsNaN(v.Number) != (c.why != "") {
				t.Errorf("%s: %s is %g (%q), want the reason %q", c.name, c.measure[k].ID, v.Number, v.Missing, c.why)
			}
		}
	}
}

// What stands in is said, and what does not stand in isn't.
func TestBasisOfMeasures(t *testing.T) {
	tip := without(landmark.Ball, landmark.RacketGrip, landmark.RacketThroat, landmark.RacketLeft, landmark.RacketRight)
	wrist := without(append([]landmark.Name{landmark.RightHand}, racketAndBall...)...)
	byHand := newBody().clip(200, without(racketAndBall...)...)
	byHand.Events = ApplyCorrections(byHand.Events, []Correction{{Kind: Release, TimeS: 1.3},
		{Kind: Contact, TimeS: 2.5}, {Kind: LowPoint, TimeS: 2.3}})
	guessed := newBody().clip(200)
	guessed.Events[Contact] = Event{TimeS: bodyContact, StandIn: true}
	for _, c := range []struct {
		name    string
		clip    Clip
		basis   string
		measure []Measure
	}{
		{"all there", newBody().clip(200), "ball", []Measure{ContactOffset, ContactHeight, BodyLine, TossApex, TossTime,
			TossApexLateral}},
		{"all there", newBody().clip(200), "racket", []Measure{DropDepth, RacketSpeed, LongAxisSpeed, PathDirection,
			SequenceRacket}},
		{"all there", newBody().clip(200), "body", []Measure{FrontKneeFlexion, JumpHeight, HeelLift, FlightTime,
			ExternalRotation}},
		{"no ball", newBody().clip(200, without(landmark.Ball)...), "racket", []Measure{ContactOffset, ContactHeight,
			BodyLine}},
		{"racket tip alone", newBody().clip(200, tip...), "racket (stand-in)", []Measure{ContactOffset, ContactHeight,
			ContactHeightOfHeight, BodyLine, RacketSpeed}},
		{"racket tip alone", newBody().clip(200, tip...), "racket", []Measure{DropDepth, PathDirection, SequenceRacket}},
		{"racket tip alone", newBody().clip(200, tip...), "body (stand-in)", []Measure{LongAxisSpeed}},
		{"hand alone", newBody().clip(200, without(racketAndBall...)...), "hand (stand-in)", []Measure{ContactOffset,
			ContactForward, ContactHeight, DropDepth, PathDirection, SequenceRacket, BodyLine}},
		{"wrist alone", newBody().clip(200, wrist...), "hand (stand-in)", []Measure{ContactOffset, DropDepth}},
		{"hand alone", newBody().clip(200, without(racketAndBall...)...), "hand", []Measure{HandSpeed}},
		{"no toe", newBody().clip(200, without(landmark.LeftToe)...), "ball (stand-in)", []Measure{TossApexLateral,
			TossContactForward}},
		{"no heel", newBody().clip(200, without(landmark.RightHeel)...), "body (stand-in)", []Measure{HeelLift}},
		{"no elbow", newBody().clip(200, without(landmark.LeftElbow)...), "body (stand-in)", []Measure{JumpHeight}},
		{"contact guessed", guessed, "body (stand-in)", []Measure{TossTime, TempoLowContact}},
		{"events set by a person, no racket and ball", byHand, "body", []Measure{TossTime, TempoLowContact,
			TempoTrophyLow}},
	} {
		for k, v := range Compute(c.clip, c.measure...) {
			if v.BasisText() != c.basis || math.IsNaN(v.Number) {
				t.Errorf("%s: %s is %g from %q (%s), want %q", c.name, c.measure[k].ID, v.Number, v.BasisText(), v.Missing,
					c.basis)
			}
		}
	}
}

// An end of a stretch lies between samples: what is still growing there is largest at the event.
func TestLargestAtAnEvent(t *testing.T) {
	b := newBody()
	b.backKnee = curve{8, []bump{{90, bodyContact + 0.3, 0.25}}}
	want := b.backKnee.at(bodyContact)
	for _, rate := range []float64{50, 100, 240} {
		if v := Compute(b.clip(rate), BackKneeFlexion)[0]; !(math.Abs(v.Number-want) < 0.3) {
			t.Errorf("at %g Hz %.2f deg, want %.2f", rate, v.Number, want)
		}
	}
}

// One camera gives of a recording without ball, or with the racket's tip alone, what it gives of one with all.
func TestOneCameraWithoutBall(t *testing.T) {
	for name, names := range map[string][]landmark.Name{
		"no ball": without(landmark.Ball),
		"no ball, tip alone": without(landmark.Ball, landmark.RacketGrip, landmark.RacketThroat, landmark.RacketLeft,
			landmark.RacketRight),
		"face alone": without(landmark.Ball, landmark.RacketGrip, landmark.RacketThroat, landmark.RacketTip),
		"no racket":  without(racketAndBall...),
	} {
		c := newBody().clip(200, names...)
		for view, seen := range map[string]Clip{"behind": changed(c, noX), "side": changed(c, noZ),
			"behind, left-handed": changed(leftHanded(c), noX)} {
			whole := Compute(c, All()...)
			for k, v := range Compute(seen, All()...) {
				m := All()[k]
				if !strings.Contains(m.Camera, strings.Split(view, ",")[0]) {
					if v.Missing == "" {
						t.Errorf("%s, %s: %s is %g", name, view, m.ID, v.Number)
					}
				} else if v.Missing != whole[k].Missing || v.BasisText() != whole[k].BasisText() ||
					math.Abs(v.Number-whole[k].Number) > 1e-6 {
					t.Errorf("%s, %s: %s is %g from %q (%s), in space %g from %q (%s)", name, view, m.ID, v.Number,
						v.BasisText(), v.Missing, whole[k].Number, whole[k].BasisText(), whole[k].Missing)
				}
			}
		}
	}
}
