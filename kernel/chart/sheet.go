package chart

import (
	"fmt"
	"maps"
	"strings"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"

	"tossline/kernel/chart/option"
	"tossline/kernel/result"
	"tossline/kernel/table"
)

// The colours, as roles that the page gives its palette's values.
const (
	court = "court" // the data
	clay  = "clay"  // what is chosen
	soft  = "soft"  // words of second rank
	ink   = "ink"   // lines that are read
	line  = "line"  // lines that are not
	in    = "in"    // shaded ground
	paper = "paper" // the ground
)

// sheet is a chart under construction: go-echarts' axes and series, and what go-echarts cannot say, to be added to the
// finished option (dimension names, marks, and the data of the series, which need no check).
type sheet struct {
	rect    *charts.Scatter
	series  []series
	more    map[string]any // of the option itself
	legend  []key          // none where nil
	rows    bool           // a chart of rows: the measure runs along x, down from the top
	shown   int
	left    []result.LeftOut
	data    table.Table
	summary string
	height  int
}

// series is one series: rows of data, each with the serve it stands for.
type series struct {
	charts.SingleSeries
	rows  [][]any
	serve []string // nil where no row stands for a serve
	more  map[string]any
}

func newSheet(points []point, left []result.LeftOut) *sheet {
	return &sheet{rect: charts.NewScatter(), more: map[string]any{}, shown: len(points), left: left, height: 360}
}

// axes sets the axes. go-echarts' own axis types cannot say all of what ECharts' can, such as a style for one name.
func (s *sheet) axes(x map[string]any, ys ...any) {
	s.more["xAxis"], s.more["yAxis"] = []any{x}, ys
}

func (s *sheet) add(one series) { s.series = append(s.series, one) }

// option is the finished ECharts option.
func (s *sheet) option(c Chart) (map[string]any, error) {
	s.rect.SetGlobalOptions(
		charts.WithTitleOpts(opts.Title{Title: c.title}),
		charts.WithLegendOpts(opts.Legend{Show: opts.Bool(len(s.legend) > 0)}),
		charts.WithTooltipOpts(opts.Tooltip{Show: opts.Bool(true), Trigger: "item"}),
	)
	s.rect.MultiSeries = nil
	points := 0
	for _, one := range s.series {
		s.rect.MultiSeries = append(s.rect.MultiSeries, one.SingleSeries)
		points += len(one.rows)
	}
	if points > option.MaxPoints {
		return nil, fmt.Errorf("the chart has %d points; the most is %d: choose fewer serves", points, option.MaxPoints)
	}
	plain, err := option.Plain(s.rect)
	if err != nil {
		return nil, err
	}
	list, _ := plain["series"].([]any)
	for i, one := range list {
		s.finish(one.(map[string]any), s.series[i])
	}
	plain["color"] = []string{"series-1", "series-2", "series-3", "series-4", "series-5", "series-6", "series-7",
		"series-8"}
	plain["grid"] = s.grid(c)
	plain["legend"] = s.legendOption(c)
	maps.Copy(plain, s.more)
	return plain, nil
}

// grid is where the axes stand.
func (s *sheet) grid(c Chart) map[string]any {
	top, right := 24, 16
	if c.title != "" {
		top += 30
	}
	top += legendHeight * s.legendRows()
	if s.rows && c.past != nil {
		right = 7*len([]rune(c.past.words())) - 30 // room for the heading of the counts
	}
	for _, words := range c.guideLabels() {
		if !s.rows {
			right = max(right, 12+7*len([]rune(words)))
		}
	}
	return map[string]any{"left": 8, "right": right, "top": top, "bottom": 28, "containLabel": true}
}

// key explains one series in the legend.
type key struct {
	name, colour, symbol string
	hollow               bool
}

const (
	legendHeight = 24  // px of a row of the legend
	usualWidth   = 700 // px of a chart; wider ones have room to spare
)

// legendRows estimates how many rows the legend takes.
func (s *sheet) legendRows() int {
	if len(s.legend) == 0 {
		return 0
	}
	rows, width := 1, 0
	for _, k := range s.legend {
		w := 42 + 7*len([]rune(k.name))
		if width += w; width > usualWidth {
			rows, width = rows+1, w
		}
	}
	return rows
}

