package chart

import (
	"fmt"
	"math"
	"slices"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"
	"gonum.org/v1/gonum/stat"

	"tossline/kernel/table"
)

// Histogram counts the serves in classes of one measure. The classes are as wide as Freedman & Diaconis (1981) advise,
// rounded to 1, 2 or 5 times a power of ten.
func Histogram(t table.Table, measure string) Chart {
	c := newChart(t, drawHistogram, []string{measure})
	c.x = measure
	return c
}

func drawHistogram(c Chart) (*sheet, error) {
	points, left := c.points(c.x)
	s := newSheet(points, left)
	s.data = c.values(c.x)
	s.height = 300
	values := valuesOf(points, all)
	edges, counts := classes(values)
	name := axisName(c.table, c.x, c.axis)
	bars := series{SingleSeries: charts.SingleSeries{Name: "serves", Type: "bar", BarWidth: "97%",
		ItemStyle: &opts.ItemStyle{Color: court, Opacity: opts.Float(0.75)}},
		more: map[string]any{"encode": map[string]any{"x": 0, "y": 1, "tooltip": []int{1}, "itemName": 2},
			"dimensions": []any{map[string]any{"name": "x"}, map[string]any{"name": "y", "displayName": "Serves"},
				map[string]any{"name": "class", "type": "ordinal"}}}}
	most := 0.0
	for i, n := range counts {
		most = max(most, float64(n))
		low, high := edges[i], edges[i+1]
		bars.rows = append(bars.rows, []any{tidy((low + high) / 2), n, fmt.Sprintf("%v to %v", low, high)})
	}
	s.add(bars)
	x := spanOf(edges, c.covered())
	s.add(s.marks(c, "xAxis", x))
	s.axes(valueAxis(name, x), asY(valueAxis("Serves", spanOf([]float64{0, max(most, 1)}))))
	e := estimateOf(append([]float64{}, values...))
	_, standIns := countStandIns(points)
	if len(values) == 0 {
		s.summary = name + ": no serve has a value."
	} else {
		mean := say(e.mean, c.table.Unit(c.x), false)
		s.summary = fmt.Sprintf("%s of %d serves, mean %s.%s", name, e.n, mean, standIns)
	}
	return s, nil
}

// classes gives the edges of the classes and the count in each; the last class has its upper edge.
func classes(values []float64) ([]float64, []int) {
	if len(values) == 0 {
		return []float64{0, 1}, []int{0}
	}
	sorted := slices.Sorted(slices.Values(values))
	low, high := sorted[0], sorted[len(sorted)-1]
	quartiles := stat.Quantile(0.75, stat.LinInterp, sorted, nil) - stat.Quantile(0.25, stat.LinInterp, sorted, nil)
	raw := 2 * quartiles / math.Cbrt(float64(len(values)))
	if raw <= 0 || (high-low)/raw > 100 {
		raw = (high - low) / (1 + math.Log2(float64(len(values)))) // Sturges (1926)
	}
	if raw <= 0 {
		raw = max(math.Abs(low)*0.1, 1e-3)
	}
	step := roundStep(raw)
	first := math.Floor(low / step)
	n := int(math.Floor(high/step)-first) + 1
	edges, counts := make([]float64, n+1), make([]int, n)
	for i := range edges {
		edges[i] = tidy((first + float64(i)) * step)
	}
	for _, v := range values {
		counts[min(max(int(math.Floor(v/step)-first), 0), n-1)]++
	}
	return edges, counts
}
