package language

import (
	"reflect"
	"strings"
	"testing"
)

func TestHover(t *testing.T) {
	for _, c := range []struct{ name, source, over, says string }{
		{"a method", head + "func Third(season motion.Season) (table.Table, error) { return season.Mea‸sure() }\n", "Measure",
			"func (motion.Season) Measure(ms ...motion.Measure) (table.Table, error)\n\nMeasure computes"},
		{"its beginning", head + "func Third(season motion.Season) (table.Table, error) { return season.‸Measure() }\n",
			"Measure", "func (motion.Season) Measure"},
		{"its end", head + "func Third(season motion.Season) (table.Table, error) { return season.Measure‸() }\n",
			"Measure", "func (motion.Season) Measure"},
		{"a function", head + "var x = math.Sq‸rt(2)\n", "Sqrt",
			"func math.Sqrt(x float64) float64\n\nSqrt returns the square root of x."},
		{"a package", head + "var x = ma‸th.Sqrt(2)\n", "math", "package math\n\nPackage math provides"},
		{"an import", "package recipe\n\nimport \"tossline/kernel/ta‸ble\"\n", "\"tossline/kernel/table\"",
			"package tossline/kernel/table\n\nPackage table"},
		{"a type", head + "var x tab‸le.Table\nvar y table.Ta‸ble\n", "table", "package tossline/kernel/table"},
		{"a constant", head + "const width = 3 * 4\nvar x = wid‸th\n", "width", "const width untyped int = 12"},
		{"a field", head + "func Third(settings Settings) string { return settings.Pla‸yer }\n", "Player",
			"field Player string\n\nPlayer to look at."},
		{"a parameter bound to a step", head + "func Third(con‸tacts table.Table) int { return 0 }\n", "contacts",
			"var contacts table.Table\n\nThe first result of step Contacts: What was measured"},
		{"its use", head + "func Third(contacts table.Table) int { return cont‸acts.Len() }\n", "contacts",
			"var contacts table.Table\n\nThe first result of step Contacts: What was measured"},
		{"a parameter of no step", head + "func third(con‸tacts table.Table) int { return 0 }\n", "contacts",
			"var contacts table.Table"},
		{"a step", head + "var x = Spr‸ead\n", "Spread",
			"func Spread(contacts table.Table, settings Settings) chart.Chart\n\nWhere the ball is met"},
		{"a type of the recipe", head + "var x Set‸tings\n", "Settings", "type Settings struct\n\nSettings of this recipe."},
		{"a predeclared function", head + "var x = le‸n(\"a\")\n", "len",
			"func len(v Type) int\n\nThe len built-in function"},
		{"a predeclared type", head + "var x flo‸at64\n", "float64",
			"type float64 float64\n\nfloat64 is the set of all IEEE 754"},
		{"a variable", head + "func third() { for i, x := range []float64{1} { _, _ = i, x‸ } }\n", "x", "var x float64"},
		{"a generic function", head + "func third[T any](v T) T { return v }\nvar x = thi‸rd(3)\n", "third",
			"func third[T any](v T) T"},
		{"a broken line elsewhere",
			head + "func Third(season motion.Season) (table.Table, error) {\n\tx := season.\n\n}\nvar y = ma‸th.Pi\n", "math",
			"package math"},
		{"a keyword", head + "fu‸nc third() {}\n", "", ""},
		{"a space", head + "  ‸  \n", "", ""},
		{"a comment", head + "// ma‸th\n", "", ""},
		{"nothing known", head + "var x = unkno‸wn\n", "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			source, offset := cut(t, c.source)
			source = strings.Replace(source, "‸", "", 1)
			got := HoverAt(source, offset)
			over, said := source[got.From:got.To], got.Text
			if over != c.over || !strings.HasPrefix(said, c.says) || (c.says == "") != (said == "") {
				t.Errorf("over %q: %.300q", over, got.Text)
			}
		})
	}
}

