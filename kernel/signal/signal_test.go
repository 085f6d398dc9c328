package signal

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/floats/scalar"
	"gonum.org/v1/gonum/mat"
)

// Expected values of this file were computed with scipy 1.10.1 and numpy 1.24.2 unless said otherwise.

// example is the series of scipy.signal.filtfilt's example values.
var example = []float64{0.1, 0.2343, 0.2959, 0.3937, 0.77, 0.483, 0.1921, 0.1401, 0.0599, 0.0079, -0.533, -0.57,
	-0.1937,
	-0.0959, -0.0343, -0.15, 0.3425, 0.8372, 0.6673, 0.5546, 0.433, 0.6657, 0.5578, -0.0578, -0.1657, -0.183, -0.0546,
	-0.1673,
	-0.3372, 0.1575}

// exampleFiltered is filtfilt(butter(2, 0.25)) of it: odd padding of 9.
var exampleFiltered = []float64{0.0988886817036562, 0.23727683539885977, 0.36630817162414897, 0.46518474942364396,
	0.49988914716267135, 0.44822878722407206, 0.32539944390890735, 0.16598151727628085, -0.007991786640683035,
	-0.18019953071292535, -0.3136106704933487, -0.36267500617510307, -0.3172207707719442, -0.20619905842279612,
	-0.05404595108565724, 0.13661320708248428, 0.3493153423817099, 0.5307648274116459, 0.6304619784560452,
	0.6444828974104861,
	0.595912636761829, 0.49127097591541313, 0.32616191378563264, 0.12700404050095176, -0.04834332817537519,
	-0.156840445973714,
	-0.19020562199117833, -0.14861880778673947, -0.026198455949271116, 0.15819424565812354}

func agree(t *testing.T, what string, got, want []float64, tolerance float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d values, want %d", what, len(got), len(want))
	}
	for i := range got {
		if !scalar.EqualWithinAbs(got[i], want[i], tolerance) && !(math.IsNaN(got[i]) && math.IsNaN(want[i])) {
			t.Errorf("%s[%d] = %.17g, want %.17g", what, i, got[i], want[i])
		}
	}
}

func TestButterworth(t *testing.T) {
	for _, c := range []struct{ wn, b0, a1, a2 float64 }{ // scipy.signal.butter(2, wn)
		{0.05, 0.005542717210280681, -1.7786317778245846, 0.8008026466657073},
		{0.1, 0.020083365564211236, -1.5610180758007182, 0.6413515380575631},
		{0.12, 0.027859766117136024, -1.475480443592646, 0.5869195080611902},
		{0.2, 0.06745527388907192, -1.1429805025399011, 0.41280159809618877},
		{0.25, 0.09763107293781749, -0.9428090415820632, 0.3333333333333332},
		{0.3, 0.13110643991662593, -0.7477891782585034, 0.27221493792500717},
		{0.4, 0.20657208382614792, -0.3695273773512414, 0.19581571265583306},
		{0.5, 0.2928932188134525, 0, 0.1715728752538099},
	} {
		f := Butterworth(c.wn*50, 100)
		agree(t, "butter", []float64{f.B0, f.B1, f.B2, f.A1, f.A2}, []float64{c.b0, 2 * c.b0, c.b0, c.a1, c.a2}, 1e-14)
	}
}

func TestDualPass(t *testing.T) {
	for _, c := range []struct{ rate, cutoff, corrected float64 }{ // prewarped correction, scipy and numpy
		{50, 6, 7.296539682278728}, {100, 8, 9.859537156096472}, {120, 10, 12.31287715019068},
		{200, 12, 14.861769916941025},
		{240, 12, 14.89081047131626}, {250, 15, 18.577212396176282}, {500, 20, 24.85802935963826},
	} {
		agree(t, "corrected cutoff", []float64{CorrectedCutoff(c.cutoff, c.rate)}, []float64{c.corrected}, 1e-12)
		gain := DualPass(c.cutoff, c.rate).Gain(c.cutoff, c.rate)
		agree(t, "gain of both passes", []float64{gain * gain}, []float64{math.Sqrt(0.5)}, 1e-13)
		single := Butterworth(c.corrected, c.rate)
		agree(t, "design", []float64{DualPass(c.cutoff, c.rate).A1}, []float64{single.A1}, 1e-12)
	}
}

func TestPass(t *testing.T) {
	got := make([]float64, len(example))
	Butterworth(12.5, 100).PassTo(got, example)
	agree(t, "lfilter", got[:5], []float64{0.009763107293781749, 0.051605920807407356, 0.12980222219320753,
		0.22426711786828066,
		0.34911332653368665}, 1e-15)
}

func TestZeroPhase(t *testing.T) {
	got := make([]float64, len(example))
	Butterworth(12.5, 100).ZeroPhaseTo(got, example)
	agree(t, "filtfilt", got, exampleFiltered, 1e-14)
}

