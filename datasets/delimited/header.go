package delimited

import (
	"strings"

	"tossline/datasets/tabular"
)

// mergeHeader makes one title for each column out of all rows of the header, and takes a row of units out of it.
// A row that holds x, y and z names the coordinates of the row above, where names stand over the first column of
// their group alone or over each.
func mergeHeader(rows [][]string) (titles, units []string) {
	units = make([]string, len(rows[0]))
	for i := range rows {
		if len(rows) > 1 && (isUnitRow(rows[i]) || i > 0 && sameWords(rows[i])) {
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
	above := ""
	for c, axis := range rows[axes] {
		if name := rows[axes-1][c]; name != "" {
			above = name
		}
		if _, ok := tabular.Axis(axis); ok && above != "" {
			titles = append(titles, above+"_"+axis[:1])
		} else if axis == "" {
			titles = append(titles, rows[axes-1][c])
		} else {
			titles = append(titles, axis)
		}
	}
	return titles, units
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
