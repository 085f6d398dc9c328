package season_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"tossline/datasets/catalogue"
	"tossline/datasets/season"
	"tossline/kernel/motion"
)

// Through a hundred random changes of a season, measures out of the cache are those that would be computed now; and
// what does not change a serve's content computes nothing.
func TestCachedMeasuresAreAsIfComputedNow(t *testing.T) {
	r := record(t, asFound)
	ctx := context.Background()
	random := rand.New(rand.NewPCG(51, 52))
	measures := []motion.Measure{motion.FrontKneeFlexion, motion.ContactOffset, motion.ContactHeightOfHeight,
		motion.TempoLowContact, motion.JumpHeight}
	var batches []int64
	kept := r.catalogue() // a snapshot that goes on being used while the season changes
	for step := range 100 {
		id := r.ids[random.IntN(len(r.ids))]
		what := "nothing"
		say := func(e season.Edit) {
			batches = append(batches, r.edit([]season.Edit{e}, nil))
			what = fmt.Sprint(e)
		}
		switch random.IntN(9) {
		case 0:
			kind := motion.EventKinds[random.IntN(len(motion.EventKinds))]
			if s, _ := r.catalogue().Find(id); s.Events[kind].TimeS > 0 {
				say(season.MoveEvent(id, kind, s.Events[kind].TimeS+0.002*float64(random.IntN(5)-2)))
			}
		case 1:
			say(season.Edit{Target: season.OnServe, Subject: string(id), Field: "event.landing"})
		case 2:
			height := fmt.Sprint(1.6 + 0.05*float64(random.IntN(3)))
			say(season.Edit{Target: season.OnPlayer, Subject: "Oriel Nash", Field: "height_m", Value: height})
		case 3:
			hand := []string{"left", "right"}[random.IntN(2)]
			say(season.Edit{Target: season.OnRecording, Subject: r.recording, Field: "hand", Value: hand})
		case 4:
			say(season.Discard(id, "let"))
		case 5:
			say(season.Edit{Target: season.OnServe, Subject: string(id), Field: "discarded"})
		case 6:
			if len(batches) > 0 {
				what = "undo"
				r.Undo(ctx, batches[random.IntN(len(batches))])
			}
		case 7:
			what = "an older snapshot measured late"
			if _, err := motion.NewSeason(ctx, kept, nil).Measure(measures...); err != nil {
				t.Fatal(err)
			}
			keepAll(t, r.Season, kept)
			kept = r.catalogue()
		case 8:
			say(season.Edit{Target: season.OnServe, Subject: string(id), Field: "outcome", Value: "in"})
		}
		checkFresh(t, fmt.Sprintf("step %d, %s", step, what), r, measures)
	}
}

// checkFresh reads the season as another process would, and compares what it has with what is computed from the frames.
func checkFresh(t *testing.T, step string, r *recorded, measures []motion.Measure) {
	t.Helper()
	s, err := season.Open(r.Dir())
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	c, err := s.Snapshot(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	table, err := motion.NewSeason(context.Background(), c, nil).Measure(measures...)
	if err != nil {
		t.Fatal(err)
	}
	for i := range c.Len() {
		clip, err := c.Clip(i)
		if err != nil {
			t.Fatal(err)
		}
		for k, now := range motion.Compute(clip, measures...) {
			m := measures[k]
			number := table.Numbers(m.Column())[i]
			same := number == now.Number || math.IsNaN(number) && math.IsNaN(now.Number)
			if !same || table.Texts(m.BasisColumn())[i] != now.BasisText() || table.Texts(m.MissingColumn())[i] != now.Missing {
				t.Fatalf("%s: %s of serve %d is %g from the cache, %g (%q) now", step, m.ID, i, number, now.Number, now.Missing)
			}
		}
	}
	keepAll(t, s, c)
	again, err := season.Open(r.Dir())
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if c, err = again.Snapshot(context.Background()); err != nil {
		t.Fatal(err)
	}
	for i := range c.Len() {
		if slices.ContainsFunc(measures, func(m motion.Measure) bool { _, ok := c.Cached(i, m); return !ok }) {
			t.Fatalf("%s: serve %d would be measured again after a restart", step, i)
		}
	}
}

func keepAll(t *testing.T, s *season.Season, c *catalogue.Catalogue) {
	t.Helper()
	if err := s.KeepMeasured(context.Background(), slices.Collect(c.TakeKept())...); err != nil {
		t.Fatal(err)
	}
}
