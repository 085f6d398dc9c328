package language

import (
	"slices"
	"strings"
	"testing"
)

// head begins the recipes of the tests.
const head = `// Contact offset
package recipe

import (
	"math"
	"strings"

	"github.com/go-echarts/go-echarts/v2/opts"
	"tossline/kernel/chart"
	"tossline/kernel/motion"
	"tossline/kernel/table"
)

// Settings of this recipe.
type Settings struct {
	Player string  // Player to look at.
	Limit  float64
}

// What was measured
func Contacts(season motion.Season) (table.Table, error) { return season.Measure() }

// Where the ball is met
func Spread(contacts table.Table, settings Settings) chart.Chart { return chart.Chart{} }

type pair struct{ first, second float64 }

type named struct {
	pair
	name string
}

func (n named) sum() float64 { return n.first + n.second }

`

// cut takes the cursor mark out of a source.
func cut(t *testing.T, source string) (string, int) {
	t.Helper()
	before, after, ok := strings.Cut(source, "‸")
	if !ok {
		t.Fatal("no cursor mark")
	}
	return before + after, len(before)
}

func labels(c Completions) []string {
	var all []string
	for _, i := range c.Items {
		all = append(all, i.Label)
	}
	return all
}

func TestComplete(t *testing.T) {
	for _, c := range []struct {
		name, source string
		from         string // what stands before the cursor and is replaced
		has, hasNot  []string
	}{
		{"after the season", head + "func Third(season motion.Season) (table.Table, error) {\n\treturn season.‸\n}\n", "",
			[]string{"Measure", "Len"}, []string{"source", "if", "season"}},
		{"after the season, the line goes on below",
			head + "func Third(season motion.Season) int {\n\tx := season.‸\n\ty := 3\n\treturn y\n}\n", "",
			[]string{"Measure"}, []string{"y"}},
		{"after the season, before a brace", head + "func Third(season motion.Season) int { season.‸}\n", "",
			[]string{"Measure"}, nil},
		{"after the season, nothing closed",
			head + "func Third(season motion.Season) int {\n\tfor i := range 3 {\n\t\tif season.‸", "",
			[]string{"Measure"}, nil},
		{"begun", head + "func Third(season motion.Season) (table.Table, error) {\n\treturn season.Mea‸\n}\n", "Mea",
			[]string{"Measure"}, []string{"Mea"}},
		{"within a name", head + "func Third(season motion.Season) (table.Table, error) {\n\treturn season.Mea‸sure()\n}\n",
			"Mea",
			[]string{"Measure"}, nil},
		{"a package", head + "func Third() float64 { return motion.‸ }\n", "",
			[]string{"ContactOffset", "Season"}, []string{"math", "append"}},
		{"a package as an argument",
			head + "func Third(season motion.Season) (table.Table, error) { return season.Measure(motion.Con‸) }\n", "Con",
			[]string{"ContactOffset"}, nil},
		{"an argument, not closed",
			head + "func Third(season motion.Season) (table.Table, error) {\n\treturn season.Measure(motion.‸\n}\n", "",
			[]string{"ContactOffset"}, nil},
		{"nothing that is refused", head + "import \"time\"\nfunc Third() { time.‸ }\n", "",
			[]string{"Duration"}, []string{"Now", "Sleep"}},
		{"a chain", head + "func Third(contacts table.Table) table.Table {\n\treturn contacts.OrderBy(\"player\").‸\n}\n", "",
			[]string{"Where", "OrderBy"}, nil},
		{"a chain over lines",
			head + "func Third(contacts table.Table) table.Table {\n\treturn contacts.\n\t\tOrderBy(\"player\").\n\t\t‸\n}\n",
			"",
			[]string{"Where", "OrderBy"}, nil},
		{"settings", head + "func Third(settings Settings) float64 { return settings.‸ }\n", "",
			[]string{"Player", "Limit"}, nil},
		{"promoted", head + "func third(n named) float64 { return n.‸ }\n", "",
			[]string{"first", "second", "name", "pair", "sum"}, nil},
		{"through a pointer", head + "func third(n *named) float64 { return n.‸ }\n", "", []string{"first", "sum"}, nil},
		{"a method expression", head + "var f = named.‸\n", "", []string{"sum"}, []string{"name"}},
		{"in scope", head + "func Third(contacts table.Table) int {\n\tlength := 3\n\t‸\n\tlater := 4\n\treturn later\n}\n",
			"",
			[]string{"contacts", "length", "Spread", "Settings", "math", "append", "return", "float64"},
			[]string{"later", "go", "select", "println", placeholder}},
		{"shadowed", head + "func Third(math int) { ‸ }\n", "", []string{"math"}, nil},
		{"after a keyword as a name", head + "func Third(formed int) int { return for‸ }\n", "for", []string{"formed",
			"for"}, nil},
		{"fields of an empty literal", head + "var x = Settings{‸}\n", "", []string{"Player", "Limit"}, []string{"math"}},
		{"fields not set yet", head + "var x = Settings{Player: \"a\", ‸}\n", "", []string{"Limit"}, []string{"Player",
			"math"}},
		{"a field begun", head + "var x = Settings{Li‸}\n", "Li", []string{"Limit", "Player"}, []string{"math"}},
		{"a field begun before its value", head + "var x = Settings{Li‸: 3}\n", "Li", []string{"Limit", "Player"}, nil},
		{"fields of another package", head + "var x = opts.Title{‸}\n", "", []string{"Title", "Subtitle"}, nil},
		{"fields of an element", head + "var x = []pair{{1, 2}, {‸}}\n", "", []string{"first", "second"}, nil},
		{"fields of an element behind a pointer", head + "var x = []*pair{{‸}}\n", "", []string{"first", "second"}, nil},
		{"over lines", head + "var x = Settings{\n\tPlayer: \"a\",\n\t‸\n}\n", "", []string{"Limit"}, []string{"Player"}},
		{"a value", head + "var limit = 3.0\nvar x = Settings{Limit: ‸}\n", "", []string{"limit", "math"},
			[]string{"Player"}},
		{"values without keys", head + "var low = 3.0\nvar x = pair{1, ‸}\n", "", []string{"low"}, []string{"first"}},
		{"elements", head + "var low = 3.0\nvar x = []float64{1, ‸}\n", "", []string{"low"}, nil},
		{"type of a literal", head + "var x = ‸{}\n", "", []string{"Settings"}, nil},
		{"a parameter of a step", head + "func Third(‸) int { return 0 }\n", "",
			[]string{"contacts table.Table", "spread chart.Chart", "season motion.Season", "settings Settings",
				"progress func(done, total int)"},
			[]string{"third int", "math"}},
		{"a further parameter", head + "func Third(contacts table.Table, se‸) int { return 0 }\n", "se",
			[]string{"season motion.Season", "settings Settings"}, []string{"contacts table.Table"}},
		{"the name alone", head + "func Third(con‸ table.Table) int { return 0 }\n", "con", []string{"contacts"}, nil},
		{"the type of a parameter", head + "func Third(contacts tab‸) int { return 0 }\n", "tab", []string{"table",
			"Settings"},
			[]string{"contacts table.Table"}},
		{"a parameter of no step", head + "func third(‸) int { return 0 }\n", "", []string{"Settings"},
			[]string{"contacts table.Table"}},
		{"an import", "package recipe\n\nimport \"tossline/ker‸\"\n", "tossline/ker", []string{"tossline/kernel/motion",
			"math"}, nil},
		{"an import, not closed", "package recipe\n\nimport (\n\t\"math\"\n\t\"tossline/ker‸\n)\n", "tossline/ker",
			[]string{"tossline/kernel/motion"}, []string{"math"}},
		{"the first import", "package recipe\n\nimport \"‸\"\n", "", []string{"math"}, []string{"os"}},
		{"a text", head + "var x = \"season.‸\"\n", "", nil, []string{"Measure", "math"}},
		{"a comment", head + "// season.‸\n", "", nil, []string{"Measure", "math"}},
		{"a number", head + "var x = 3.‸\n", "", nil, []string{"math"}},
		{"the name of a function", head + "func Thi‸() {}\n", "Thi", nil, []string{"math"}},
		{"after nothing known", head + "var x = unknown.‸\n", "", nil, []string{"math"}},
		{"an empty source", "‸", "", nil, nil},
		{"a package clause", "package ‸", "", nil, nil},
		{"beyond ASCII", head + "// Größe\nvar größe = 3\nvar x = gr‸\n", "gr", []string{"größe"}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			source, offset := cut(t, c.source)
			got := Complete(source, offset)
			all := labels(got)
			for _, want := range c.has {
				if !slices.Contains(all, want) {
					t.Errorf("no %q in %.200q", want, all)
				}
			}
			for _, no := range c.hasNot {
				if slices.Contains(all, no) {
					t.Errorf("%q is offered", no)
				}
			}
			if from := source[got.From:offset]; from != c.from && strings.TrimSuffix(from, c.from) == from {
				t.Errorf("replaces %q, want %q", from, c.from)
			}
			if c.has == nil && len(all) > 0 {
				t.Errorf("offers %.200q", all)
			}
		})
	}
}