func TestZeroPhaseKeepsGapsAndFiltersBetweenThem(t *testing.T) {
	f := DualPass(8, 100)
	x := append(append([]float64{math.NaN()}, example[:15]...), math.NaN(), math.NaN())
	x = append(x, example[15:]...)
	want := make([]float64, len(x))
	for i := range want {
		want[i] = math.NaN()
	}
	f.ZeroPhaseTo(want[1:16], example[:15])
	f.ZeroPhaseTo(want[18:], example[15:])
	f.ZeroPhaseTo(x, x)
	agree(t, "stretches", x, want, 0)
}

func TestZeroPhaseOfShortStretches(t *testing.T) {
	f := DualPass(8, 100)
	for n := 1; n <= Pad+2; n++ {
		level := make([]float64, n)
		floats.AddConst(3, level)
		got := make([]float64, n)
		f.ZeroPhaseTo(got, level)
		agree(t, "level", got, level, 1e-12)
	}
}

func TestSpline(t *testing.T) {
	x, y := []float64{0, 0.1, 0.2, 0.3, 0.4, 0.5}, []float64{0, 0.3, 0.1, -0.2, 0.4, 0.5}
	s := NewSpline(x, y)
	var got []float64
	for _, at := range []float64{0.05, 0.15, 0.25, 0.35, 0.45} {
		got = append(got, s.At(at))
	}
	agree(t, "CubicSpline", got, []float64{0.2175, 0.2575, -0.1225, 0.0325, 0.6425}, 1e-13)
	agree(t, "CubicSpline slope", []float64{s.Slope(0.25)}, []float64{-3.8333333333333344}, 1e-12)
	for i := range x {
		agree(t, "knot", []float64{s.At(x[i])}, y[i:i+1], 1e-15)
	}
}

func TestSplineIsExactForLowOrders(t *testing.T) {
	cubic := func(x float64) float64 { return 1 - 2*x + 0.5*x*x - 0.25*x*x*x }
	for n, f := range map[int]func(float64) float64{
		2: func(x float64) float64 { return 3 - x }, 3: func(x float64) float64 { return 1 + x - 2*x*x }, 4: cubic,
		7: cubic, 60: cubic,
	} {
		x, y := make([]float64, n), make([]float64, n)
		for i := range x {
			x[i] = float64(i) * 5 / float64(n)
			y[i] = f(x[i])
		}
		s := NewSpline(x, y)
		for _, at := range []float64{0.01, 1.7, 3.3} {
			agree(t, "polynomial", []float64{s.At(at)}, []float64{f(at)}, 1e-9)
		}
	}
}

func TestFillGaps(t *testing.T) {
	nan := math.NaN()
	x := make([]float64, 60)
	want := make([]float64, 60)
	for i := range x {
		x[i] = math.Sin(float64(i) / 9)
	}
	copy(want, x)
	for _, gap := range [][2]int{{0, 3}, {10, 16}, {30, 45}, {50, 51}, {58, 60}} {
		for i := gap[0]; i < gap[1]; i++ {
			x[i] = nan
		}
	}
	for _, stays := range [][2]int{{0, 3}, {30, 45}, {58, 60}} {
		for i := stays[0]; i < stays[1]; i++ {
			want[i] = nan
		}
	}
	if n := FillGaps(x, 10); n != 7 {
		t.Errorf("filled %d samples, want 7", n)
	}
	agree(t, "filled", x, want, 2e-3)
}

func TestDerivative(t *testing.T) {
	got := make([]float64, 6)
	DerivativeTo(got, example[:6], 100)
	agree(t, "numpy.gradient", got, []float64{13.43, 9.795, 7.97, 23.705, 4.465, -28.7}, 1e-11)
}

func TestVertex(t *testing.T) {
	f := func(x float64) float64 { return 4 - 3*(x-0.3)*(x-0.3) }
	at, height := Vertex(f(-1), f(0), f(1))
	agree(t, "vertex", []float64{at, height}, []float64{0.3, 4}, 1e-12)
	at, height = Vertex(1, 1, 1)
	agree(t, "flat", []float64{at, height}, []float64{0, 1}, 0)
	at, height = Vertex(math.NaN(), 2, 1)
	agree(t, "missing neighbour", []float64{at, height}, []float64{0, 2}, 0)
	at, height = VertexAt([]float64{5, 4, 3}, 0)
	agree(t, "end", []float64{at, height}, []float64{0, 5}, 0)
}

func TestResample(t *testing.T) {
	x := make([]float64, 41)
	for i := range x {
		x[i] = math.Cos(float64(i) / 6)
	}
	got := make([]float64, 101)
	ResampleTo(got, x, 2.5, 37.5, 5)
	for k, v := range got {
		if want := math.Cos((2.5 + 0.35*float64(k)) / 6); math.Abs(v-want) > 2e-5 {
			t.Errorf("at %d: %g, want %g", k, v, want)
		}
	}
	for i := 20; i < 30; i++ {
		x[i] = math.NaN()
	}
	ResampleTo(got, x, -1, 40, 5)
	if !math.IsNaN(got[0]) || !math.IsNaN(got[60]) || math.IsNaN(got[10]) {
		t.Errorf("outside and inside a long gap %g and %g, beside it %g", got[0], got[60], got[10])
	}
}

