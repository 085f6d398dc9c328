package option_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"

	"tossline/kernel/chart/option"
)

func line(values ...any) *charts.Line {
	c := charts.NewLine()
	data := make([]opts.LineData, len(values))
	for i, v := range values {
		data[i].Value = v
	}
	c.SetXAxis([]string{"a", "b", "c"}).AddSeries("one", data)
	return c
}

func TestWhatACodeFreeChartKeeps(t *testing.T) {
	c := line(1.5, math.NaN(), math.Inf(1))
	c.SetGlobalOptions(charts.WithTitleOpts(opts.Title{Title: "<b>bold</b>", Link: "https://example.com"}))
	plain, err := option.Plain(c)
	if err != nil {
		t.Fatal(err)
	}
	encoded, err := option.Encode(plain)
	if err != nil {
		t.Fatal(err)
	}
	var tree struct {
		Series []struct{ Data []struct{ Value any } }
	}
	if err := json.Unmarshal(encoded, &tree); err != nil {
		t.Fatal(err)
	}
	data := tree.Series[0].Data
	if len(data) != 3 || data[0].Value != 1.5 || data[1].Value != nil || data[2].Value != nil {
		t.Errorf("data %v; NaN and infinities are missing", data)
	}
	if strings.Contains(string(encoded), "example.com") {
		t.Error("the link is kept")
	}
}

func TestRefused(t *testing.T) {
	for _, c := range []struct {
		name  string
		chart func() option.Chart
		want  string
	}{
		{"functions", func() option.Chart {
			c := line(1)
			c.AddJSFuncs("alert(1)")
			return c
		}, "JavaScript functions"},
		{"code in a formatter", func() option.Chart {
			c := line(1)
			c.SetGlobalOptions(charts.WithYAxisOpts(opts.YAxis{AxisLabel: &opts.AxisLabel{
				Formatter: opts.FuncOpts("function (v) { return alert(v) }")}}))
			return c
		}, "yAxis"},
		{"map", func() option.Chart { return charts.NewMap() }, ""},
		{"three dimensions", func() option.Chart {
			c := charts.NewScatter3D()
			c.AddSeries("one", []opts.Chart3DData{{Value: []any{1, 2, 3}}})
			return c
		}, `charts of type "scatter3D"`},
		{"too many series", func() option.Chart {
			c := charts.NewLine()
			for range 300 {
				c.AddSeries("one", nil)
			}
			return c
		}, "300 series"},
		{"too many points", func() option.Chart { return line(make([]any, 250_000)...) }, "250000 points"},
		{"a tree that contains itself", func() option.Chart {
			root := &opts.TreeData{Name: "root"}
			root.Children = []*opts.TreeData{root}
			c := charts.NewTree()
			c.AddSeries("one", []opts.TreeData{*root})
			return c
		}, "nested too deeply"},
	} {
		t.Run(c.name, func(t *testing.T) {
			plain, err := option.Plain(c.chart())
			if c.want == "" {
				if err == nil && strings.Contains(toJSON(t, plain), "function") {
					t.Error("code got through")
				}
				return
			}
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
}

func toJSON(t *testing.T, plain map[string]any) string {
	t.Helper()
	b, err := json.Marshal(plain)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// TestChartStaysAsItWas encodes one chart twice.
func TestChartStaysAsItWas(t *testing.T) {
	c := line(1, 2, 3)
	first, err := option.Plain(c)
	if err != nil {
		t.Fatal(err)
	}
	second, err := option.Plain(c)
	if err != nil {
		t.Fatal(err)
	}
	if toJSON(t, first) != toJSON(t, second) {
		t.Error("encoding changed the chart")
	}
	if !strings.Contains(toJSON(t, first), `["a","b","c"]`) {
		t.Errorf("the axis lost its names: %s", toJSON(t, first))
	}
}

func TestNoCodeReachesThePage(t *testing.T) {
	c := line(1)
	c.SetGlobalOptions(
		charts.WithTooltipOpts(opts.Tooltip{Show: opts.Bool(true), Formatter: "<img src=x onerror=alert(1)>"}),
		charts.WithToolboxOpts(opts.Toolbox{Show: opts.Bool(true)}),
	)
	plain, err := option.Plain(c)
	if err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{"onerror", "toolbox", "__f__"} {
		if strings.Contains(toJSON(t, plain), part) {
			t.Errorf("%s got through: %s", part, toJSON(t, plain))
		}
	}
}
