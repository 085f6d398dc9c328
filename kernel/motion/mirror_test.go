package motion_test

import (
	"context"
	"math"
	"sync"
	"testing"

	"tossline/datasets/demo"
	"tossline/kernel/motion"
)

// A whole season in the mirror: every right-hander becomes a left-hander and the other way round, and every serve,
// event and measure stays the same.
func TestMirroredSeasonMeasuresTheSame(t *testing.T) {
	if testing.Short() {
		t.Skip("a whole season takes seconds")
	}
	takes := make(chan demo.Take, 4)
	var workers sync.WaitGroup
	for range 4 {
		workers.Go(func() {
			for take := range takes {
				compareMirrored(t, take)
			}
		})
	}
	err := demo.Generate(context.Background(), demo.DefaultSeed, func(take demo.Take) error {
		takes <- take
		return nil
	})
	close(takes)
	workers.Wait()
	if err != nil {
		t.Fatal(err)
	}
}

func compareMirrored(t *testing.T, take demo.Take) {
	one, other := take.Take, mirrored(take.Take)
	one.Hand, other.Hand = take.Player.Hand, motion.HandLeft
	if one.Hand == motion.HandLeft {
		other.Hand = motion.HandRight
	}
	found, reflected := motion.Cut(one), motion.Cut(other)
	if len(found.Serves) != len(reflected.Serves) {
		t.Errorf("%s: %d serves, in the mirror %d", take.Name, len(found.Serves), len(reflected.Serves))
		return
	}
	for k, s := range found.Serves {
		r := reflected.Serves[k]
		for _, kind := range motion.EventKinds {
			if s.Events[kind] != r.Events[kind] {
				t.Errorf("%s, serve %d, %s: %v, in the mirror %v", take.Name, k, kind, s.Events[kind], r.Events[kind])
			}
		}
		values := motion.Compute(clipOf(one, s, take.Player.HeightM), motion.All()...)
		for j, v := range motion.Compute(clipOf(other, r, take.Player.HeightM), motion.All()...) {
			same := v.Number == values[j].Number || math.IsNaN(v.Number) && math.IsNaN(values[j].Number)
			if !same || v.BasisText() != values[j].BasisText() || v.Missing != values[j].Missing {
				t.Errorf("%s, serve %d, %s: %v, in the mirror %v", take.Name, k, motion.All()[j].ID, values[j], v)
			}
		}
	}
}

// clipOf is the stretch of a take around one of its serves.
func clipOf(t motion.Take, s motion.Serve, heightM float64) motion.Clip {
	width := 3 * t.Layout.Len()
	t.Frames = t.Frames[s.First*width : (s.Last+1)*width]
	return motion.Clip{Take: t, First: s.First, Events: s.Events, HeightM: heightM}
}
