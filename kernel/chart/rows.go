package chart

import (
	"fmt"
	"math"
	"slices"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"

	"tossline/kernel/table"
)

// Intervals shows an estimate with its interval in each row: a column of names, and three of numbers. A row without low
// and high is drawn as a dot alone.
func Intervals(t table.Table, name, value, low, high string) Chart {
	c := newChart(t, drawIntervals, []string{value, low, high}, name)
	c.by, c.x, c.low, c.high = name, value, low, high
	return c
}

func drawIntervals(c Chart) (*sheet, error) {
	points, left := c.points(c.x)
	s := c.rowSheet(points)
	s.left = left
	lows, highs := c.table.Numbers(c.low), c.table.Numbers(c.high)
	unit, names := c.table.Unit(c.x), [2]string{axisName(c.table, c.x, c.axis), ""}
	bars, dots := map[bool]series{}, map[[2]bool]series{}
	var said []string
	var words []any
	first := c.firstRow()
	for i, p := range points {
		row := float64(i + first)
		chosen := c.isHighlighted(p.group)
		bar, dot := c.meanSeries(bars, dots, chosen, p.standIn, names)
		e := estimate{mean: p.value, low: lows[p.row], high: highs[p.row]}
		words = append(words, say(e.mean, unit, c.sides != nil))
		if !math.IsNaN(e.low) && !math.IsNaN(e.high) {
			bar.stroke(e.low, row, e.high, row)
			words[i] = fmt.Sprintf("%s  (%s to %s)", words[i], say(e.low, "", false), say(e.high, "", false))
		}
		dot.put(p.value, row, point{name: p.group, serve: p.serve})
		bars[chosen], dots[[2]bool{chosen, p.standIn}] = bar, dot
		said = append(said, fmt.Sprintf("%s %s", p.group, words[i]))
	}
	s.addInOrder(bars, dots)
	x := spanOf(valuesOf(points, all), lows, highs, c.covered())
	s.add(s.marks(c, "xAxis", x))
	s.axes(valueAxis(names[0], x), c.namedRows(points, words)...)
	s.summary = fmt.Sprintf("%s. %s", names[0], sentence(said))
	return s, nil
}

// Bars shows one number in each row, from zero.
func Bars(t table.Table, name, value string) Chart {
	c := newChart(t, drawBars, []string{value}, name)
	c.by, c.x = name, value
	return c
}

func drawBars(c Chart) (*sheet, error) {
	points, left := c.points(c.x)
	s := c.rowSheet(points)
	s.left = left
	unit, axis := c.table.Unit(c.x), axisName(c.table, c.x, c.axis)
	bars := series{SingleSeries: charts.SingleSeries{Name: axis, Type: "bar", BarWidth: "56%",
		ItemStyle: &opts.ItemStyle{Color: court}}, more: map[string]any{}}
	var said []string
	var words []any
	data := make([]any, c.firstRow())
	bars.serve = make([]string, c.firstRow())
	for i, p := range points {
		words = append(words, say(p.value, unit, false))
		said = append(said, fmt.Sprintf("%s %s", p.group, words[i]))
		colour := court
		if c.isHighlighted(p.group) {
			colour = clay
		}
		data = append(data, map[string]any{"value": short(p.value), "name": p.group,
			"itemStyle": map[string]any{"color": colour, "opacity": 0.8}})
		bars.serve = append(bars.serve, p.serve)
	}
	bars.more["data"] = data
	s.add(bars)
	x := spanOf(valuesOf(points, all), []float64{0}, c.covered())
	s.add(s.marks(c, "xAxis", x))
	s.axes(valueAxis(axis, x), c.namedRows(points, words)...)
	s.summary = fmt.Sprintf("%s. %s", axis, sentence(said))
	return s, nil
}

// rowSheet starts a chart whose rows are those of the table.
func (c Chart) rowSheet(points []point) *sheet {
	s := newSheet(points, nil)
	s.rows = true
	s.height = 92 + rowHeight*max(len(points)+c.firstRow(), 2)
	s.data = c.table
	if !c.table.Has("serve") {
		s.shown = 0
	}
	return s
}

// namedRows are the axes of rows, each with its value in words at the right.
func (c Chart) namedRows(points []point, words []any) []any {
	room := make([]any, c.firstRow())
	for i := range room {
		room[i] = ""
	}
	names := slices.Clone(room)
	for _, p := range points {
		names = append(names, c.nameLabel(p.group))
	}
	return nameAxes(names, append(room, words...), "")
}

// firstRow leaves room above for the names of the sides.
func (c Chart) firstRow() int {
	if c.sides != nil {
		return 1
	}
	return 0
}
