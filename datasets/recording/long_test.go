package recording_test

import (
	"context"
	"errors"
	"math"
	"testing"

	"tossline/datasets/demo"
	"tossline/datasets/recording"
	"tossline/kernel/motion"
)

// TestLongTakeIsCutLikeAShortOne repeats a take of the demo season until it is longer than one piece, and compares what
// is found piece by piece with what is found at once.
func TestLongTakeIsCutLikeAShortOne(t *testing.T) {
	enough := errors.New("one take is enough")
	var made demo.Take
	err := demo.Generate(context.Background(), demo.DefaultSeed, func(one demo.Take) error {
		made = one
		return enough
	})
	if !errors.Is(err, enough) {
		t.Fatal(err)
	}
	take := motion.Take{Rate: demo.Rate, Layout: made.Layout}
	defer recording.ShortPieces()()
	for take.Len() < 30_000 {
		take.Frames = append(take.Frames, made.Frames...)
	}
	whole, ticks := motion.Cut(take), 0
	got := recording.CutTake(take, func() { ticks++ })
	if got.Hand != whole.Hand || got.HandWhy == "" || ticks < 2 {
		t.Errorf("hand %q (%s), want %q; %d ticks", got.Hand, got.HandWhy, whole.Hand, ticks)
	}
	contacts := func(f motion.Found) (at []float64) {
		for _, s := range f.Serves {
			if !s.CutOff {
				at = append(at, s.Events[motion.Contact].TimeS)
			}
			if s.First < 0 || s.Last >= take.Len() || s.Last < s.First {
				t.Errorf("a serve from frame %d to %d", s.First, s.Last)
			}
		}
		return at
	}
	a, b := contacts(got), contacts(whole)
	if len(a) != len(b) || len(a) < 10 {
		t.Fatalf("%d serves, at once %d", len(a), len(b))
	}
	for i := range a {
		if math.Abs(a[i]-b[i]) > 0.01 {
			t.Errorf("contact %d at %.3f s, at once %.3f s", i, a[i], b[i])
		}
	}
	h, ok := recording.HeadingOf(take)
	if want, _ := motion.EstimateHeading(take); !ok || math.Abs(h.Radians-want.Radians) > 0.05 {
		t.Errorf("heading %v, at once %v", h.Radians, want.Radians)
	}
}
