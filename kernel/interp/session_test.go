package interp_test

import (
	"context"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"tossline/kernel/interp"
	"tossline/kernel/motion"
	"tossline/kernel/table"
)

// recorder writes down what it is told of a run.
type recorder struct {
	plan        interp.Plan
	diagnostics []interp.Diagnostic
	steps       []interp.Step
	printed     strings.Builder
}

func (r *recorder) Plan(p interp.Plan)                { r.plan = p }
func (r *recorder) Diagnostics(d []interp.Diagnostic) { r.diagnostics = d }
func (r *recorder) Step(s interp.Step)                { r.steps = append(r.steps, s) }
func (r *recorder) Progress(string, int, int)         {}

// last gives what became of a step.
func (r *recorder) last(name string) interp.Step {
	for _, s := range slices.Backward(r.steps) {
		if s.Name == name {
			return s
		}
	}
	return interp.Step{}
}

// ran lists the steps that were run, in that order.
func (r *recorder) ran() string {
	var names []string
	for _, s := range r.steps {
		if s.State == interp.Running {
			names = append(names, s.Name)
		}
	}
	return strings.Join(names, " ")
}

// number gives the number that a step returned.
func (r *recorder) number(t *testing.T, name string) float64 {
	t.Helper()
	s := r.last(name)
	if s.State != interp.Done || len(s.Results) != 1 || s.Results[0].Number == nil {
		t.Fatalf("%s has no number: %+v %+v", name, s, s.Error)
	}
	return *s.Results[0].Number.Value
}

// keys gives the keys of all steps that are done.
func (r *recorder) keys() map[string]bool {
	keys := map[string]bool{}
	for _, s := range r.steps {
		if s.State == interp.Done {
			keys[s.Key] = true
		}
	}
	return keys
}

// players is a season with three serves and no frames.
type players struct{}

func (players) Len() int                                        { return 3 }
func (players) Clip(int) (motion.Clip, error)                   { return motion.Clip{}, errors.New("no frames") }
func (players) Cached(int, motion.Measure) (motion.Value, bool) { return motion.Value{}, false }
func (players) Keep(int, motion.Measure, motion.Value)          {}
func (players) Stamp() string                                   { return "one" }
func (players) Particulars() table.Table {
	return table.New(table.Text("serve", []string{"1", "2", "3"}),
		table.Text("player", []string{"Zoe", "Abe", "Zoe"}),
		table.Text("session", []string{"2026-03-14", "2026-03-15", "2026-03-14"}))
}

type job = interp.Job

func run(t *testing.T, s *interp.Session, j job) *recorder {
	t.Helper()
	seen := &recorder{}
	j.File, j.Output = "r.go", &seen.printed
	if err := s.Run(t.Context(), j, seen); err != nil {
		t.Fatal(err, seen.diagnostics)
	}
	return seen
}

// chain has steps in a row, out of order, each with a setting of its own.
const chain = `// Chain
//
// Each step needs the one below.
package recipe

import "fmt"

type Settings struct {
	First  float64 ` + "`min:\"0\" max:\"9\" default:\"1\"`" + ` // The first.
	Second float64 ` + "`default:\"10\"`" + `
}

// The last
func Last(middle float64, settings Settings) float64 { return middle + second(settings) }

// second is read by Last alone.
func second(settings Settings) float64 { return settings.Second }

// Middle doubles.
//
// It prints, too.
func Middle(first float64) float64 {
	fmt.Println("first", first)
	return 2 * first
}

// First is where it starts.
func First(settings Settings) float64 { return settings.First }

// Alone needs nothing.
func Alone() string { return "alone" }
`

func TestOrderAndNames(t *testing.T) {
	seen := run(t, interp.NewSession(players{}), job{Source: chain})
	if got := seen.ran(); got != "First Middle Last Alone" {
		t.Errorf("ran %s", got)
	}
	if got := seen.number(t, "Last"); got != 12 {
		t.Errorf("Last is %v, want 2*1 + 10", got)
	}
	if got := seen.printed.String(); got != "first 1\n" {
		t.Errorf("printed %q", got)
	}
	want := []string{"Chain", "Each step needs the one below."}
	if got := []string{seen.plan.Title, seen.plan.Prose}; !slices.Equal(got, want) {
		t.Errorf("got %q", got)
	}
	if s := seen.plan.Steps[0]; s.Title != "The last" || s.Prose != "" || s.First != 13 || s.Last != 14 ||
		!slices.Equal(s.Inputs, []string{"Middle"}) {
		t.Errorf("%+v", s)
	}
	if s := seen.plan.Steps[1]; s.Title != "Middle" || s.Prose != "Middle doubles.\n\nIt prints, too." {
		t.Errorf("%+v", s)
	}
}

