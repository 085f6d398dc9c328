package stats

import (
	"math"
	"testing"
)

func plain(lists ...[]float64) []Sample {
	samples := make([]Sample, len(lists))
	for i, values := range lists {
		samples[i] = Values(string(rune('a'+i)), "", values)
	}
	return samples
}

// NIST StRD, linear regression, Norris (lower difficulty): certified values.
func TestNorris(t *testing.T) {
	x := []float64{0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0,
		447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2,
		669.1, 448.9, 0.5}
	y := []float64{0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3,
		448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9,
		668.4, 449.2, 0.2}
	r := Regress(Values("y", "", y), plain(x)...)
	certified(t, r, []float64{-0.262323073774029, 1.00211681802045}, []float64{0.232818234301152, 0.000429796848199937})
	near(t, "residual SD", r.Spread, 0.884796396144373, 1e-13)
	near(t, "R²", r.Share, 0.999993745883712, 1e-14)
	near(t, "F", r.F, 5436385.54079785, 1e-11)
}

// NIST StRD, linear regression, Longley (higher difficulty): certified values.
func TestLongley(t *testing.T) {
	y := []float64{60323, 61122, 60171, 61187, 63221, 63639, 64989, 63761, 66019, 67857, 68169, 66513, 68655, 69564, 69331,
		70551}
	x := plain(
		[]float64{83, 88.5, 88.2, 89.5, 96.2, 98.1, 99, 100, 101.2, 104.6, 108.4, 110.8, 112.6, 114.2, 115.7, 116.9},
		[]float64{234289, 259426, 258054, 284599, 328975, 346999, 365385, 363112, 397469, 419180, 442769, 444546, 482704,
			502601, 518173, 554894},
		[]float64{2356, 2325, 3682, 3351, 2099, 1932, 1870, 3578, 2904, 2822, 2936, 4681, 3813, 3931, 4806, 4007},
		[]float64{1590, 1456, 1616, 1650, 3099, 3594, 3547, 3350, 3048, 2857, 2798, 2637, 2552, 2514, 2572, 2827},
		[]float64{107608, 108632, 109773, 110929, 112075, 113270, 115094, 116219, 117388, 118734, 120445, 121950, 123366,
			125368, 127852, 130081},
		[]float64{1947, 1948, 1949, 1950, 1951, 1952, 1953, 1954, 1955, 1956, 1957, 1958, 1959, 1960, 1961, 1962})
	r := Regress(Values("y", "", y), x...)
	certified(t, r, []float64{-3482258.63459582, 15.0618722713733, -0.035819179292591, -2.02022980381683,
		-1.03322686717359, -0.0511041056535807, 1829.15146461355},
		[]float64{890420.383607373, 84.9149257747669, 0.0334910077722432, 0.488399681651699, 0.214274163161675,
			0.22607320006937, 455.478499142212})
	near(t, "residual SD", r.Spread, 304.854073561965, 1e-12)
	near(t, "R²", r.Share, 0.995479004577296, 1e-13)
}

// certified compares coefficients and standard errors, intercept first, to 11 digits: what double precision keeps of
// the 15 certified at Longley's condition.
func certified(t *testing.T, r Regression, coefficients, errors []float64) {
	t.Helper()
	for k, e := range append([]Estimate{r.Intercept}, r.Coefficients...) {
		se := (e.High - e.Low) / 2 / tQuantile(r.DF)
		if math.Abs(e.Value/coefficients[k]-1) > 1e-11 || math.Abs(se/errors[k]-1) > 1e-11 {
			t.Errorf("coefficient %d: %.15g (%.15g), want %.15g (%.15g)", k, e.Value, se, coefficients[k], errors[k])
		}
	}
}

var (
	airFlow   = []float64{80, 80, 75, 62, 62, 62, 62, 62, 58, 58, 58, 58, 58, 58, 50, 50, 50, 50, 50, 56, 70}
	waterTemp = []float64{27, 27, 25, 24, 22, 23, 24, 24, 23, 18, 18, 17, 18, 19, 18, 18, 19, 19, 20, 20, 20}
	acid      = []float64{89, 88, 90, 87, 87, 87, 93, 93, 87, 80, 89, 88, 82, 93, 89, 86, 72, 79, 80, 82, 91}
	stackLoss = []float64{42, 37, 37, 28, 18, 18, 19, 20, 15, 14, 14, 13, 11, 12, 8, 7, 8, 8, 9, 15, 15}
)

// Brownlee's stack loss data (R dataset stackloss); R 4.2.2: confint(lm(...)), and MASS::rlm with acc = 1e-13.
func TestStackLoss(t *testing.T) {
	y, x := Values("Loss", "", stackLoss), plain(airFlow, waterTemp, acid)
	r := Regress(y, x...)
	nearEstimate(t, "air flow", r.Coefficients[0], 0.715640200485, 0.431114300224, 1.00016610075, 1e-11)
	nearEstimate(t, "acid", r.Coefficients[2], -0.152122519149, -0.481874126317, 0.17762908802, 1e-11)
	noNaN(t, r)

	robust := RobustRegress(y, x...)
	want := [][2]float64{{-41.026485373295, 9.806872294353}, {0.829385770254, 0.111174962320},
		{0.926059415549, 0.303393403350}, {-0.127846317965, 0.128846345687}}
	for k, e := range append([]Estimate{robust.Intercept}, robust.Coefficients...) {
		near(t, "robust coefficient", e.Value, want[k][0], 1e-9)
		near(t, "its standard error", (e.High-e.Low)/2/tQuantile(17), want[k][1], 1e-9)
	}
	near(t, "robust scale", robust.Spread, 2.44048904599, 1e-9)
	near(t, "weight of the last", robust.Weights[20], 0.368083781778, 1e-9)
	noNaN(t, robust)
}

func TestRegressionsWithTooLittle(t *testing.T) {
	nan := math.NaN()
	for name, c := range map[string][2][]float64{"nothing": {}, "few": {{1, 2, 3}, {1, 2, 4}},
		"missing": {{1, nan, 3, nan, 5}, {nan, 1, nan, 2, 3}}, "constant": {{1, 2, 3, 4, 5}, {2, 2, 2, 2, 2}},
		"exact": {{1, 2, 3, 4, 5}, {2, 4, 6, 8, 10}}, "flat": {{2, 2, 2, 2, 2}, {1, 2, 3, 5, 4}}} {
		for kind, regress := range map[string]func(Sample, ...Sample) Regression{"plain": Regress, "robust": RobustRegress} {
			t.Run(name+", "+kind, func(t *testing.T) {
				r := regress(Values("y", "m", c[0]), Values("x", "deg", c[1]))
				if r.Lack == "" {
					t.Error(r)
				}
				noNaN(t, r)
			})
		}
	}
	if r := Regress(Values("y", "", stackLoss), plain(airFlow, airFlow)...); r.Lack == "" {
		t.Error("one measure twice:", r)
	}
	noNaN(t, Regress(Values("y", "", stackLoss)))
}
