package season_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"tossline/datasets/catalogue"
	"tossline/datasets/demo"
	"tossline/datasets/recording"
	"tossline/datasets/season"
	"tossline/kernel/motion"
)

// firstTake is a take with several serves, whole, by a body that can be cut.
var firstTake = sync.OnceValue(func() (first demo.Take) {
	enough := errors.New("one take will do")
	demo.Generate(context.Background(), demo.DefaultSeed, func(t demo.Take) error {
		first = t
		return enough
	})
	return first
})

// recorded is a season with the first take, cut as keep says.
type recorded struct {
	*season.Writer
	t         *testing.T
	take      demo.Take
	recording string
	ids       []motion.ServeID
}

func record(t *testing.T, keep func([]motion.Serve) []motion.Serve) *recorded {
	t.Helper()
	return recordTake(t, firstTake(), keep)
}

func recordTake(t *testing.T, take demo.Take, keep func([]motion.Serve) []motion.Serve) *recorded {
	t.Helper()
	w, err := season.Create(filepath.Join(t.TempDir(), "season"), "test")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { w.Close() })
	r := &recorded{Writer: w, t: t, take: take}
	if added := r.add(keep); added.Outcome != season.New {
		t.Fatal(added)
	}
	return r
}

func asFound(s []motion.Serve) []motion.Serve { return s }

// add imports the take, with the serves that keep makes of those found.
func (r *recorded) add(keep func([]motion.Serve) []motion.Serve) season.Added {
	r.t.Helper()
	found, err := recording.Cut(context.Background(), r.take.Take, nil)
	if err != nil {
		r.t.Fatal(err)
	}
	added, err := r.AddRecording(context.Background(), season.Import{
		File: "take.csv", SourceSHA256: strings.Repeat("a1", 32), Format: "csv", RateHz: r.take.Rate,
		Layout: r.take.Layout, Frames: r.take.Frames, Hand: r.take.Hand, Player: "Oriel Nash", Session: "2026-03-14",
		HeightM: 1.7, Serves: keep(found.Serves),
	})
	if err != nil {
		r.t.Fatal(err)
	}
	r.recording, r.ids = added.Recording, added.Serves
	return added
}

func (r *recorded) catalogue() *catalogue.Catalogue {
	r.t.Helper()
	c, err := r.Snapshot(context.Background())
	if err != nil {
		r.t.Fatal(err)
	}
	return c
}

// serves describes every serve in a line.
func (r *recorded) serves() (lines []string) {
	c := r.catalogue()
	for row := range c.Rows() {
		s := c.Row(row)
		rec := c.Recordings()[s.Recording]
		lines = append(lines, fmt.Sprintf("%s %s %s frames %d to %d contact %.3f out %q", s.ID, rec.Player, rec.Hand,
			s.First, s.Last, s.ContactS(), s.LeftOut))
	}
	return lines
}

// measured lists the contacts of the serves that are measured.
func (r *recorded) measured() (contacts []float64) {
	c := r.catalogue()
	for i := range c.Len() {
		contacts = append(contacts, c.Serve(i).ContactS())
	}
	return contacts
}

func (r *recorded) edit(edits []season.Edit, err error) int64 {
	r.t.Helper()
	if err != nil {
		r.t.Fatal(err)
	}
	batch, err := r.Edit(context.Background(), edits...)
	if err != nil {
		r.t.Fatal(err)
	}
	return batch
}

// undone fails unless undoing a batch brings back what was there before, and doing it again what was there after.
func (r *recorded) undone(batch int64, before []string) {
	r.t.Helper()
	after := r.serves()
	ctx := context.Background()
	if err := r.Undo(ctx, batch); err != nil {
		r.t.Fatal(err)
	}
	if got := r.serves(); !slices.Equal(got, before) {
		r.t.Errorf("undone:\n%s\nbefore:\n%s", strings.Join(got, "\n"), strings.Join(before, "\n"))
	}
	if err := r.Redo(ctx, batch); err != nil {
		r.t.Fatal(err)
	}
	if got := r.serves(); !slices.Equal(got, after) {
		r.t.Errorf("done again:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(after, "\n"))
	}
}

func sameTimes(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return math.Abs(x-y) < 0.003 })
}

