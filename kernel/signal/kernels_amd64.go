package signal

//go:generate go run ./generate -out kernels_amd64.s -stubs kernels_stub_amd64.go -pkg signal

import "golang.org/x/sys/cpu"

// vectors says whether the vector kernels may run. Tests turn it off.
var vectors = cpu.X86.HasAVX2

func passes(rows []float64, k *bank) {
	if vectors {
		passesAVX2(&rows[0], len(rows)/Lanes, &k.minusA1[0])
		return
	}
	passesScalar(rows, k)
}
