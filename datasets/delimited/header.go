package delimited

import (
	"strings"

	"tossline/datasets/tabular"
)

// mergeHeader makes one title for each column out of all rows of the header, and takes a row of units out of it.
// A row that holds x, y and z names the coordinates of a row above, where names stand over the first column of their
// group alone or over each.
func mergeHeader(rows [][]string) (titles, units []string) {
	units = make([]string, len(rows[0]))
	for i := range rows {
		if len(rows) > 1 && (isUnitRow(rows[i]) || i == len(rows)-1 && sameWords(rows[i])) {
			for c, u := range rows[i] {
				units[c] = strings.ToLower(strings.Trim(u, "[]() "))
			}
			rows = append(rows[:i:i], rows[i+1:]...)
			break
		}
	}
	axes := len(rows) - 1
	if axes == 0 || !isAxisRow(rows[axes]) {
		return append([]string(nil), rows[axes]...), units
	}
	names := nameRow(rows)
	above := ""
	for c, axis := range rows[axes] {
		if name := rows[names][c]; name != "" {
			above = name
		}
		if _, ok := tabular.Axis(axis); ok && above != "" {
			titles = append(titles, above+"_"+axis[:1])
		} else if axis == "" {
			titles = append(titles, lowest(rows, c))
		} else {
			titles = append(titles, axis)
		}
	}
	return titles, units
}

// nameRow is the row above the last that has the most names over its x, y and z: others say what kind of point it is,
// or whose.
func nameRow(rows [][]string) int {
	axes, best, most := len(rows)-1, len(rows)-2, 0
	for i := range axes {
		names := map[string]bool{}
		for c, axis := range rows[axes] {
			if _, ok := tabular.Axis(axis); ok && rows[i][c] != "" {
				names[rows[i][c]] = true
			}
		}
		if len(names) > most {
			best, most = i, len(names)
		}
	}
	return best
}

// lowest is the last text of a column.
func lowest(rows [][]string, column int) string {
	for i := len(rows) - 1; i >= 0; i-- {
		if text := rows[i][column]; text != "" {
			return text
		}
	}
	return ""
}

func isUnitRow(row []string) bool {
	some := false
	for _, f := range row {
		f = strings.ToLower(strings.Trim(f, "[]() "))
		if !tabular.IsUnit(f) {
			return false
		}
		some = some || tabular.IsLength(f)
	}
	return some
}

// sameWords reports whether a row below the titles has one word over and over, but for a column or two: it is a unit
// that is not known.
func sameWords(row []string) bool {
	count := map[string]int{}
	for _, f := range row {
		count[f]++
		if _, axis := tabular.Axis(f); count[f] >= 3 && count[f] >= len(row)-2 && f != "" && !axis {
			return true
		}
	}
	return false
}

func isAxisRow(row []string) bool {
	axes := 0
	for _, f := range row {
		if _, ok := tabular.Axis(f); ok {
			axes++
		}
	}
	return axes >= 3 && 2*axes >= len(row)
}
