package signal

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The vector kernels give what the scalar code gives, to the last bit: on amd64 neither fuses multiplication and
// addition. On processors without them there is nothing to compare.
func TestVectorKernelsAgreeWithScalarCode(t *testing.T) {
	if !vectors {
		t.Skip("no vector kernels for this processor")
	}
	random := rand.New(rand.NewPCG(3, 4))
	for n, samples := range []int{1, 2, 3, 10, 100, 777} {
		lanes := []int{Lanes, 12, 13, 6, Lanes, 3}[n]
		rows := make([]float64, samples*Lanes)
		for i := range rows {
			rows[i] = random.NormFloat64()
		}
		if samples > 10 {
			rows[5*Lanes+7], rows[6*Lanes+8] = math.NaN(), math.Inf(1)
		}
		var k bank
		for lane := range Lanes {
			f := DualPass(2+2*float64(lane), 200)
			k.minusA1[lane], k.minusA2[lane], k.overGain[lane], k.gain2[lane] = -f.A1, -f.A2, 1/f.B0, f.B0*f.B0
		}
		scalar := append([]float64(nil), rows...)
		passesScalar(scalar, lanes, &k)
		passes(rows, lanes, &k)
		for i := range rows {
			if i%Lanes < lanes && rows[i] != scalar[i] && !(math.IsNaN(rows[i]) && math.IsNaN(scalar[i])) {
				t.Fatalf("%d samples, row %d, lane %d: %g, scalar %g", samples, i/Lanes, i%Lanes, rows[i], scalar[i])
			}
		}
	}
}

// Gathered by the vector kernel, points are those of the scalar code, and so are the holes that are seen in them.
func TestVectorGatherAgreesWithScalarCode(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 8))
	for _, points := range []int{1, 2, 7, 8} {
		for _, rows := range []int{1, 2, 3, 50} {
			width := 3*points + random.IntN(7)
			frames := make([]float32, rows*width)
			for i := range frames {
				frames[i] = float32(random.NormFloat64())
				if random.IntN(40*points) == 0 {
					frames[i] = []float32{float32(math.NaN()), float32(math.Inf(1)),
						float32(math.Inf(-1))}[random.IntN(3)]
				}
			}
			places := random.Perm(width - 2)[:points]
			got, want := make([]float64, (rows+1)*Lanes), make([]float64, (rows+1)*Lanes)
			holed, wanted := make([]byte, rows), make([]byte, rows)
			gather(got, frames, width, places, -1, holed)
			gatherScalar(want, frames, width, places, -1, wanted)
			for i := range wanted {
				if wanted[i] != 0 && holed[i] == 0 {
					t.Errorf("%d points: nothing is seen to miss in row %d of %d", points, i, rows)
				}
			}
			for i := range want {
				if got[i] != want[i] && !(math.IsNaN(got[i]) && math.IsNaN(want[i])) && i%Lanes < 3*points {
					t.Fatalf("%d points, row %d of %d, lane %d: %g, scalar %g", points, i/Lanes, rows, i%Lanes,
						got[i], want[i])
				}
			}
		}
	}
}

// Angles by the vector kernel are those of package math to the last bit, in every quadrant, near the seams of its
// approximation and at its ends.
func TestVectorAnglesAgreeWithScalarCode(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 10))
	var sine, cosine []float64
	for _, tangent := range []float64{0, 1e-300, 1e-9, 0.1, 0.66, 1, math.Sqrt2 + 1, 20, 1e9, math.Inf(1)} {
		for _, slightly := range []float64{1 - 1e-15, 1, 1 + 1e-15} {
			for _, signs := range [][2]float64{{1, 1}, {1, -1}, {-1, 1}, {-1, -1}} {
				y, x := signs[0]*tangent*slightly, signs[1]
				if math.IsInf(y, 0) {
					y, x = signs[0], signs[1]*0
				}
				sine, cosine = append(sine, y), append(cosine, x)
			}
		}
	}
	sine, cosine = append(sine, math.NaN(), 1, 0, 0), append(cosine, 1, math.NaN(), 0, math.Copysign(0, -1))
	for range 10000 {
		scale := math.Exp(6 * random.NormFloat64())
		sine, cosine = append(sine, scale*random.NormFloat64()), append(cosine, random.NormFloat64())
	}
	for _, n := range []int{0, 1, 3, 4, 7, len(sine)} {
		got, want := make([]float64, n), make([]float64, n)
		AnglesTo(got, sine[:n], cosine[:n])
		anglesScalar(want, sine[:n], cosine[:n])
		for i := range want {
			if math.Float64bits(got[i]) != math.Float64bits(want[i]) && !(math.IsNaN(got[i]) && math.IsNaN(want[i])) {
				t.Errorf("pair %d of %d, (%g, %g): %v, scalar %v", i, n, sine[i], cosine[i], got[i], want[i])
			}
		}
	}
}

// withoutVectors runs a test or benchmark as a processor without vector kernels does.
func withoutVectors(run func()) {
	defer func(on bool) { vectors = on }(vectors)
	vectors = false
	run()
}

func TestBlockWithoutVectors(t *testing.T) {
	withoutVectors(func() {
		checkBlock(t, new(Block), 9, 150, 40, rand.New(rand.NewPCG(5, 6)))
	})
}

// BenchmarkPasses is the filter, forward and backward, over 24 channels of 600 samples.
func BenchmarkPasses(b *testing.B) {
	rows := make([]float64, 618*Lanes)
	for i := range rows {
		rows[i] = float64(i % 11)
	}
	var k bank
	f := DualPass(12, 200)
	for lane := range Lanes {
		k.minusA1[lane], k.minusA2[lane], k.overGain[lane], k.gain2[lane] = -f.A1, -f.A2, 1/f.B0, f.B0*f.B0
	}
	run := func(b *testing.B) {
		for b.Loop() {
			passes(rows, Lanes, &k)
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(rows)), "ns/sample")
	}
	b.Run("scalar", func(b *testing.B) { withoutVectors(func() { run(b) }) })
	if vectors {
		b.Run("vectors", run)
	}
}

// BenchmarkAngles is the cost of an angle.
func BenchmarkAngles(b *testing.B) {
	sine, cosine := make([]float64, 128), make([]float64, 128)
	for i := range sine {
		sine[i], cosine[i] = math.Sincos(float64(i))
	}
	angle := make([]float64, len(sine))
	run := func(b *testing.B) {
		for b.Loop() {
			AnglesTo(angle, sine, cosine)
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(sine)), "ns/angle")
	}
	b.Run("scalar", func(b *testing.B) { withoutVectors(func() { run(b) }) })
	if vectors {
		b.Run("vectors", run)
	}
}
