package lower

import (
	"maps"
	"slices"
	"strconv"
)

func itoa(n int) string { return strconv.Itoa(n) }

func quote(s string) string { return strconv.Quote(s) }

func sorted[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

// float writes a number so that it reads as one of floating point.
func float(f float64) string {
	s := strconv.FormatFloat(f, 'g', -1, 64)
	for _, r := range s {
		if r == '.' || r == 'e' {
			return s
		}
	}
	return s + ".0"
}
