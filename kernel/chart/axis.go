package chart

import (
	"math"
	"strconv"
	"strings"

	"tossline/kernel/table"
	"tossline/kernel/words"
)

// span is the range of an axis: round ends, and the distance between its lines.
type span struct{ low, high, step float64 }

// spanOf covers the values with about five lines at multiples of 1, 2 or 5 times a power of ten.
func spanOf(values ...[]float64) span {
	low, high := math.Inf(1), math.Inf(-1)
	for _, list := range values {
		for _, v := range list {
			if !math.IsNaN(v) && !math.IsInf(v, 0) {
				low, high = min(low, v), max(high, v)
			}
		}
	}
	if low > high {
		low, high = 0, 1
	}
	if low == high {
		spread := max(math.Abs(low)*0.1, 1e-3)
		low, high = low-spread, high+spread
	}
	step := roundStep((high - low) / 5)
	return span{tidy(math.Floor(low/step+1e-9) * step), tidy(math.Ceil(high/step-1e-9) * step), step}
}

func roundStep(raw float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5} {
		if raw <= m*power*1.0000001 {
			return m * power
		}
	}
	return 10 * power
}

// tidy rounds to 12 significant digits, so that -0.30000000000000004 is written -0.3.
func tidy(x float64) float64 { return significant(x, 12) }

// short rounds to what a screen can show: six digits, and times in milliseconds to whole ones.
func short(x float64) float64 {
	if math.Abs(x) > 1e9 {
		return math.Round(x)
	}
	return significant(x, 6)
}

// significant rounds to n significant digits.
func significant(x float64, n int) float64 {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', n, 64), 64)
	if err != nil {
		return x
	}
	return rounded
}

// axisName is the title of a column and its unit: "Contact offset, m".
func axisName(t table.Table, column, title string) string {
	if title == "" {
		title = t.Title(column)
	}
	title = words.Capital(title)
	if unit := unitInWords(t.Unit(column)); unit != "" {
		return title + ", " + unit
	}
	return title
}

func unitInWords(unit string) string {
	return strings.ReplaceAll(unit, "deg", "°")
}

// say writes a value with its unit for a sentence, to about three digits: "+0.12 m" where signed, "62°".
func say(x float64, unit string, signed bool) string {
	text := strconv.FormatFloat(x, 'f', decimals(x, unit), 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	} else if signed && x > 0 {
		text = "+" + text
	}
	text = strings.Replace(text, "-", "\u2212", 1)
	switch u := unitInWords(unit); {
	case u == "":
		return text
	case strings.HasPrefix(u, "°") || u == "%":
		return text + strings.Replace(u, "%", " %", 1)
	default:
		return text + " " + u
	}
}

// decimals is how many places a value of the unit is worth.
func decimals(x float64, unit string) int {
	switch unit {
	case "m", "s":
		return 2
	case "deg", "deg/s":
		return 0
	case "%", "m/s":
		return 1
	}
	switch a := math.Abs(x); {
	case a >= 100 || a == math.Trunc(a):
		return 0
	case a >= 10:
		return 1
	}
	return 2
}

// valueAxis is an axis of numbers with faint lines; x axes have their name below, y axes beside.
func valueAxis(name string, s span) map[string]any {
	return map[string]any{"type": "value", "name": name, "nameLocation": "middle", "nameGap": 30,
		"min": s.low, "max": s.high, "interval": s.step,
		"axisLine": map[string]any{"show": false, "onZero": false}, "axisTick": hidden, "splitLine": faint}
}

// asY turns an axis into a vertical one, its name above it, where it can be read without turning the head.
func asY(axis map[string]any) map[string]any {
	axis["nameLocation"], axis["nameGap"] = "end", 12
	axis["nameTextStyle"] = map[string]any{"align": "left"}
	return axis
}

// nameAxes are the three vertical axes of rows of names: the names at the left, a hidden axis of numbers on which row i
// is i, for points between the rows, and words at the right, under a heading.
func nameAxes(names, words []any, heading string) []any {
	bare := func(data []any, position, colour string) map[string]any {
		return map[string]any{"type": "category", "data": data, "position": position, "inverse": true,
			"axisLine": hidden, "axisTick": hidden, "splitLine": hidden,
			"axisLabel": map[string]any{"interval": 0, "color": colour}}
	}
	between := map[string]any{"type": "value", "min": -0.5, "max": float64(len(names)) - 0.5, "inverse": true,
		"show": false, "splitLine": hidden}
	right := bare(words, "right", soft)
	right["name"], right["nameLocation"], right["nameGap"] = heading, "start", 8
	right["nameTextStyle"] = map[string]any{"align": "left", "padding": []int{0, 0, 0, 8}}
	return []any{bare(names, "left", ink), between, right}
}

// nameLabel is the name of a row, with weight where it is chosen.
func (c Chart) nameLabel(name string) any {
	style := map[string]any{"color": ink}
	if c.isHighlighted(name) {
		style = map[string]any{"color": clay, "fontWeight": "bold"}
	}
	return map[string]any{"value": name, "textStyle": style}
}

// dayAxis is an axis of dates from the first to the last of the days, with some of them written.
func dayAxis(days []string, margin float64) map[string]any {
	axis := map[string]any{"type": "time", "splitLine": hidden,
		"axisLine":  map[string]any{"show": true, "onZero": false, "lineStyle": map[string]any{"color": line}},
		"axisLabel": map[string]any{"formatter": "{d} {MMM}"}}
	if len(days) == 0 {
		return axis
	}
	first, last := milliseconds(days[0]), milliseconds(days[len(days)-1])
	axis["min"], axis["max"] = first-margin, last+margin
	written := []float64{first}
	for _, day := range days[1:] {
		if at := milliseconds(day); at-written[len(written)-1] >= (last-first)/9 {
			written = append(written, at)
		}
	}
	axis["axisLabel"] = map[string]any{"formatter": "{d} {MMM}", "customValues": written}
	axis["axisTick"] = map[string]any{"show": true, "customValues": written, "lineStyle": map[string]any{"color": line}}
	return axis
}

var (
	hidden = map[string]any{"show": false}
	faint  = map[string]any{"show": true, "lineStyle": map[string]any{"color": line}}
)
