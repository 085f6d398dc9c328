//go:build !amd64

package decimal

// vectors says whether there is a vector kernel: not for this processor.
var vectors = false

func rowVectors(_ []byte, i int, _ byte, _ []float32) (n, next int) { return 0, i }