func TestDefinition(t *testing.T) {
	for _, c := range []struct{ name, source, leadsTo string }{
		{"a parameter bound to a step", head + "func Third(con‸tacts table.Table) int { return 0 }\n", "Contacts(season"},
		{"its use", head + "func Third(contacts table.Table) int { return cont‸acts.Len() }\n", "Contacts(season"},
		{"a parameter of no step", head + "func third(contacts table.Table) int { return cont‸acts.Len() }\n",
			"contacts table.Table) int"},
		{"the settings", head + "func Third(settings Settings) string { return sett‸ings.Player }\n", "Settings struct"},
		{"a setting", head + "func Third(settings Settings) string { return settings.Pla‸yer }\n", "Player string"},
		{"a function", head + "var x = one‸()\nfunc one() int { return 1 }\n", "one() int"},
		{"a variable", head + "func third() int {\n\tlength := 3\n\treturn leng‸th\n}\n", "length := 3"},
		{"a method", head + "var x = named{}.su‸m()\n", "sum() float64"},
		{"the season", head + "func Third(season motion.Season) int { return sea‸son.Len() }\n", "season motion.Season) int"},
		{"a package", head + "var x = ma‸th.Pi\n", "\"math\""},
		{"another package's function", head + "var x = math.Sq‸rt(2)\n", ""},
		{"a predeclared function", head + "var x = le‸n(\"a\")\n", ""},
		{"a space", head + "  ‸  \n", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			source, offset := cut(t, c.source)
			got := DefinitionAt(source, offset)
			if c.leadsTo == "" {
				if got != (Definition{}) {
					t.Errorf("leads to %+v", got)
				}
				return
			}
			lines := strings.Split(source, "\n")
			if got.Line < 1 || got.Line > len(lines) || !strings.HasPrefix(lines[got.Line-1][got.Column-1:], c.leadsTo) {
				t.Errorf("leads to %+v, want %q", got, c.leadsTo)
			}
		})
	}
}

func TestSignature(t *testing.T) {
	for _, c := range []struct {
		name, source string
		want         Signature // Doc is a beginning
	}{
		{"a method, nothing closed", head + "func Third(contacts table.Table) table.Table {\n\treturn contacts.Where(‸\n}\n",
			Signature{"Where(column string, values ...string) table.Table", "Where", []string{"column string",
				"values ...string"}, 0}},
		{"the second", head + "func Third(contacts table.Table) table.Table {\n\treturn contacts.Where(\"a\", ‸)\n}\n",
			Signature{"Where(column string, values ...string) table.Table", "Where", []string{"column string",
				"values ...string"}, 1}},
		{"a variadic one's third",
			head + "func Third(contacts table.Table) table.Table {\n\treturn contacts.Where(\"a\", \"b\", \"c‸\")\n}\n",
			Signature{"Where(column string, values ...string) table.Table", "Where", []string{"column string",
				"values ...string"}, 1}},
		{"too many", head + "var x = math.Pow(1, 2, ‸)\n",
			Signature{"Pow(x float64, y float64) float64", "Pow returns", []string{"x float64", "y float64"}, 2}},
		{"the inner of two", head + "var x = math.Pow(1, math.Max(2, ‸\n",
			Signature{"Max(x float64, y float64) float64", "Max returns", []string{"x float64", "y float64"}, 1}},
		{"the outer, behind the inner", head + "var x = math.Pow(math.Max(2, 3), ‸)\n",
			Signature{"Pow(x float64, y float64) float64", "Pow returns", []string{"x float64", "y float64"}, 1}},
		{"commas in a literal", head + "var x = math.Pow([]float64{1, 2, 3}[0], ‸)\n",
			Signature{"Pow(x float64, y float64) float64", "Pow returns", []string{"x float64", "y float64"}, 1}},
		{"over lines", head + "var x = math.Pow(\n\t1,\n\t‸\n)\n",
			Signature{"Pow(x float64, y float64) float64", "Pow returns", []string{"x float64", "y float64"}, 1}},
		{"a function of the recipe", head + "func sum(of ...float64) float64 { return 0 }\nvar x = sum(‸)\n",
			Signature{"sum(of ...float64) float64", "", []string{"of ...float64"}, 0}},
		{"a generic function", head + "func pick[T any](from []T, i int) T { return from[i] }\nvar x = pick([]int{1}, ‸)\n",
			Signature{"pick[T any](from []T, i int) T", "", []string{"from []T", "i int"}, 1}},
		{"a function value", head + "var f func(int) int\nvar x = f(‸)\n", Signature{"f(int) int", "", []string{"int"}, 0}},
		{"a predeclared function", head + "var x = append([]int{}, ‸)\n",
			Signature{"append(slice []Type, elems ...Type) []Type", "The append built-in", []string{"slice []Type",
				"elems ...Type"}, 1}},
		{"in the body of a function literal", head + "var x = math.Pow(func() float64 {\n\t‸\n}(), 2)\n", Signature{}},
		{"a group", head + "var x = (‸)\n", Signature{}},
		{"parameters of a declaration", head + "func Third(‸) int { return 0 }\n", Signature{}},
		{"behind a call", head + "var x = math.Pow(1, 2)‸\n", Signature{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			source, offset := cut(t, c.source)
			got := SignatureAt(source, offset)
			if !strings.HasPrefix(got.Doc, c.want.Doc) {
				t.Errorf("doc %q", got.Doc)
			}
			if got.Doc = c.want.Doc; !reflect.DeepEqual(got, c.want) {
				t.Errorf("got  %+v\nwant %+v", got, c.want)
			}
		})
	}
}

