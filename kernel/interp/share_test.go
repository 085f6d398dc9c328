package interp_test

import (
	"strings"
	"testing"

	"tossline/kernel/interp"
)

// Whatever a step does to another's result, a third one sees it as it was given.
func TestStepsShareNothing(t *testing.T) {
	for _, c := range []struct{ name, declared, typ, made, change, read string }{
		{"slice", "", "[]float64", "[]float64{1}", "a[0] = 2", "a[0]"},
		{"slice of slices", "", "[][]float64", "[][]float64{{1}}", "a[0][0] = 2", "a[0][0]"},
		{"slice of structs", "type s struct{ x float64 }", "[]s", "[]s{{1}}", "a[0].x = 2", "a[0].x"},
		{"slice in a struct", "type s struct{ xs []float64 }", "s", "s{[]float64{1}}", "a.xs[0] = 2", "a.xs[0]"},
		{"struct in a struct", "type s struct{ in t }\ntype t struct{ xs []float64 }", "s", "s{t{[]float64{1}}}",
			"a.in.xs[0] = 2", "a.in.xs[0]"},
		{"array of slices", "", "[2][]float64", "[2][]float64{{1}, {}}", "a[0][0] = 2", "a[0][0]"},
		{"map", "", "map[string]float64", "map[string]float64{\"k\": 1}", "a[\"k\"] = 2", "a[\"k\"]"},
		{"map of slices", "", "map[string][]float64", "map[string][]float64{\"k\": {1}}", "a[\"k\"][0] = 2", "a[\"k\"][0]"},
		{"pointer", "type s struct{ x float64 }", "*s", "&s{1}", "a.x = 2", "a.x"},
		{"anything", "", "[]any", "[]any{[]float64{1}}", "a[0].([]float64)[0] = 2", "a[0].([]float64)[0]"},
		{"slice within itself", "", "[]any", "within()", "a[1] = 2.0", "a[1].(float64)"},
		{"estimate", "", "stats.Sample", "stats.Sample{Values: []float64{1}}", "a.Values[0] = 2", "a.Values[0]"},
	} {
		t.Run(c.name, func(t *testing.T) {
			source := "// T\npackage recipe\n\n" + c.declared + "\n\n" +
				"func within() []any { x := []any{nil, 1.0}; x[0] = x; return x }\n\n" +
				"func A() " + c.typ + " { return " + c.made + " }\n\n" +
				"func B(a " + c.typ + ") float64 { " + c.change + "; return " + c.read + " }\n\n" +
				"func C(a " + c.typ + ", b float64) float64 { return 10*b + " + c.read + " }\n"
			if strings.Contains(c.typ, "stats.") {
				source = strings.Replace(source, "\n\n", "\n\nimport \"tossline/kernel/stats\"\n\n", 1)
			}
			got := run(t, interp.NewSession(players{}), job{Source: source}).last("C")
			if got.Error != nil || len(got.Results) != 1 || *got.Results[0].Number.Value != 21 {
				t.Errorf("%+v, %+v", got, got.Error)
			}
		})
	}
}
