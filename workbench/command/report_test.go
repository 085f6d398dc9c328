package command

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestReport(t *testing.T) {
	dir := imported(t)
	page := filepath.Join(t.TempDir(), "page.html")
	text := ok(t, "report", "knee_flex.go", "--season", dir, "--out", page, "--json")
	var r struct {
		Recipe, Player, Basis string
		Findings              []any
		Rest                  []struct{ Measure, Verdict string }
		Cautions              []string
	}
	if err := json.Unmarshal([]byte(text), &r); err != nil {
		t.Fatal(err)
	}
	if r.Recipe != "Knee flex" || r.Player != "Oriel Nash" || !strings.Contains(r.Basis, "2 serves in 1 session") {
		t.Errorf("%+v", r)
	}
	if len(r.Findings) != 0 || len(r.Rest) != 2 || r.Rest[0].Verdict != "could not be asked" || len(r.Cautions) == 0 {
		t.Errorf("two serves of one session give %+v", r)
	}
	html, err := os.ReadFile(page)
	if err != nil || !strings.Contains(string(html), "No finding.") || !strings.Contains(string(html), "clinician") {
		t.Errorf("the page: %d bytes, %v", len(html), err)
	}

	for name, c := range map[string]struct {
		args []string
		code int
		says string
	}{
		"without a place":      {nil, 2, "--out"},
		"a player who is none": {[]string{"--json", "--player", "Nobody"}, 1, "no serve of Nobody"},
		"no such setting":      {[]string{"--json", "--set", "Colour=red"}, 2, "no such setting"},
	} {
		t.Run(name, func(t *testing.T) {
			s := run(append([]string{"report", "knee_flex.go", "--season", dir}, c.args...)...)
			if s.code != c.code || !strings.Contains(s.err, c.says) {
				t.Errorf("exit code %d, said %q; want %d and %q", s.code, s.err, c.code, c.says)
			}
		})
	}
	if s := run("report", "load.go", "--season", dir, "--json"); s.code != 1 || !strings.Contains(s.err, "no measure") {
		t.Errorf("a recipe without measures: exit code %d, said %q", s.code, s.err)
	}
}
