package chart_test

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"tossline/kernel/chart"
	"tossline/kernel/result"
	"tossline/kernel/table"
)

// serves is a small table as a season's Measure gives it: one serve without a value, one from a stand-in.
func serves() table.Table {
	missing := math.NaN()
	return table.New(
		table.Text("serve", []string{"s1", "s2", "s3", "s4", "s5", "s6", "s7", "s8"}),
		table.Text("player", []string{"Ada", "Ada", "Ada", "Ada", "Ada", "Bo", "Bo", "Bo"}),
		table.Text("session", []string{"2026-03-01", "2026-03-01", "2026-03-08", "2026-03-08", "2026-03-08",
			"2026-03-01", "2026-03-08", "2026-03-08"}),
		table.Number("offset_m", "m", []float64{0.10, 0.20, 0.30, 0.40, 0.50, -0.10, missing, -0.30}).Titled("Offset"),
		table.Text("offset_basis", []string{"ball", "ball", "ball", "ball", "ball", "ball", "", "hand (stand-in)"}),
		table.Text("offset_missing", []string{"", "", "", "", "", "", "gap at contact", ""}),
		table.Number("height_m", "m", []float64{2.1, 2.2, 2.3, 2.4, 2.5, 2.0, 2.1, 2.2}).Titled("Height"),
	)
}

// drawn is an encoded chart, opened up.
type drawn struct {
	result.Result
	option struct {
		Series []struct {
			Name, Type string
			Data       []json.RawMessage
		}
	}
}

func draw(t *testing.T, c chart.Chart) drawn {
	t.Helper()
	r, _, err := c.EncodeResult()
	if err != nil {
		t.Fatal(err)
	}
	d := drawn{Result: r}
	if err := json.Unmarshal(r.Chart.Option, &d.option); err != nil {
		t.Fatal(err)
	}
	return d
}

// points gives the x values (or y, along = 1) of every point that stands for a serve, by serve.
func (d drawn) points(t *testing.T, along int) map[string]float64 {
	t.Helper()
	out := map[string]float64{}
	for s, ids := range d.Chart.Serves {
		for i, id := range ids {
			if id == "" {
				continue
			}
			var value []any
			if err := json.Unmarshal(d.option.Series[s].Data[i], &value); err != nil {
				t.Fatal(err)
			}
			out[id] = value[along].(float64)
		}
	}
	return out
}

func TestEveryServeIsWhereItsValueIs(t *testing.T) {
	offsets := map[string]float64{"s1": 0.1, "s2": 0.2, "s3": 0.3, "s4": 0.4, "s5": 0.5, "s6": -0.1, "s8": -0.3}
	heights := map[string]float64{"s1": 2.1, "s2": 2.2, "s3": 2.3, "s4": 2.4, "s5": 2.5, "s6": 2.0, "s8": 2.2}
	for _, c := range []struct {
		name  string
		chart chart.Chart
		along int
		want  map[string]float64
	}{
		{"strip", chart.Strip(serves(), "offset_m", "player"), 0, offsets},
		{"course", chart.Course(serves(), "offset_m", "player"), 1, offsets},
		{"scatter, across", chart.Scatter(serves(), "offset_m", "height_m", "player"), 0, offsets},
		{"scatter, up", chart.Scatter(serves(), "offset_m", "height_m", "player"), 1, heights},
		{"strip with limit and highlight", chart.Strip(serves(), "offset_m", "player").MarkAbove(0.25, "limit").
			Highlight("Ada").Sides("inside", "outside"), 0, offsets},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := draw(t, c.chart)
			got := d.points(t, c.along)
			for id, want := range c.want {
				if value, found := got[id]; !found || math.Abs(value-want) > 1e-9 {
					t.Errorf("%s is at %v (%v), want %v", id, value, found, want)
				}
			}
			if len(got) != len(c.want) {
				t.Errorf("%d serves drawn, want %d: %v", len(got), len(c.want), got)
			}
			if d.Serves != 7 || len(d.LeftOut) != 1 || !strings.Contains(d.LeftOut[0].Reason, "gap at contact") ||
				!slices.Equal(d.LeftOut[0].Serves, []string{"s7"}) {
				t.Errorf("%d serves, left out %+v", d.Serves, d.LeftOut)
			}
			if d.Chart.Summary == "" || d.Chart.HeightP < 100 || d.Chart.Data == nil {
				t.Errorf("no summary, height or numbers: %+v", d.Chart)
			}
		})
	}
}

// TestMeanAndInterval holds the summary's numbers against t(0.975, 4) = 2.776 (NIST/SEMATECH e-Handbook, section
// 1.3.6.7.2): the mean of 0.1 ... 0.5 is 0.3, its standard deviation 0.158114, so the interval is 0.3 +- 0.1963.
func TestMeanAndInterval(t *testing.T) {
	d := draw(t, chart.Strip(serves(), "offset_m", "player"))
	for _, want := range []string{"Ada", "0.30", "0.10", "0.50"} {
		if !strings.Contains(d.Chart.Summary, want) {
			t.Errorf("the summary lacks %s: %s", want, d.Chart.Summary)
		}
	}
	low, high := 0.3-2.776*0.158114/math.Sqrt(5), 0.3+2.776*0.158114/math.Sqrt(5)
	text := string(d.Chart.Option)
	for _, want := range []float64{low, high} {
		if !holdsNumber(t, text, want, 2e-4) {
			t.Errorf("no %v in the chart", want)
		}
	}
}

