package season_test

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"

	"tossline/datasets/season"
	"tossline/kernel/motion"
)

// made lists the changes of a season in the order in which they were made.
func (r *recorded) made() []season.Made {
	r.t.Helper()
	all, err := r.Edits(context.Background(), "")
	if err != nil {
		r.t.Fatal(err)
	}
	slices.Reverse(all)
	return all
}

// adopt brings changes into a season, all in one batch, and fails unless doing so again would change nothing.
func (r *recorded) adopt(changes []season.Made) (batch int64, away []int) {
	r.t.Helper()
	ctx := context.Background()
	edits, away, err := r.Adopt(ctx, changes)
	batch = r.edit(edits, err)
	if again, _, err := r.Adopt(ctx, changes); err != nil || len(again) > 0 {
		r.t.Errorf("a second time: %v, %v", again, err)
	}
	return batch, away
}

// corrected makes changes of every kind, some of which are undone again.
func corrected(t *testing.T) *recorded {
	ctx := context.Background()
	r := record(t, func(s []motion.Serve) []motion.Serve { return slices.Delete(s, 3, 4) })
	contacts := r.measured()
	id := func(i int) string { return string(r.ids[i]) }
	undo := func(batch int64) {
		if err := r.Undo(ctx, batch); err != nil {
			t.Fatal(err)
		}
	}
	r.edit([]season.Edit{season.MoveEvent(r.ids[0], motion.Contact, contacts[0]+0.03),
		{Target: season.OnServe, Subject: id(0), Field: "event.trophy"}}, nil)
	r.edit([]season.Edit{season.Discard(r.ids[0], "a let"), season.Discard(r.ids[1], "")}, nil)
	r.edit([]season.Edit{{Target: season.OnServe, Subject: id(0), Field: "discarded"}}, nil)
	undo(r.edit([]season.Edit{{Target: season.OnServe, Subject: id(2), Field: "serve_type", Value: "kick"}}, nil))
	r.edit([]season.Edit{
		{Target: season.OnServe, Subject: id(2), Field: "serve_type", Value: "slice"},
		{Target: season.OnServe, Subject: id(2), Field: "ball_speed_m_s", Value: "41.5"},
		{Target: season.OnRecording, Subject: r.recording, Field: "session", Value: "2026-04-01"},
		{Target: season.OnPlayer, Subject: "Oriel Nash", Field: "height_m", Value: "1.81"},
		{Target: season.OnPlayer, Subject: "Somebody New", Field: "level", Value: "club"},
	}, nil)
	edits, merged, err := r.Merge(ctx, r.ids[1], r.ids[2])
	r.edit(edits, err)
	edits, parts, err := r.Split(ctx, merged, (contacts[1]+contacts[2])/2)
	r.edit(edits, err)
	r.edit([]season.Edit{season.MoveEvent(parts[1], motion.Contact, contacts[2]+0.01),
		{Target: season.OnServe, Subject: string(parts[0]), Field: "outcome", Value: "net"}}, nil)

	found := r.serves()
	recut := r.edit(r.Recut(ctx, r.recording, motion.HandUnknown))
	fresh := slices.IndexFunc(r.serves(), func(line string) bool { return !slices.Contains(found, line) })
	s := r.catalogue().Row(fresh)
	r.edit([]season.Edit{season.MoveEvent(s.ID, motion.Contact, s.ContactS()+0.02)}, nil)
	undo(recut) // what was said of a serve that it found keeps the serve
	return r
}

// TestAdopt brings the changes of one season into another that has the same recording.
func TestAdopt(t *testing.T) {
	ctx := context.Background()
	from := corrected(t)
	to := record(t, func(s []motion.Serve) []motion.Serve { return slices.Delete(s, 3, 4) })
	before := to.serves()
	if slices.Equal(before, from.serves()) {
		t.Fatal("the changes changed nothing")
	}
	batch, away := to.adopt(from.made())
	if len(away) > 0 {
		t.Errorf("changes %v have no place", away)
	}
	same(t, to, from)
	to.undone(batch, before)

	// What is in force comes back from there too.
	third := record(t, func(s []motion.Serve) []motion.Serve { return slices.Delete(s, 3, 4) })
	third.adopt(to.made())
	same(t, third, from)

	// A cut that is in force brings its serves.
	if err := from.Redo(ctx, from.made()[len(from.made())-2].Batch); err != nil {
		t.Fatal(err)
	}
	to.adopt(from.made())
	same(t, to, from)
}

