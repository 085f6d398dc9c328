// Recipes that the tests bring along.

export const slow = `// Slow count
//
// Counts for longer than anyone waits.
package recipe

// Counting
//
// It never ends by itself.
func Counting() string {
	n := 0
	for n >= 0 {
		n = (n + 1) % 1000
	}
	return "done"
}
`;

export const long = `// Long table
//
// A hundred thousand rows.
package recipe

import "tossline/kernel/table"

// Rows
func Rows() table.Table {
	numbers := make([]float64, 100000)
	for i := range numbers {
		numbers[i] = float64(i)
	}
	return table.New(table.Number("number", "", numbers))
}
`;

export const two = `// Two limits
//
// Two steps, each with a setting of its own.
package recipe

import "fmt"

// Settings of this recipe.
type Settings struct {
	First  float64 \`min:"0" max:"10" step:"1" default:"3"\` // First limit.
	Second float64 \`min:"0" max:"10" step:"1" default:"5"\` // Second limit.
}

// First
func First(settings Settings) string {
	return fmt.Sprintf("first is %v", settings.First)
}

// Second
func Second(settings Settings) string {
	return fmt.Sprintf("second is %v", settings.Second)
}

// Both
func Both(first, second string) string {
	return first + ", " + second
}
`;
