package stats

import (
	"strings"
	"testing"
)

// Bland & Altman 1995 (BMJ 310:446), table 1: intramural pH and PaCO2 of 8 subjects.
var (
	acidity = [][]float64{{6.68, 6.53, 6.43, 6.33}, {6.85, 7.06, 7.13, 7.17},
		{7.40, 7.42, 7.41, 7.37, 7.34, 7.35, 7.28, 7.30, 7.34}, {7.36, 7.33, 7.29, 7.30, 7.35},
		{7.35, 7.30, 7.30, 7.37, 7.27, 7.28, 7.32, 7.32}, {7.38, 7.30, 7.29, 7.33, 7.31, 7.33}, {6.86, 6.94, 6.92},
		{7.19, 7.29, 7.21, 7.25, 7.20, 7.19, 6.77, 6.82}}
	pressure = [][]float64{{3.97, 4.12, 4.09, 3.97}, {5.27, 5.37, 5.41, 5.44},
		{5.67, 3.64, 4.32, 4.73, 4.96, 5.04, 5.22, 4.82, 5.07}, {5.67, 5.10, 5.53, 4.75, 5.51},
		{4.28, 4.44, 4.32, 3.23, 4.46, 4.72, 4.75, 4.99}, {4.78, 4.73, 5.12, 4.93, 5.03, 4.93}, {6.85, 6.44, 6.52},
		{5.28, 4.56, 4.34, 4.32, 4.41, 3.69, 6.09, 5.58}}
)

// grouped is a sample of rows of values, one row for each player, named A, B, ...
func grouped(title, unit string, rows [][]float64) Sample {
	var values []float64
	var players []string
	for i, row := range rows {
		for _, v := range row {
			values, players = append(values, v), append(players, string(rune('A'+i)))
		}
	}
	return Values(title, unit, values).In(players, nil)
}

// The paper gives r = -0.51, p = 0.0008; the digits are those of R's rmcorr, reproduced in its README.
func TestWithinBlandAltman(t *testing.T) {
	w := Within(grouped("PaCO2", "kPa", pressure), grouped("Acidity", "", acidity))
	nearEstimate(t, "r", w.Within, -0.506769742233, -0.7067146364, -0.2318631198, 1e-10)
	near(t, "p", w.P, 0.0008471081091, 1e-10)
	near(t, "df", w.DF, 38, 0)
	near(t, "slope", w.Slope.Value, -0.108323047070, 1e-10)
	near(t, "pooled", w.Pooled.Value, -0.0652177441, 1e-9)
	near(t, "between", w.Between.Value, 0.0817731351, 1e-9)
	if !strings.Contains(w.Sentence, "47 serves of 8 players: shown") {
		t.Error(w.Sentence)
	}
	noNaN(t, w)
}

func TestWithinTooLittle(t *testing.T) {
	cases := []struct {
		name string
		x, y [][]float64
		says string
	}{
		{"nothing", nil, nil, "more serves would do"},
		{"one serve each", [][]float64{{1}, {2}, {3}}, [][]float64{{1}, {2}, {3}}, "would do"},
		{"no variance", [][]float64{{1, 1, 1}, {2, 2, 2}}, [][]float64{{1, 2, 3}, {2, 5, 4}}, "does not vary"},
		{"perfect", [][]float64{{1, 2, 3}, {1, 2, 3}}, [][]float64{{2, 4, 6}, {3, 5, 7}}, "r = "},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			w := Within(grouped("x", "m", c.x), grouped("y", "deg", c.y))
			noNaN(t, w)
			if !strings.Contains(w.Sentence, c.says) {
				t.Errorf("%q says nothing of %q", w.Sentence, c.says)
			}
		})
	}
}
