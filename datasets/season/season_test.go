package season

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tossline/datasets/catalogue"
	"tossline/datasets/frames"
	"tossline/datasets/landmark"
	"tossline/kernel/motion"
)

var layout = landmark.NewLayout([]landmark.Name{landmark.LeftHand, landmark.RightHand})

// invented gives an import of a file of the given content, with a serve every three seconds from the second on.
func invented(content string, serves int) Import {
	const rate, perServe = 100, 300
	imp := Import{
		File:         content + ".bvh",
		SourceSHA256: sha256Of(content),
		Format:       "bvh",
		RateHz:       rate,
		Layout:       layout,
		Frames:       make([]float32, 6*perServe*max(serves, 1)),
		Hand:         motion.HandRight,
		Player:       "Tuva Brandt",
		Session:      "2026-03-14",
	}
	for i := range imp.Frames {
		imp.Frames[i] = float32(math.Sin(float64(i) + float64(len(content))))
	}
	for k := range serves {
		imp.Serves = append(imp.Serves, inventedServe(k*perServe, float64(k*perServe)/rate+2))
	}
	return imp
}

func inventedServe(first int, contactS float64) motion.Serve {
	return motion.Serve{First: first, Last: first + 299, Events: motion.Events{
		motion.Release: {TimeS: contactS - 0.8, Method: "peak upward speed (stand-in)", Confidence: 0.7, StandIn: true},
		motion.Contact: {TimeS: contactS, Method: "hand highest (stand-in)", Confidence: 0.9, StandIn: true},
	}}
}

func sha256Of(s string) string {
	sum := sha256.Sum256([]byte(s))
	return hex.EncodeToString(sum[:])
}

func newSeason(t testing.TB) *Writer {
	t.Helper()
	w, err := Create(filepath.Join(t.TempDir(), "season"), "test")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { w.Close() })
	return w
}

