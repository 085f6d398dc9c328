package motion_test

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"

	"tossline/kernel/motion"
)

// The real takes against what is published: each player's mean lies within four SD of the pooled means of
// Jacquier-Bret & Gorce (2024) where they give one, else where nobody's body or serve is beyond; and serves of one
// player are more alike than those of different players.
func TestMeasuresOfRealTakesArePlausible(t *testing.T) {
	players := make([][]motion.Clip, len(handCount))
	for k, c := range handCount {
		take := realTake(t, c.file)
		found := motion.Cut(take)
		take.Hand = found.Hand
		for _, s := range found.Serves {
			if !s.CutOff {
				players[k] = append(players[k], clipOf(take, s, 0))
			}
		}
	}
	for _, c := range []struct {
		measure   motion.Measure
		low, high float64
	}{
		{motion.TrunkInclinationTrophy, 25 - 4*7.1, 25 + 4*7.1},
		{motion.FrontKneeFlexion, 64.5 - 4*9.7, 64.5 + 4*9.7},
		{motion.ExternalRotation, 130.1 - 4*26.5, 200},
		{motion.HittingElbowElevationContact, 110.7 - 4*16.9, 180},
		{motion.ElbowFlexionContact, 0, 30.1 + 4*15.9},
		{motion.ContactHeight, 1.7, 2.5},  // of the hand
		{motion.ContactOffset, -0.2, 0.5}, // against a direction that is estimated for each take
		{motion.HandSpeed, 3, 20},
		{motion.TossTime, 0.4, 1.5},
		{motion.JumpHeight, 0, 0.4},
		{motion.Separation, 0, 60},
		{motion.SequenceTrunk, 0, 0.2},
	} {
		var means, within []float64
		for k, clips := range players {
			var values []float64
			for _, clip := range clips {
				if v := motion.Compute(clip, c.measure)[0]; v.Missing == "" {
					values = append(values, v.Number)
				}
			}
			if len(values) < len(clips)-1 {
				t.Errorf("%s, %s: a value for %d serves of %d", handCount[k].file, c.measure.ID, len(values), len(clips))
				continue
			}
			mean, sd := stat.MeanStdDev(values, nil)
			if mean < c.low || mean > c.high {
				t.Errorf("%s: mean %s of %.3g %s", handCount[k].file, c.measure.ID, mean, c.measure.Unit)
			}
			means, within = append(means, mean), append(within, sd)
		}
		slices.Sort(within)
		between := stat.StdDev(means, nil)
		if !(within[len(within)/2] < between) && c.measure != motion.ContactOffset || math.IsNaN(between) {
			t.Errorf("%s: typical SD within players %.3g, between them %.3g", c.measure.ID, within[len(within)/2], between)
		}
	}
}