func TestMergeAndSplit(t *testing.T) {
	ctx := context.Background()
	r := record(t, asFound)
	before, contacts := r.serves(), r.measured()
	edits, merged, err := r.Merge(ctx, r.ids[1], r.ids[2])
	batch := r.edit(edits, err)
	if got := r.measured(); len(got) != len(contacts)-1 || math.Abs(got[1]-contacts[1]) > 0.003 {
		t.Errorf("merged: contacts %v of %v", got, contacts)
	}
	r.undone(batch, before)

	before = r.serves()
	edits, parts, err := r.Split(ctx, merged, (contacts[1]+contacts[2])/2)
	batch = r.edit(edits, err)
	if got := r.measured(); len(parts) != 2 || !sameTimes(got, contacts) {
		t.Errorf("split: contacts %v, want %v", got, contacts)
	}
	r.undone(batch, before)
	if left, _ := r.catalogue().Find(merged); left.LeftOut != "discarded: split in two" {
		t.Errorf("the serve that was split is left out because %q", left.LeftOut)
	}
}

// A serve was split, and a later import finds what was there before, or both parts by itself: people's word holds.
func TestCutsByHandHoldAgainstImports(t *testing.T) {
	ctx := context.Background()
	joined := func(s []motion.Serve) []motion.Serve { // serves 1 and 2 found as one, with the contact of the second
		s[2].First = s[1].First
		return slices.Delete(s, 1, 2)
	}
	r := record(t, joined)
	all := motion.Cut(r.take.Take).Serves
	contacts := []float64{}
	for _, s := range all {
		contacts = append(contacts, s.Events[motion.Contact].TimeS)
	}
	edits, _, err := r.Split(ctx, r.ids[1], float64(all[1].Last)/r.take.Rate)
	r.edit(edits, err)
	if got := r.measured(); !sameTimes(got, contacts) {
		t.Fatalf("split: contacts %v, want %v", got, contacts)
	}
	cut := r.serves()
	for name, keep := range map[string]func([]motion.Serve) []motion.Serve{"better": asFound, "as before": joined} {
		r.add(keep)
		if got := r.measured(); !sameTimes(got, contacts) {
			t.Errorf("%s: after the import: contacts %v, want %v\n%s", name, got, contacts, strings.Join(cut, "\n"))
		}
	}
}

func TestRecut(t *testing.T) {
	ctx := context.Background()
	poor := func(s []motion.Serve) []motion.Serve { // one serve missed, another's contact 0.1 s late
		e := s[0].Events[motion.Contact]
		s[0].Events = motion.Events{motion.Release: s[0].Events[motion.Release]}
		s[0].Events[motion.Contact] = motion.Event{TimeS: e.TimeS + 0.1, Method: "poor"}
		return slices.Delete(s, 3, 4)
	}
	r := record(t, poor)
	good := motion.Cut(r.take.Take).Serves
	last := r.ids[len(r.ids)-1]
	moved := good[len(good)-1].Events[motion.Contact].TimeS + 0.02
	r.edit([]season.Edit{season.MoveEvent(last, motion.Contact, moved), season.Discard(r.ids[2], "a let")}, nil)
	before := r.serves()
	batch := r.edit(r.Recut(ctx, r.recording, motion.HandUnknown))
	c := r.catalogue()
	if c.Rows() != len(good) {
		t.Errorf("%d serves after the cut, want %d", c.Rows(), len(good))
	}
	for _, id := range r.ids {
		if _, ok := c.Find(id); !ok {
			t.Errorf("serve %s has another id after the cut", id)
		}
	}
	if s, _ := c.Find(last); s.ContactS() != moved || !s.Events[motion.Contact].ByHand {
		t.Errorf("contact of %s at %.3f, want it where a person set it, at %.3f", last, s.ContactS(), moved)
	}
	if s, _ := c.Find(r.ids[2]); s.LeftOut != "discarded: a let" {
		t.Errorf("serve %s is left out because %q", r.ids[2], s.LeftOut)
	}
	r.undone(batch, before)
	fresh := slices.IndexFunc(r.serves(), func(line string) bool {
		id, _, _ := strings.Cut(line, " ")
		return !slices.Contains(r.ids, motion.ServeID(id))
	})
	new := c.Row(fresh).ID
	r.edit([]season.Edit{{Target: season.OnServe, Subject: string(new), Field: "outcome", Value: "net"}}, nil)

	if added := r.add(poor); added.Outcome != season.Same {
		t.Errorf("the same import: %s", added.Outcome)
	}
	if got := r.catalogue().Rows(); got != len(good) {
		t.Errorf("%d serves after the same import, want %d", got, len(good))
	}
	if added := r.add(asFound); added.Outcome != season.Replaced {
		t.Errorf("another import: %s", added.Outcome)
	}
	if s, ok := r.catalogue().Find(new); !ok || s.Outcome != "net" {
		t.Errorf("what was said of the serve that the cut found is gone after an import that finds it too: %+v", s)
	}
	history, err := r.History(ctx, 10, r.recording)
	if err != nil || len(history) != 1 || history[0].Undone.IsZero() {
		t.Errorf("the cut is not out of force after an import that found other serves: %v, %v", history, err)
	}
}

