package signal

//go:generate go run ./generate -out kernels_amd64.s -stubs kernels_stub_amd64.go -pkg signal

import "golang.org/x/sys/cpu"

// vectors says whether the vector kernels may run. Tests turn it off.
var vectors = cpu.X86.HasAVX2

func passes(rows []float64, lanes int, k *bank) {
	if vectors {
		passesAVX2(&rows[0], len(rows)/Lanes, lanes, &k.minusA1[0])
		return
	}
	passesScalar(rows, lanes, k)
}

func gather(to []float64, frames []float32, width int, places []int, flip float64, holed []byte) {
	last := len(holed) - 1
	if vectors && last > 0 {
		eight, signs := [pointsAGroup]int{}, [4]float64{1, 1, flip, 1}
		for k := range eight {
			eight[k] = places[min(k, len(places)-1)]
		}
		gatherAVX2(&to[0], &frames[0], last, 4*width, &eight[0], &signs[0], &holed[0])
		to, frames, holed = to[last*Lanes:], frames[last*width:], holed[last:]
	}
	gatherScalar(to, frames, width, places, flip, holed)
}

func angles(angle, sine, cosine []float64) {
	if n := len(angle) &^ 3; vectors && n > 0 {
		anglesAVX2(&angle[0], &sine[0], &cosine[0], n)
		angle, sine, cosine = angle[n:], sine[n:], cosine[n:]
	}
	anglesScalar(angle, sine, cosine)
}