func add(t testing.TB, w *Writer, imp Import) Added {
	t.Helper()
	a, err := w.AddRecording(context.Background(), imp)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func snapshot(t testing.TB, s *Season) *catalogue.Catalogue {
	t.Helper()
	c, err := s.Snapshot(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func edit(t testing.TB, w *Writer, edits ...Edit) int64 {
	t.Helper()
	batch, err := w.Edit(context.Background(), edits...)
	if err != nil {
		t.Fatal(err)
	}
	return batch
}

func TestAddedRecordingIsSeen(t *testing.T) {
	w := newSeason(t)
	imp := invented("a", 2)
	got := add(t, w, imp)
	id := imp.SourceSHA256[:12]
	want := Added{id, New, []motion.ServeID{motion.ServeID(id + "-00200"), motion.ServeID(id + "-00500")}}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Fatalf("added %v, want %v", got, want)
	}
	for name, open := range map[string]func() *Season{
		"by the writer": func() *Season { return w.Season },
		"by a reader":   func() *Season { return reader(t, w.Dir()) },
	} {
		t.Run(name, func(t *testing.T) {
			c := snapshot(t, open())
			if c.Len() != 2 {
				t.Fatalf("%d serves", c.Len())
			}
			clip, err := c.Clip(1)
			if err != nil {
				t.Fatal(err)
			}
			if clip.Serve != want.Serves[1] || clip.First != 300 || clip.Len() != 300 || clip.Rate != 100 ||
				clip.Position != 1 || clip.Hand != motion.HandRight {
				t.Errorf("clip %+v", clip.Serve)
			}
			if fmt.Sprint(clip.Events) != fmt.Sprint(imp.Serves[1].Events) {
				t.Errorf("events %v, want %v", clip.Events, imp.Serves[1].Events)
			}
			for i, v := range clip.Frames {
				if v != imp.Frames[6*300+i] {
					t.Fatalf("value %d is %v", i, v)
				}
			}
		})
	}
}

func reader(t testing.TB, dir string) *Season {
	t.Helper()
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func TestImportIsIdempotent(t *testing.T) {
	w := newSeason(t)
	imp := invented("a", 2)
	first := add(t, w, imp)
	before, _ := w.Revision(context.Background())
	again := add(t, w, imp)
	after, _ := w.Revision(context.Background())
	if again.Outcome != Same || fmt.Sprint(again.Serves) != fmt.Sprint(first.Serves) || before != after {
		t.Errorf("%v after %v, revision %d after %d", again, first, after, before)
	}
}

func TestAnotherInterpretationKeepsServes(t *testing.T) {
	w := newSeason(t)
	imp := invented("a", 3)
	first := add(t, w, imp)
	edit(t, w, MoveEvent(first.Serves[0], motion.Contact, 2.03), Discard(first.Serves[1], "let"))
	edit(t, w, MoveEvent(first.Serves[2], motion.Trophy, 7.5))

	// A better algorithm moves the first contact, adds a serve and no longer sees the third.
	imp.Serves = []motion.Serve{inventedServe(0, 2.1), inventedServe(300, 5), inventedServe(200, 3.5)}
	again := add(t, w, imp)
	if again.Outcome != Replaced || again.Serves[0] != first.Serves[0] || again.Serves[1] != first.Serves[1] {
		t.Fatalf("%v after %v", again, first)
	}
	c := snapshot(t, w.Season)
	if s, _ := c.Find(first.Serves[0]); s.Events[motion.Contact].TimeS != 2.03 || !s.Events[motion.Contact].ByHand {
		t.Errorf("contact set by hand is now %v", s.Events[motion.Contact])
	}
	if s, _ := c.Find(first.Serves[1]); s.LeftOut != "discarded: let" || s.Position != -1 {
		t.Errorf("discarded serve: %q at %d", s.LeftOut, s.Position)
	}
	if s, ok := c.Find(first.Serves[2]); !ok || s.Events[motion.Trophy].TimeS != 7.5 {
		t.Error("a serve with an event set by hand went away")
	}
	if c.Len() != 3 || c.Rows() != 4 {
		t.Errorf("%d serves of %d", c.Len(), c.Rows())
	}
}

func TestRateUnderstoodOtherwise(t *testing.T) {
	w := newSeason(t)
	imp := invented("a", 1)
	first := add(t, w, imp)
	byHand, handIDs, err := w.cutByHand(context.Background(), first.Recording, inventedServe(0, 1.5))
	if err != nil {
		t.Fatal(err)
	}
	edit(t, w, MoveEvent(first.Serves[0], motion.Contact, 2.05), byHand[0])
	imp.RateHz, imp.Serves = 200, []motion.Serve{inventedServe(0, 1)}
	if again := add(t, w, imp); again.Serves[0] != first.Serves[0] {
		t.Errorf("%v, want %v", again.Serves, first.Serves)
	}
	c := snapshot(t, w.Season)
	if s, _ := c.Find(first.Serves[0]); s.ContactS() != 1.025 {
		t.Errorf("contact at %v s, want 1.025: frame 205 at 200 Hz", s.ContactS())
	}
	if s, _ := c.Find(handIDs[0]); s.ContactS() != 0.75 {
		t.Errorf("contact of the serve cut by hand at %v s, want 0.75: frame 150 at 200 Hz", s.ContactS())
	}
}

func TestUndoAndRedo(t *testing.T) {
	w := newSeason(t)
	id := add(t, w, invented("a", 1)).Serves[0]
	ctx := context.Background()
	contact := func() float64 {
		s, _ := snapshot(t, w.Season).Find(id)
		return s.ContactS()
	}
	first := edit(t, w, MoveEvent(id, motion.Contact, 2.1))
	second := edit(t, w, MoveEvent(id, motion.Contact, 2.2), Edit{OnPlayer, "Tuva Brandt", "height_m", "1.74"})
	for _, step := range []struct {
		name string
		do   error
		want float64
	}{
		{"the last word counts", nil, 2.2},
		{"older undone", w.Undo(ctx, first), 2.2},
	} {
		if step.do != nil || contact() != step.want {
			t.Errorf("%s: %v, %v", step.name, contact(), step.do)
		}
	}
	if err := w.Undo(ctx, second); err != nil || contact() != 2 {
		t.Errorf("all undone: %v, %v", contact(), err)
	}
	if err := w.Redo(ctx, first); err != nil || contact() != 2.1 {
		t.Errorf("first again: %v, %v", contact(), err)
	}
	if err := w.Redo(ctx, first); err == nil || !strings.Contains(err.Error(), "already") {
		t.Errorf("redone twice: %v", err)
	}
	if err := w.Undo(ctx, 99); err == nil || !strings.Contains(err.Error(), "no edits of number 99") {
		t.Errorf("unknown batch: %v", err)
	}
	log, err := w.Edits(ctx, string(id))
	if err != nil || len(log) != 2 || log[0].Value != "2.2" || log[0].Before != "2.1" || log[0].Undone.IsZero() ||
		log[1].Before != "2" || !log[1].Undone.IsZero() {
		t.Errorf("log %+v, %v", log, err)
	}
}

func TestSplitByHand(t *testing.T) {
	w := newSeason(t)
	a := add(t, w, invented("a", 1))
	ctx := context.Background()
	byHand, ids, err := w.cutByHand(ctx, a.Recording, motion.Serve{First: 0, Last: 150, Events: motion.Events{
		motion.Contact: {TimeS: 1.2, Method: motion.MethodByHand, ByHand: true}}})
	if err != nil {
		t.Fatal(err)
	}
	oneID := ids[0]
	batch := edit(t, w, Discard(a.Serves[0], "split"), byHand[0])
	c := snapshot(t, w.Season)
	if s, ok := c.Find(oneID); !ok || s.ContactS() != 1.2 || c.Len() != 1 {
		t.Fatalf("after the split: %v, %d serves", s, c.Len())
	}
	edit(t, w, MoveEvent(oneID, motion.Contact, 1.25))
	if s, _ := snapshot(t, w.Season).Find(oneID); s.ContactS() != 1.25 {
		t.Errorf("a serve cut by hand can't be edited: %v", s)
	}
	if err := w.Undo(ctx, batch); err != nil {
		t.Fatal(err)
	}
	if c := snapshot(t, w.Season); c.Len() != 1 || c.Serve(0).ID != a.Serves[0] {
		t.Error("undoing the split does not give the serve back")
	}
}

func TestEditRefuses(t *testing.T) {
	w := newSeason(t)
	id := add(t, w, invented("a", 1)).Serves[0]
	for name, c := range map[string]struct {
		edit Edit
		want string
	}{
		"unknown serve":     {Discard("nobody-00001", "x"), "no serve nobody-00001"},
		"unknown recording": {Edit{OnRecording, "nobody", "hand", "left"}, "no recording nobody"},
		"unknown field":     {Edit{OnServe, string(id), "colour", "red"}, "no field"},
		"unknown event":     {MoveEvent(id, "bounce", 1), "no event"},
		"time before start": {MoveEvent(id, motion.Contact, -1), "seconds from the start"},
		"time NaN":          {MoveEvent(id, motion.Contact, math.NaN()), "seconds from the start"},
		"hand":              {Edit{OnRecording, string(id)[:12], "hand", "both"}, "left or right"},
		"session":           {Edit{OnRecording, string(id)[:12], "session", "14.3.2026"}, "date such as"},
		"height in cm":      {Edit{OnPlayer, "Tuva Brandt", "height_m", "174"}, "between 0.5 and 2.6"},
		"no player":         {Edit{OnPlayer, " ", "level", "junior"}, "expected a name"},
		"court side":        {Edit{OnServe, string(id), "court_side", "left"}, "deuce or ad"},
		"stance":            {Edit{OnServe, string(id), "stance_type", "wide"}, "platform or pinpoint"},
		"two lines":         {Edit{OnServe, string(id), "outcome", "in\nout"}, "one line"},
		"stretch":           {Edit{OnServe, string(id), "stretch", "9-3"}, "two frames"},
		"not a serve":       {Edit{OnRecording, string(id)[:12], "serve.x", "{"}, "first and a last frame"},
	} {
		t.Run(name, func(t *testing.T) {
			before, _ := w.Revision(context.Background())
			_, err := w.Edit(context.Background(), Discard(id, "x"), c.edit)
			after, _ := w.Revision(context.Background())
			if err == nil || !strings.Contains(err.Error(), c.want) || before != after {
				t.Errorf("error %v, want %q; revision %d, then %d", err, c.want, before, after)
			}
		})
	}
}

func TestAddRefuses(t *testing.T) {
	w := newSeason(t)
	for name, c := range map[string]struct {
		break_ func(*Import)
		want   string
	}{
		"no hash":       {func(i *Import) { i.SourceSHA256 = "" }, "64 hex digits"},
		"no frames":     {func(i *Import) { i.Frames = nil }, "no frames"},
		"half a frame":  {func(i *Import) { i.Frames, i.Serves = i.Frames[1:], nil }, "whole frames"},
		"no landmarks":  {func(i *Import) { i.Layout = nil }, "no landmarks"},
		"no rate":       {func(i *Import) { i.RateHz = 0 }, "frame rate"},
		"session":       {func(i *Import) { i.Session = "today" }, "date such as"},
		"height in cm":  {func(i *Import) { i.HeightM = 180 }, "between 0.5 and 2.6"},
		"serve outside": {func(i *Import) { i.Serves[0].Last = 5000 }, "but the recording has 300"},
		"event NaN": {func(i *Import) {
			i.Serves[0].Events = motion.Events{motion.Contact: {TimeS: math.NaN()}}
		}, "no number"},
	} {
		t.Run(name, func(t *testing.T) {
			imp := invented("a", 1)
			c.break_(&imp)
			_, err := w.AddRecording(context.Background(), imp)
			if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "a.bvh") {
				t.Errorf("error %v, want %q and the file's name", err, c.want)
			}
			if entries, _ := os.ReadDir(filepath.Join(w.Dir(), framesDir)); len(entries) > 0 {
				t.Errorf("left behind: %v", entries)
			}
		})
	}
}

func TestSecondWriterIsRefusedInWords(t *testing.T) {
	w := newSeason(t)
	_, err := OpenForWriting(w.Dir(), "tossline import")
	held, ok := errors.AsType[*Held](err)
	if !ok || held.By.PID != os.Getpid() || held.By.Command != "test" {
		t.Fatalf("error %v", err)
	}
	for _, part := range []string{fmt.Sprint("process ", os.Getpid()), "(test)", "since", "close it first"} {
		if !strings.Contains(err.Error(), part) {
			t.Errorf("%q lacks %q", err, part)
		}
	}
	w.Close()
	again, err := OpenForWriting(w.Dir(), "tossline import")
	if err != nil {
		t.Fatal(err)
	}
	again.Close()
}

func TestSignalsAreKept(t *testing.T) {
	ctx := context.Background()
	w := newSeason(t)
	imp := invented("a", 1)
	imp.Signals = []frames.Signal{{Name: "Force.Fz1", Unit: "N", RateHz: 1000, Values: []float32{1, 2, 3}}}
	a := add(t, w, imp)
	got, err := w.Signals(ctx, a.Recording)
	if err != nil || fmt.Sprint(got) != fmt.Sprint(imp.Signals) {
		t.Errorf("signals %v, %v", got, err)
	}
	if again := add(t, w, imp); again.Outcome != Same {
		t.Errorf("the same import: %s", again.Outcome)
	}
	b := add(t, w, invented("b", 1))
	if got, err := w.Signals(ctx, b.Recording); err != nil || got != nil {
		t.Errorf("of a recording without signals: %v, %v", got, err)
	}
	if _, err := w.Signals(ctx, "none"); err == nil {
		t.Error("of no recording: no error")
	}
	entries, err := os.ReadDir(w.Scratch())
	if err != nil || len(entries) != 3 {
		t.Fatalf("%d files of frames and signals, %v", len(entries), err)
	}
	var hash string
	if err := w.db.QueryRow("select signals_sha256 from recordings where id = ?", a.Recording).Scan(&hash); err != nil {
		t.Fatal(err)
	}
	for name, damage := range map[string]func(string) error{
		"was changed": func(p string) error { return os.WriteFile(p, []byte("hello"), 0o644) },
		"is missing":  os.Remove,
	} {
		if err := damage(w.framesPath(hash)); err != nil {
			t.Fatal(err)
		}
		report, err := w.Verify(ctx, nil)
		if err != nil || len(report.Problems) != 1 || !strings.Contains(report.Problems[0].String(), name) {
			t.Errorf("%s: %v, %v", name, report.Problems, err)
		}
		if mended := add(t, w, imp); mended.Outcome != Repaired {
			t.Errorf("%s: the import again: %s", name, mended.Outcome)
		}
		if _, err := w.Signals(ctx, a.Recording); err != nil {
			t.Errorf("%s: after the import: %v", name, err)
		}
	}
}

func TestName(t *testing.T) {
	w, err := Create(filepath.Join(t.TempDir(), "harbour-lane"), "test")
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	ctx := context.Background()
	if name, err := w.Name(ctx); err != nil || name != "Harbour lane" {
		t.Errorf("called %q, %v", name, err)
	}
	if err := w.SetSetting(ctx, nameSetting, "The academy"); err != nil {
		t.Fatal(err)
	}
	if name, err := w.Name(ctx); err != nil || name != "The academy" {
		t.Errorf("called %q, %v", name, err)
	}
}

// Cutoffs come back with every clip, and other cutoffs make measures be computed anew.
func TestCutoffsAreKept(t *testing.T) {
	w := newSeason(t)
	imp := invented("a", 1)
	add(t, w, imp)
	before := snapshot(t, w.Season)
	imp.CutoffsHz = []float64{0, 12.5}
	if again := add(t, w, imp); again.Outcome != Replaced {
		t.Errorf("other cutoffs: %s", again.Outcome)
	}
	after := snapshot(t, w.Season)
	clip, err := after.Clip(0)
	if err != nil || fmt.Sprint(clip.Cutoffs) != "[0 12.5]" {
		t.Errorf("cutoffs %v, %v", clip.Cutoffs, err)
	}
	if take, err := after.Take(0); err != nil || fmt.Sprint(take.Cutoffs) != "[0 12.5]" {
		t.Errorf("cutoffs %v, %v", take.Cutoffs, err)
	}
	if before.Key(0) == after.Key(0) {
		t.Error("the key does not tell cutoffs apart")
	}
	for name, bad := range map[string][]float64{"negative": {-1}, "no number": {math.NaN()}, "too many": {1, 2, 3}} {
		imp.CutoffsHz = bad
		if _, err := w.AddRecording(context.Background(), imp); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func TestClosingLeavesTheListOfServes(t *testing.T) {
	w := newSeason(t)
	add(t, w, invented("a", 2))
	dir := w.Dir()
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	var stamp string
	if err := s.db.QueryRow("select stamp from season").Scan(&stamp); err != nil {
		t.Fatal(err)
	}
	if _, err := s.restoreList(stamp); err != nil {
		t.Errorf("the list is not there: %v", err)
	}
}