func TestBlockAgreesWithOneChannelAtATime(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for _, size := range []struct{ points, samples, tail int }{
		{1, 10, 0}, {8, 600, 0}, {9, 40, 0}, {24, 333, 0}, {3, 200, 50},
	} {
		b := new(Block)
		for range 2 { // the second time over what the first one left
			checkBlock(t, b, size.points, size.samples, size.tail, random)
		}
	}
}

// checkBlock gathers noise with gaps from frames that hold two more points than are asked for, in another order.
func checkBlock(t *testing.T, b *Block, points, samples, tail int, random *rand.Rand) {
	t.Helper()
	width := 3 * (points + 2)
	frames := make([]float32, samples*width)
	for i := range frames {
		sample, c := i/width, i%width
		frames[i] = float32(1 + math.Sin(float64(sample)/20+float64(c)) + 0.01*random.NormFloat64())
		switch {
		case c%5 == 2 && sample%97 > 60 && sample%97 < 70, c == 4 && sample > 200 && sample < 260, c == 7 &&
			sample < 30,
			c == 8 && sample > samples-20, c == 10:
			frames[i] = float32(math.NaN())
		case c == 11 && sample == 25:
			frames[i] = float32(math.Inf(-1))
		}
	}
	places, near, filters := make([]int, points), make([]int, 3*points), make([]Lowpass, 3*points)
	for k := range places {
		places[k] = 3 * (points - k)
	}
	for c := range filters {
		near[c], filters[c] = 4+c%5, DualPass(3+float64(c%20), 200)
	}
	b.Reset(3*points, samples+tail)
	b.Gather(frames, width, places, -1)
	b.Fill(20)
	b.GoOn(near)
	b.ZeroPhase(filters)
	for c := range filters {
		want := make([]float64, samples)
		for i := range want {
			want[i] = float64(frames[i*width+places[c/3]+c%3])
			if c%3 == 2 {
				want[i] = -want[i]
			}
			if math.IsInf(want[i], 0) {
				want[i] = math.NaN()
			}
		}
		got := make([]float64, samples)
		for i := range got {
			got[i] = b.Values()[b.Base(c)+i*Lanes]
		}
		agree(t, "block", got, filledAndFiltered(want, 20, near[c], tail, filters[c]), 1e-9)
	}
}

// filledAndFiltered is what a Block does to a channel, done to a series.
func filledAndFiltered(x []float64, longest, near, tail int, f Lowpass) []float64 {
	n := len(x)
	FillGaps(x, longest)
	missing := slices.Clone(x)
	first, last := slices.IndexFunc(x, there), n-1
	if first < 0 {
		return x
	}
	for !there(x[last]) {
		last--
	}
	FillGaps(x[first:last+1], n)
	for k := 1; k <= first; k++ {
		x[first-k] = x[first-k+1]
		if first+k < n && there(missing[first+k]) {
			x[first-k] = 2*x[first] - x[first+k]
		}
	}
	for k := 1; last+k < n; k++ {
		x[last+k] = 2*x[last] - x[last-k]
	}
	x = goOn(x, near, tail)
	f.ZeroPhaseTo(x, x)
	for i, v := range missing {
		if !there(v) {
			x[i] = v
		}
	}
	return x[:n]
}

func there(v float64) bool { return v == v }

// goOn continues a series along the parabola of least squares through its last values, by the normal equations in
// three unknowns.
func goOn(x []float64, near, tail int) []float64 {
	n := len(x)
	near = min(near, n)
	var a mat.Dense
	design, y := mat.NewDense(near, 3, nil), mat.NewVecDense(near, nil)
	for i := range near {
		u := float64(i - near + 1)
		design.SetRow(i, []float64{1, u, u * u})
		y.SetVec(i, x[n-near+i])
	}
	if tail == 0 {
		return x
	}
	if err := a.Solve(design, y); err != nil {
		panic(err)
	}
	for k := 1; k <= tail; k++ {
		u := float64(k)
		x = append(x, a.At(0, 0)+u*(a.At(1, 0)+u*a.At(2, 0)))
	}
	return x
}

func TestBlockAllocatesNothingOnceItHasGrown(t *testing.T) {
	b, filters, near := new(Block), make([]Lowpass, 48), make([]int, 48)
	frames, places := make([]float32, 250*48), make([]int, 16)
	for c := range filters {
		filters[c], near[c] = DualPass(12, 200), 5
		places[c/3] = c / 3 * 3
	}
	for i := range frames {
		frames[i] = float32(i % 7)
	}
	frames[100*48] = float32(math.NaN())
	run := func() {
		b.Reset(48, 300)
		b.Gather(frames, 48, places, 1)
		b.Fill(20)
		b.GoOn(near)
		b.ZeroPhase(filters)
	}
	if n := testing.AllocsPerRun(5, run); n > 0 {
		t.Errorf("%g allocations", n)
	}
}
