package motion_test

import (
	"math"
	"slices"
	"testing"

	"tossline/datasets/landmark"
	"tossline/kernel/motion"
)

// What looks like a serve in part, made from the serves of the real takes by leaving out what makes them serves.
func TestCutLeavesOutWhatIsNotAServe(t *testing.T) {
	for _, c := range handCount {
		t.Run(c.file, func(t *testing.T) {
			t.Parallel()
			take := realTake(t, c.file)
			for _, rate := range []float64{60, 100} {
				base := at(rate)(take)
				whole := motion.Cut(base)
				for _, not := range notServes {
					if found := motion.Cut(not.make(base, whole)); slices.ContainsFunc(found.Serves, isWhole) {
						t.Errorf("at %g Hz, %s: %v", rate, not.name, describe(found))
					}
				}
			}
		})
	}
}

var notServes = []struct {
	name string
	make func(motion.Take, motion.Found) motion.Take
}{
	{"tosses caught at trophy", caught(motion.Trophy)},
	{"tosses caught at low point", caught(motion.LowPoint)},
	{"practice swings with the tossing arm down", withoutToss},
	{"the hitting arm kept still", withoutSwing},
	{"everything in slow motion", slowed},
	{"arms raised while waiting", armsRaised},
}

func isWhole(s motion.Serve) bool { return !s.CutOff }

// caught plays every serve up to an event and back again: the ball is caught and the arms come down.
func caught(until motion.EventKind) func(motion.Take, motion.Found) motion.Take {
	return func(t motion.Take, found motion.Found) motion.Take {
		width := 3 * t.Layout.Len()
		var out []float32
		for _, s := range found.Serves {
			if s.CutOff {
				continue
			}
			from, to := int(s.Events[motion.Start].TimeS*t.Rate), int(s.Events[until].TimeS*t.Rate)
			out = append(out, t.Frames[from*width:to*width]...)
			for i := to; i >= from; i-- {
				out = append(out, t.Frames[i*width:(i+1)*width]...)
			}
		}
		t.Frames = out
		return t
	}
}

// hang makes the points of an arm hang below its shoulder throughout.
func hang(t motion.Take, shoulder landmark.Name, arm ...landmark.Name) motion.Take {
	t.Frames = slices.Clone(t.Frames)
	width, from := 3*t.Layout.Len(), 3*t.Layout.Index(shoulder)
	for i := 0; i < len(t.Frames); i += width {
		for k, n := range arm {
			to := i + 3*t.Layout.Index(n)
			copy(t.Frames[to:to+3], t.Frames[i+from:i+from+3])
			t.Frames[to+1] -= 0.22 * float32(k+1)
		}
	}
	return t
}

func withoutToss(t motion.Take, _ motion.Found) motion.Take {
	return hang(t, landmark.LeftShoulder, landmark.LeftElbow, landmark.LeftWrist, landmark.LeftHand)
}

func withoutSwing(t motion.Take, _ motion.Found) motion.Take {
	return hang(t, landmark.RightShoulder, landmark.RightElbow, landmark.RightWrist, landmark.RightHand)
}

// slowed plays the take six times slower: nobody serves like that, though somebody may show how.
func slowed(t motion.Take, _ motion.Found) motion.Take {
	rate := t.Rate
	t.Rate = rate / 6
	t = at(rate)(t)
	return t
}

// armsRaised holds both arms up for a second every three seconds, over a player who stands still.
func armsRaised(t motion.Take, found motion.Found) motion.Take {
	t.Frames = slices.Clone(t.Frames)
	width := 3 * t.Layout.Len()
	still := slices.Clone(t.Frames[found.Serves[0].First*width:][:width])
	for i := range t.Len() {
		copy(t.Frames[i*width:], still)
		up := float32(0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/t.Rate/3))
		for _, n := range []landmark.Name{landmark.LeftHand, landmark.RightHand, landmark.LeftWrist, landmark.RightWrist} {
			t.Frames[i*width+3*t.Layout.Index(n)+1] += 1.4 * up * up
		}
	}
	return t
}