func (s *sheet) legendOption(c Chart) map[string]any {
	if len(s.legend) == 0 {
		return map[string]any{"show": false}
	}
	top := 0
	if c.title != "" {
		top = 30
	}
	var data []any
	for _, k := range s.legend {
		style := map[string]any{"color": k.colour, "opacity": 1, "borderWidth": 0}
		if k.hollow {
			style = map[string]any{"color": "transparent", "borderColor": k.colour, "borderWidth": 1.3, "opacity": 1}
		}
		data = append(data, map[string]any{"name": k.name, "icon": k.symbol, "itemStyle": style})
	}
	return map[string]any{"show": true, "left": 0, "top": top, "itemWidth": 10, "itemHeight": 10, "itemGap": 18,
		"data": data}
}

// progressiveFrom is the number of points from which a series is drawn in pieces, or as one large cloud.
const progressiveFrom = 3000

func (s *sheet) finish(plain map[string]any, one series) {
	plain["data"] = one.rows
	if one.rows == nil {
		plain["data"] = [][]any{}
	}
	if len(one.rows) > progressiveFrom {
		plain["progressive"], plain["progressiveThreshold"] = 2000, progressiveFrom
		switch plain["type"] {
		case "scatter":
			plain["large"], plain["largeThreshold"] = true, progressiveFrom
		case "line":
			plain["showSymbol"], plain["sampling"] = false, "lttb"
		}
	}
	maps.Copy(plain, one.more)
}

// serves ties the points to serves, as result.Chart has it.
func (s *sheet) serves() [][]string {
	ties, any := make([][]string, len(s.series)), false
	for i, one := range s.series {
		ties[i] = one.serve
		any = any || one.serve != nil
	}
	if !any {
		return nil
	}
	return ties
}

// cloud is a scatter of single serves: x, y and the words of the tooltip in each row. told names the axis whose value
// the tooltip tells: 0 for x, 1 for y, 2 for both.
func cloud(name string, standIn bool, colour string, opacity, size float64, told int, names [2]string) series {
	style := &opts.ItemStyle{Color: colour, Opacity: opts.Float(float32(opacity))}
	if standIn {
		style = &opts.ItemStyle{Color: "transparent", BorderColor: colour, BorderWidth: 1.3,
			Opacity: opts.Float(float32(min(1, opacity+0.2)))}
	}
	tell := []int{told}
	if told == 2 {
		tell = []int{0, 1}
	}
	one := series{SingleSeries: charts.SingleSeries{Name: name, Type: "scatter", Symbol: "circle", SymbolSize: size,
		ItemStyle: style}, serve: []string{}}
	if standIn {
		one.Symbol = "diamond"
		one.SymbolSize = size + 2
	}
	one.more = map[string]any{
		"dimensions": []any{map[string]any{"name": "x", "displayName": names[0]},
			map[string]any{"name": "y", "displayName": names[1]}, map[string]any{"name": "serve", "type": "ordinal"}},
		"encode":   map[string]any{"x": 0, "y": 1, "tooltip": tell, "itemName": 2},
		"emphasis": map[string]any{"itemStyle": map[string]any{"opacity": 1, "borderColor": ink, "borderWidth": 1.5}},
	}
	return one
}

// put adds a point.
func (s *series) put(x, y float64, p point) {
	s.rows = append(s.rows, []any{short(x), short(y), p.name})
	if s.serve != nil {
		s.serve = append(s.serve, p.serve)
	}
}

// strokes is one series of separate straight pieces, each from two points and a break.
func strokes(name, colour string, width float32) series {
	return series{SingleSeries: charts.SingleSeries{Name: name, Type: "line", ShowSymbol: opts.Bool(false),
		LineStyle: &opts.LineStyle{Color: colour, Width: width}, ItemStyle: &opts.ItemStyle{Color: colour}},
		more: map[string]any{"silent": true, "tooltip": map[string]any{"show": false}, "z": 4,
			"lineStyle": map[string]any{"color": colour, "width": width, "cap": "round"}}}
}

func (s *series) stroke(x1, y1, x2, y2 float64) {
	s.rows = append(s.rows, []any{short(x1), short(y1)}, []any{short(x2), short(y2)}, []any{nil, nil})
}

// means is the series of the markers of group means.
func means(name, colour string, standIn bool, told int, names [2]string) series {
	one := cloud(name, false, colour, 1, 10, told, names)
	one.serve = nil
	one.more["z"] = 5
	one.ItemStyle = &opts.ItemStyle{Color: colour, BorderColor: paper, BorderWidth: 1.5, Opacity: opts.Float(1)}
	if standIn {
		one.Symbol, one.SymbolSize = "diamond", 12
		one.ItemStyle = &opts.ItemStyle{Color: paper, BorderColor: colour, BorderWidth: 2, Opacity: opts.Float(1)}
	}
	return one
}