// same fails unless two seasons show the same.
func same(t *testing.T, got, want *recorded) {
	t.Helper()
	if got, want := got.serves(), want.serves(); !slices.Equal(got, want) {
		t.Errorf("serves\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	a, b := got.catalogue(), want.catalogue()
	for row := range b.Rows() {
		s, o := b.Row(row), a.Row(min(row, a.Rows()-1))
		if len(s.Events) != len(o.Events) || s.Type != o.Type || s.BallSpeedMS != o.BallSpeedMS || s.Outcome != o.Outcome {
			t.Errorf("serve %+v\nwant %+v", o, s)
		}
		for kind, e := range s.Events {
			if o.Events[kind] != e {
				t.Errorf("serve %s, %s: %+v, want %+v", s.ID, kind, o.Events[kind], e)
			}
		}
	}
	players := func(r *recorded) []season.Player {
		all, err := r.Players(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		return all
	}
	if got, want := players(got), players(want); !slices.Equal(got, want) {
		t.Errorf("players %+v, want %+v", got, want)
	}
}

// TestAdoptElsewhere brings changes where the file was understood otherwise, and where things are missing.
func TestAdoptElsewhere(t *testing.T) {
	ctx := context.Background()
	from := record(t, asFound)
	id := from.ids[1]
	from.edit([]season.Edit{season.Discard(id, "a let"), season.MoveEvent(from.ids[0], motion.Contact, 2.5)}, nil)
	changes := from.made()

	t.Run("another rate", func(t *testing.T) {
		fast := firstTake()
		fast.Rate *= 2
		to := recordTake(t, fast, func([]motion.Serve) []motion.Serve {
			return motion.Cut(firstTake().Take).Serves // the same frames
		})
		elsewhere := slices.Clone(changes)
		for i := range elsewhere {
			elsewhere[i].Subject = string(to.ids[1-i])
		}
		to.adopt(elsewhere)
		s, _ := to.catalogue().Find(to.ids[0])
		if s.ContactS() != 1.25 {
			t.Errorf("contact at %g s, want 1.25: the frame counts", s.ContactS())
		}
	})
	t.Run("another id", func(t *testing.T) {
		to := record(t, asFound)
		elsewhere := slices.Clone(changes)
		last := string(id[len(id)-1])
		elsewhere[0].Subject = string(id[:len(id)-1]) + map[bool]string{true: "8", false: "9"}[last == "9"]
		if _, away := to.adopt(elsewhere); len(away) > 0 {
			t.Errorf("changes %v have no place", away)
		}
		if s, _ := to.catalogue().Find(id); s.LeftOut != "discarded: a let" {
			t.Errorf("serve %s is left out because %q", id, s.LeftOut)
		}
	})
	t.Run("missing", func(t *testing.T) {
		to := record(t, func(s []motion.Serve) []motion.Serve { return slices.Delete(s, 1, 2) })
		elsewhere := append(slices.Clone(changes), season.Made{Edit: season.Edit{Target: season.OnRecording,
			Subject: strings.Repeat("0", 12), Field: "hand", Value: "left"}})
		if _, away := to.adopt(elsewhere); !slices.Equal(away, []int{0, 2}) {
			t.Errorf("changes %v have no place, want 0 and 2", away)
		}
		if s, _ := to.catalogue().Find(from.ids[0]); s.ContactS() != 2.5 {
			t.Errorf("contact at %g s, want 2.5: the others come", s.ContactS())
		}
	})
	cut := func(field, value string) season.Edit {
		return season.Edit{Target: season.OnRecording, Subject: from.recording, Field: field, Value: value}
	}
	for name, bad := range map[string]season.Edit{
		"no such target":        {Target: "court", Subject: "x", Field: "hand", Value: "left"},
		"no such field":         {Target: season.OnServe, Subject: string(id), Field: "colour", Value: "red"},
		"no such value":         {Target: season.OnServe, Subject: string(id), Field: "court_side", Value: "middle"},
		"after the end":         season.MoveEvent(id, motion.Contact, 1e6),
		"frames after the end":  {Target: season.OnServe, Subject: string(id), Field: "stretch", Value: "0-99999999"},
		"no JSON":               cut("cut", "[{"),
		"a serve of another":    cut("serve.x-1", `{"last":9}`),
		"a cut after the end":   cut("serve."+from.recording+"-1", `{"last":99999999}`),
		"an event after it too": cut("serve."+from.recording+"-1", `{"last":9,"events":{"contact":{"time_s":1e9}}}`),
	} {
		edits, _, err := from.Adopt(ctx, append(slices.Clone(changes), season.Made{Edit: bad}))
		unfit, ok := errors.AsType[*season.Unfit](err)
		if !ok || unfit.At != len(changes) || len(edits) > 0 {
			t.Errorf("%s: %v, %v", name, edits, err)
		}
	}
}