// TestRecutOfALongTake cuts a take again that is so long that it is cut piece by piece: what is found is what the
// import found, and hand corrections stay.
func TestRecutOfALongTake(t *testing.T) {
	if testing.Short() {
		t.Skip("cutting a quarter of an hour only computes")
	}
	take := firstTake()
	for once := take.Frames; take.Len() < 210_000; {
		take.Frames = append(take.Frames[:len(take.Frames):len(take.Frames)], once...)
	}
	r := recordTake(t, take, asFound)
	if len(r.ids) < 100 {
		t.Fatalf("%d serves", len(r.ids))
	}
	last, middle := r.ids[len(r.ids)-1], r.ids[len(r.ids)/2]
	c := r.catalogue()
	s, _ := c.Find(last)
	moved := s.ContactS() + 0.02
	r.edit([]season.Edit{season.MoveEvent(last, motion.Contact, moved), season.Discard(middle, "a let")}, nil)
	before := r.serves()
	batch := r.edit(r.Recut(t.Context(), r.recording, motion.HandUnknown))
	if after := r.serves(); !slices.Equal(after, before) {
		t.Errorf("after the cut:\n%s\nwant:\n%s", strings.Join(after, "\n"), strings.Join(before, "\n"))
	}
	c = r.catalogue()
	if s, _ := c.Find(last); s.ContactS() != moved || !s.Events[motion.Contact].ByHand {
		t.Errorf("contact of %s at %.3f, want it where a person set it, at %.3f", last, s.ContactS(), moved)
	}
	if s, _ := c.Find(middle); s.LeftOut != "discarded: a let" {
		t.Errorf("serve %s is left out because %q", middle, s.LeftOut)
	}
	r.undone(batch, before)
	stopped, stop := context.WithCancel(t.Context())
	stop()
	if _, err := r.Recut(stopped, r.recording, motion.HandUnknown); !errors.Is(err, context.Canceled) {
		t.Errorf("a cut that was stopped: %v", err)
	}
}

func TestRecutForTheOtherHand(t *testing.T) {
	r := record(t, asFound)
	other := motion.HandRight
	if r.take.Hand == motion.HandRight {
		other = motion.HandLeft
	}
	before := r.serves()
	batch := r.edit(r.Recut(context.Background(), r.recording, other))
	if got := r.catalogue().Recordings()[0].Hand; got != other {
		t.Errorf("hand %s, want %s", got, other)
	}
	r.undone(batch, before)
}

func TestRename(t *testing.T) {
	ctx := context.Background()
	r := record(t, asFound)
	before := r.serves()
	batch := r.edit(r.Rename(ctx, "Oriel Nash", "P-017"))
	rec := r.catalogue().Recordings()[0]
	if rec.Player != "P-017" || rec.HeightM != 1.7 {
		t.Errorf("renamed: %s, %g m tall", rec.Player, rec.HeightM)
	}
	r.undone(batch, before)
	for _, bad := range []string{"", "two\nlines", "P-017"} {
		if edits, err := r.Rename(ctx, "P-017", bad); err == nil {
			t.Errorf("to %q: %v", bad, edits)
		}
	}
}

func TestServeIsCompletedByHand(t *testing.T) {
	r := record(t, func(s []motion.Serve) []motion.Serve {
		s[0].CutOff, s[0].CutOffWhy = true, "contact after the take ends"
		s[0].Events = motion.Events{motion.Release: s[0].Events[motion.Release]}
		return s
	})
	before := len(r.measured())
	release := r.catalogue().Row(0).Events[motion.Release].TimeS
	batch := r.edit([]season.Edit{season.MoveEvent(r.ids[0], motion.Contact, release+0.8)}, nil)
	if got := len(r.measured()); got != before+1 {
		t.Errorf("%d serves measured, want %d", got, before+1)
	}
	if err := r.Undo(context.Background(), batch); err != nil || len(r.measured()) != before {
		t.Errorf("undone: %d serves measured, %v", len(r.measured()), err)
	}
}

