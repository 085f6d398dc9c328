package stats

import (
	"math"
	"slices"
)

// Holm adjusts p-values of several questions asked at once so that those at or below 0.05 hold together with at most
// 5 % chance of any false one (Holm 1979). NaN stays NaN and isn't counted as a question.
func Holm(p []float64) []float64 {
	out, order := ranked(p)
	highest := 0.0
	for rank, i := range order {
		highest = max(highest, float64(len(order)-rank)*p[i])
		out[i] = min(highest, 1)
	}
	return out
}

// BenjaminiHochberg adjusts p-values of several questions asked at once so that of those at or below 0.05 at most 5 %
// are expected to be false (Benjamini & Hochberg 1995). NaN stays NaN and isn't counted as a question.
func BenjaminiHochberg(p []float64) []float64 {
	out, order := ranked(p)
	lowest := 1.0
	for rank := len(order) - 1; rank >= 0; rank-- {
		i := order[rank]
		lowest = min(lowest, p[i]*float64(len(order))/float64(rank+1))
		out[i] = lowest
	}
	return out
}

// ranked gives a list of NaN as long as p, and the places of the p-values that are there, the smallest first.
func ranked(p []float64) (nans []float64, order []int) {
	nans = make([]float64, len(p))
	for i, x := range p {
		nans[i] = math.NaN()
		if !missing(x) {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int {
		switch {
		case p[i] < p[j]:
			return -1
		case p[i] > p[j]:
			return 1
		}
		return 0
	})
	return nans, order
}
