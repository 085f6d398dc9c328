package season

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"tossline/datasets/catalogue"
	"tossline/kernel/motion"
)

// model is what a season should hold, kept in the plainest way.
type model struct {
	takes   map[string]*modelTake // by recording
	batches []modelBatch          // batch number n is batches[n-1]
}

type modelTake struct {
	file    string
	player  string
	serves  map[motion.ServeID]*modelServe
	variant int
}

type modelServe struct {
	found   bool
	contact float64 // as found
}

type modelBatch struct {
	edits  []Edit
	undone bool
}

// inForce gives the last word on a field that is not undone.
func (m *model) inForce(target Target, subject, field string) (string, bool) {
	for _, b := range slices.Backward(m.batches) {
		if b.undone {
			continue
		}
		for _, e := range slices.Backward(b.edits) {
			if e.Target == target && e.Subject == subject && e.Field == field {
				return e.Value, true
			}
		}
	}
	return "", false
}

// want describes the season as the model sees it, one line a serve that is listed.
func (m *model) want() []string {
	var lines []string
	for recording, take := range m.takes {
		player := take.player
		if said, ok := m.inForce(OnRecording, recording, "player"); ok {
			player = said
		}
		height, _ := m.inForce(OnPlayer, player, "height_m")
		for id, s := range take.serves {
			contact, byHand := fmt.Sprint(s.contact), false
			if said, ok := m.inForce(OnServe, string(id), "event.contact"); ok {
				contact, byHand = said, true
			}
			if !s.found && !byHand {
				continue
			}
			why, _ := m.inForce(OnServe, string(id), "discarded")
			speed, _ := m.inForce(OnServe, string(id), "ball_speed_m_s")
			lines = append(lines, line(id, take.file, player, height, contact, byHand, why, speed))
		}
	}
	slices.Sort(lines)
	return lines
}

func line(id motion.ServeID, file, player, height, contact string, byHand bool, why, speed string) string {
	return fmt.Sprintf("%s of %s: %s, %s m, contact %s (by hand %v), out %q, ball %s",
		id, file, player, orZero(height), contact, byHand, why, orZero(speed))
}

func orZero(s string) string {
	if s == "" {
		return "0"
	}
	return s
}

// got describes a catalogue in the same way.
func got(c *catalogue.Catalogue) []string {
	var lines []string
	for row := range c.Rows() {
		s := c.Row(row)
		r := c.Recordings()[s.Recording]
		contact, byHand := "", true
		if e, ok := s.Events[motion.Contact]; ok {
			contact, byHand = fmt.Sprint(e.TimeS), e.ByHand
		}
		lines = append(lines, line(s.ID, r.File, r.Player, fmt.Sprint(r.HeightM), contact, byHand,
			strings.TrimPrefix(s.LeftOut, "discarded: "), fmt.Sprint(s.BallSpeedMS)))
	}
	slices.Sort(lines)
	return lines
}

// TestModel does random things to a season and to a model of it, and compares them after each.
func TestModel(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 3))
	w := newSeason(t)
	m := &model{takes: map[string]*modelTake{}}
	steps := 150
	if testing.Short() {
		steps = 60
	}
	for step := range steps {
		did := m.step(t, w, random)
		fresh, err := w.readCatalogue(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		cached := snapshot(t, w.Season)
		for name, c := range map[string]*catalogue.Catalogue{"rows": fresh, "snapshot": cached} {
			if want, got := m.want(), got(c); !slices.Equal(want, got) {
				t.Fatalf("step %d (%s), by %s:\n got %s\nwant %s", step, did, name,
					strings.Join(got, "\n     "), strings.Join(want, "\n     "))
			}
		}
		a, _, errA := fresh.Encode()
		b, _, errB := cached.Encode()
		if errA != nil || errB != nil || !bytes.Equal(a, b) {
			t.Fatalf("step %d (%s): the cached list differs from the rows", step, did)
		}
	}
}

