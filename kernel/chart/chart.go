// Package chart draws tables of serves: charts made for the questions that are asked of a season.
//
//	Strip      one measure by player (or session, or level): each serve a point, each mean with its interval
//	Course     one measure over the season, by session
//	Scatter    two measures against each other
//	Histogram  how one measure is spread
//	Intervals  estimates with their intervals, one a row
//	Bars       one number a row
//	Lines      curves, with or without a band
//
// A chart is made of a [table.Table] and the names of its columns, then refined by methods that return a changed copy:
//
//	chart.Strip(contacts, "contact_offset_m", "player").
//		Sides("inside", "outside the hitting shoulder").
//		Highlight(settings.Player)
//
// # What every chart does
//
// Axes carry title and unit of their columns. Rows without a value are not drawn but counted, with the reasons in the
// column "<measure>_missing" beside the measure. Values from a stand-in (the column "<measure>_basis" says so) are
// drawn with a hollow symbol, have means of their own and are counted. Where the table has a column "serve", each
// point knows its serve. Means come with the 95 % interval of Student's t, serves taken as independent. Nothing is
// random: the same table gives the same chart.
//
// An error of the table, or a column that it lacks, is the chart's error, told when the chart is shown ([Chart.Err]).
//
// Charts are built with go-echarts; a recipe may as well return a go-echarts chart of its own.
package chart

import (
	"tossline/kernel/chart/option"
	"tossline/kernel/result"
	"tossline/kernel/table"
)

// Chart is one chart, an immutable value.
type Chart struct {
	table table.Table
	draw  func(Chart) (*sheet, error)
	err   error

	x, y, by  string // columns
	low, high string // columns of an interval or band

	title     string
	axis      string
	highlight []string
	sides     *[2]string
	guides    []guide
	past      *threshold
	fits      []fit
	height    int
}

// guide is a line at a value of the measure.
type guide struct {
	at    float64
	label string
}

// threshold marks the serves on one side of a value.
type threshold struct {
	guide
	below bool
}

// words are "over the limit" or "under the limit".
func (p *threshold) words() string {
	if p.below {
		return "under " + p.label
	}
	return "over " + p.label
}

// marks tells whether a serve lies past the threshold. A stand-in is not judged by a limit meant for the real thing: a
// hand never hangs as low as a racket.
func (p *threshold) marks(s point) bool {
	if p == nil || s.standIn {
		return false
	}
	return p.below && s.value < p.at || !p.below && s.value > p.at
}

// make starts a chart of a table, which must have the columns; those in numeric must hold numbers.
func newChart(t table.Table, draw func(Chart) (*sheet, error), numeric []string, others ...string) Chart {
	c := Chart{table: t, draw: draw}
	c.err = t.Pick(unique(append(append([]string(nil), numeric...), others...))...).Err()
	for _, column := range numeric {
		if c.err == nil {
			// Between is asked for its complaint about a column that holds no numbers.
			c.err = t.First(0).Between(column, 0, 0).Err()
		}
	}
	return c
}

// Err is what keeps the chart from being drawn, or nil.
func (c Chart) Err() error { return c.err }

// Titled puts a title above the chart. Most charts need none: the step's heading stands above them.
func (c Chart) Titled(title string) Chart {
	c.title = title
	return c
}

// Axis names the axis of the measure in other words than the column's title; the unit is added.
func (c Chart) Axis(words string) Chart {
	c.axis = words
	return c
}

// Highlight draws these players (or other groups) in the colour of what is chosen.
func (c Chart) Highlight(groups ...string) Chart {
	c.highlight = append(append([]string(nil), c.highlight...), groups...)
	return c
}

// Sides marks zero with a line, shades what is below it, and writes what each side means: Sides("inside", "outside").
func (c Chart) Sides(below, above string) Chart {
	c.sides = &[2]string{below, above}
	return c
}

// Guide draws a thin line at a value of the measure, with a label.
func (c Chart) Guide(at float64, label string) Chart {
	c.guides = append(append([]guide(nil), c.guides...), guide{at, label})
	return c
}

// MarkAbove draws a line at a limit and marks the serves above it, which are counted. Stand-ins are not marked.
func (c Chart) MarkAbove(limit float64, label string) Chart {
	c.past = &threshold{guide{limit, label}, false}
	return c
}

// MarkBelow draws a line at a limit and marks the serves below it, which are counted. Stand-ins are not marked.
func (c Chart) MarkBelow(limit float64, label string) Chart {
	c.past = &threshold{guide{limit, label}, true}
	return c
}

// Tall sets the height in pixels at full width, from 120 to 2000.
func (c Chart) Tall(pixels int) Chart {
	c.height = min(max(pixels, 120), 2000)
	return c
}

// EncodeResult implements result.Encoder.
func (c Chart) EncodeResult() (result.Result, []result.Attachment, error) {
	if c.err != nil {
		return result.Result{}, nil, c.err
	}
	if c.draw == nil {
		return result.Result{}, nil, errNothing
	}
	s, err := c.draw(c)
	if err != nil {
		return result.Result{}, nil, err
	}
	plain, err := s.option(c)
	if err != nil {
		return result.Result{}, nil, err
	}
	encoded, err := option.Encode(plain)
	if err != nil {
		return result.Result{}, nil, err
	}
	data, attached, err := result.Of(s.data)
	if err != nil {
		return result.Result{}, nil, err
	}
	drawn := &result.Chart{Option: encoded, HeightP: s.height, Summary: s.summary, Serves: s.serves(), Data: data}
	if c.height > 0 {
		drawn.HeightP = c.height
	}
	return result.Result{Kind: result.KindChart, Chart: drawn, Serves: s.shown, LeftOut: s.left}, attached, nil
}

func unique(names []string) []string {
	var list []string
	seen := map[string]bool{}
	for _, n := range names {
		if n != "" && !seen[n] {
			seen[n] = true
			list = append(list, n)
		}
	}
	return list
}
