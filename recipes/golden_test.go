package recipes_test

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tossline/kernel/figure"
	"tossline/kernel/motion"
	"tossline/kernel/present"
	"tossline/kernel/result"
	"tossline/kernel/table"
)

var update = flag.Bool("update", false, "write the golden files anew")

// goldenRows is how many rows of a table a golden file shows.
const goldenRows = 12

// written is what every step gave, in words.
func written(t testing.TB, file string, results []ran) string {
	t.Helper()
	var b strings.Builder
	for _, r := range results {
		fmt.Fprintf(&b, "## %s\n", r.step)
		if errors.Is(r.err, errInput) || r.err != nil {
			fmt.Fprintf(&b, "error: %v\n\n", r.err)
			continue
		}
		encoded, attached, err := present.Encode(r.value)
		if err != nil {
			fmt.Fprintf(&b, "error: %v\n\n", err)
			continue
		}
		streams := map[string][]byte{}
		for _, a := range attached {
			streams[a.Ref] = a.Bytes
		}
		writeResult(t, &b, encoded, streams)
		b.WriteString("\n")
	}
	return b.String()
}

func writeResult(t testing.TB, b *strings.Builder, r result.Result, streams map[string][]byte) {
	t.Helper()
	switch {
	case r.Chart != nil:
		fmt.Fprintf(b, "chart: %s\n", r.Chart.Summary)
	case r.Figure != nil:
		var drawing figure.Drawing
		if err := json.Unmarshal(r.Figure, &drawing); err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(b, "figure: %s\n", drawing.Summary)
	case r.Estimate != nil:
		fmt.Fprintf(b, "estimate: %s\n", r.Estimate.Sentence)
	case r.Table != nil:
		writeTable(t, b, streams[r.Table.Ref])
	case r.Number != nil:
		fmt.Fprintf(b, "number: %s\n", rounded(*r.Number.Value))
	case r.Kind == result.KindText:
		fmt.Fprintf(b, "text: %s\n", r.Text)
	}
	for _, inner := range r.List {
		writeResult(t, b, inner, streams)
	}
	for _, l := range r.LeftOut {
		if r.Chart != nil {
			fmt.Fprintf(b, "left out: %d, %s\n", len(l.Serves), l.Reason)
		}
	}
}

// writeTable writes the first rows of a table; of those that list every serve, the counts alone.
func writeTable(t testing.TB, b *strings.Builder, stream []byte) {
	t.Helper()
	rows, err := table.Decode(stream)
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprintf(b, "table: %d rows\n", rows.Len())
	if rows.Has("serve") {
		return
	}
	var titles []string
	for _, name := range rows.Names() {
		titles = append(titles, strings.TrimSpace(rows.Title(name)+" "+rows.Unit(name)))
	}
	fmt.Fprintln(b, strings.Join(titles, " | "))
	for i := range min(rows.Len(), goldenRows) {
		var row []string
		for _, name := range rows.Names() {
			switch v := rows.Values(name)[i].(type) {
			case nil:
				row = append(row, "-")
			case float64:
				row = append(row, rounded(v))
			default:
				row = append(row, fmt.Sprint(v))
			}
		}
		fmt.Fprintln(b, strings.Join(row, " | "))
	}
}

// rounded gives four digits: what differs beyond them between two processors is of no concern.
func rounded(v float64) string {
	if v == math.Trunc(v) && math.Abs(v) < 1e9 {
		return fmt.Sprint(int64(v))
	}
	return fmt.Sprintf("%.4g", v)
}

func compareGolden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; go test -update writes it", err)
	}
	g, w := strings.Split(got, "\n"), strings.Split(string(want), "\n")
	for i := range max(len(g), len(w)) {
		if line(g, i) != line(w, i) {
			t.Fatalf("%s, line %d\n got %s\nwant %s\ngo test -update writes it anew", path, i+1, line(g, i), line(w, i))
		}
	}
}

func line(lines []string, i int) string {
	if i < len(lines) {
		return lines[i]
	}
	return "(end)"
}

