package report_test

import (
	"fmt"
	"html"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"time"

	"tossline/kernel/motion"
	"tossline/kernel/table"
	"tossline/workbench/report"
)

func escaped(s string) string {
	return strings.NewReplacer("&#34;", "&#34;", "+", "&#43;").Replace(html.EscapeString(s))
}

// shortened gives every number of a JSON value four digits.
func shortened(v any) any {
	switch v := v.(type) {
	case float64:
		short, _ := strconv.ParseFloat(fmt.Sprintf("%.4g", v), 64)
		return short
	case []any:
		for i := range v {
			v[i] = shortened(v[i])
		}
	case map[string]any:
		for k := range v {
			v[k] = shortened(v[k])
		}
	}
	return v
}

// made is a season that is made up for a rule: one player with a number of sessions, perhaps a reference.
type made struct {
	sessions, serves int     // of the player, and serves in each
	shift            float64 // what the second half of the sessions has more, in typical errors
	reference        int     // sessions of the reference
	apart            float64 // what the reference has more
	born             float64 // 0: nobody wrote it down
	older            float64 // years by which the reference is older
	standIns         int     // serves of the player from a stand-in
	missing          float64 // share of serves without a value
	tie              float64 // correlation with the front knee, serve by serve
}

// question makes the table; typical errors are 0.05 m.
func (m made) question() report.Question {
	const noise = 0.05
	random := rand.New(rand.NewPCG(3, 5))
	var players, days, basis []string
	var values, knees, born []float64
	add := func(player string, sessions int, level func(day int) float64, year float64) {
		for day := range sessions {
			// Noise without a mean in each session: what is made is what is found.
			for i := range m.serves {
				z := math.Sqrt2 * math.Cos(2*math.Pi*(float64(i)+0.5)/float64(m.serves))
				own := math.Sqrt2 * math.Sin(2*math.Pi*(float64(i)+0.5)/float64(m.serves))
				v := 0.1 + level(day) + noise*z + 0.004*(random.Float64()-0.5)
				if player == "A" && random.Float64() < m.missing {
					v = math.NaN()
				}
				from := "ball"
				if player == "A" && len(values) < m.standIns {
					from = "hand (stand-in)"
				}
				values, players, basis = append(values, v), append(players, player), append(basis, from)
				days = append(days, time.Date(2026, 1, 1+7*day, 0, 0, 0, 0, time.UTC).Format(time.DateOnly))
				knees = append(knees, 60+3*(m.tie*z+math.Sqrt(1-m.tie*m.tie)*own))
				born = append(born, year)
			}
		}
	}
	year := m.born
	if year == 0 {
		year = math.NaN()
	}
	add("A", m.sessions, func(day int) float64 {
		if day >= (m.sessions+1)/2 {
			return m.shift * noise
		}
		return 0
	}, year)
	add("B", m.reference, func(int) float64 { return m.apart * noise }, year-m.older)
	measure := motion.ContactOffset
	q := report.Question{Recipe: "Made up", Season: "None", Player: "A", Measures: []motion.Measure{measure}}
	if m.reference > 0 {
		q.Reference = "B"
	}
	serves := make([]string, len(values))
	for i := range serves {
		serves[i] = fmt.Sprint("serve ", i)
	}
	q.Serves = table.New(table.Text("serve", serves), table.Text("player", players), table.Text("session", days),
		table.Number("birth_year", "", born),
		table.Number(measure.Column(), "m", values).Titled(measure.Title), table.Text(measure.BasisColumn(), basis),
		table.Number(motion.FrontKneeFlexion.Column(), "deg", knees).Titled(motion.FrontKneeFlexion.Title))
	return q
}

