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
	enough := errors.New("enough")
	err := demo.Generate(context.Background(), demo.DefaultSeed, func(made demo.Take) error {
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
		return enough
	})
	if !errors.Is(err, enough) {
		t.Fatal(err)
	}
}
