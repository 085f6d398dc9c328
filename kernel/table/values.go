package table

import "math"

// Values gives a column as values of JSON: float64 for numbers, string for everything else, nil where one is missing.
// Like Numbers it panics with an *Error on an unknown column.
func (t Table) Values(column string) []any {
	values := make([]any, t.Len())
	if kind := t.Type(column); kind == "number" || kind == "integer" {
		for i, v := range t.Numbers(column) {
			if !math.IsNaN(v) && !math.IsInf(v, 0) {
				values[i] = v
			}
		}
		return values
	}
	for i, v := range t.Texts(column) {
		if v != "" {
			values[i] = v
		}
	}
	return values
}
