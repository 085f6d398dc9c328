package recording_test

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"tossline/datasets/demo"
	"tossline/datasets/frames"
	"tossline/datasets/recording"
	"tossline/kernel/motion"
)

func firstDemoTake(t *testing.T) (take motion.Take) {
	t.Helper()
	enough := errors.New("one take is enough")
	err := demo.Generate(context.Background(), demo.DefaultSeed, func(one demo.Take) error {
		take = one.Take
		return enough
	})
	if !errors.Is(err, enough) {
		t.Fatal(err)
	}
	return take
}

// TestLongTakeIsCutLikeAShortOne repeats a take of the demo season until it is longer than one piece, and compares what
// is found piece by piece with what is found at once.
func TestLongTakeIsCutLikeAShortOne(t *testing.T) {
	made := firstDemoTake(t)
	take := motion.Take{Rate: demo.Rate, Layout: made.Layout}
	defer recording.ShortPieces()()
	for take.Len() < 30_000 {
		take.Frames = append(take.Frames, made.Frames...)
	}
	whole, ticks := motion.Cut(take), 0
	got, err := recording.Cut(t.Context(), take, func(float64) { ticks++ })
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
	if _, err := recording.Cut(stopped, take, func(float64) { stop() }); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped after the first piece: %v", err)
	}
	h, ok := recording.HeadingOf(take)
	if want, _ := motion.EstimateHeading(take); !ok || math.Abs(h.Radians-want.Radians) > 0.05 {
		t.Errorf("heading %v, at once %v", h.Radians, want.Radians)
	}
}

// TestCutGivesFaultsToItsCaller cuts a take in a mapped file that is cut short meanwhile.
func TestCutGivesFaultsToItsCaller(t *testing.T) {
	if runtime.GOOS != "linux" && runtime.GOOS != "darwin" {
		t.Skip("mapped files are not cut short here")
	}
	take := firstDemoTake(t)
	path := filepath.Join(t.TempDir(), "take.arrow")
	out, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer out.Close()
	facts := frames.Facts{RateHz: take.Rate, Landmarks: take.Layout.Names()}
	if err := frames.Write(out, facts, take.Frames); err != nil {
		t.Fatal(err)
	}
	in, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	file, err := frames.Open(in)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	take.Frames = file.XYZ()
	if err := os.Truncate(path, 1<<16); err != nil {
		t.Fatal(err)
	}
	err = frames.Guard(func() error {
		_, err := recording.Cut(t.Context(), take, nil)
		return err
	})
	if err == nil || !strings.Contains(err.Error(), "cut short") {
		t.Errorf("cut with %v", err)
	}
}
