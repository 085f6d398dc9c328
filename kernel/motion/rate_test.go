package motion_test

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"

	"tossline/datasets/demo"
	"tossline/datasets/landmark"
	"tossline/kernel/motion"
)

// How far off fast measures are at lower rates is what the reference page says: serves whose truth is known, with their
// true events.
func TestFewFramesCostWhatIsSaid(t *testing.T) {
	if testing.Short() {
		t.Skip("resampling only computes")
	}
	stated := map[float64]map[string]float64{
		200: {"racket_speed_m_s": 0.3, "long_axis_speed_deg_s": 65, "contact_height_m": 0.006},
		100: {"racket_speed_m_s": 0.6, "long_axis_speed_deg_s": 70, "contact_height_m": 0.02},
		50:  {"racket_speed_m_s": 1.7, "long_axis_speed_deg_s": 370, "contact_height_m": 0.17},
	}
	takes, enough := 0, errors.New("enough")
	squares, counts := map[float64]map[string]float64{}, map[float64]map[string]float64{}
	for rate := range stated {
		squares[rate], counts[rate] = map[string]float64{}, map[string]float64{}
	}
	err := demo.Generate(context.Background(), demo.DefaultSeed, func(made demo.Take) error {
		for rate := range stated {
			take := withoutBall(made.Take)
			if rate != take.Rate {
				take = at(rate)(take)
			}
			for _, s := range made.Serves {
				if s.Truth.CutOff || len(s.Truth.Missing) > 0 {
					continue
				}
				for column, d := range offTruth(take, s.Truth) {
					squares[rate][column] += d * d
					counts[rate][column]++
				}
			}
		}
		if takes++; takes == 4 {
			return enough
		}
		return nil
	})
	if !errors.Is(err, enough) {
		t.Fatal(err)
	}
	for rate, columns := range stated {
		for column, most := range columns {
			off := math.Sqrt(squares[rate][column] / counts[rate][column])
			if !(off < 1.3*most && off > 0.5*most) {
				t.Errorf("at %g Hz %s is off by %.3g, stated %g", rate, column, off, most)
			}
		}
	}
}

func withoutBall(t motion.Take) motion.Take {
	names := slices.Clone(t.Layout.Names())
	names[t.Layout.Index(landmark.Ball)] = "untracked"
	t.Layout = landmark.NewLayout(names)
	return t
}

// offTruth is how far measures of a serve are from its truth; its contact is that of the racket.
func offTruth(take motion.Take, truth demo.Truth) map[string]float64 {
	serve := motion.Serve{Events: motion.Events{}}
	for kind, at := range truth.Events {
		serve.Events[kind] = motion.Event{TimeS: at}
	}
	serve.First = max(int((truth.Events[motion.Start]-0.6)*take.Rate), 0)
	serve.Last = min(int((truth.Events[motion.Finish]+0.6)*take.Rate), take.Len()-1)
	measures := []motion.Measure{motion.RacketSpeed, motion.LongAxisSpeed, motion.ContactHeight}
	off := map[string]float64{}
	for k, v := range motion.Compute(clipOf(take, serve, 0), measures...) {
		if v.Missing == "" && !v.StandIn {
			off[measures[k].Column()] = v.Number - truth.Measures[measures[k].Column()]
		}
	}
	return off
}
