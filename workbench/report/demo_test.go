package report_test

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"tossline/datasets/demo"
	"tossline/datasets/season"
	"tossline/kernel/motion"
	"tossline/kernel/table"
	"tossline/workbench/report"
)

var update = flag.Bool("update", false, "write the golden files anew")

// folder is where the season of a test run lies.
var folder string

func TestMain(m *testing.M) {
	var err error
	if folder, err = os.MkdirTemp("", "report"); err != nil {
		panic(err)
	}
	code := m.Run()
	os.RemoveAll(folder)
	os.Exit(code)
}

// harbour is the demo season, made once for all tests of a run.
var harbour = sync.OnceValues(func() (motion.Source, error) {
	dir := filepath.Join(folder, "Harbour Lane")
	if err := demo.Create(context.Background(), dir, "test", demo.DefaultSeed, nil); err != nil {
		return nil, err
	}
	s, err := season.Open(dir)
	if err != nil {
		return nil, err
	}
	return s.Snapshot(context.Background())
})

// about is a question of the demo season, as a recipe over some measures would bring it.
func about(t *testing.T, recipe, player, reference string, measures ...motion.Measure) report.Question {
	t.Helper()
	if testing.Short() {
		t.Skip("the whole season takes seconds")
	}
	source, err := harbour()
	if err != nil {
		t.Fatal(err)
	}
	season := motion.NewSeason(context.Background(), source, nil)
	looked, err := season.Measure(measures...)
	if err != nil {
		t.Fatal(err)
	}
	l := report.Look([]table.Table{looked})
	serves, err := l.Serves(season, player, reference)
	if err != nil {
		t.Fatal(err)
	}
	return report.Question{Recipe: recipe, Season: "Harbour Lane", Player: player, Reference: reference,
		Measures: l.Measures, Serves: serves}
}

// questions are those of the golden reports.
var questions = []struct {
	name, recipe, player, reference string
	measures                        []motion.Measure
}{
	{"drift", "Contact offset", "Tuva Brandt", "",
		[]motion.Measure{motion.ContactOffset, motion.ContactHeight, motion.ContactForward}},
	{"block", "Knee flex", "Oskar Lind", "Alma Reuss",
		[]motion.Measure{motion.FrontKneeFlexion, motion.BackKneeFlexion}},
	{"no_change", "Contact offset", "Noor Salim", "",
		[]motion.Measure{motion.ContactOffset, motion.ContactHeight, motion.ContactForward}},
	{"everything", "The season at a glance", "Alma Reuss", "Ines Dahl", motion.All()},
}

// Reports over the demo say what they said before.
func TestGoldenReports(t *testing.T) {
	for _, q := range questions {
		t.Run(q.name, func(t *testing.T) {
			r, err := report.Of(about(t, q.recipe, q.player, q.reference, q.measures...))
			if err != nil {
				t.Fatal(err)
			}
			text, err := json.MarshalIndent(r, "", " ")
			if err != nil {
				t.Fatal(err)
			}
			compareGolden(t, q.name+".json", rounded(t, text))
		})
	}
}

// rounded gives every number four digits: what differs beyond them between two processors is of no concern.
func rounded(t *testing.T, text []byte) []byte {
	t.Helper()
	var value any
	if err := json.Unmarshal(text, &value); err != nil {
		t.Fatal(err)
	}
	out, err := json.MarshalIndent(shortened(value), "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return append(out, '\n')
}

func compareGolden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; go test -update writes it", err)
	}
	if !bytes.Equal(got, want) {
		g, w := strings.Split(string(got), "\n"), strings.Split(string(want), "\n")
		for i := range min(len(g), len(w)) {
			if g[i] != w[i] {
				t.Fatalf("%s, line %d\n got %s\nwant %s\ngo test -update writes it anew", path, i+1, g[i], w[i])
			}
		}
		t.Fatalf("%s has %d lines, want %d", path, len(g), len(w))
	}
}

// What the demo holds by design is the first finding, its interval holds the truth, and a player who changed nothing
// has no finding of a change.
func TestReportsFindWhatIsThere(t *testing.T) {
	drift, err := report.Of(about(t, "Contact offset", "Tuva Brandt", "", motion.ContactOffset, motion.ContactHeight))
	if err != nil {
		t.Fatal(err)
	}
	if len(drift.Findings) == 0 || drift.Findings[0].Measure != motion.ContactOffset.ID {
		t.Fatalf("findings %+v, want the contact that drifts outside first", drift.Findings)
	}
	if f := drift.Findings[0]; f.Kind != report.Changed || f.Low > 0.078 || f.High < 0.078 {
		t.Errorf("%+v, want a change whose interval holds 0.078 m", f)
	}
	still, err := report.Of(about(t, "Everything", "Noor Salim", "", motion.All()...))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range still.Findings {
		t.Errorf("Noor Salim changed nothing, and the page says: %s", f.Sentence)
	}
}

// The page is one file without script or anything fetched, and says every finding, its number and its interval.
func TestPageIsWhole(t *testing.T) {
	for _, q := range questions {
		t.Run(q.name, func(t *testing.T) {
			r, err := report.Of(about(t, q.recipe, q.player, q.reference, q.measures...))
			if err != nil {
				t.Fatal(err)
			}
			var out bytes.Buffer
			if err := report.Write(&out, r, time.Date(2026, 9, 20, 0, 0, 0, 0, time.UTC)); err != nil {
				t.Fatal(err)
			}
			text := strings.ReplaceAll(out.String(), "\u00a0", " ")
			for _, bad := range []string{"<script", "http", "NaN", "Inf", "src=", "ZgotmplZ"} {
				if strings.Contains(text, bad) {
					t.Errorf("the page holds %q", bad)
				}
			}
			if n := strings.Count(text, "<svg"); n != len(r.Findings) {
				t.Errorf("%d pictures of %d findings", n, len(r.Findings))
			}
			for _, f := range r.Findings {
				for _, want := range []string{f.Headline, f.Sentence, f.Work, f.Check} {
					if !strings.Contains(text, escaped(want)) {
						t.Errorf("the page lacks %q", want)
					}
				}
				if !strings.Contains(f.Sentence, "95 % interval") {
					t.Errorf("no interval in %q", f.Sentence)
				}
			}
		})
	}
}

// Nothing medical is said, no judgement, and no cause, in whatever is generated.
func TestWordsStayWithinTheEvidence(t *testing.T) {
	banned := []string{"injur", "risk", "safe", "pain", "patholog", "overload", "healthy", "danger", "better", "worse",
		"should ", "must ", "fault", "wrong", "because of", "causes", "leads to", "improve", "normal"}
	for _, q := range questions {
		r, err := report.Of(about(t, q.recipe, q.player, q.reference, q.measures...))
		if err != nil {
			t.Fatal(err)
		}
		var said []string
		for _, f := range r.Findings {
			said = append(said, f.Headline, f.Sentence, f.Work)
		}
		for _, one := range r.Rest {
			if one.Verdict != report.Lacking { // what is lacking may be said to be wrong
				said = append(said, one.Title)
			}
		}
		for _, s := range said {
			for _, word := range banned {
				if strings.Contains(strings.ToLower(s), word) {
					t.Errorf("%s: %q in %q", q.name, word, s)
				}
			}
		}
	}
}
