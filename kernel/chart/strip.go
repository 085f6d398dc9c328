package chart

import (
	"fmt"
	"math"

	"tossline/kernel/table"
)

// Strip shows one measure by group, one row a group in the table's order: each serve a point, each mean a dot with its
// 95 % interval. by is a column of names, such as "player".
func Strip(t table.Table, measure, by string) Chart {
	c := newChart(t, drawStrip, []string{measure}, by)
	c.x, c.by = measure, by
	return c
}

const rowHeight = 28 // px of a row of groups

func drawStrip(c Chart) (*sheet, error) {
	points, left := c.points(c.x)
	rows := groupsOf(points)
	s := newSheet(points, left)
	s.data = c.values(c.x, c.by)
	names := [2]string{axisName(c.table, c.x, c.axis), ""}
	s.rows = true
	if c.sides != nil {
		rows = append([]string{""}, rows...) // room for the names of the sides
	}
	s.height = 92 + rowHeight*max(len(rows), 2)
	place := map[string]int{}
	for i, r := range rows {
		place[r] = i
	}
	for _, one := range c.clouds(points, 0, names) {
		for _, p := range one.points {
			one.put(p.value, float64(place[p.group])+0.32*jitter(p), p)
		}
		one.YAxisIndex = 1
		s.add(one.series)
	}
	said := c.addMeans(s, points, rows, names)
	s.legend = c.legendFor(points)
	x := spanOf(valuesOf(points, all), c.covered())
	s.add(s.marks(c, "xAxis", x))
	s.axes(valueAxis(names[0], x), c.rowAxes(points, rows)...)
	_, standIns := countStandIns(points)
	s.summary = fmt.Sprintf("%s by %s. %s%s", names[0], c.table.Title(c.by), sentence(said), standIns)
	return s, nil
}

// drawn is a series with the points that go into it.
type drawn struct {
	series
	points []point
}

// clouds shares the points among series: chosen or not, past the limit or not, measured or from a stand-in.
func (c Chart) clouds(points []point, told int, names [2]string) []drawn {
	var list []drawn
	for kind := range 8 {
		chosen, past, standIn := kind&4 != 0, kind&2 != 0, kind&1 != 0
		var members []point
		for _, p := range points {
			if c.isHighlighted(p.group) == chosen && c.past.marks(p) == past && p.standIn == standIn {
				members = append(members, p)
			}
		}
		if members == nil {
			continue
		}
		colour, opacity, size := court, 0.3, 5.0
		if chosen {
			colour, opacity = clay, 0.5
		}
		if past {
			opacity, size = opacity+0.35, 6.5
		}
		list = append(list, drawn{cloud(seriesName(past, standIn, c.past), standIn, colour, opacity, size, told, names),
			members})
	}
	return list
}

const (
	nameMeasured = "serve"
	nameStandIn  = "serve, from a stand-in"
	nameMean     = "mean and 95 % interval"
)

func seriesName(past, standIn bool, limit *threshold) string {
	name := nameMeasured
	if standIn {
		name = nameStandIn
	}
	if past {
		name += ", " + limit.words()
	}
	return name
}

// legendFor explains the symbols where there is more than one kind.
func (c Chart) legendFor(points []point) []key {
	standIns, _ := countStandIns(points)
	if standIns == 0 {
		return nil
	}
	var list []key
	for _, past := range []bool{false, true} {
		if len(valuesOf(points, func(p point) bool { return !p.standIn && c.past.marks(p) == past })) > 0 {
			list = append(list, key{name: seriesName(past, false, c.past), colour: court, symbol: "circle"})
		}
	}
	return append(list, key{name: nameStandIn, colour: court, symbol: "diamond", hollow: true})
}

