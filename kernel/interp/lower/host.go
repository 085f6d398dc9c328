package lower

import "reflect"

// Exports are the values that written code takes from package "host".
func Exports() map[string]map[string]reflect.Value {
	return map[string]map[string]reflect.Value{"host/host": {
		"MinInt":     reflect.ValueOf(func(a, b int) int { return min(a, b) }),
		"MaxInt":     reflect.ValueOf(func(a, b int) int { return max(a, b) }),
		"MinFloat64": reflect.ValueOf(func(a, b float64) float64 { return min(a, b) }),
		"MaxFloat64": reflect.ValueOf(func(a, b float64) float64 { return max(a, b) }),
		"MinString":  reflect.ValueOf(func(a, b string) string { return min(a, b) }),
		"MaxString":  reflect.ValueOf(func(a, b string) string { return max(a, b) }),
		"ClearMap":   reflect.ValueOf(clearMap),
		"Count":      reflect.ValueOf(count),
		"Runes":      reflect.ValueOf(runes),
		"Spent":      reflect.ValueOf(spent),
	}}
}

// clearMap removes all entries of a map, those under keys that are not a number too.
func clearMap(m any) { reflect.ValueOf(m).Clear() }

// count is the count of a shift.
func count(n int64) uint64 {
	if n < 0 {
		panic(failure("negative shift amount"))
	}
	return uint64(n)
}

// runes are the runes of a string, and where each starts.
func runes(s string) (all []rune, starts []int) {
	all, starts = make([]rune, 0, len(s)), make([]int, 0, len(s))
	for i, r := range s {
		all, starts = append(all, r), append(starts, i)
	}
	return all, starts
}

// spent ends a range over a function that calls the body when it may not: how is -3 while the body runs or after it has
// panicked, -2 after the loop, and else says how the body was left.
func spent(how int) {
	switch how {
	case -2:
		panic(failure("range function continued iteration after whole loop exit"))
	case -3:
		panic(failure("range function continued iteration after loop body panic"))
	}
	panic(failure("range function continued iteration after function for loop body returned false"))
}

// failure is a panic as the run time of Go raises it.
type failure string

func (f failure) Error() string { return "runtime error: " + string(f) }
func (failure) RuntimeError()   {}

// host names a value of package host, and has it imported.
func (w *writer) host(name string) string {
	w.imports["host"] = "host"
	return "host." + name
}
