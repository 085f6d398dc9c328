package season

import (
	"context"
	"strings"
	"testing"
	"time"
)

// FuzzAdopt brings changes into a season that may say anything: what is taken is in force afterwards, and the season can
// be read.
func FuzzAdopt(f *testing.F) {
	id := sha256Of("a")[:recordingIDLength]
	for _, s := range [][4]string{
		{"serve", id + "-00200", "event.contact", "1.5"},
		{"serve", id + "-00200", "stretch", "0-100"},
		{"serve", id + "-00201", "discarded", "a let"},
		{"recording", id, "hand", "left"},
		{"recording", id, "serve." + id + "-00700", `{"first":0,"last":9,"events":{"contact":{"time_s":0.05}}}`},
		{"recording", id, "cut", `[{"id":"` + id + `-00300","first":0,"last":9,"events":{}}]`},
		{"recording", id, "cut", "[]"},
		{"player", "Tuva Brandt", "height_m", "1.8"},
		{"table", "lab", "content", strings.Repeat("a", 64)},
	} {
		f.Add(s[0], s[1], s[2], s[3], 100.0, false)
		f.Add(s[0], s[1], s[2], s[3], 50.0, true)
	}
	w := newSeason(f)
	add(f, w, invented("a", 2))
	f.Fuzz(func(t *testing.T, target, subject, field, value string, rateHz float64, undone bool) {
		ctx := context.Background()
		change := Made{Edit: Edit{Target(target), subject, field, value}, RateHz: rateHz}
		if undone {
			change.Undone = time.Unix(0, 0)
		}
		// Beside it one that speaks of a serve that it may name.
		serve := Made{Edit: Edit{OnServe, id + "-00300", "outcome", "net"}}
		edits, _, err := w.Adopt(ctx, []Made{change, serve})
		if err != nil || len(edits) == 0 {
			return
		}
		batch, err := w.Edit(ctx, edits...)
		if err != nil {
			t.Fatalf("%+v was taken, and can't be made: %v", edits, err)
		}
		c := snapshot(t, w.Season)
		for row := range c.Rows() {
			if s := c.Row(row); s.First < 0 || s.Last < s.First || s.Last >= c.Recordings()[s.Recording].Frames {
				t.Errorf("serve %+v after %+v", s, edits)
			}
			if _, err := c.ClipOf(c.Row(row).ID); err != nil {
				t.Error(err)
			}
		}
		if again, _, err := w.Adopt(ctx, []Made{change, serve}); err != nil || len(again) > 0 {
			t.Errorf("a second time: %+v, %v", again, err)
		}
		if err := w.Undo(ctx, batch); err != nil {
			t.Error(err)
		}
	})
}