func TestOnlyDependentsRunAgain(t *testing.T) {
	for _, c := range []struct {
		name string
		job  job
		want string
	}{
		{"nothing changed", job{Source: chain}, ""},
		{"a setting of the last", job{Source: chain, Settings: values("Second", `20`)}, "Last"},
		{"a setting of the first", job{Source: chain, Settings: values("First", `2`)}, "First Middle Last"},
		{"the same in another spelling", job{Source: chain, Settings: values("First", `1.0e0`)}, ""},
		{"a comment", job{Source: strings.Replace(chain, "It prints, too.", "Changed.", 1)}, ""},
		{"lines moved", job{Source: strings.Replace(chain, "package recipe", "package recipe\n\n\n", 1)}, ""},
		{"the middle's code", job{Source: strings.Replace(chain, "2 * first", "3 * first", 1)}, "Middle Last"},
		{"a function that it calls", job{Source: strings.Replace(chain, "return settings.Second", "return 5", 1)}, "Last"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := interp.NewSession(players{})
			c.job.Known = run(t, s, job{Source: chain}).keys()
			if got := run(t, s, c.job).ran(); got != c.want {
				t.Errorf("in the same session ran %q, want %q", got, c.want)
			}
			seen := run(t, interp.NewSession(players{}), c.job)
			if got := seen.ran(); got != c.want {
				t.Errorf("in a new session ran %q, want %q", got, c.want)
			}
			if len(seen.keys()) != 4 {
				t.Errorf("not all steps are done: %+v", seen.steps)
			}
		})
	}
}

// values makes settings of one.
func values(name, value string) map[string]json.RawMessage {
	return map[string]json.RawMessage{name: json.RawMessage(value)}
}

func TestOtherSeasonOtherKeys(t *testing.T) {
	source := "package recipe\n\nimport \"tossline/kernel/motion\"\n\n" +
		"func A(season motion.Season) int { return season.Len() }\n\nfunc B() int { return 1 }\n"
	first := run(t, interp.NewSession(players{}), job{Source: source})
	other := run(t, interp.NewSession(fewer{}), job{Source: source, Known: first.keys()})
	if got := other.ran(); got != "A" {
		t.Errorf("ran %q, want only what sees the season", got)
	}
	if first.number(t, "A") != 3 || other.number(t, "A") != 0 {
		t.Error("the seasons are mixed up")
	}
}

// fewer is another season.
type fewer struct{ players }

func (fewer) Stamp() string            { return "two" }
func (fewer) Len() int                 { return 0 }
func (fewer) Particulars() table.Table { return table.Table{} }