// holdsNumber says whether a JSON text has a number close to want.
func holdsNumber(t *testing.T, text string, want, within float64) bool {
	t.Helper()
	var tree any
	if err := json.Unmarshal([]byte(text), &tree); err != nil {
		t.Fatal(err)
	}
	var search func(any) bool
	search = func(v any) bool {
		switch v := v.(type) {
		case float64:
			return math.Abs(v-want) <= within
		case []any:
			return slices.ContainsFunc(v, search)
		case map[string]any:
			for _, one := range v {
				if search(one) {
					return true
				}
			}
		}
		return false
	}
	return search(tree)
}

// TestStandInsAreNotMixed has the one value from a stand-in drawn, counted, and in no mean of measured ones.
func TestStandInsAreNotMixed(t *testing.T) {
	d := draw(t, chart.Strip(serves(), "offset_m", "player"))
	if !strings.Contains(d.Chart.Summary, "stand-in") {
		t.Errorf("the summary is silent on stand-ins: %s", d.Chart.Summary)
	}
	if holdsNumber(t, string(d.Chart.Option), -0.2, 1e-9) {
		t.Error("the mean of a measured -0.1 and a stand-in's -0.3 was drawn")
	}
}

func TestErrors(t *testing.T) {
	for _, c := range []struct {
		name  string
		chart chart.Chart
		want  string
	}{
		{"no such measure", chart.Strip(serves(), "ofset_m", "player"), `no column "ofset_m"`},
		{"no such group", chart.Course(serves(), "offset_m", "team"), `no column "team"`},
		{"text where numbers are needed", chart.Histogram(serves(), "player"), "player"},
		{"error of the table", chart.Strip(serves().OrderBy("nothing"), "offset_m", "player"), `no column "nothing"`},
		{"band without column", chart.Lines(serves(), "offset_m", "height_m", "player").Band("low", "high"), `"low"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, _, err := c.chart.EncodeResult()
			if err == nil || !strings.Contains(err.Error(), c.want) || c.chart.Err() == nil {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
}

// TestNothingToDraw has charts of no rows, of missing values alone and of one serve.
func TestNothingToDraw(t *testing.T) {
	for name, part := range map[string]table.Table{
		"no rows":     serves().First(0),
		"all missing": serves().Where("serve", "s7"),
		"one serve":   serves().Where("serve", "s1"),
	} {
		t.Run(name, func(t *testing.T) {
			for _, c := range []chart.Chart{
				chart.Strip(part, "offset_m", "player"), chart.Course(part, "offset_m", "player"),
				chart.Scatter(part, "offset_m", "height_m", "player"), chart.Histogram(part, "offset_m"),
				chart.Bars(part, "player", "offset_m"), chart.Lines(part, "height_m", "offset_m", "player"),
				chart.Intervals(part, "player", "offset_m", "offset_m", "offset_m"),
			} {
				r, _, err := c.EncodeResult()
				if err != nil {
					t.Error(err)
				} else if text := string(r.Chart.Option); strings.Contains(text, "NaN") || strings.Contains(text, "Inf") {
					t.Error(text)
				}
			}
		})
	}
}

// TestRefinementsAreCopies refines one chart twice.
func TestRefinementsAreCopies(t *testing.T) {
	plain := chart.Strip(serves(), "offset_m", "player")
	before := string(draw(t, plain).Chart.Option)
	_ = plain.Highlight("Ada").MarkBelow(0, "zero").Guide(0.1, "a line").Titled("title").Axis("axis").Tall(900)
	if after := string(draw(t, plain).Chart.Option); after != before {
		t.Error("a method changed the chart that it was called on")
	}
	if again := string(draw(t, chart.Strip(serves(), "offset_m", "player")).Chart.Option); again != before {
		t.Error("the same table gives another chart")
	}
}

// TestNamesAreText has names that a page could take for code.
func TestNamesAreText(t *testing.T) {
	name := `<img src=x onerror="alert(1)">`
	hostile := table.New(
		table.Text("player", []string{name, name, "__f__function(){}__f__"}),
		table.Number("x_m", "m", []float64{1, 2, 3}),
	)
	r, _, err := chart.Strip(hostile, "x_m", "player").EncodeResult()
	if err != nil {
		return // a refusal is safe
	}
	var tree any
	if err := json.Unmarshal(r.Chart.Option, &tree); err != nil {
		t.Fatal(err)
	}
	var search func(v any)
	search = func(v any) {
		switch v := v.(type) {
		case []any:
			for _, one := range v {
				search(one)
			}
		case map[string]any:
			for key, one := range v {
				if key == "formatter" || key == "renderItem" {
					if text, ok := one.(string); ok && (strings.Contains(text, "<img") || strings.Contains(text, "function")) {
						t.Errorf("%s holds %q", key, text)
					}
				}
				search(one)
			}
		}
	}
	search(tree)
}
