package season

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"reflect"
	"slices"
	"strconv"
	"testing"

	"tossline/datasets/catalogue"
	"tossline/kernel/motion"
)

// TestAdoptModel makes random changes of every kind, takes some of them back, and brings what is left into another
// season with the same files. Then both show the same serves. With SEASON_TEST_SEED it makes others.
func TestAdoptModel(t *testing.T) {
	seeds := []uint64{1, 1795633859380722980} // the second named a serve twice, with two stretches
	if seed, err := strconv.ParseUint(os.Getenv("SEASON_TEST_SEED"), 10, 64); err == nil {
		seeds = []uint64{seed}
	}
	for _, seed := range seeds {
		adoptAtRandom(t, seed)
	}
}

func adoptAtRandom(t *testing.T, seed uint64) {
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 7))
	for range 5 {
		from, to := newSeason(t), newSeason(t)
		for _, name := range []string{"a", "b"} {
			add(t, from, invented(name, 3))
			add(t, to, invented(name, 3))
		}
		changeAtRandom(t, from, random, 30)
		ctx := context.Background()
		changes, err := from.Edits(ctx, "")
		if err != nil {
			t.Fatal(err)
		}
		slices.Reverse(changes)
		edits, away, err := to.Adopt(ctx, changes)
		if err != nil || len(away) > 0 {
			t.Fatalf("%v are away, %v", away, err)
		}
		batch := edit(t, to, edits...)
		want, got := rowsOf(t, from), rowsOf(t, to)
		if !reflect.DeepEqual(want, got) {
			t.Fatalf("got %+v\nwant %+v", got, want)
		}
		if again, _, err := to.Adopt(ctx, changes); err != nil || len(again) > 0 {
			t.Fatalf("again: %v, %v", again, err)
		}
		if err := to.Undo(ctx, batch); err != nil {
			t.Fatal(err)
		}
		fresh := newSeason(t)
		for _, name := range []string{"a", "b"} {
			add(t, fresh, invented(name, 3))
		}
		if want, got := rowsOf(t, fresh), rowsOf(t, to); !reflect.DeepEqual(want, got) {
			t.Fatalf("undone: got %+v\nwant %+v", got, want)
		}
	}
}

// rowsOf is everything that a season shows of its serves and recordings.
func rowsOf(t *testing.T, w *Writer) (rows []any) {
	c := snapshot(t, w.Season)
	for row := range c.Rows() {
		rows = append(rows, c.Row(row))
	}
	for _, r := range c.Recordings() {
		rows = append(rows, r)
	}
	return rows
}

// changeAtRandom makes so many batches of changes, or takes them back.
func changeAtRandom(t *testing.T, w *Writer, random *rand.Rand, n int) {
	t.Helper()
	ctx := context.Background()
	var batches int64
	any := func(choices ...string) string { return choices[random.IntN(len(choices))] }
	for range n {
		c := snapshot(t, w.Season)
		s := c.Row(random.IntN(c.Rows()))
		r := c.Recordings()[s.Recording]
		at := float64(random.IntN(r.Frames)) / r.RateHz
		stretch := motion.Serve{First: random.IntN(900), Events: motion.Events{motion.Contact: {TimeS: at, Method: "x"}}}
		stretch.Last = min(stretch.First+random.IntN(800), r.Frames-1)
		on := func(field, value string) Edit { return Edit{OnServe, string(s.ID), field, value} }
		var edits []Edit
		var err error
		switch random.IntN(11) {
		case 0:
			edits = []Edit{MoveEvent(s.ID, motion.EventKind(any("contact", "trophy")), at)}
		case 1:
			edits = []Edit{on("event.release", "")}
		case 2:
			edits = []Edit{on("discarded", any("", "a let", "=x"))}
		case 3:
			edits = []Edit{on("stretch", any("", fmt.Sprintf("%d-%d", stretch.First, stretch.Last)))}
		case 4:
			edits = []Edit{on("serve_type", any("", "flat", "kick")), on("ball_speed_m_s", any("", "41.5"))}
		case 5:
			edits = []Edit{{OnRecording, r.ID, "player", any("", "Oriel Nash", "Tuva Brandt")},
				{OnRecording, r.ID, "hand", any("left", "right")}}
		case 6:
			edits = []Edit{{OnPlayer, any("Oriel Nash", "Tuva Brandt"), "height_m", any("", "1.7", "1.81")}}
		case 7:
			edits, _, err = w.cutByHand(ctx, r.ID, stretch)
			edits = append(edits, Discard(s.ID, "cut anew"))
		case 8:
			if made, _ := w.edits(ctx, "field like 'serve.%'"); len(made) > 0 {
				e := made[random.IntN(len(made))].Edit
				e.Value = ""
				edits = []Edit{e}
			}
		case 9:
			edits = []Edit{recutAtRandom(t, w, r, s, stretch)}
		case 10:
			if batches > 0 {
				batch := 1 + random.Int64N(batches)
				if w.Undo(ctx, batch) != nil {
					err = w.Redo(ctx, batch)
				}
			}
		}
		if err != nil {
			t.Fatal(err)
		}
		if len(edits) > 0 {
			batches = edit(t, w, edits...)
		}
	}
}

// recutAtRandom finds two serves of a recording again: one of those that it has, and another.
func recutAtRandom(t *testing.T, w *Writer, r catalogue.Recording, s catalogue.Serve, other motion.Serve) Edit {
	t.Helper()
	again := motion.Serve{First: s.First, Last: s.Last, Events: motion.Events{}}
	if contact, ok := s.Events[motion.Contact]; ok {
		contact.TimeS = min(contact.TimeS+0.05, float64(r.Frames)/r.RateHz)
		again.Events[motion.Contact] = contact
	}
	cuts, err := w.named(context.Background(), r.ID, []motion.Serve{again, other}, r.RateHz)
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(cuts)
	if err != nil {
		t.Fatal(err)
	}
	return Edit{OnRecording, r.ID, cutField, string(text)}
}

// TestTablesAreAdopted brings what a season keeps under which name into one that has some of the contents.
func TestTablesAreAdopted(t *testing.T) {
	ctx := context.Background()
	from, to := newSeason(t), newSeason(t)
	keep(t, from, "plates", "first")
	keep(t, from, "plates", "second")
	keep(t, from, "lost", "third")
	keep(t, from, "gone", "first")
	if err := from.TakeOutTable(ctx, "gone"); err != nil {
		t.Fatal(err)
	}
	keep(t, to, "plates", "second")
	keep(t, to, "plates", "first")
	changes, err := from.Edits(ctx, "")
	if err != nil {
		t.Fatal(err)
	}
	slices.Reverse(changes)
	edits, away, err := to.Adopt(ctx, changes)
	if err != nil || !slices.Equal(away, []int{2}) {
		t.Fatalf("%v are away, %v", away, err)
	}
	edit(t, to, edits...)
	if got := held(t, to.Season); !slices.Equal(got, []string{"plates: second"}) {
		t.Errorf("the season holds %v", got)
	}
	if again, _, err := to.Adopt(ctx, changes); err != nil || len(again) > 0 {
		t.Errorf("again: %v, %v", again, err)
	}
}
