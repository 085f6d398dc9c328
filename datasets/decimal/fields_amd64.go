package decimal

//go:generate go run ./generate -out fields_amd64.s -stubs fields_stub_amd64.go -pkg decimal

import (
	"slices"

	"golang.org/x/sys/cpu"
)

// vectors says whether the vector kernels may run. Tests turn it off.
var vectors = cpu.X86.HasAVX2 && cpu.X86.HasBMI1 && cpu.X86.HasFMA && cpu.X86.HasPOPCNT

func vectorSeparators(text []byte, delimiter byte, ends []int32) []int32 {
	if len(text) == 0 {
		return ends
	}
	n, most := len(ends), len(text)+Around+vectorSpare
	ends = slices.Grow(ends, most)
	found := separatorsAVX2(&text[0], len(text), uint64(delimiter), &ends[:n+1][n])
	ends = ends[:n+found]
	for len(ends) > n && int(ends[len(ends)-1]) >= len(text) { // behind the text
		ends = ends[:len(ends)-1]
	}
	return ends
}

// vectorSpare is how many places more than it finds separatorsAVX2 may write.
const vectorSpare = 12

func vectorFields(b []byte, ends []int32, left int, run Run, out []float32) int {
	return fieldsAVX2(&b[0], &ends[0], left, run.Length, run.Skip, &out[0], len(out)/4)
}
