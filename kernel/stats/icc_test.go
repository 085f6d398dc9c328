package stats

import (
	"math"
	"testing"
)

// Shrout & Fleiss 1979, table 2: 6 targets, 4 judges; the paper gives .17, .29, .71, .44, .62, .91. Digits and
// intervals: R 4.2.2, psych 2.2.9, ICC(x, lmer = FALSE).
func TestICCShroutFleiss(t *testing.T) {
	i := ICC("Rating", [][]float64{{9, 2, 5, 8}, {6, 1, 3, 2}, {8, 4, 6, 8}, {7, 1, 2, 6}, {10, 5, 6, 9}, {6, 2, 4, 7},
		{1, math.NaN(), 2, 3}})
	nearEstimate(t, "ICC(1,1)", i.OneSingle, 0.165741768405, -0.1329323249, 0.7225600623, 1e-9)
	nearEstimate(t, "ICC(2,1)", i.TwoSingle, 0.289763779528, 0.0187865134, 0.7610843696, 1e-9)
	nearEstimate(t, "ICC(3,1)", i.ThreeSingle, 0.714840714841, 0.3424647650, 0.9458582600, 1e-9)
	nearEstimate(t, "ICC(1,k)", i.OneAverage, 0.442797133679, -0.8844421552, 0.9124154203, 1e-9)
	nearEstimate(t, "ICC(2,k)", i.TwoAverage, 0.620050547599, 0.0711368153, 0.9272320402, 1e-9)
	nearEstimate(t, "ICC(3,k)", i.ThreeAverage, 0.909315542377, 0.6756747138, 0.9858916782, 1e-9)
	if i.LeftOut != 1 || i.Subjects != 6 {
		t.Errorf("%d subjects, %d left out", i.Subjects, i.LeftOut)
	}
	noNaN(t, i)
}

func TestICCWithTooLittle(t *testing.T) {
	for name, rows := range map[string][][]float64{"nothing": nil, "one subject": {{1, 2}}, "one rater": {{1}, {2}},
		"alike": {{1, 1}, {1, 1}}, "perfect": {{1, 1}, {2, 2}, {3, 3}}, "no subjects' spread": {{1, 2}, {1, 2}, {2, 1}}} {
		t.Run(name, func(t *testing.T) { noNaN(t, ICC("Knee flexion", rows)) })
	}
	s := grouped("x", "", [][]float64{{1, 2, 3}, {4}, {5, 6}})
	if rows := Trials(s, 2); len(rows) != 2 || rows[1][1] != 6 {
		t.Errorf("trials %v", rows)
	}
}
