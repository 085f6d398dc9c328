package stats

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"tossline/kernel/table"
)

// smooth is one Gaussian curve of unit variance over 51 phases whose noise has a width at half maximum of width phases.
func smooth(random *rand.Rand, width float64) []float64 {
	const points, margin = 51, 40
	white := make([]float64, points+2*margin)
	for i := range white {
		white[i] = random.NormFloat64()
	}
	// White noise smoothed by a kernel has the kernel's width in the sense of random field theory.
	sigma := width / math.Sqrt(8*math.Ln2)
	kernel, energy := make([]float64, 2*margin+1), 0.0
	for k := range kernel {
		kernel[k] = math.Exp(-square(float64(k-margin)/sigma) / 2)
		energy += kernel[k] * kernel[k]
	}
	out := make([]float64, points)
	for i := range out {
		for k, w := range kernel {
			out[i] += w / math.Sqrt(energy) * white[i+k]
		}
	}
	return out
}

func curvesOf(random *rand.Rand, n int, width, sd float64, mean func(i int) float64) Curves {
	rows := make([][]float64, n)
	for k := range rows {
		rows[k] = smooth(random, width)
		for i := range rows[k] {
			rows[k][i] = mean(i) + sd*rows[k][i]
		}
	}
	return CurveRows("Knee flexion", "deg", rows)
}

func flat(int) float64 { return 0 }

func wave(i int) float64 { return 30 + 10*math.Sin(float64(i)/8) }

// Band and comparison hold what they promise of whole curves, by simulation.
func TestCurveErrorRates(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	const runs, bands = 400, 150
	covered, apart, parted := 0.0, 0.0, 0.0
	for run := range runs {
		a, b := curvesOf(random, 14, 12, 2, wave), curvesOf(random, 9, 12, 3, wave)
		if run < bands && holds(a.Band(), wave) {
			covered++
		}
		if c := CompareCurves(a, b); len(c.Apart) > 0 {
			apart++
		}
		if c := PairedCurves(Curves{Phase: a.Phase, Rows: a.Rows[:9]}, b); len(c.Apart) > 0 {
			parted++
		}
	}
	if covered/bands < 0.91 || covered/bands > 0.99 {
		t.Errorf("the band covers the mean curve in %.1f %%, want 95 %%", 100*covered/bands)
	}
	if apart/runs < 0.025 || apart/runs > 0.075 || parted/runs < 0.025 || parted/runs > 0.075 {
		t.Errorf("equal curves part in %.1f %%, in pairs in %.1f %%; want 5 %%", 100*apart/runs, 100*parted/runs)
	}
}

func holds(b Band, mean func(i int) float64) bool {
	for i := range b.Mean {
		if b.Low[i] > mean(i) || mean(i) > b.High[i] {
			return false
		}
	}
	return true
}

func TestSmoothnessIsThatOfTheNoise(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 8))
	for _, width := range []float64{6, 12, 25} {
		c := CompareCurves(curvesOf(random, 40, width, 1, wave), curvesOf(random, 40, width, 1, flat))
		near(t, "width of the noise, in phases", c.Smoothness/2, width, 0.1)
	}
}

// The threshold solves P = sf(u) + resels * sqrt(4 ln 2)/(2 pi) * (1+u²/df)^(-(df-1)/2) at 0.025; scipy 1.10.1:
// brentq(lambda u: t.sf(u, 18) + 5*sqrt(4*log(2))/(2*pi)*(1+u*u/18)**(-8.5) - .025, 1, 9).
func TestThresholdOfFiveResels(t *testing.T) {
	f := field{df: 18, nodes: 101, rates: []float64{2, 3}}
	near(t, "threshold", f.threshold(0.025), 3.3149041828293346, 1e-9)
	f.nodes = 3 // as rough as a curve of 3 phases can be: Bonferroni, t.isf(.025/3, 18)
	near(t, "Bonferroni", f.threshold(0.025), 2.6391448194108227, 1e-9)
}

func TestPlantedDifferenceIsFoundWhereItIs(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 10))
	bump := func(i int) float64 { return wave(i) + 6*math.Exp(-square(float64(i-30)/4)/2) }
	a := curvesOf(random, 12, 12, 2, bump).Named("Player")
	b := curvesOf(random, 12, 12, 2, wave).Named("Reference")
	for _, c := range []CurveComparison{CompareCurves(a, b), PairedCurves(a, b)} {
		if len(c.Apart) != 1 || math.Abs(c.Apart[0].At-60) > 6 || c.Apart[0].From < 46 || c.Apart[0].To > 74 ||
			c.Apart[0].P > 0.03 || math.Abs(c.Apart[0].Difference-6) > 2 {
			t.Errorf("%+v", c.Apart)
		}
		if !strings.Contains(c.Sentence, "the curves part from") || c.Table().Err() != nil {
			t.Error(c.Sentence, c.Table().Err())
		}
		noNaN(t, c)
	}
}

func TestCurvesWithTooLittle(t *testing.T) {
	random, nan := rand.New(rand.NewPCG(1, 1)), math.NaN()
	good := curvesOf(random, 8, 10, 1, wave)
	gappy := CurveRows("Knee flexion", "deg", [][]float64{{nan, 1, 2, nan}, {nan, 1, nan, 2}, {nan, 2, 3, 4}})
	for name, c := range map[string]Curves{"none": {}, "one": CurveRows("x", "m", good.Rows[:1]), "gaps": gappy,
		"all missing": CurveRows("x", "m", [][]float64{{nan, nan}, {nan, nan}}),
		"alike":       CurveRows("x", "m", [][]float64{{1, 2}, {1, 2}, {1, 2}, {1, 2}, {1, 2}, {1, 2}})} {
		t.Run(name, func(t *testing.T) {
			noNaN(t, c.Band())
			for _, compared := range []CurveComparison{CompareCurves(c, c), PairedCurves(c, c)} {
				if compared.Lack == "" {
					t.Errorf("compared: %s", compared)
				}
				noNaN(t, compared)
			}
		})
	}
	if gappy.N() != 1 || len(gappy.Band().Phase) != 3 {
		t.Errorf("%d whole curves over %v", gappy.N(), gappy.Band().Phase)
	}
	if b := good.Band(); b.Lack != "" || b.N != 8 {
		t.Error(b)
	}
}

func TestCurvesOfTable(t *testing.T) {
	long := table.New(table.Text("serve", []string{"b", "b", "b", "a", "a"}),
		table.Text("player", []string{"P", "P", "P", "P", "P"}),
		table.Number("phase_pct", "%", []float64{0, 50, 100, 100, 0}),
		table.Number("height_m", "m", []float64{1, 2, 3, 6, 4}))
	c := CurvesOf(long, "height_m")
	if len(c.Rows) != 2 || c.Rows[0][1] != 2 || c.Rows[1][0] != 4 || c.Rows[1][2] != 6 || !math.IsNaN(c.Rows[1][1]) ||
		c.Who != "P" || c.Unit != "m" {
		t.Errorf("%+v", c)
	}
}

func TestNormalise(t *testing.T) {
	values := make([]float64, 20)
	for i := range values {
		values[i] = square(float64(i)) / 10
	}
	got := Normalise(values, 2.5, 12.5, 3)
	for i, at := range []float64{2.5, 7.5, 12.5} {
		near(t, "value", got[i], at*at/10, 1e-9)
	}
}