func TestSettings(t *testing.T) {
	source := "package recipe\n\nimport \"time\"\n\ntype Settings struct {\n" +
		"\tPlayer string `from:\"players\"` // Who.\n" +
		"\tOther string `from:\"players\" default:\"\"`\n" +
		"\tList []string `from:\"sessions\"`\n" +
		"\tSide string `choices:\"deuce, advantage\" default:\"advantage\"`\n" +
		"\tN int `min:\"1\" max:\"5\" default:\"2\"`\n" +
		"\tYes bool `default:\"true\"`\n" +
		"\tDay time.Time `default:\"2026-03-14\"`\n" +
		"\tFreeText string\n" +
		"}\n\nfunc A(settings Settings) string {\n" +
		"\tout := settings.Player + \"|\" + settings.Other + \"|\" + settings.Side + \"|\" + settings.FreeText + \"|\" +\n" +
		"\t\tsettings.Day.Format(\"2 Jan\") + \"|\"\n" +
		"\tfor range settings.N {\n\t\tout += \"x\"\n\t}\n" +
		"\tif settings.Yes {\n\t\tout += \"yes\"\n\t}\n" +
		"\tfor _, s := range settings.List {\n\t\tout += s\n\t}\n\treturn out\n}\n"
	for _, c := range []struct{ name, settings, want, fails string }{
		{"defaults", `{}`, "Abe||advantage||14 Mar|xxyes", ""},
		{"all given", `{"Player":"Zoe","Other":"Abe","List":["2026-03-14"],"Side":"deuce","N":1,"Yes":false,` +
			`"Day":"2026-01-02","FreeText":"a\"b"}`, `Zoe|Abe|deuce|a"b|2 Jan|x2026-03-14`, ""},
		{"unknown player", `{"Player":"Zoé"}`, "",
			`setting Player: "Zoé" is none of the season's players; choose from Abe, Zoe`},
		{"close name", `{"Player":"Zo"}`, "", `did you mean "Zoe"?`},
		{"out of range", `{"N":9}`, "", "setting N: 9 is out of range; it goes from 1 to 5"},
		{"no whole number", `{"N":1.5}`, "", "setting N: 1.5 is not a whole number"},
		{"no number", `{"N":"two"}`, "", `setting N: "two" is not a number`},
		{"null", `{"N":null}`, "", "setting N: null is not a number"},
		{"no date", `{"Day":"14.3.2026"}`, "", `setting Day: "14.3.2026" is not a date like 2026-03-14`},
		{"unknown setting", `{"Players":"Zoe"}`, "", `the recipe has no setting "Players"; did you mean "Player"?`},
		{"not among the choices", `{"Side":"duece"}`, "", `"duece" is no choice; choose from deuce, advantage`},
	} {
		t.Run(c.name, func(t *testing.T) {
			var settings map[string]json.RawMessage
			if err := json.Unmarshal([]byte(c.settings), &settings); err != nil {
				t.Fatal(err)
			}
			seen := &recorder{}
			err := interp.NewSession(players{}).Run(t.Context(), job{File: "r.go", Source: source, Settings: settings}, seen)
			if c.fails != "" {
				if err == nil || !strings.Contains(err.Error(), c.fails) {
					t.Errorf("got %v, want %q", err, c.fails)
				}
				return
			}
			if err != nil {
				t.Fatal(err, seen.diagnostics)
			}
			if s := seen.last("A"); s.State != interp.Done || s.Results[0].Text != c.want {
				t.Errorf("got %+v %+v, want %q", s.Results, s.Error, c.want)
			}
		})
	}
	plan, _, err := interp.NewSession(players{}).Check("r.go", source)
	if err != nil {
		t.Fatal(err)
	}
	shown, _ := json.Marshal(plan.Settings)
	want := `[{"name":"Player","label":"Who","kind":"choice","default":"Abe","choices":[{"value":"Abe","title":"Abe"},` +
		`{"value":"Zoe","title":"Zoe"}]},` +
		`{"name":"Other","label":"Other","kind":"choice","default":"","choices":[{"value":"","title":"none"},` +
		`{"value":"Abe","title":"Abe"},{"value":"Zoe","title":"Zoe"}]},` +
		`{"name":"List","label":"List","kind":"choices","default":[],"choices":[` +
		`{"value":"2026-03-14","title":"14 March 2026"},{"value":"2026-03-15","title":"15 March 2026"}]},` +
		`{"name":"Side","label":"Side","kind":"choice","default":"advantage","choices":[` +
		`{"value":"deuce","title":"deuce"},{"value":"advantage","title":"advantage"}]},` +
		`{"name":"N","label":"N","kind":"integer","min":1,"max":5,"default":2},` +
		`{"name":"Yes","label":"Yes","kind":"flag","default":true},` +
		`{"name":"Day","label":"Day","kind":"date","default":"2026-03-14"},` +
		`{"name":"FreeText","label":"Free text","kind":"text","default":""}]`
	if string(shown) != want {
		t.Errorf("got  %s\nwant %s", shown, want)
	}
}