// markLine is a line across the chart at a value of an axis ("xAxis" or "yAxis"), its label at the top or at the right.
func markLine(axis string, at float64, colour string, dashed bool, width float64, label, end string) map[string]any {
	style := map[string]any{"color": colour, "width": width, "type": "solid"}
	if dashed {
		style["type"] = []int{3, 4}
	}
	return map[string]any{axis: short(at), "name": label, "lineStyle": style, "label": map[string]any{
		"show": label != "", "formatter": "{b}", "position": end, "color": colour, "distance": 5}}
}

// marks puts guides, the threshold and the sides of the measure's axis on a series that draws nothing itself.
func (s *sheet) marks(c Chart, axis string, r span) series {
	end := "end"
	if s.rows {
		end = "start" // of an axis that runs downwards
	}
	var lines []any
	if c.sides != nil {
		lines = append(lines, markLine(axis, 0, ink, false, 1.2, "", end))
	}
	for _, g := range c.guides {
		lines = append(lines, markLine(axis, g.at, soft, true, 1, g.label, end))
	}
	if c.past != nil {
		lines = append(lines, markLine(axis, c.past.at, clay, true, 1.2, c.past.label, end))
	}
	one := series{SingleSeries: charts.SingleSeries{Name: "marks", Type: "scatter"}, more: map[string]any{
		"silent": true, "tooltip": map[string]any{"show": false}, "z": 1,
		"markLine": map[string]any{"silent": true, "symbol": "none", "animation": false, "data": lines}}}
	if c.sides != nil {
		one.more["markArea"] = map[string]any{"silent": true, "animation": false, "data": c.areas(axis, r)}
	}
	return one
}

// guideLabels lists the words that stand at the ends of lines.
func (c Chart) guideLabels() []string {
	var list []string
	for _, g := range c.guides {
		list = append(list, g.label)
	}
	if c.past != nil {
		list = append(list, c.past.label)
	}
	return list
}

// areas shades the side below zero and names both.
func (c Chart) areas(axis string, s span) []any {
	below, above := "insideTopLeft", "insideTopRight"
	if axis == "yAxis" {
		below, above = "insideBottomRight", "insideTopRight"
	}
	area := func(from, to float64, colour, name, position string) any {
		return []any{
			map[string]any{axis: from, "name": name, "itemStyle": map[string]any{"color": colour},
				"label": map[string]any{"show": name != "", "position": position, "color": soft, "distance": 5}},
			map[string]any{axis: to},
		}
	}
	return []any{
		area(min(s.low, 0), 0, in, c.sides[0], below),
		area(0, max(s.high, 0), "transparent", c.sides[1], above),
	}
}

// covered lists the values that the measure's axis must show besides the data.
func (c Chart) covered() []float64 {
	var list []float64
	if c.sides != nil {
		list = append(list, 0)
	}
	for _, g := range c.guides {
		list = append(list, g.at)
	}
	if c.past != nil {
		list = append(list, c.past.at)
	}
	return list
}

func (c Chart) isHighlighted(group string) bool {
	for _, h := range c.highlight {
		if h == group {
			return true
		}
	}
	return false
}

// values picks the columns behind the chart for its table, with those beside them that say which serve a row is.
func (c Chart) values(columns ...string) table.Table {
	var names []string
	for _, name := range []string{"serve", "player", "session"} {
		if c.table.Has(name) {
			names = append(names, name)
		}
	}
	for _, column := range columns {
		names = append(names, column)
		for id := column; id != ""; id = shorter(id) {
			if c.table.Has(id + "_basis") {
				names = append(names, id+"_basis")
				break
			}
		}
	}
	return c.table.Pick(unique(names)...)
}

// countStandIns says how many of the points come from a stand-in, in words to go into a sentence; "" for none.
func countStandIns(points []point) (int, string) {
	n := 0
	for _, p := range points {
		if p.standIn {
			n++
		}
	}
	if n == 0 {
		return 0, ""
	}
	return n, fmt.Sprintf(" %d of the %d serves are measured from a stand-in.", n, len(points))
}

func sentence(parts []string) string { return strings.Join(parts, "; ") + "." }
