//go:build !amd64

package signal

// vectors says whether there are vector kernels: not for this processor.
var vectors = false

func passes(rows []float64, lanes int, k *bank) { passesScalar(rows, lanes, k) }

func gather(to []float64, frames []float32, width int, places []int, flip float64, holed []byte) {
	gatherScalar(to, frames, width, places, flip, holed)
}

func angles(angle, sine, cosine []float64) { anglesScalar(angle, sine, cosine) }