func TestMistakes(t *testing.T) {
	for _, c := range []struct{ name, source, want string }{
		{"unknown input", "func Contacts() int { return 1 }\nfunc A(contact int) int { return contact }",
			"4:8 no step gives contact; did you mean contacts?"},
		{"nothing near", "func A(whatever int) int { return whatever }", "3:8 no step gives whatever; parameters are named"},
		{"wrong type", "func B() int { return 1 }\nfunc A(b string) string { return b }",
			"4:8 b is the result of step B, a int, and not string"},
		{"circle", "func A(b int) int { return b }\nfunc B(a int) int { return a }",
			"4:8 these steps need each other's results: A ← B ← A"},
		{"itself", "func A(a int) int { return a }", "3:8 these steps need each other's results: A ← A"},
		{"no result", "func A() {}", "3:6 A gives nothing to show"},
		{"only an error", "func A() error { return nil }", "3:6 A gives nothing to show"},
		{"type parameters", "func A[T any]() int { return 1 }", "3:6 a step has no type parameters"},
		{"variadic", "func B() []int { return nil }\nfunc A(b ...int) int { return 1 }",
			"4:8 a step takes no variable number"},
		{"no name", "func A(int) int { return 1 }", "3:8 a parameter of a step needs a name"},
		{"season of another type", "func A(season int) int { return season }", "3:8 season is a motion.Season, not int"},
		{"settings without", "func A(settings int) int { return settings }",
			"3:8 settings is the recipe's Settings, not int"},
		{"settings no struct", "type Settings int\nfunc A() int { return 1 }", "3:6 Settings is a struct"},
		{"setting of a wrong type", "type Settings struct { X complex128 }\nfunc A() int { return 1 }",
			"3:24 setting X: a complex128 can't be a control"},
		{"unknown tag", "type Settings struct { X int `mim:\"1\"` }\nfunc A() int { return 1 }",
			`3:30 setting X: no tag "mim"; did you mean "min"?`},
		{"tag of no likeness", "type Settings struct { X int `widget:\"1\"` }\nfunc A() int { return 1 }",
			`3:30 setting X: no tag "widget"; the tags are unit, from, choices, min, max, step, default`},
		{"tag for a label", "type Settings struct { X int `label:\"Limit\"` }\nfunc A() int { return 1 }",
			`3:30 setting X: no tag "label"; the comment behind a setting is its label`},
		{"unknown list", "type Settings struct { X string `from:\"player\"` }\nfunc A() int { return 1 }",
			`3:33 setting X: no list "player"; did you mean "players"?`},
		{"bad range", "type Settings struct { X int `min:\"5\" max:\"1\"` }\nfunc A() int { return 1 }",
			"3:30 setting X: min 5 is above max 1"},
		{"default out of range", "type Settings struct { X int `max:\"1\" default:\"2\"` }\nfunc A() int { return 1 }",
			"3:30 setting X: default: 2 is out of range; it goes up to 1"},
		{"not understood", "func A() int { return x }", "3:23 undefined: x"},
	} {
		t.Run(c.name, func(t *testing.T) {
			seen := &recorder{}
			err := interp.NewSession(players{}).Run(t.Context(),
				job{File: "r.go", Source: "package recipe\n\n" + c.source + "\n"}, seen)
			if !errors.Is(err, interp.ErrUnsound) {
				t.Errorf("it ran: %v", err)
			}
			found := slices.ContainsFunc(seen.diagnostics, func(d interp.Diagnostic) bool {
				at, message, _ := strings.Cut(c.want, " ")
				line, column, _ := strings.Cut(at, ":")
				return d.Severity == "error" && strings.HasPrefix(d.Message, message) &&
					line == itoa(d.Line) && column == itoa(d.Column)
			})
			if !found {
				t.Errorf("got %+v, want %s", seen.diagnostics, c.want)
			}
		})
	}
}

func itoa(n int) string { b, _ := json.Marshal(n); return string(b) }

const failing = `package recipe

import (
	"errors"
	"fmt"

	"tossline/kernel/table"
)

func pick(xs []int, i int) int {
	return xs[i]
}

func Index() int {
	return pick([]int{1, 2, 3}, 5)
}

func After(index int) int { return index }

func Fine() int { return 7 }

func Column() float64 {
	t := table.New(table.Number("x", "m", []float64{1}))
	return t.Numbers("y")[0]
}

func Map() int {
	var m map[string]int
	m["a"] = 1
	return 0
}

func Says() (int, error) { return 0, errors.New("no serve is fast enough") }

func Own() int { panic("can't be") }

func down(n int) int { return down(n + 1) }

func Deep() int { return down(0) }

func Type() string {
	f := "%T"
	return fmt.Sprintf(f, 1)
}

func apart(print func(string, ...any) string) string {
	return print("%#v", 1)
}

func TypeToo() string {
	return apart(fmt.Sprintf)
}
`