func TestFormat(t *testing.T) {
	got, err := Format("package recipe\nfunc  Third( )  int{ return 0 }\n")
	if want := "package recipe\n\nfunc Third() int { return 0 }\n"; got != want || err != nil {
		t.Errorf("%q, %v", got, err)
	}
	_, err = Format("package recipe\n\nfunc Third( {\n")
	if err == nil || !strings.HasPrefix(err.Error(), "line 3, column 13: ") || !strings.HasSuffix(err.Error(),
		"; correct it and format again") {
		t.Error(err)
	}
}

// Whatever stands in a source, its questions are answered, within the source.
func FuzzQuestions(f *testing.F) {
	f.Add(head+"func Third(season motion.Season) { season.", 10_000)
	f.Add("package recipe\n\nfunc A(a int) int { return a.b.c(1, []int{", 40)
	f.Add("package recipe\n\nimport \"", 24)
	f.Add("package recipe\n\nvar größe = struct{ ä int }{ä: größe.", 60)
	f.Fuzz(func(t *testing.T, source string, offset int) {
		if len(source) > 2000 {
			return // the checker is fuzzed on its own
		}
		offset = min(offset, len(source))
		if c := Complete(source, offset); c.Items == nil || offset >= 0 && (c.From < 0 || c.From > offset) {
			t.Errorf("completes from %d", c.From)
		}
		if h := HoverAt(source, offset); h.From < 0 || h.To > len(source) || h.From > h.To {
			t.Errorf("hovers from %d to %d", h.From, h.To)
		}
		if s := SignatureAt(source, offset); s.Active < 0 || s.Active > len(s.Params) {
			t.Errorf("parameter %d of %d", s.Active, len(s.Params))
		}
		if d := DefinitionAt(source, offset); d.Line > strings.Count(source, "\n")+1 {
			t.Errorf("defined in line %d", d.Line)
		}
	})
}

// Wherever the cursor is, and wherever the source breaks off, there is an answer.
func TestEveryOffsetIsAnswered(t *testing.T) {
	source := head + "func Third(contacts table.Table, settings Settings) float64 {\n" +
		"\tx := math.Pow(settings.Limit, 2)\n" +
		"\tfor i, s := range strings.Fields(\"a b\") {\n\t\t_, _ = i, s\n\t}\n\treturn x\n}\n"
	for _, text := range []string{source, source[:len(source)/2], source[:len(source)-60]} {
		for offset := -1; offset <= len(text)+1; offset += 7 {
			Complete(text, offset)
			HoverAt(text, offset)
			SignatureAt(text, offset)
			DefinitionAt(text, offset)
		}
	}
}
