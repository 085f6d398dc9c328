package host

import (
	"cmp"
	"maps"
	"slices"
)

// compiledFor are generic functions compiled for one type of element.
func compiledFor[E cmp.Ordered](element string) map[string]any {
	return map[string]any{
		"cmp_Compare_" + element:         cmp.Compare[E],
		"slices_Sort_" + element:         slices.Sort[[]E],
		"slices_Contains_" + element:     slices.Contains[[]E],
		"slices_Index_" + element:        slices.Index[[]E],
		"slices_Max_" + element:          slices.Max[[]E],
		"slices_Min_" + element:          slices.Min[[]E],
		"slices_BinarySearch_" + element: slices.BinarySearch[[]E],
		"slices_IsSorted_" + element:     slices.IsSorted[[]E],
		"slices_Equal_" + element:        slices.Equal[[]E],
		"slices_Reverse_" + element:      slices.Reverse[[]E],
		"slices_Clone_" + element:        slices.Clone[[]E],
		"slices_Compact_" + element:      slices.Compact[[]E],
	}
}

func addCompiled(functions map[string]any) {
	maps.Copy(functions, compiledFor[int]("int"))
	maps.Copy(functions, compiledFor[float64]("float64"))
	maps.Copy(functions, compiledFor[string]("string"))
}

// Order gives the order in which slices.SortFunc puts n things.
func Order(n int, cmp func(i, j int) int) []int {
	all := indices(n)
	slices.SortFunc(all, cmp)
	return all
}

// StableOrder gives the order in which slices.SortStableFunc puts n things.
func StableOrder(n int, cmp func(i, j int) int) []int {
	all := indices(n)
	slices.SortStableFunc(all, cmp)
	return all
}

func indices(n int) []int {
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	return all
}
