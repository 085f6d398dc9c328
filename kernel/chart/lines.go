package chart

import (
	"fmt"
	"math"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"

	"tossline/kernel/table"
)

// Lines shows curves: y over x for each group, in the order of the rows. by is a column of names, or "" for one curve.
func Lines(t table.Table, x, y, by string) Chart {
	c := newChart(t, drawLines, []string{x, y}, by)
	c.x, c.y, c.by = x, y, by
	return c
}

// Band shades the ground from one column to another around each curve of Lines.
func (c Chart) Band(low, high string) Chart {
	if c.err == nil {
		c.err = newChart(c.table, nil, []string{low, high}).err
	}
	c.low, c.high = low, high
	return c
}

func drawLines(c Chart) (*sheet, error) {
	points, _ := c.points(c.x, c.y)
	s := newSheet(nil, nil)
	s.data = c.values(c.x, c.y, c.by)
	names := [2]string{axisName(c.table, c.x, ""), axisName(c.table, c.y, c.axis)}
	groups := groupsOf(points)
	var low, high []float64
	if c.low != "" {
		low, high = c.table.Numbers(c.low), c.table.Numbers(c.high)
		s.data = c.values(c.x, c.y, c.by, c.low, c.high)
	}
	for k, group := range groups {
		l := c.lookOf(k, group, len(groups))
		if len(groups) > 1 {
			s.legend = append(s.legend, key{name: group, colour: l.colour, symbol: "circle"})
		}
		if low != nil {
			s.addBand(points, group, l, low, high)
		}
		s.addCurve(points, group, l, names)
	}
	x, y := spanOf(valuesOf(points, all)), spanOf(others(points), low, high, c.covered())
	x.low, x.high = tight(valuesOf(points, all), x)
	s.add(s.marks(c, "yAxis", y))
	s.axes(valueAxis(names[0], x), asY(valueAxis(names[1], y)))
	s.more["tooltip"] = map[string]any{"show": true, "trigger": "axis", "axisPointer": map[string]any{"type": "line",
		"lineStyle": map[string]any{"color": soft}}}
	s.summary = fmt.Sprintf("%s over %s: %d curves.", names[1], names[0], len(groups))
	return s, nil
}

// tight is the range of the values themselves: a curve fills its chart from edge to edge.
func tight(values []float64, s span) (float64, float64) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range values {
		low, high = min(low, v), max(high, v)
	}
	if low >= high {
		return s.low, s.high
	}
	return low, high
}

func (s *sheet) addCurve(points []point, group string, l look, names [2]string) {
	one := series{SingleSeries: charts.SingleSeries{Name: group, Type: "line", ShowSymbol: opts.Bool(false),
		ItemStyle: &opts.ItemStyle{Color: l.colour}},
		more: map[string]any{"z": 4, "lineStyle": map[string]any{"color": l.colour, "width": 2.2, "type": l.dash},
			"dimensions": []any{map[string]any{"name": "x", "displayName": names[0]},
				map[string]any{"name": "y", "displayName": names[1]}}}}
	for _, p := range points {
		if p.group == group {
			one.rows = append(one.rows, []any{short(p.value), short(p.other)})
		}
	}
	s.add(one)
}

// addBand shades from low to high: an invisible line at low, and the distance to high stacked on it.
func (s *sheet) addBand(points []point, group string, l look, low, high []float64) {
	part := func(name string, opacity float64) series {
		return series{SingleSeries: charts.SingleSeries{Name: name, Type: "line", Stack: "band of " + group,
			ShowSymbol: opts.Bool(false)},
			more: map[string]any{"silent": true, "stackStrategy": "all", "tooltip": map[string]any{"show": false},
				"lineStyle": map[string]any{"opacity": 0}, "z": 2,
				"areaStyle": map[string]any{"color": l.colour, "opacity": opacity}}}
	}
	floor, band := part("", 0), part("", 0.16)
	for _, p := range points {
		if p.group != group {
			continue
		}
		from, to := low[p.row], high[p.row]
		if math.IsNaN(from) || math.IsNaN(to) {
			floor.rows = append(floor.rows, []any{short(p.value), nil})
			band.rows = append(band.rows, []any{short(p.value), nil})
			continue
		}
		floor.rows = append(floor.rows, []any{short(p.value), short(from)})
		band.rows = append(band.rows, []any{short(p.value), short(to - from)})
	}
	s.add(floor)
	s.add(band)
}
