package export

import (
	"context"
	"slices"
	"strings"
	"testing"

	"tossline/datasets/season"
	"tossline/kernel/motion"
)

// TestChangesAndGroups writes changes by hand and groups, among them of what is not there any more.
func TestChangesAndGroups(t *testing.T) {
	w := exported(t)
	ctx := context.Background()
	c, err := w.Snapshot(ctx)
	if err != nil {
		t.Fatal(err)
	}
	id := c.Row(0).ID
	recording := season.RecordingOf(id)
	batch, err := w.Edit(ctx, season.MoveEvent(id, motion.Contact, 0.5), season.Discard(id, "=a let"))
	if err == nil {
		err = w.Undo(ctx, batch)
	}
	if err == nil {
		_, err = w.Edit(ctx, season.Edit{Target: season.OnPlayer, Subject: "Oriel Nash", Field: "level", Value: "club"})
	}
	if err != nil {
		t.Fatal(err)
	}
	made, err := w.Edits(ctx, "")
	if err != nil {
		t.Fatal(err)
	}
	slices.Reverse(made)
	changes, err := Changes(c, made)
	if err != nil {
		t.Fatal(err)
	}
	groups, err := Groups(c, []season.Group{{Name: "one", Serves: []motion.ServeID{id, "gone-1"}}})
	if err != nil {
		t.Fatal(err)
	}
	for name, content := range map[string]Content{"changes": changes, "groups": groups} {
		fromArrow := readArrow(t, written(t, Arrow, content))
		sameTable(t, readParquet(t, written(t, Parquet, content)), fromArrow)
		if fromArrow.Meta("tossline.table") != name {
			t.Errorf("%s: called %q", name, fromArrow.Meta("tossline.table"))
		}
		for _, column := range fromArrow.Names() {
			if fromArrow.Title(column) == "" {
				t.Errorf("%s: column %s has no title", name, column)
			}
		}
	}
	text := string(written(t, CSV, changes))
	lines := strings.Split(strings.TrimSpace(text), "\n")
	about := `"` + c.Recordings()[c.Row(0).Recording].File + `","` + recording + `","serve","` + string(id) + `",`
	for i, want := range []string{
		"file,recording,target,subject,field,value,before,rate_hz,batch,made_at,undone_at",
		Guarded(about[1:]),
		`"'=a let",,,1,`,
		`,,"player","Oriel Nash","level","club",,,2,`,
	} {
		if !strings.Contains(lines[i], want) {
			t.Errorf("line %d is %s, want %s", i+1, lines[i], want)
		}
	}
	if !strings.HasSuffix(lines[1], "Z") || !strings.HasSuffix(lines[3], "Z,") {
		t.Errorf("what was undone, and what was not: %s", text)
	}
	if text := string(written(t, CSV, groups)); !strings.Contains(text, "\n\"one\",\"gone-1\",\"gone\",,,,\n") {
		t.Errorf("groups %s", text)
	}
}
