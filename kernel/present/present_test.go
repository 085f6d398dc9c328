package present_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/go-echarts/go-echarts/v2/charts"

	"tossline/kernel/present"
	"tossline/kernel/result"
	"tossline/kernel/stats"
	"tossline/kernel/table"
)

type metres float64

type named struct{ text string }

func (n named) String() string { return n.text }

func TestKinds(t *testing.T) {
	small := table.New(table.Number("x_m", "m", []float64{1, math.NaN()}))
	bar := charts.NewBar()
	for _, c := range []struct {
		name  string
		value any
		kind  result.Kind
		want  string // in the JSON
	}{
		{"float", 1.5, result.KindNumber, `"value":1.5`},
		{"integer", 7, result.KindNumber, `"value":7`},
		{"unsigned", uint8(200), result.KindNumber, `"value":200`},
		{"named number", metres(2), result.KindNumber, `"value":2`},
		{"not a number", math.NaN(), result.KindNumber, `"value":null`},
		{"infinity", math.Inf(-1), result.KindNumber, `"value":null`},
		{"text", "a sentence", result.KindText, `"text":"a sentence"`},
		{"text that is none", "a\xffb", result.KindText, "\"text\":\"a\uFFFDb\""},
		{"yes", true, result.KindText, `"text":"yes"`},
		{"stringer", named{"by name"}, result.KindText, `"text":"by name"`},
		{"instant", time.Date(2026, 3, 14, 15, 9, 0, 0, time.UTC), result.KindText, `"14 March 2026 15:09"`},
		{"table", small, result.KindTable, `"rows":2`},
		{"numbers", []float64{1, 2, 3}, result.KindTable, `"rows":3`},
		{"texts", []string{"a"}, result.KindTable, `"rows":1`},
		{"chart of go-echarts", bar, result.KindChart, `"summary":"Chart of type bar`},
		{"its value", *bar, result.KindChart, `"summary":"Chart of type bar`},
		{"several", []any{1, "two", small}, result.KindList, `"text":"two"`},
		{"pointer", func() any { x := 2.5; return &x }(), result.KindNumber, `"value":2.5`},
		{"estimate", stats.Values("Height", "m", []float64{1, 2, 3, 4}).Mean(), result.KindEstimate, `"n":4`},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, attached, err := present.Encode(c.value)
			if err != nil {
				t.Fatal(err)
			}
			encoded, err := json.Marshal(r)
			if err != nil {
				t.Fatal(err)
			}
			if r.Kind != c.kind || !strings.Contains(string(encoded), c.want) {
				t.Errorf("got %s, want %s with %s", encoded, c.kind, c.want)
			}
			for _, a := range attached {
				if !strings.Contains(string(encoded), a.Ref) {
					t.Errorf("nothing refers to the attachment %s", a.Ref)
				}
			}
			if c.kind == result.KindTable && len(attached) != 1 {
				t.Errorf("%d attachments, want the table", len(attached))
			}
		})
	}
}

func TestWhatCannotBeShown(t *testing.T) {
	for _, c := range []struct {
		name  string
		value any
		want  string
	}{
		{"nothing", nil, "the step returned nothing"},
		{"map", map[string]int{}, "a map cannot be shown"},
		{"function", func() {}, "a function cannot be shown"},
		{"struct", struct{ X int }{1}, "a struct cannot be shown"},
		{"complex", 1i, "a complex number cannot be shown"},
		{"within a list", []any{1, map[string]int{}}, "item 2 of the list: a map cannot be shown"},
		{"error of a table", table.New(table.Number("x", "", nil)).OrderBy("y"), `no column "y"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, _, err := present.Encode(c.value)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
}

func TestLeftOutIsCountedByReason(t *testing.T) {
	missing := math.NaN()
	r, _, err := present.Encode(table.New(
		table.Text("serve", []string{"a", "b", "c", "d"}),
		table.Number("drop_m", "m", []float64{1, missing, missing, missing}),
		table.Text("drop_missing", []string{"", "no racket", "gap", "no racket"}),
	))
	if err != nil {
		t.Fatal(err)
	}
	got, _ := json.Marshal(r.LeftOut)
	want := `[{"reason":"drop: no racket","serves":["b","d"]},{"reason":"drop: gap","serves":["c"]}]`
	if r.Serves != 4 || string(got) != want {
		t.Errorf("%d serves, left out %s, want %s", r.Serves, got, want)
	}
}
