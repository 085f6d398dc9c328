package motion_test

import (
	"fmt"
	"math"
	"testing"

	"tossline/kernel/motion"
	"tossline/kernel/table"
)

func TestMiddleServe(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name   string
		values []float64
		want   string
	}{
		{"none", nil, ""},
		{"no value", []float64{nan, nan}, ""},
		{"odd", []float64{3, 1, 2}, "c"},
		{"even takes the upper", []float64{4, 1, 2, 3}, "d"},
		{"missing ones aside", []float64{nan, 5, nan, 1, 9}, "b"},
	} {
		t.Run(c.name, func(t *testing.T) {
			names := []string{"a", "b", "c", "d", "e"}[:len(c.values)]
			serves := table.New(table.Text("serve", names), table.Number("x", "", c.values))
			if got := motion.MiddleServe(serves, "x"); got != c.want {
				t.Errorf("%q, want %q", got, c.want)
			}
		})
	}
}

func TestUnmeasured(t *testing.T) {
	offset, drop := motion.ContactOffset, motion.DropDepth
	serves := table.New(table.Text("player", []string{"A", "A", "A", "B"}),
		table.Text(offset.MissingColumn(), []string{"gap", "gap", "", ""}),
		table.Text(drop.MissingColumn(), []string{"", "no racket", "", "no racket"}))
	left := motion.Unmeasured(serves, offset, drop)
	var rows []string
	for i := range left.Len() {
		r := left.Row(i)
		rows = append(rows, fmt.Sprint(r.Text("player"), "/", r.Text("measure"), "/", r.Text("reason"), "/",
			r.Number("serves")))
	}
	want := "[A/Contact offset/gap/2 A/Drop depth/no racket/1 B/Drop depth/no racket/1]"
	if fmt.Sprint(rows) != want {
		t.Errorf("%v, want %v", rows, want)
	}
	if left.Title("reason") != "Reason" || left.Err() != nil {
		t.Errorf("title %q, %v", left.Title("reason"), left.Err())
	}
	if none := motion.Unmeasured(serves); none.Len() != 0 || none.Err() != nil {
		t.Errorf("%d rows of no measure, %v", none.Len(), none.Err())
	}
}
