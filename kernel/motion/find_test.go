package motion_test

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"

	"tossline/datasets/demo"
	"tossline/datasets/landmark"
	"tossline/kernel/motion"
)

// A ball that is mistaken for another one now and then is still the ball: its serves are found, at the same contact, and
// its toss and the place of contact are the same.
func TestMistakenBalls(t *testing.T) {
	made := modelled(t)
	take := made.Take
	whole := motion.Cut(take)
	take.Frames = slices.Clone(take.Frames)
	ball := take.Layout.Index(landmark.Ball)
	for i := 17; i < take.Len(); i += 23 {
		for k := range 1 + i%2 {
			at := ((i+k)*take.Layout.Len() + ball) * 3
			if i+k < take.Len() {
				copy(take.Frames[at:at+3], []float32{2, 0.04, -1.5})
			}
		}
	}
	mistaken := motion.Cut(take)
	if len(mistaken.Serves) != len(whole.Serves) || len(mistaken.Notes) != len(whole.Notes) {
		t.Fatalf("%d serves, want %d: %v", len(mistaken.Serves), len(whole.Serves), mistaken.Notes)
	}
	measures := []motion.Measure{motion.ContactOffset, motion.ContactForward, motion.ContactHeight, motion.TossApex,
		motion.TossApexLateral, motion.TossApexForward}
	for k, s := range mistaken.Serves {
		if s.CutOff {
			continue
		}
		if d := s.Events[motion.Contact].TimeS - whole.Serves[k].Events[motion.Contact].TimeS; math.Abs(d) > 0.003 {
			t.Errorf("the contact of serve %d moves by %.4f s", k, d)
		}
		want := motion.Compute(clipOf(made.Take, whole.Serves[k], 1.8), measures...)
		for j, v := range motion.Compute(clipOf(take, s, 1.8), measures...) {
			if !(math.Abs(v.Number-want[j].Number) < 0.005) && want[j].Missing == "" {
				t.Errorf("serve %d: %s is %.4f m (%s), without the mistakes %.4f m", k, measures[j].ID, v.Number, v.Missing,
					want[j].Number)
			}
		}
	}
}

// modelled is a take of which the truth is known.
func modelled(t *testing.T) (take demo.Take) {
	t.Helper()
	enough := errors.New("enough")
	err := demo.Generate(context.Background(), demo.DefaultSeed, func(made demo.Take) error {
		take = made
		return enough
	})
	if !errors.Is(err, enough) {
		t.Fatal(err)
	}
	return take
}

// One camera that sees the ball finds contact by it: at the side as well as several do, from behind, where ball and
// racket come nearly straight away from it, within some 10 ms.
func TestContactByOneCamera(t *testing.T) {
	made := modelled(t)
	for _, c := range []struct {
		name    string
		unseen  int
		withinS float64
	}{{"side", 2, 0.001}, {"behind", 0, 0.010}} {
		found := 0
		for _, s := range motion.Cut(without(c.unseen)(made.Take)).Serves {
			for _, k := range made.Serves {
				contact, want := s.Events[motion.Contact], k.Truth.Events[motion.Contact]
				if s.CutOff || k.Truth.CutOff || len(k.Truth.Missing) > 0 || math.Abs(contact.TimeS-want) > 0.2 {
					continue
				}
				found++
				if d := contact.TimeS - want; contact.StandIn || math.Abs(d) > c.withinS {
					t.Errorf("%s: contact is off by %.4f s (%s)", c.name, d, contact.Method)
				}
			}
		}
		if found < 5 {
			t.Errorf("%s: %d serves", c.name, found)
		}
	}
}

// What a gap hides is not found at its edge: the hands stand in.
func TestEventsThatAGapHides(t *testing.T) {
	made := modelled(t)
	for _, c := range []struct {
		lost    landmark.Name
		kind    motion.EventKind
		withinS float64
	}{
		{landmark.LeftKnee, motion.Trophy, 0.15},
		{landmark.RacketTip, motion.LowPoint, 0.05},
	} {
		lost := c.lost
		if made.Hand == motion.HandLeft {
			lost = lost.Mirror()
		}
		take := made.Take
		take.Frames = slices.Clone(take.Frames)
		place := take.Layout.Index(lost)
		for _, s := range made.Serves {
			at := int(s.Truth.Events[c.kind] * take.Rate)
			for i := max(at-14, 0); i < min(at+14, take.Len()); i++ {
				for k := range 3 {
					take.Frames[(i*take.Layout.Len()+place)*3+k] = float32(math.NaN())
				}
			}
		}
		found := 0
		for _, s := range motion.Cut(take).Serves {
			for _, k := range made.Serves {
				if s.CutOff || math.Abs(s.Events[motion.Contact].TimeS-k.Truth.Events[motion.Contact]) > 0.2 {
					continue
				}
				found++
				e := s.Events[c.kind]
				if d := e.TimeS - k.Truth.Events[c.kind]; !e.StandIn || e.Confidence > 0.6 || math.Abs(d) > c.withinS {
					t.Errorf("without %s, %s is off by %.3f s: %+v", c.lost, c.kind, d, e)
				}
			}
		}
		if found < 5 {
			t.Errorf("%d serves", found)
		}
	}
}