func TestHistory(t *testing.T) {
	ctx := context.Background()
	r := record(t, asFound)
	particular := func(id motion.ServeID, value string) season.Edit {
		return season.Edit{Target: season.OnServe, Subject: string(id), Field: "serve_type", Value: value}
	}
	first := r.edit([]season.Edit{particular(r.ids[0], "flat"), particular(r.ids[1], "flat")}, nil)
	second := r.edit([]season.Edit{particular(r.ids[0], "kick")}, nil)
	if err := r.Undo(ctx, first); err != nil {
		t.Fatal(err)
	}
	all, err := r.History(ctx, 10)
	if err != nil || len(all) != 2 || all[0].Number != second || all[1].Number != first {
		t.Fatalf("history %v, %v", all, err)
	}
	if !all[0].Undone.IsZero() || all[1].Undone.IsZero() || len(all[1].Edits) != 2 || all[0].Edits[0].Before != "flat" {
		t.Errorf("history %+v", all)
	}
	if all[0].At.IsZero() || all[1].Undone.Before(all[1].At) {
		t.Errorf("made at %v, undone at %v", all[1].At, all[1].Undone)
	}
	if of, err := r.History(ctx, 10, string(r.ids[1])); err != nil || len(of) != 1 || len(of[0].Edits) != 1 {
		t.Errorf("history of one serve: %v, %v", of, err)
	}
	if of, err := r.History(ctx, 10, string(r.ids[1]), string(r.ids[0])); err != nil || len(of) != 2 ||
		len(of[1].Edits) != 2 {
		t.Errorf("history of two serves: %v, %v", of, err)
	}
	if last, err := r.History(ctx, 1); err != nil || len(last) != 1 || last[0].Number != second {
		t.Errorf("the last batch: %v, %v", last, err)
	}
}

func TestCutsRefuse(t *testing.T) {
	ctx := context.Background()
	r := record(t, asFound)
	end := float64(r.take.Len()) / r.take.Rate
	split := func(id motion.ServeID, atS float64) ([]season.Edit, error) {
		edits, _, err := r.Split(ctx, id, atS)
		return edits, err
	}
	merge := func(ids ...motion.ServeID) ([]season.Edit, error) {
		edits, _, err := r.Merge(ctx, ids...)
		return edits, err
	}
	for name, try := range map[string]func() ([]season.Edit, error){
		"split of no serve":   func() ([]season.Edit, error) { return split("x-00001", 2) },
		"split outside it":    func() ([]season.Edit, error) { return split(r.ids[0], end) },
		"split at no time":    func() ([]season.Edit, error) { return split(r.ids[0], math.NaN()) },
		"merge of one":        func() ([]season.Edit, error) { return merge(r.ids[0]) },
		"merge with no serve": func() ([]season.Edit, error) { return merge(r.ids[0], "x-00001") },
		"cut of no recording": func() ([]season.Edit, error) { return r.Recut(ctx, "x", motion.HandUnknown) },
		"cut for no hand":     func() ([]season.Edit, error) { return r.Recut(ctx, r.recording, "foot") },
		"rename of nobody":    func() ([]season.Edit, error) { return r.Rename(ctx, "Nobody", "P-1") },
		"event after the end": func() ([]season.Edit, error) {
			_, err := r.Edit(ctx, season.MoveEvent(r.ids[0], motion.Contact, end+1))
			return nil, err
		},
		"stretch after the end": func() ([]season.Edit, error) {
			_, err := r.Edit(ctx, season.Edit{Target: season.OnServe, Subject: string(r.ids[0]), Field: "stretch",
				Value: "0-9999999"})
			return nil, err
		},
		"cut with a foreign id": func() ([]season.Edit, error) {
			_, err := r.Edit(ctx, season.Edit{Target: season.OnRecording, Subject: r.recording, Field: "cut",
				Value: `[{"id":"other-00001","first":0,"last":10}]`})
			return nil, err
		},
	} {
		before := r.serves()
		if edits, err := try(); err == nil {
			t.Errorf("%s: no error, edits %v", name, edits)
		}
		if !slices.Equal(r.serves(), before) {
			t.Errorf("%s: the season has changed", name)
		}
	}
}
