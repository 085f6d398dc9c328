package signal

import (
	"math"
	"testing"
)

// A point that moves along a parabola is filtered without loss up to its very end, where the odd extension alone
// bends it.
func TestParabolaGoesOnUnchanged(t *testing.T) {
	for _, rate := range []float64{50, 100, 200, 500} {
		b := new(Block)
		b.Reset(3, 280)
		moves := func(i, c int) float64 {
			s := float64(i-199) / rate
			return float64(float32(float64(c) * (2.4 + 30*s - 200*s*s)))
		}
		frames := make([]float32, 3*200)
		for i := range frames {
			frames[i] = float32(moves(i/3, i%3))
		}
		low := DualPass(0.05*rate, rate)
		b.Gather(frames, 3, []int{0}, 1)
		b.GoOn([]int{9, 9, 9})
		b.ZeroPhase([]Lowpass{low, low, low})
		for c := range 3 {
			for i := 100; i < 200; i++ {
				agree(t, "parabola", []float64{b.Values()[b.Base(c)+i*Lanes]}, []float64{moves(i, c)}, 1e-4)
			}
		}
	}
}

// scipy 1.10.1: filtfilt(butter(2, 0.25)) of the example and, after it, 60 samples of the parabola of numpy.polyfit
// through its last six.
func TestGoOn(t *testing.T) {
	want := []float64{0.09888868018967303, 0.23727685281112562, 0.3663082254154235, 0.46518484933154647,
		0.499889268371069, 0.4482288303294842, 0.32539920220423135, 0.16598070431598266, -0.007993360925613813,
		-0.180201544582231, -0.31361164372112615, -0.3626717172710304, -0.317208548663122, -0.20617435579089965,
		-0.05401274781801538, 0.13663301220962334, 0.34927174993759347, 0.5305821139788557, 0.6300759641590352,
		0.6439392244006538, 0.5955329401648565, 0.4918280507908591, 0.3288766492647761, 0.133011247340334,
		-0.03949658784433603, -0.14983970617396344, -0.19694476064139113, -0.18868218974167836, -0.11929739622904888,
		0.015060823550491074}
	got := goOn(append([]float64(nil), example...), 6, 60)
	Butterworth(12.5, 100).ZeroPhaseTo(got, got)
	agree(t, "gone on", got[:len(example)], want, 1e-10)
}

// scipy 1.10.1: CubicSpline through the example, whole and without samples 7, 8 and 20, at numpy.linspace(2.5, 27.3,
// 12).
func TestResampleAgreesWithScipy(t *testing.T) {
	got := make([]float64, 12)
	x := append([]float64(nil), example...)
	ResampleTo(got, x, 2.5, 27.3, 2)
	agree(t, "whole", got, []float64{0.30482190593549713, 0.5894593368637016, 0.1394915955664713, -0.11202311694607466,
		-0.3701601417134921, -0.026501758785582565, 0.36088961840360934, 0.623213197552279, 0.543535325995593,
		0.04962877661376283, -0.17933892829782996, -0.2397574697011936}, 1e-13)
	x[7], x[8], x[20] = math.NaN(), math.NaN(), math.NaN()
	ResampleTo(got, x, 2.5, 27.3, 2)
	agree(t, "over gaps", got, []float64{0.3048284011230351, 0.5895444232153373, 0.19025328179253875,
		-0.1323834720508421,
		-0.37160405916119404, -0.026527748199384596, 0.36082185810189976, 0.611294210794746, 0.6289239800015571,
		0.051945325884570154, -0.179365788146433, -0.23976626185735042}, 1e-13)
}

// scipy 1.10.1: CubicSpline through samples 2 to 9 and 13 to 20 of the example.
func TestFillGapsAgreesWithScipy(t *testing.T) {
	x := append([]float64(nil), example...)
	x[10], x[11], x[12] = math.NaN(), math.NaN(), math.NaN()
	if n := FillGaps(x, 3); n != 3 {
		t.Fatalf("filled %d samples, want 3", n)
	}
	agree(t, "filled", x[10:13], []float64{-0.05839210637642588, -0.12612702828867517, -0.15279843605658694}, 1e-13)
}

func TestFillGapsNeedsSamplesOnBothSides(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name   string
		x      []float64
		filled int
	}{
		{"two samples before", []float64{1, 2, nan, 4, 5, 6, 7}, 0},
		{"two samples after", []float64{1, 2, 3, nan, 5, 6}, 0},
		{"three on either side", []float64{1, 2, 3, nan, 5, 6, 7}, 1},
		{"a lone sample between two gaps", []float64{1, 2, 3, nan, 5, nan, 7, 8, 9}, 2},
		{"nothing but gaps", []float64{nan, nan, nan}, 0},
	} {
		x := append([]float64(nil), c.x...)
		if n := FillGaps(x, 4); n != c.filled {
			t.Errorf("%s: filled %d, want %d", c.name, n, c.filled)
		}
		for i, v := range x {
			if v == v && math.Abs(v-float64(i+1)) > 1e-12 {
				t.Errorf("%s: sample %d is %g", c.name, i, v)
			}
		}
	}
}
