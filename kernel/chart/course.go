package chart

import (
	"fmt"
	"math"
	"time"

	"tossline/kernel/result"
	"tossline/kernel/table"
)

// Course shows one measure over the season: faint points for the serves of a session, in their order, and each
// session's mean with its 95 % interval, joined by a line for each group. It needs the column "session"; by is a column
// of names, such as "player".
func Course(t table.Table, measure, by string) Chart {
	c := newChart(t, drawCourse, []string{measure}, by, "session")
	c.y, c.by = measure, by
	return c
}

func drawCourse(c Chart) (*sheet, error) {
	points, left := c.points(c.y)
	points, left = dated(points, left)
	s := newSheet(points, left)
	s.data = c.values(c.y, c.by)
	names := [2]string{"Session", axisName(c.table, c.y, c.axis)}
	groups := groupsOf(points)
	width := sessionWidth(points)
	var said []string
	for k, group := range groups {
		look := c.lookOf(k, group, len(groups))
		if len(groups) > 1 && !look.faint {
			s.legend = append(s.legend, key{name: group, colour: look.colour, symbol: look.symbol})
		}
		said = append(said, c.addCourse(s, points, group, look, width, names))
	}
	y := spanOf(valuesOf(points, all), c.covered())
	s.add(s.marks(c, "yAxis", y))
	s.axes(dayAxis(sessionDays(points), width), asY(valueAxis(names[1], y)))
	s.more["useUTC"] = true
	_, standIns := countStandIns(points)
	s.summary = fmt.Sprintf("%s over the season. %s%s", names[1], sentence(said), standIns)
	return s, nil
}

// dated leaves out the points whose session is no date.
func dated(points []point, left []result.LeftOut) ([]point, []result.LeftOut) {
	kept := points[:0:0]
	none := &tally{list: left, place: map[string]int{}}
	for _, p := range points {
		if _, err := time.Parse(time.DateOnly, p.session); err != nil {
			none.add("", "no date", p.serve, false)
			continue
		}
		kept = append(kept, p)
	}
	return kept, none.list
}

// look is how a group is drawn: colour, and symbol and dash as the second code.
type look struct {
	colour, symbol string
	dash           any
	faint          bool
}

var (
	symbols = []string{"circle", "rect", "triangle", "diamond"}
	dashes  = []any{"solid", []int{6, 3}, []int{2, 3}, []int{8, 3, 2, 3}, []int{12, 4}, []int{4, 2}, []int{1, 2},
		"solid"}
)

// lookOf gives the chosen groups clay, the others court; without a choice each group has its own series colour, as far
// as there are eight.
func (c Chart) lookOf(k int, group string, groups int) look {
	switch {
	case c.isHighlighted(group):
		return look{clay, "circle", "solid", false}
	case len(c.highlight) > 0 || groups == 1:
		return look{court, "circle", "solid", len(c.highlight) > 0 && groups > 2}
	}
	return look{fmt.Sprintf("series-%d", k%8+1), symbols[k%4], dashes[k%8], false}
}

// addCourse draws one group, and says its first and last session.
func (c Chart) addCourse(s *sheet, points []point, group string, l look, width float64, names [2]string) string {
	sessions, bySession := sessionsOf(points, group)
	opacity := 0.25
	if l.faint {
		opacity = 0.12
	}
	singles := map[bool]series{false: cloud(group, false, l.colour, opacity, 4, 1, names),
		true: cloud(group, true, l.colour, opacity, 4, 1, names)}
	bars, course := strokes(group, l.colour, 2), courseLine(group, l, names)
	for _, session := range sessions {
		members, day := bySession[session], milliseconds(session)
		for i, p := range members {
			one := singles[p.standIn]
			one.put(day+width*(float64(i+1)/float64(len(members)+1)-0.5), p.value, p)
			singles[p.standIn] = one
		}
		e := estimateOf(valuesOf(members, all))
		if !math.IsNaN(e.low) {
			bars.stroke(day, e.low, day, e.high)
		}
		course.rows = append(course.rows, []any{day, short(e.mean),
			fmt.Sprintf("%s, %s, mean of %d", group, dayInWords(session), e.n)})
	}
	for _, standIn := range []bool{false, true} {
		if len(singles[standIn].rows) > 0 {
			s.add(singles[standIn])
		}
	}
	if len(bars.rows) > 0 && !l.faint {
		s.add(bars)
	}
	s.add(course)
	return sayCourse(group, sessions, bySession, c.table.Unit(c.y))
}

// courseLine joins the means of the sessions.
func courseLine(group string, l look, names [2]string) series {
	width, opacity := 2.0, 1.0
	if l.faint {
		width, opacity = 1.2, 0.32
	}
	one := means(group, l.colour, false, 1, names)
	one.Type, one.Symbol, one.SymbolSize, one.serve = "line", l.symbol, 8, nil
	one.more["lineStyle"] = map[string]any{"color": l.colour, "width": width, "type": l.dash, "opacity": opacity}
	one.more["itemStyle"] = map[string]any{"color": l.colour, "borderColor": paper, "borderWidth": 1,
		"opacity": opacity}
	return one
}

// sessionsOf lists a group's sessions by date, and its points in each.
func sessionsOf(points []point, group string) ([]string, map[string][]point) {
	bySession := map[string][]point{}
	for _, p := range points {
		if p.group == group {
			bySession[p.session] = append(bySession[p.session], p)
		}
	}
	return sortedKeys(bySession), bySession
}

func sayCourse(group string, sessions []string, bySession map[string][]point, unit string) string {
	mean := func(session string) float64 {
		return estimateOf(valuesOf(bySession[session], all)).mean
	}
	first, last := sessions[0], sessions[len(sessions)-1]
	if first == last {
		return fmt.Sprintf("%s: %s on %s", group, say(mean(first), unit, false), dayInWords(first))
	}
	return fmt.Sprintf("%s: %s on %s, %s on %s, %d sessions", group, say(mean(first), unit, false), dayInWords(first),
		say(mean(last), unit, false), dayInWords(last), len(sessions))
}

// milliseconds is the date as ECharts counts time.
func milliseconds(iso string) float64 {
	day, err := time.Parse(time.DateOnly, iso)
	if err != nil {
		return math.NaN()
	}
	return float64(day.UnixMilli())
}

func sessionDays(points []point) []string {
	days := map[string]bool{}
	for _, p := range points {
		days[p.session] = true
	}
	return sortedKeys(days)
}

// sessionWidth is how wide the points of one session are spread: six tenths of the shortest time between two sessions,
// within 0.2 and 2 % of the whole.
func sessionWidth(points []point) float64 {
	days := sessionDays(points)
	if len(days) < 2 {
		return 12 * 3600e3
	}
	whole := milliseconds(days[len(days)-1]) - milliseconds(days[0])
	gap := whole
	for i := 1; i < len(days); i++ {
		gap = min(gap, milliseconds(days[i])-milliseconds(days[i-1]))
	}
	return min(max(0.6*gap, 0.002*whole), 0.02*whole)
}
