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
	got, err := recording.Cut(t.Context(), take, func() { ticks++ })
	if err != nil {
		t.Fatal(err)
	}
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
	stopped, stop := context.WithCancel(t.Context())
	if _, err := recording.Cut(stopped, take, stop); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped after the first piece: %v", err)
	}
	h, ok := recording.HeadingOf(take)
	if want, _ := motion.EstimateHeading(take); !ok || math.Abs(h.Radians-want.Radians) > 0.05 {
		t.Errorf("heading %v, at once %v", h.Radians, want.Radians)
	}
}

// TestCutGivesPanicsToItsCaller cuts a take that has fewer values than its layout asks for.
func TestCutGivesPanicsToItsCaller(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic")
		}
	}()
	recording.Cut(t.Context(), motion.Take{Rate: math.NaN(), Layout: nil}, nil)
}
