// Package host is what lowered recipes call: the parts of today's Go that the interpreter doesn't do, or not right.
package host

import (
	"reflect"
	"unicode/utf8"
)

// Exports are the values of this package for the interpreter. A traced recipe leaves its trail.
func Exports(trail *Trail) map[string]map[string]reflect.Value {
	functions := map[string]any{
		"MinInt":     func(a, b int) int { return min(a, b) },
		"MaxInt":     func(a, b int) int { return max(a, b) },
		"MinFloat64": func(a, b float64) float64 { return min(a, b) },
		"MaxFloat64": func(a, b float64) float64 { return max(a, b) },
		"MinString":  func(a, b string) string { return min(a, b) },
		"MaxString":  func(a, b string) string { return max(a, b) },
		"ClearMap":   ClearMap, "Count": Count, "Runes": Runes, "Spent": Spent,
		"NewType": NewType, "Any": Any, "Box": Box, "BoxError": BoxError, "BoxStringer": BoxStringer, "Sorter": Sorter,
		"Is": Is, "As": As, "To": To, "Open": Open, "Equal": Equal, "Method": Method, "Bound": Bound,
		"AsError": AsError, "AsStringer": AsStringer, "Find": Find, "Lacks": Lacks, "Panic": Panic, "Printable": Printable,
		"Format": Format, "At": At, "AtUnsigned": AtUnsigned, "Between": Between,
		"Run": Run, "Token": Token, "Deep": Deep, "Order": Order, "StableOrder": StableOrder,
	}
	symbols := map[string]reflect.Value{
		"Type":   reflect.ValueOf((*Type)(nil)),
		"Defers": reflect.ValueOf((*Defers)(nil)),
	}
	addCompiled(functions)
	if trail != nil {
		functions["Enter"] = trail.enter
	}
	for name, f := range functions {
		symbols[name] = reflect.ValueOf(f)
	}
	return map[string]map[string]reflect.Value{"host/host": symbols}
}

// ClearMap removes all entries of a map, those under keys that are not a number too.
func ClearMap(m any) { reflect.ValueOf(m).Clear() }

// Count is the count of a shift.
func Count(n int64) uint64 {
	if n < 0 {
		panic(failure("negative shift amount"))
	}
	return uint64(n)
}

// Runes are the runes of a string, and where each starts.
func Runes(s string) (all []rune, starts []int) {
	n := utf8.RuneCountInString(s)
	all, starts = make([]rune, 0, n), make([]int, 0, n)
	for i, r := range s {
		all, starts = append(all, r), append(starts, i)
	}
	return all, starts
}

// Spent ends a range over a function that calls the body when it may not: how is -3 while the body runs or after it has
// panicked, -2 after the loop, and else says how the body was left.
func Spent(how int) {
	switch how {
	case -2:
		panic(failure("range function continued iteration after whole loop exit"))
	case -3:
		panic(failure("range function continued iteration after loop body panic"))
	}
	panic(failure("range function continued iteration after function for loop body returned false"))
}

// Panic panics.
func Panic(v any) { panic(v) }

// failure is a panic as the run time of Go raises it.
type failure string

func (f failure) Error() string { return "runtime error: " + string(f) }

// RuntimeError makes a failure a runtime.Error.
func (failure) RuntimeError() {}

// mismatch is a failed type assertion.
type mismatch string

func (m mismatch) Error() string { return "interface conversion: " + string(m) }

// RuntimeError makes a mismatch a runtime.Error.
func (mismatch) RuntimeError() {}
