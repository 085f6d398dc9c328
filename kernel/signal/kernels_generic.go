//go:build !amd64

package signal

// vectors says whether there are vector kernels: not for this processor.
var vectors = false

func passes(rows []float64, k *bank) { passesScalar(rows, k) }