// step does one random thing to both, and says what.
func (m *model) step(t *testing.T, w *Writer, random *rand.Rand) string {
	t.Helper()
	ctx := context.Background()
	ids := m.ids()
	switch choice := random.IntN(12); {
	case choice < 3 || len(ids) == 0:
		return m.add(t, w, random)
	case choice < 6:
		id := ids[random.IntN(len(ids))]
		return m.edit(t, w, MoveEvent(id, motion.Contact, float64(random.IntN(900))/100))
	case choice == 6:
		return m.edit(t, w, Discard(ids[random.IntN(len(ids))], "let"), Edit{OnServe, string(ids[random.IntN(len(ids))]),
			"discarded", ""})
	case choice == 7:
		return m.edit(t, w, Edit{OnServe, string(ids[random.IntN(len(ids))]), "ball_speed_m_s",
			fmt.Sprint(20 + random.IntN(40))},
			Edit{OnPlayer, "Tuva Brandt", "height_m", fmt.Sprint(1 + float64(random.IntN(90))/100)})
	case choice == 8:
		recording := string(ids[random.IntN(len(ids))])[:12]
		return m.edit(t, w, Edit{OnRecording, recording, "player", []string{"Tuva Brandt", "Oriel Nash", ""}[random.IntN(3)]})
	case choice < 11 && len(m.batches) > 0:
		n := random.IntN(len(m.batches))
		b := &m.batches[n]
		err := w.Undo(ctx, int64(n+1))
		if b.undone {
			err = w.Redo(ctx, int64(n+1))
		}
		if err != nil {
			t.Fatal(err)
		}
		b.undone = !b.undone
		return fmt.Sprintf("batch %d undone: %v", n+1, b.undone)
	}
	m.reopen(t, w)
	return "reopen"
}

func (m *model) ids() []motion.ServeID {
	var ids []motion.ServeID
	for _, take := range m.takes {
		for id := range take.serves {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids) // so that a seed repeats
	return ids
}

// add imports one of five files in one of three interpretations: contacts as they are, a little later, and the last
// serve not found.
func (m *model) add(t *testing.T, w *Writer, random *rand.Rand) string {
	t.Helper()
	name, variant := string(rune('a'+random.IntN(5))), random.IntN(3)
	imp := invented(name, 3)
	for i := range imp.Serves {
		imp.Serves[i] = inventedServe(i*300, float64(i*3)+2+[]float64{0, 0.1, 0}[variant])
	}
	if variant == 2 {
		imp.Serves = imp.Serves[:2]
	}
	a, err := w.AddRecording(context.Background(), imp)
	if err != nil {
		t.Fatal(err)
	}
	take := m.takes[a.Recording]
	want := Replaced
	switch {
	case take == nil:
		want = New
		take = &modelTake{file: imp.File, player: imp.Player, serves: map[motion.ServeID]*modelServe{}}
		m.takes[a.Recording] = take
	case take.variant == variant:
		want = Same
	}
	if a.Outcome != want {
		t.Fatalf("%s, variant %d: %s, want %s", name, variant, a.Outcome, want)
	}
	take.variant = variant
	if want != Same {
		for _, s := range take.serves {
			s.found = false
		}
	}
	for i, id := range a.Serves {
		take.serves[id] = &modelServe{true, imp.Serves[i].Events[motion.Contact].TimeS}
	}
	return fmt.Sprintf("import %s, variant %d", name, variant)
}

func (m *model) edit(t *testing.T, w *Writer, edits ...Edit) string {
	t.Helper()
	batch := edit(t, w, edits...)
	m.batches = append(m.batches, modelBatch{edits: edits})
	if batch != int64(len(m.batches)) {
		t.Fatalf("batch %d, want %d", batch, len(m.batches))
	}
	return fmt.Sprint(edits)
}

// reopen closes the season and opens it again in place.
func (m *model) reopen(t *testing.T, w *Writer) {
	t.Helper()
	dir := w.Dir()
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	again, err := OpenForWriting(dir, "test")
	if err != nil {
		t.Fatal(err)
	}
	w.Season, w.out, w.lock = again.Season, again.out, again.lock
}