// Every recipe gives over the demo season what it gave before.
func TestRecipesOverTheDemo(t *testing.T) {
	season := demoSeason(t)
	for file, recipe := range shelf() {
		t.Run(file, func(t *testing.T) {
			results := recipe.run(t, file, season)
			for _, r := range results {
				if r.err != nil {
					t.Errorf("step %s: %v", r.step, r.err)
				}
			}
			compareGolden(t, strings.TrimSuffix(file, ".go")+".golden", written(t, file, results))
		})
	}
}

// Over real takes without racket and ball, and over a season without any serve, every step gives a result or refuses
// with words; none fails, and no number is NaN.
func TestRecipesOverPoorSeasons(t *testing.T) {
	for name, season := range map[string]func(testing.TB) motion.Season{
		"real takes": realSeason,
		"no serves":  func(t testing.TB) motion.Season { return demoSeason(t).Between("1999-01-01", "1999-12-31") },
		"one serve":  oneServe,
	} {
		t.Run(name, func(t *testing.T) {
			season := season(t)
			for file, recipe := range shelf() {
				recipe.settings = withPlayers(recipe.settings, season.Players())
				said := written(t, file, recipe.run(t, file, season))
				for _, bad := range []string{"NaN", "Inf", "panic"} {
					if strings.Contains(said, bad) {
						t.Errorf("%s says %s:\n%s", file, bad, said)
					}
				}
			}
		})
	}
}

// What real takes without racket and ball can't tell is refused with its reason, and nothing stands in silently.
func TestRefusalsOverRealTakes(t *testing.T) {
	season := realSeason(t)
	for _, c := range []struct{ file, step, says string }{
		{"contact_offset.go", "Players", "hand (stand-in)"},
		{"contact_offset.go", "Trend", "1 value; a trend needs at least 4"},
		{"season_at_a_glance.go", "Spread", "left out: 39, no racket"},
		{"season_at_a_glance.go", "Measurable", "Drop depth | 100 | 100 |"},
		{"way_to_contact.go", "OnEdge", "left out: 39, no racket"},
		{"toss_consistency.go", "Within", "no value. 0 serves of 0 players"},
		{"toss_consistency.go", "LeftOut", "no ball"},
		{"did_it_change.go", "Answer", "No serve after has a value; 1 session would be a beginning."},
		{"player_beside_reference.go", "Basis", "Single serves are compared"},
		{"data_quality.go", "NotMeasured", "cut off: contact after the take ends"},
		{"load.go", "Young", "Are or may be under 18: Player 01, Player 02"},
	} {
		t.Run(c.file+" "+c.step, func(t *testing.T) {
			recipe := shelf()[c.file]
			if c.file != "data_quality.go" {
				recipe.settings = withPlayers(recipe.settings, season.Players())
			}
			for _, r := range recipe.run(t, c.file, season) {
				if r.step == c.step {
					if said := written(t, c.file, []ran{r}); !strings.Contains(said, c.says) {
						t.Errorf("want %q in\n%s", c.says, said)
					}
				}
			}
		})
	}
}

// Serves of which nobody said who hit them and when are one player's, and every recipe shows them or says why not.
func TestRecipesOverAnUnnamedTake(t *testing.T) {
	source := unnamed{sourceOf(t)}
	season := motion.NewSeason(context.Background(), source, nil)
	if players := season.Players(); len(players) != 1 || players[0] != "unnamed player" {
		t.Fatalf("players %q, want one", players)
	}
	for file, recipe := range shelf() {
		recipe.settings = withPlayers(recipe.settings, season.Players())
		for _, r := range recipe.run(t, file, season) {
			if r.err != nil {
				t.Errorf("%s, step %s: %v", file, r.step, r.err)
				continue
			}
			if _, _, err := present.Encode(r.value); err != nil {
				t.Errorf("%s, step %s: %v", file, r.step, err)
			}
		}
	}
}

// unnamed is the first take of a source, without player and session.
type unnamed struct{ motion.Source }

func (u unnamed) Len() int { return 10 }
func (u unnamed) Particulars() table.Table {
	nobody := make([]string, 10)
	return u.Source.Particulars().First(10).With(table.Text("player", nobody)).With(table.Text("session", nobody))
}
