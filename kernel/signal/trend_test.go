package signal

import (
	"math"
	"testing"
)

// A channel that is a parabola is filtered without loss up to its very end, where the odd extension alone bends it.
func TestDetrendedParabolaPassesUnchanged(t *testing.T) {
	for _, rate := range []float64{50, 100, 200, 500} {
		b := new(Block)
		b.Reset(3, 200)
		moves := func(i int) float64 { s := float64(i-199) / rate; return 2.4 + 30*s - 200*s*s }
		for c := range 3 {
			for i := range 200 {
				b.Values()[b.Base(c)+i*Lanes] = float64(c) * moves(i)
			}
		}
		low := DualPass(0.05*rate, rate)
		b.FillGaps(0)
		b.Detrend([]int{6, 6, 6})
		b.ZeroPhase([]Lowpass{low, low, low})
		b.Retrend()
		for c := range 3 {
			for i := range 200 {
				near(t, "parabola", []float64{b.Values()[b.Base(c)+i*Lanes]}, []float64{float64(c) * moves(i)}, 1e-9)
			}
		}
	}
}

// scipy 1.10.1: filtfilt(butter(2, 0.25)) of the example less the parabola of numpy.polyfit through its last six
// samples, and the parabola added again.
func TestDetrend(t *testing.T) {
	want := []float64{0.10226104538670455, 0.21517047399826694, 0.34434198242230707, 0.45184361447214805, 0.4946330384418882,
		0.4477202438772778, 0.3266718777449267, 0.16735053350822326, -0.007125234471400788, -0.17983846337531872,
		-0.3135578636168095, -0.36274330634924823, -0.3173000700852908, -0.20625023395135855, -0.05407353317316321,
		0.1365854854235935, 0.3492625942933587, 0.5306793888291019, 0.630379295078579, 0.6445125065226834, 0.5962509389972619,
		0.49214275890673287, 0.3276141462513275, 0.1284962626627965, -0.04847980347397722, -0.16170353092146472,
		-0.20355132231518938, -0.17177698857086407, -0.051662589460962687, 0.15564536634024384}
	b := new(Block)
	b.Reset(1, len(example))
	for i, v := range example {
		b.Values()[b.Base(0)+i*Lanes] = v
	}
	b.FillGaps(0)
	b.Detrend([]int{6})
	b.ZeroPhase([]Lowpass{Butterworth(12.5, 100)})
	b.Retrend()
	got := make([]float64, len(example))
	for i := range got {
		got[i] = b.Values()[b.Base(0)+i*Lanes]
	}
	near(t, "detrended", got, want, 1e-12)
}

// scipy 1.10.1: CubicSpline through the example, whole and without samples 7, 8 and 20, at numpy.linspace(2.5, 27.3, 12).
func TestResampleAgreesWithScipy(t *testing.T) {
	got := make([]float64, 12)
	x := append([]float64(nil), example...)
	ResampleTo(got, x, 2.5, 27.3, 2)
	near(t, "whole", got, []float64{0.30482190593549713, 0.5894593368637016, 0.1394915955664713, -0.11202311694607466,
		-0.3701601417134921, -0.026501758785582565, 0.36088961840360934, 0.623213197552279, 0.543535325995593,
		0.04962877661376283, -0.17933892829782996, -0.2397574697011936}, 1e-13)
	x[7], x[8], x[20] = math.NaN(), math.NaN(), math.NaN()
	ResampleTo(got, x, 2.5, 27.3, 2)
	near(t, "over gaps", got, []float64{0.3048284011230351, 0.5895444232153373, 0.19025328179253875, -0.1323834720508421,
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
	near(t, "filled", x[10:13], []float64{-0.05839210637642588, -0.12612702828867517, -0.15279843605658694}, 1e-13)
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