func TestCompletionsSayWhatTheyAre(t *testing.T) {
	source, offset := cut(t, head+"func Third(season motion.Season, contacts table.Table, settings Settings) { season.‸ }")
	for _, c := range []struct{ name, replace, label, kind, detail, doc string }{
		{"a method", "season.", "Measure", "method", "(ms ...motion.Measure) (table.Table, error)",
			"Measure computes the measures of every serve"},
		{"a field of a setting", "settings.", "Player", "property", "string", "Player to look at."},
		{"a constant", "math.", "Pi", "constant", "untyped float = 3.14159", "https://oeis.org/A000796"},
		{"a function", "strings.", "Cut", "function", "(s string, sep string) (before string, after string, found bool)",
			"Cut slices s around the first instance of sep"},
		{"a type", "motion.", "Season", "type", "struct", "Season"},
		{"a step", "", "Spread", "function", "(contacts table.Table, settings Settings) chart.Chart",
			"Where the ball is met"},
		{"a builtin", "", "append", "function", "(slice []Type, elems ...Type) []Type", "The append built-in function"},
		{"a package", "", "table", "namespace", "tossline/kernel/table", "Package table"},
	} {
		t.Run(c.name, func(t *testing.T) {
			source := strings.Replace(source, "{ season.", "{ "+c.replace, 1)
			for _, i := range Complete(source, offset-len("season.")+len(c.replace)).Items {
				if i.Label == c.label {
					if i.Kind != c.kind || !strings.HasPrefix(i.Detail, c.detail) || !strings.HasPrefix(i.Doc, c.doc) {
						t.Errorf("%+v", i)
					}
					return
				}
			}
			t.Error("is not offered")
		})
	}
}
