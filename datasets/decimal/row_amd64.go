package decimal

//go:generate go run ./generate -out row_amd64.s -stubs row_stub_amd64.go -pkg decimal

import "golang.org/x/sys/cpu"

// vectors says whether the vector kernel may run. Tests turn it off.
var vectors = cpu.X86.HasAVX2 && cpu.X86.HasBMI1 && cpu.X86.HasBMI2

// rowVectors is Row32 where the vector kernel runs; it may stop earlier.
func rowVectors(b []byte, i int, delimiter byte, out []float32) (n, next int) {
	if !vectors || len(out) == 0 || len(b)-i < Ahead {
		return 0, i
	}
	n, used := rowAVX2(&b[i], len(b)-i, uint64(delimiter), &out[0], len(out))
	if n == len(out) {
		used--
	}
	return n, i + used
}
