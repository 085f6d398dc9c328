package decimal

//go:generate go run ./generate -out fields_amd64.s -stubs fields_stub_amd64.go -pkg decimal

import (
	"slices"

	"golang.org/x/sys/cpu"
)

// vectors says whether the vector kernels may run. Tests turn it off.
var vectors = cpu.X86.HasAVX2 && cpu.X86.HasBMI1 && cpu.X86.HasFMA && cpu.X86.HasPOPCNT

// vectorSeparators is Separators, piece by piece: there must be room for as many separators as there are bytes.
func vectorSeparators(text []byte, delimiter byte, ends []int32) []int32 {
	const piece, spare = 64 << 6, 64 + 12
	for from := 0; from < len(text); from += piece {
		n := len(ends)
		ends = slices.Grow(ends, piece+spare)
		found := separatorsAVX2(&text[0], from, min(from+piece, len(text)), uint64(delimiter), &ends[:n+1][n])
		ends = ends[:n+found]
	}
	for n := len(ends); n > 0 && int(ends[n-1]) >= len(text); n-- { // behind the text
		ends = ends[:n-1]
	}
	return ends
}

func vectorFields(b []byte, fronts, ends []int32, left int, run Run, out []float32) int {
	return fieldsAVX2(&b[0], &fronts[0], &ends[0], left, run.Length, run.Skip, &out[0], len(out)/4)
}