// Each rule of the package, by a season that is made for it.
func TestRules(t *testing.T) {
	for _, c := range []struct {
		name     string
		made     made
		findings []report.Kind
		rest     []report.Verdict
		says     []string // somewhere on the page
		silent   []string
	}{
		{"a change that counts is a finding", made{sessions: 8, serves: 12, shift: 2, born: 2000},
			[]report.Kind{report.Changed}, nil,
			[]string{"Contact offset: 0.1", "more since 29 January 2026", "95 % interval", "Was it meant?",
				"new session"},
			[]string{"under 18:", "reference"}},
		{"a change within the noise is not told as one", made{sessions: 8, serves: 12, shift: 0.5, born: 2000}, nil,
			[]report.Verdict{report.Small}, []string{"No finding.", "smaller than the noise"},
			[]string{"What to work on"}},
		{"no change is not shown", made{sessions: 8, serves: 12, born: 2000}, nil, []report.Verdict{report.NotShown},
			[]string{"Not shown, which is not the same as equal (a change): Contact offset."}, nil},
		{"one session can't tell", made{sessions: 1, serves: 12, born: 2000}, nil, []report.Verdict{report.Lacking},
			[]string{"Could not be asked (a change): Contact offset."}, nil},
		{"a difference that counts is a finding", made{sessions: 6, serves: 12, reference: 6, apart: 3, born: 2000},
			[]report.Kind{report.Differs}, []report.Verdict{report.NotShown},
			[]string{"less than B", "a choice and no norm", "(6 sessions)"}, []string{"Single serves"}},
		{"few sessions compare serves and say so", made{sessions: 2, serves: 12, reference: 1, apart: 3, born: 2000},
			[]report.Kind{report.Differs}, nil, []string{"(24 serves)", "(12 serves)", "Single serves are compared"},
			nil},
		{"the own change comes first, and a measure once",
			made{sessions: 8, serves: 12, shift: 1.5, reference: 6, apart: 9, born: 2000},
			[]report.Kind{report.Changed}, []report.Verdict{report.Further},
			[]string{"since 29 January 2026", "Shown too"}, nil},
		{"a player whose age nobody knows may be young", made{sessions: 8, serves: 12}, nil,
			[]report.Verdict{report.NotShown}, []string{"is or may be under 18"}, nil},
		{"a reference of another age", made{sessions: 6, serves: 12, reference: 6, apart: 3, born: 2010, older: 9},
			[]report.Kind{report.Differs}, nil, []string{"B is 9 years older", "is or may be under 18"}, nil},
		{"stand-ins are left out aloud", made{sessions: 8, serves: 12, shift: 2, born: 2000, standIns: 5},
			[]report.Kind{report.Changed}, nil, []string{"5 serves left out, because a stand-in was measured"}, nil},
		{"much missing is told", made{sessions: 8, serves: 12, shift: 2, born: 2000, missing: 0.4},
			[]report.Kind{report.Changed}, nil, []string{"of the player&#39;s serves; ask whether"}, nil},
		{"a tie from serve to serve is named", made{sessions: 8, serves: 12, shift: 2, born: 2000, tie: 0.7},
			[]report.Kind{report.Changed}, nil,
			[]string{"goes with front knee flexion", "proves nothing until it is tried"}, nil},
		{"a weak tie is not", made{sessions: 8, serves: 12, shift: 2, born: 2000, tie: 0.25},
			[]report.Kind{report.Changed}, nil, nil, []string{"goes with"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := report.Of(c.made.question())
			if err != nil {
				t.Fatal(err)
			}
			var kinds []report.Kind
			for _, f := range r.Findings {
				kinds = append(kinds, f.Kind)
			}
			if fmt.Sprint(kinds) != fmt.Sprint(c.findings) {
				t.Errorf("findings %v, want %v: %+v", kinds, c.findings, r)
			}
			for _, v := range c.rest {
				found := false
				for _, one := range r.Rest {
					found = found || one.Verdict == v
				}
				if !found {
					t.Errorf("nothing is %q: %+v", v, r.Rest)
				}
			}
			var page strings.Builder
			if err := report.Write(&page, r, time.Now()); err != nil {
				t.Fatal(err)
			}
			text := strings.ReplaceAll(page.String(), "\u00a0", " ")
			for _, want := range c.says {
				if !strings.Contains(text, want) {
					t.Errorf("the page does not say %q: %+v", want, r)
				}
			}
			for _, bad := range c.silent {
				if strings.Contains(text, bad) {
					t.Errorf("the page says %q", bad)
				}
			}
			if !strings.Contains(page.String(), "licensed clinician") {
				t.Error("the page lacks the caution")
			}
		})
	}
}

// What cannot be a report is refused with words.
func TestRefusals(t *testing.T) {
	q := made{sessions: 3, serves: 4}.question()
	if _, err := report.Of(report.Question{Player: "A", Serves: q.Serves}); err == nil ||
		!strings.Contains(err.Error(), "no measure") {
		t.Errorf("%v, want one that says that no measure was looked at", err)
	}
	for _, c := range []struct {
		name, player, reference, want string
	}{
		{"no player", "", "", "say which"},
		{"a player without serves", "C", "", "no serve of C"},
		{"the player as reference", "A", "A", "another player"},
	} {
		t.Run(c.name, func(t *testing.T) {
			q.Player, q.Reference = c.player, c.reference
			if _, err := report.Of(q); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v, want %q", err, c.want)
			}
		})
	}
}

// Names that look like HTML stay text.
func TestNamesAreText(t *testing.T) {
	q := made{sessions: 6, serves: 8, reference: 6, apart: 4}.question()
	q.Player, q.Reference = `<b>A`, `"><script>`
	q.Serves = q.Serves.WithText("player", func(r table.Row) string {
		return map[string]string{"A": q.Player, "B": q.Reference}[r.Text("player")]
	})
	r, err := report.Of(q)
	if err != nil {
		t.Fatal(err)
	}
	var page strings.Builder
	if err := report.Write(&page, r, time.Now()); err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{"<b>A", "<script"} {
		if strings.Contains(page.String(), bad) {
			t.Errorf("the page holds %s", bad)
		}
	}
}

// The first three of a recipe's tables are read: measures, serves, and blocks where there are any.
func TestLook(t *testing.T) {
	serves := table.New(table.Text("serve", []string{"a", "b"}), table.Text("player", []string{"A", "A"}),
		table.Number("contact_offset_m", "m", []float64{1, 2}), table.Text("block", []string{"before", "after"}))
	l := report.Look([]table.Table{
		table.New(table.Text("player", []string{"A"}), table.Number("mean_m", "m", []float64{1})), serves})
	if len(l.Measures) != 1 || l.Measures[0].ID != motion.ContactOffset.ID {
		t.Errorf("measures %v, want contact offset", l.Measures)
	}
	if none := report.Look(nil); len(none.Measures) != 0 {
		t.Errorf("no table has measures %v", none.Measures)
	}
}
