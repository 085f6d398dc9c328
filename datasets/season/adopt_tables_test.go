package season

import (
	"context"
	"slices"
	"testing"
)

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
