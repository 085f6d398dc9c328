package signal

import (
	"fmt"
	"math"
	"slices"
)

// Pad is the number of samples by which each end of a stretch is extended before filtering: three times the length
// of the filter's coefficients, as scipy.signal.filtfilt does for a second-order section. A stretch of Pad samples
// or fewer is extended by one less than its length.
const Pad = 9

// Lowpass is a second-order low-pass section with unit gain at zero frequency:
//
//	y[i] = B0*x[i] + B1*x[i-1] + B2*x[i-2] - A1*y[i-1] - A2*y[i-2]
type Lowpass struct{ B0, B1, B2, A1, A2 float64 }

// Butterworth designs the second-order Butterworth low-pass by the bilinear transform with the cutoff prewarped: the
// gain of one pass at cutoffHz is exactly 1/sqrt(2).
func Butterworth(cutoffHz, rateHz float64) Lowpass {
	checkCutoff(cutoffHz, rateHz)
	return butterworthPrewarped(math.Tan(math.Pi * cutoffHz / rateHz))
}

// DualPass designs the second-order Butterworth low-pass that, run forward and backward, has a gain of exactly
// 1/sqrt(2) at cutoffHz. Two passes square the gain, so the single pass must be wider: its prewarped frequency is
// divided by (sqrt(2)-1)^(1/4) = 0.802 (Winter, Biomechanics and Motor Control of Human Movement). Correcting the
// prewarped frequency rather than the cutoff itself is what makes the gain exact at any rate.
func DualPass(cutoffHz, rateHz float64) Lowpass {
	checkCutoff(cutoffHz, rateHz)
	return butterworthPrewarped(math.Tan(math.Pi*cutoffHz/rateHz) / dualPassFactor)
}

// CorrectedCutoff is the single-pass cutoff in hertz of DualPass(cutoffHz, rateHz).
func CorrectedCutoff(cutoffHz, rateHz float64) float64 {
	checkCutoff(cutoffHz, rateHz)
	return math.Atan(math.Tan(math.Pi*cutoffHz/rateHz)/dualPassFactor) * rateHz / math.Pi
}

var dualPassFactor = math.Pow(math.Sqrt2-1, 0.25)

// butterworthPrewarped is the bilinear transform of 1/(s^2 + sqrt(2) s + 1) at the prewarped frequency w.
func butterworthPrewarped(w float64) Lowpass {
	d := 1 + math.Sqrt2*w + w*w
	b := w * w / d
	return Lowpass{B0: b, B1: 2 * b, B2: b, A1: 2 * (w*w - 1) / d, A2: (1 - math.Sqrt2*w + w*w) / d}
}

func checkCutoff(cutoffHz, rateHz float64) {
	if !(cutoffHz > 0 && cutoffHz < rateHz/2) {
		panic(fmt.Sprintf("signal: cutoff %g Hz is not between 0 and half the rate %g Hz", cutoffHz, rateHz))
	}
}

// Gain is the gain of one pass at frequencyHz.
func (f Lowpass) Gain(frequencyHz, rateHz float64) float64 {
	s, c := math.Sincos(2 * math.Pi * frequencyHz / rateHz)
	s2, c2 := math.Sincos(4 * math.Pi * frequencyHz / rateHz)
	over := math.Hypot(f.B0+f.B1*c+f.B2*c2, f.B1*s+f.B2*s2)
	return over / math.Hypot(1+f.A1*c+f.A2*c2, f.A1*s+f.A2*s2)
}

// PassTo runs the filter once over x from the state of rest, as scipy.signal.lfilter does. dst may be x.
func (f Lowpass) PassTo(dst, x []float64) {
	sameLength(dst, x)
	f.run(dst, x, 0, 0)
}

// run is the direct form II transposed, from the given state.
func (f Lowpass) run(dst, x []float64, z1, z2 float64) {
	for i, v := range x {
		y := f.B0*v + z1
		z1 = f.B1*v - f.A1*y + z2
		z2 = f.B2*v - f.A2*y
		dst[i] = y
	}
}

// steady is the state in which a constant input of 1 gives a constant output of 1: scipy.signal.lfilter_zi.
func (f Lowpass) steady() (z1, z2 float64) { return 1 - f.B0, f.B2 - f.A2 }

// ZeroPhaseTo filters x forward and backward into dst, which may be x. Missing samples stay missing, and each
// stretch between them is filtered on its own.
func (f Lowpass) ZeroPhaseTo(dst, x []float64) { f.zeroPhase(dst, x, nil) }

// zeroPhase is ZeroPhaseTo with room to work in, which it gives back as it has grown.
func (f Lowpass) zeroPhase(dst, x, room []float64) []float64 {
	sameLength(dst, x)
	for from := 0; from < len(x); {
		if math.IsNaN(x[from]) {
			dst[from] = x[from]
			from++
			continue
		}
		to := stretchEnd(x, from)
		room = f.zeroPhaseStretch(dst[from:to], x[from:to], room)
		from = to
	}
	return room
}

func (f Lowpass) zeroPhaseStretch(dst, x, scratch []float64) []float64 {
	n := len(x)
	pad := min(Pad, n-1)
	scratch = slices.Grow(scratch[:0], n+2*pad)[:n+2*pad]
	copy(scratch[pad:], x)
	for k := 1; k <= pad; k++ {
		scratch[pad-k] = 2*x[0] - x[k]
		scratch[pad+n-1+k] = 2*x[n-1] - x[n-1-k]
	}
	z1, z2 := f.steady()
	for range 2 {
		f.run(scratch, scratch, z1*scratch[0], z2*scratch[0])
		reverse(scratch)
	}
	copy(dst, scratch[pad:pad+n])
	return scratch
}

func reverse(x []float64) {
	for i, j := 0, len(x)-1; i < j; i, j = i+1, j-1 {
		x[i], x[j] = x[j], x[i]
	}
}

// stretchEnd is one past the last sample of the run that begins at from.
func stretchEnd(x []float64, from int) int {
	for i := from; i < len(x); i++ {
		if math.IsNaN(x[i]) {
			return i
		}
	}
	return len(x)
}

func sameLength(dst, x []float64) {
	if len(dst) != len(x) {
		panic(fmt.Sprintf("signal: destination of %d samples for %d", len(dst), len(x)))
	}
}