func TestFailures(t *testing.T) {
	seen := run(t, interp.NewSession(players{}), job{Source: failing})
	for _, c := range []struct {
		step, message string
		line          int
		trace         string
	}{
		{"Index", "index out of range [5] with length 3", 11, "pick, line 11; Index, line 15"},
		{"Column", `there is no column "y"; the columns are x`, 24, "Column, line 24"},
		{"Map", "assignment to entry in nil map", 29, "Map, line 29"},
		{"Says", "no serve is fast enough", 33, ""},
		{"Own", "can't be", 35, "Own, line 35"},
		{"Deep", "a function of the recipe calls itself more than 1000 times deep", 37,
			strings.Repeat("down, line 37; ", 9) + "down, line 37"},
		{"Type", "a format that is put together can't print types, with %T, %#v or %p; write it where it is used", 43,
			"Type, line 43"},
		{"TypeToo", "a format that is put together can't print types, with %T, %#v or %p; write it where it is used", 47,
			"apart, line 47; TypeToo, line 51"},
	} {
		s := seen.last(c.step)
		if s.State != interp.Failed || s.Error == nil {
			t.Errorf("%s did not fail: %+v", c.step, s)
			continue
		}
		if s.Error.Message != c.message || s.Error.Line != c.line || strings.Join(s.Error.Trace, "; ") != c.trace {
			t.Errorf("%s: %+v", c.step, s.Error)
		}
	}
	if s := seen.last("After"); s.State != interp.Skipped {
		t.Errorf("what needs a failed step: %+v", s)
	}
	if seen.number(t, "Fine") != 7 {
		t.Error("what needs nothing of it did not run")
	}
}

// TestRecursionWithoutEnd has functions that call themselves by a variable, however that was set.
func TestRecursionWithoutEnd(t *testing.T) {
	for name, body := range map[string]string{
		"assigned":   "var f func(int) int\n\tf = func(i int) int { return f(i + 1) }\n\treturn f(1)",
		"redeclared": "var f func(int) int\n\tf, n := func(i int) int { return f(i + 1) }, 1\n\treturn f(n)",
	} {
		t.Run(name, func(t *testing.T) {
			seen := run(t, interp.NewSession(players{}), job{Source: "package recipe\n\nfunc A() int {\n\t" + body + "\n}\n"})
			if s := seen.last("A"); s.State != interp.Failed || !strings.Contains(s.Error.Message, "calls itself") {
				t.Errorf("%+v %+v", s, s.Error)
			}
		})
	}
}

// TestStop stops a loop, and runs the next version in the same session.
func TestStop(t *testing.T) {
	for _, c := range []struct{ name, source string }{
		{"in a step", "package recipe\n\nfunc A() int {\n\tfor {\n\t}\n}\n"},
		{"in a variable", "package recipe\n\nvar x = func() int {\n\tfor {\n\t}\n}()\n\nfunc A() int { return x }\n"},
		{"in a callback", "package recipe\n\nimport \"sort\"\n\nfunc A() int {\n\tfor {\n\t\tsort.Slice([]int{2, 1}, " +
			"func(i, j int) bool { return true })\n\t}\n}\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := interp.NewSession(players{})
			why := errors.New("enough")
			ctx, cancel := context.WithCancelCause(t.Context())
			time.AfterFunc(50*time.Millisecond, func() { cancel(why) })
			if err := s.Run(ctx, job{File: "r.go", Source: c.source}, &recorder{}); !errors.Is(err, why) {
				t.Errorf("got %v", err)
			}
			if got := run(t, s, job{Source: "package recipe\n\nfunc A() int { return 5 }\n"}).number(t, "A"); got != 5 {
				t.Errorf("the next run gives %v", got)
			}
		})
	}
}

// TestStandardLibrary uses what only the values of the standard library's packages give.
func TestStandardLibrary(t *testing.T) {
	source := `package recipe

import (
	"bytes"
	"strings"
)

func A() string {
	var b strings.Builder
	b.WriteString("built")
	var c bytes.Buffer
	c.WriteString(" well")
	return b.String() + c.String()
}
`
	if got := run(t, interp.NewSession(players{}), job{Source: source}).last("A"); got.State != interp.Done ||
		got.Results[0].Text != "built well" {
		t.Errorf("%+v %+v", got, got.Error)
	}
}

// TestInputsAreOnesOwn has a step change what it got, which must not reach the others.
func TestInputsAreOnesOwn(t *testing.T) {
	source := `package recipe

func Values() []float64 { return []float64{1, 2, 3} }

func Counts() map[string][]int { return map[string][]int{"a": {1}} }

func Spoil(values []float64, counts map[string][]int) float64 {
	values[0] = 100
	counts["a"][0] = 100
	return values[0]
}

func Total(values []float64, counts map[string][]int) float64 {
	return values[0] + values[1] + values[2] + float64(counts["a"][0])
}
`
	seen := run(t, interp.NewSession(players{}), job{Source: source})
	if got := seen.number(t, "Total"); got != 7 {
		t.Errorf("got %v, want 7", got)
	}
	if s := seen.last("Counts"); s.State != interp.Done || len(s.Results) != 0 {
		t.Errorf("a map that other steps take needs no picture: %+v", s)
	}
}
