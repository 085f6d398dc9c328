package stats

import (
	"math"
	"strings"
	"testing"
)

// Bland & Altman 1986 (Lancet i:307-310), table 1: peak flow of 17 subjects, two meters, twice each.
var (
	wright1 = []float64{494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427}
	wright2 = []float64{490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421}
	mini1   = []float64{512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451}
)

func flow(values []float64) Sample { return Values("Peak flow", "l/min", values) }

// Published: mean -2.1, SD 38.8, SE 9.4; unrounded values by R. The limits' standard error is that of the 1999 paper.
func TestAgreementBlandAltman(t *testing.T) {
	a := AgreementOf(flow(wright1).Named("Wright"), flow(mini1).Named("mini"))
	near(t, "bias", a.Bias.Value, -2.11764705882353, 1e-12)
	near(t, "bias, high", a.Bias.High, -2.11764705882353+2.1199052992210112*9.40192500350999, 1e-9)
	const z = 1.959963984540054
	near(t, "lower", a.Lower.Value, -2.11764705882353-z*38.7651298736074, 1e-10)
	near(t, "upper", a.Upper.Value, -2.11764705882353+z*38.7651298736074, 1e-10)
	se := (a.Upper.High - a.Upper.Low) / 2 / 2.1199052992210112
	near(t, "SE of a limit", se, 16.3949057936534, 1e-4) // computed there with 1.96
	noNaN(t, a)
}

// R: sd(wright1 - wright2) / sqrt(2), 1.96 * sqrt(2) times that (here with the exact quantile).
func TestRetest(t *testing.T) {
	r := RetestOf(flow(wright1), flow(wright2))
	near(t, "typical error", r.TypicalError.Value, 15.3612145276572, 1e-12)
	near(t, "detectable", r.Detectable.Value, 42.5791143222894*1.959963984540054/1.96, 1e-12)
	noNaN(t, r)
}

// R: sqrt of the residual mean square of aov(value ~ player), and 0.2 * sqrt(var(means) - ms * mean(1/n)).
func TestNoise(t *testing.T) {
	s := grouped("Knee flexion", "deg", [][]float64{{60, 62, 64}, {70, 75}, {50, 51, 55, 52}, {81, 82, 80}})
	n := NoiseOf(s)
	near(t, "typical error", n.TypicalError.Value, math.Sqrt((8+12.5+14+2)/8), 1e-12)
	means, ms := []float64{62, 72.5, 52, 81}, 36.5/8
	inverse := (1./3 + 1./2 + 1./4 + 1./3) / 4
	near(t, "worthwhile", n.Worthwhile.Value, 0.2*math.Sqrt(square(SD(means))-ms*inverse), 1e-12)
	near(t, "detectable over 4", n.DetectableOver(4), n.Detectable.Value/2, 1e-12)
	noNaN(t, n)
	for name, rows := range map[string][][]float64{"nothing": nil, "no repeats": {{1}, {2}}, "alike": {{1, 1}, {2, 2}}} {
		n := NoiseOf(grouped("x", "m", rows))
		if n.TypicalError.Sure() || !strings.Contains(n.Sentence, ".") {
			t.Errorf("%s: %s", name, n)
		}
		noNaN(t, n)
	}
}
