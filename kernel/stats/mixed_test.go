package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Reaction times of 18 subjects over 10 days of short sleep (Belenky et al. 2003; lme4's dataset sleepstudy).
var reaction = [][]float64{
	{249.56, 258.7047, 250.8006, 321.4398, 356.8519, 414.6901, 382.2038, 290.1486, 430.5853, 466.3535},
	{222.7339, 205.2658, 202.9778, 204.707, 207.7161, 215.9618, 213.6303, 217.7272, 224.2957, 237.3142},
	{199.0539, 194.3322, 234.32, 232.8416, 229.3074, 220.4579, 235.4208, 255.7511, 261.0125, 247.5153},
	{321.5426, 300.4002, 283.8565, 285.133, 285.7973, 297.5855, 280.2396, 318.2613, 305.3495, 354.0487},
	{287.6079, 285, 301.8206, 320.1153, 316.2773, 293.3187, 290.075, 334.8177, 293.7469, 371.5811},
	{234.8606, 242.8118, 272.9613, 309.7688, 317.4629, 309.9976, 454.1619, 346.8311, 330.3003, 253.8644},
	{283.8424, 289.555, 276.7693, 299.8097, 297.171, 338.1665, 332.0265, 348.8399, 333.36, 362.0428},
	{265.4731, 276.2012, 243.3647, 254.6723, 279.0244, 284.1912, 305.5248, 331.5229, 335.7469, 377.299},
	{241.6083, 273.9472, 254.4907, 270.8021, 251.4519, 254.6362, 245.4523, 235.311, 235.7541, 237.2466},
	{312.3666, 313.8058, 291.6112, 346.1222, 365.7324, 391.8385, 404.2601, 416.6923, 455.8643, 458.9167},
	{236.1032, 230.3167, 238.9256, 254.922, 250.7103, 269.7744, 281.5648, 308.102, 336.2806, 351.6451},
	{256.2968, 243.4543, 256.2046, 255.5271, 268.9165, 329.7247, 379.4445, 362.9184, 394.4872, 389.0527},
	{250.5265, 300.0576, 269.8939, 280.5891, 271.8274, 304.6336, 287.7466, 266.5955, 321.5418, 347.5655},
	{221.6771, 298.1939, 326.8785, 346.8555, 348.7402, 352.8287, 354.4266, 360.4326, 375.6406, 388.5417},
	{271.9235, 268.4369, 257.2424, 277.6566, 314.8222, 317.2135, 298.1353, 348.1229, 340.28, 366.5131},
	{225.264, 234.5235, 238.9008, 240.473, 267.5373, 344.1937, 281.1481, 347.5855, 365.163, 372.2288},
	{269.8804, 272.4428, 277.8989, 281.7895, 279.1705, 284.512, 259.2658, 304.6306, 350.7807, 369.4692},
	{269.4117, 273.474, 297.5968, 310.6316, 287.1726, 329.6076, 334.4818, 343.2199, 369.1417, 364.1236},
}

// Bates et al. 2015 print 251.405 (6.825), 10.467 (1.546); SDs 24.741, 5.922, 25.592, correlation 0.066. Digits: R
// 4.2.2, lmer(Reaction ~ Days + (Days | Subject)), REML, bobyqa to 1e-12.
func TestMixedSleepStudy(t *testing.T) {
	days := make([][]float64, len(reaction))
	for k := range days {
		days[k] = []float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}
	}
	m := Mixed(grouped("Days", "d", days), grouped("Reaction", "ms", reaction))
	near(t, "intercept", m.Intercept.Value, 251.4051048485, 1e-9)
	near(t, "slope", m.Slope.Value, 10.4672859596, 1e-9)
	t17 := tQuantile(17)
	near(t, "SE of intercept", (m.Intercept.High-m.Intercept.Low)/2/t17, 6.82455577628, 1e-5)
	near(t, "SE of slope", (m.Slope.High-m.Slope.Low)/2/t17, 1.54578893243, 1e-5)
	near(t, "SD of intercepts", m.InterceptSD.Value, 24.7404476166998, 1e-5)
	near(t, "SD of slopes", m.SlopeSD.Value, 5.9221332595791, 1e-5)
	near(t, "correlation", m.Correlation, 0.0655513428535, 1e-5)
	near(t, "SD of the rest", m.RestSD.Value, 25.5918158926241, 1e-6)
	near(t, "slope of the first", m.Lines[0].Slope, 19.66625786382, 1e-5)
	near(t, "intercept of the second", m.Lines[1].Intercept, 211.006527924, 1e-5)
	// R: confint(m, method = "boot", nsim = 500, seed = 1), percentiles of other draws.
	nearEstimate(t, "interval of the SD of intercepts", m.InterceptSD, 24.74, 12.44, 36.29, 0.1)
	nearEstimate(t, "interval of the SD of slopes", m.SlopeSD, 5.92, 3.31, 8.38, 0.1)
	nearEstimate(t, "interval of the SD of the rest", m.RestSD, 25.59, 22.62, 28.65, 0.03)
	if m.Table().Err() != nil || m.Table().Len() != 18 {
		t.Error(m.Table().Err())
	}
	noNaN(t, m)
}

// The interval of the slope covers the true one in 95 % of seasons of 8 players.
func TestMixedCoverage(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 12))
	const runs = 500
	covered := 0.0
	for range runs {
		var x, y [][]float64
		for range 8 {
			level, slope := 5*random.NormFloat64(), 3+random.NormFloat64()
			var px, py []float64
			for range 12 {
				v := random.NormFloat64()
				px, py = append(px, v), append(py, level+slope*v+2*random.NormFloat64())
			}
			x, y = append(x, px), append(y, py)
		}
		d := newMixedData(grouped("x", "", x), grouped("y", "", y))
		f, _ := d.fit(1e-7, 15)
		slope, half := d.back(f.beta, true)[1], tQuantile(7)*math.Sqrt(d.backCovariance(f.covariance)[3])
		if math.Abs(slope-3) < half {
			covered++
		}
	}
	if covered/runs < 0.93 || covered/runs > 0.97 {
		t.Errorf("covered in %.1f %%", 100*covered/runs)
	}
}

func TestMixedWithTooLittle(t *testing.T) {
	nan := math.NaN()
	good := [][]float64{{1, 2, 3}, {2, 4, 5}, {0, 1, 5}}
	cases := []struct {
		name string
		x, y [][]float64
		lack bool
	}{
		{"nothing", nil, nil, true},
		{"two players", good[:2], good[:2], true},
		{"one serve each", [][]float64{{1}, {2}, {3}}, [][]float64{{1}, {2}, {3}}, true},
		{"x constant within", [][]float64{{1, 1, 1}, {2, 2, 2}, {3, 3, 3}}, good, true},
		{"exact", good, good, true},
		{"y constant", good, [][]float64{{1, 1, 1}, {1, 1, 1}, {1, 1, 1}}, true},
		{"missing", [][]float64{{1, 2, nan, 4}, {nan, 4, 5, 6}, {0, 1, 2, 5}},
			[][]float64{{1, 3, 3, 3}, {2, 4, 7, 6}, {0, nan, 2, 4}}, false},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			m := Mixed(grouped("x", "m", c.x), grouped("y", "deg", c.y))
			if (m.Lack != "") != c.lack {
				t.Error(m)
			}
			noNaN(t, m)
		})
	}
}
