package chart

import (
	"fmt"
	"math"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"

	"tossline/kernel/table"
)

// Scatter shows two measures against each other, each serve a point. by is a column of names that tells groups apart,
// or "" for one group.
func Scatter(t table.Table, x, y, by string) Chart {
	c := newChart(t, drawScatter, []string{x, y}, by)
	c.x, c.y, c.by = x, y, by
	return c
}

// fit is a straight line over a range of x.
type fit struct {
	name             string
	intercept, slope float64
}

// Fit draws the line y = intercept + slope x of a group over the range of its points; with the group "" it is drawn
// over all of them, in ink.
func (c Chart) Fit(group string, intercept, slope float64) Chart {
	c.fits = append(append([]fit(nil), c.fits...), fit{name: group, intercept: intercept, slope: slope})
	return c
}

func drawScatter(c Chart) (*sheet, error) {
	points, left := c.points(c.x, c.y)
	s := newSheet(points, left)
	s.data = c.values(c.x, c.y, c.by)
	s.height = 400
	names := [2]string{axisName(c.table, c.x, ""), axisName(c.table, c.y, "")}
	groups := groupsOf(points)
	looks := map[string]look{}
	for k, group := range groups {
		looks[group] = c.lookOf(k, group, len(groups))
		if l := looks[group]; len(groups) > 1 && !l.faint {
			s.legend = append(s.legend, key{name: group, colour: l.colour, symbol: l.symbol})
		}
		c.addCloud(s, points, group, looks[group], names)
	}
	for _, f := range c.fits {
		c.addFit(s, points, f, looks)
	}
	x, y := spanOf(valuesOf(points, all)), spanOf(others(points), c.covered())
	s.add(s.marks(c, "yAxis", y))
	s.axes(valueAxis(names[0], x), asY(valueAxis(names[1], y)))
	_, standIns := countStandIns(points)
	s.summary = fmt.Sprintf("%s against %s: %d serves", names[1], names[0], len(points))
	if len(groups) > 1 {
		s.summary += fmt.Sprintf(" in %d groups", len(groups))
	}
	s.summary += "." + standIns
	return s, nil
}

func (c Chart) addCloud(s *sheet, points []point, group string, l look, names [2]string) {
	for _, standIn := range []bool{false, true} {
		one := cloud(group, standIn, l.colour, 0.45, 6, 2, names)
		if !standIn {
			one.Symbol = l.symbol
		}
		for _, p := range points {
			if p.group == group && p.standIn == standIn {
				one.put(p.value, p.other, p)
			}
		}
		if len(one.rows) > 0 {
			s.add(one)
		}
	}
}

func (c Chart) addFit(s *sheet, points []point, f fit, looks map[string]look) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range points {
		if f.name == "" || p.group == f.name {
			low, high = min(low, p.value), max(high, p.value)
		}
	}
	if low > high || math.IsNaN(f.slope) || math.IsNaN(f.intercept) {
		return
	}
	colour := ink
	if f.name != "" {
		colour = looks[f.name].colour
	}
	one := series{SingleSeries: charts.SingleSeries{Name: f.name, Type: "line", ShowSymbol: opts.Bool(false)},
		rows: [][]any{{low, short(f.intercept + f.slope*low)}, {high, short(f.intercept + f.slope*high)}},
		more: map[string]any{"silent": true, "z": 4, "lineStyle": map[string]any{"color": colour, "width": 2}}}
	s.add(one)
}

func others(points []point) []float64 {
	list := make([]float64, len(points))
	for i, p := range points {
		list[i] = p.other
	}
	return list
}
