package stats

import (
	"math"
	"strings"
	"testing"
)

// Student's sleep data (Student 1908; R dataset sleep): extra hours of sleep under two drugs.
var (
	sleep1 = []float64{.7, -1.6, -.2, -1.2, -.1, 3.4, 3.7, .8, 0, 2}
	sleep2 = []float64{1.9, .8, 1.1, .1, -.1, 4.4, 5.5, 1.6, 4.6, 3.4}
)

// near fails unless got lies within tolerance, relative to values above 1, of want.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > tolerance*max(1, math.Abs(want)) {
		t.Errorf("%s = %.12g, want %.12g", what, got, want)
	}
}

func nearEstimate(t *testing.T, what string, e Estimate, value, low, high, tolerance float64) {
	t.Helper()
	near(t, what, e.Value, value, tolerance)
	near(t, what+", low", e.Low, low, tolerance)
	near(t, what+", high", e.High, high, tolerance)
}

// R 4.2.2: t.test(g1, g2) and t.test(g1, g2, paired = TRUE).
func TestComparisonsOfSleep(t *testing.T) {
	first := Values("Extra sleep", "h", sleep1).Named("Drug 1")
	second := Values("Extra sleep", "h", sleep2).Named("Drug 2")

	w := Welch(first, second)
	nearEstimate(t, "Welch difference", w.Difference, -1.58, -3.36548323071171, 0.20548323071171, 1e-12)
	near(t, "Welch t", w.T, -1.86081346748685, 1e-13)
	near(t, "Welch df", w.DF, 17.7764735161785, 1e-13)
	near(t, "Welch p", w.P, 0.0793941401873582, 1e-12)
	want := "Extra sleep: Drug 1 0.8 h (n = 10), Drug 2 2.3 h (n = 10). The difference is −1.6 h (95 % interval " +
		"−3.4 to +0.2 h), p = 0.079: not shown. In standard deviations: −0.80 (95 % interval −1.67 to +0.09)."
	if w.Sentence != want {
		t.Errorf("sentence\n%s, want\n%s", w.Sentence, want)
	}

	p := Paired(first, second)
	nearEstimate(t, "paired difference", p.Difference, -1.58, -2.45988576327698, -0.700114236723018, 1e-12)
	near(t, "paired t", p.T, -4.06212768338204, 1e-13)
	near(t, "paired p", p.P, 0.00283289019738427, 1e-12)
	if !p.Shown() || w.Shown() {
		t.Errorf("shown: paired %v, Welch %v; want true, false", p.Shown(), w.Shown())
	}
}

// Hedges 1981 from R's gamma function; the interval of d from R's pt(t, df, ncp), which warns at this precision.
func TestHedgesG(t *testing.T) {
	g := HedgesG(Values("Extra sleep", "h", sleep2), Values("Extra sleep", "h", sleep1))
	near(t, "g", g.Value, 0.796935239191122, 1e-12)
	const j = 0.95764642702372
	near(t, "low", g.Low, -0.0954503982*j, 2e-6)
	near(t, "high", g.High, 1.7388168991*j, 2e-6)
}

// scipy 1.10.1: ttest_ind(A, B, equal_var=False), the second worked example of Welch's test.
func TestWelchUnequalSpread(t *testing.T) {
	a := []float64{27.5, 21, 19, 23.6, 17, 17.9, 16.9, 20.1, 21.9, 22.6, 23.1, 19.6, 19, 21.7, 21.4, math.NaN()}
	b := []float64{27.1, 22, 20.8, 23.4, 23.4, 23.5, 25.8, 22, 24.8, 20.2, 21.9, 22.1, 22.9, 30.5, 31.3}
	w := Welch(Values("x", "", a), Values("x", "", b))
	near(t, "t", w.T, -2.949236837313109, 1e-12)
	near(t, "df", w.DF, 27.31161047222031, 1e-12)
	near(t, "p", w.P, 0.006460408027460329, 1e-12)
}

func TestComparisonsWithTooLittle(t *testing.T) {
	nan := math.NaN()
	cases := []struct {
		name          string
		first, second []float64
		more          int
		says          string
	}{
		{"nothing", nil, nil, 2, "0 serves with a value"},
		{"all missing", []float64{nan, nan}, []float64{1, 2}, 2, "2 more serves would do"},
		{"one serve", []float64{1}, []float64{1, 2}, 1, "1 more serve would do"},
		{"no spread", []float64{1, 1}, []float64{2, 2}, 0, "any spread"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			w := Welch(Values("Drop depth", "m", c.first), Values("Drop depth", "m", c.second))
			if w.Difference.Sure() || w.Difference.More != c.more || !strings.Contains(w.Sentence, c.says) {
				t.Errorf("more %d, sentence %q; want %d, one with %q", w.Difference.More, w.Sentence, c.more, c.says)
			}
			noNaN(t, w)
			noNaN(t, Paired(Values("x", "", c.first), Values("y", "", c.first)))
		})
	}
	standIn := Values("Drop depth", "m", []float64{1, 2, 3})
	standIn.StandIn = true
	if w := Welch(standIn, Values("Drop depth", "m", []float64{1, 2, 4})); w.Difference.Has() {
		t.Errorf("a stand-in was compared with the real thing: %s", w)
	}
}