// addMeans draws each group's mean and interval, of measured values and of stand-ins apart, and says them.
func (c Chart) addMeans(s *sheet, points []point, rows []string, names [2]string) []string {
	var said []string
	bars, dots := map[bool]series{}, map[[2]bool]series{}
	for i, row := range rows {
		chosen := c.isHighlighted(row)
		for _, standIn := range []bool{false, true} {
			values := valuesOf(points, func(p point) bool { return p.group == row && p.standIn == standIn })
			if len(values) == 0 {
				continue
			}
			e, y := estimateOf(values), float64(i)
			if standIn && c.hasBoth(points, row) {
				y += 0.2
			}
			bar, dot := c.meanSeries(bars, dots, chosen, standIn, names)
			if !math.IsNaN(e.low) {
				bar.stroke(e.low, y, e.high, y)
			}
			dot.put(e.mean, y, point{name: fmt.Sprintf("%s, mean of %d", row, e.n)})
			bars[chosen], dots[[2]bool{chosen, standIn}] = bar, dot
			said = append(said, sayEstimate(row, e, c.table.Unit(c.x), c.sides != nil))
		}
	}
	s.addInOrder(bars, dots)
	return said
}

// addInOrder adds intervals below means, and what is chosen above the rest.
func (s *sheet) addInOrder(bars map[bool]series, dots map[[2]bool]series) {
	for _, chosen := range []bool{false, true} {
		if bar, ok := bars[chosen]; ok {
			s.add(bar)
		}
	}
	for _, key := range [][2]bool{{false, false}, {false, true}, {true, false}, {true, true}} {
		if dot, ok := dots[key]; ok {
			s.add(dot)
		}
	}
}

// meanSeries are the series that a mean of this kind goes into, made when first needed.
func (c Chart) meanSeries(bars map[bool]series, dots map[[2]bool]series, chosen, standIn bool, names [2]string) (
	bar, dot series) {
	colour := court
	if chosen {
		colour = clay
	}
	bar, ok := bars[chosen]
	if !ok {
		bar = strokes(nameMean, colour, 3)
		bar.YAxisIndex = 1
	}
	dot, ok = dots[[2]bool{chosen, standIn}]
	if !ok {
		dot = means("mean", colour, standIn, 0, names)
		dot.YAxisIndex = 1
	}
	return bar, dot
}

func (c Chart) hasBoth(points []point, group string) bool {
	seen := map[bool]bool{}
	for _, p := range points {
		if p.group == group {
			seen[p.standIn] = true
		}
	}
	return len(seen) == 2
}

func sayEstimate(name string, e estimate, unit string, signed bool) string {
	said := fmt.Sprintf("%s %s", name, say(e.mean, unit, signed))
	if !math.IsNaN(e.low) {
		said += fmt.Sprintf(" (95 %% interval %s to %s)", say(e.low, unit, signed), say(e.high, unit, signed))
	}
	return said + fmt.Sprintf(", n = %d", e.n)
}

// rowAxes are the rows' names, and how many serves each has.
func (c Chart) rowAxes(points []point, rows []string) []any {
	names, counts := make([]any, len(rows)), make([]any, len(rows))
	for i, row := range rows {
		names[i], counts[i] = c.nameLabel(row), c.countOf(points, row)
	}
	heading := ""
	if c.past != nil {
		heading = c.past.words()
	}
	return nameAxes(names, counts, heading)
}

// countOf says at the right of a row how many serves it has, or how many of them lie past the threshold.
func (c Chart) countOf(points []point, row string) string {
	in := func(standIn bool) int {
		return len(valuesOf(points, func(p point) bool { return p.group == row && p.standIn == standIn }))
	}
	past := len(valuesOf(points, func(p point) bool { return p.group == row && c.past.marks(p) }))
	measured, standIns := in(false), in(true)
	switch {
	case measured+standIns == 0:
		return ""
	case c.past == nil:
		return fmt.Sprintf("n = %d", measured+standIns)
	case measured == 0:
		return fmt.Sprintf("%d stand-ins", standIns)
	}
	return fmt.Sprintf("%d of %d", past, measured)
}
