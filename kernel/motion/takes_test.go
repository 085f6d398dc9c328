package motion_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	_ "tossline/datasets/formats"
	"tossline/datasets/landmark"
	"tossline/datasets/recording"
	"tossline/kernel/motion"
	"tossline/kernel/signal"
	"tossline/kernel/spatial"
)

// The hand count of six takes of motion capture, each some 30 s at 100 Hz of one right-handed player serving without
// racket and ball: when the hitting hand is highest near contact, read off plots and refined to the local maximum. The
// data is "A tennis action dataset: competitive performance of Caldas-Colombia tennis players" (Pulgarin-Giraldo et al.
// 2017, doi 10.1007/978-3-319-52277-7_38), CC BY-SA 3.0; it is not part of this project.
var handCount = []struct {
	file     string
	contacts []float64
	cutOff   bool // a serve is cut off by the end
}{
	{"serves-01", []float64{2.26, 7.99, 12.96, 21.00, 25.02}, false},
	{"serves-02", []float64{2.59, 6.93, 11.14, 15.42, 19.67, 24.42, 27.81}, true},
	{"serves-03", []float64{1.46, 4.84, 8.02, 11.07, 13.91, 18.09, 21.12, 24.53, 27.62}, true},
	{"serves-04", []float64{4.29, 8.10, 12.03, 15.93, 19.91, 23.89, 27.82}, false},
	{"serves-05", []float64{4.52, 12.74, 17.98, 25.22}, true},
	{"serves-06", []float64{2.10, 6.31, 10.33, 15.28, 18.93, 22.52, 26.53}, false},
}

// realTake reads one of the takes, or skips the test where they are not at hand.
func realTake(t testing.TB, file string) motion.Take {
	t.Helper()
	if testing.Short() {
		t.Skip("cutting the takes only computes")
	}
	paths, _ := filepath.Glob("../../../shared/data/bvh/" + file + ".bvh")
	if len(paths) == 0 {
		t.Skip("the takes in ../shared/data are not here")
	}
	prepared, err := recording.Prepare(context.Background(), paths[0], recording.Options{})
	if err != nil {
		t.Fatal(err)
	}
	take := prepared.Take
	take.Hand = motion.HandUnknown
	return take
}

// change is something that may be done to a take without changing what was served.
type change struct {
	name   string
	apply  func(motion.Take) motion.Take
	hand   motion.Hand
	closeS float64 // how near to the hand count contacts must be
}

var changes = []change{
	{"as recorded", func(t motion.Take) motion.Take { return t }, motion.HandRight, 0.03},
	{"mirrored", mirrored, motion.HandLeft, 0.03},
	{"at 50 Hz", at(50), motion.HandRight, 0.05},
	{"at 60 Hz", at(60), motion.HandRight, 0.05},
	{"at 120 Hz", at(120), motion.HandRight, 0.03},
	{"at 240 Hz", at(240), motion.HandRight, 0.03},
	{"at 500 Hz", at(500), motion.HandRight, 0.03},
	{"turned by 100 degrees", turned(100), motion.HandRight, 0.03},
	{"turned by -73 degrees", turned(-73), motion.HandRight, 0.03},
	{"moved", moved, motion.HandRight, 0.03},
	{"as a child, 0.75", scaled(0.75), motion.HandRight, 0.03},
	{"as a giant, 1.1", scaled(1.1), motion.HandRight, 0.03},
	{"with 3 mm of noise", noisy(0.003), motion.HandRight, 0.03},
	{"with 10 mm of noise", noisy(0.010), motion.HandRight, 0.05},
	{"by one camera behind", without(0), motion.HandRight, 0.03},
	{"by one camera at the side", without(2), motion.HandRight, 0.03},
	{"with frames dropped", dropped, motion.HandRight, 0.05},
	{"a left-handed child at 60 Hz with noise and dropped frames", func(t motion.Take) motion.Take {
		return dropped(noisy(0.005)(at(60)(scaled(0.8)(mirrored(t)))))
	}, motion.HandLeft, 0.05},
}

func TestCutFindsTheServesThatWereCounted(t *testing.T) {
	for _, c := range handCount {
		take := realTake(t, c.file)
		for _, change := range changes {
			t.Run(c.file+" "+change.name, func(t *testing.T) {
				t.Parallel()
				found := motion.Cut(change.apply(take))
				if found.Hand != change.hand {
					t.Errorf("hitting hand %q, want %q (%s)", found.Hand, change.hand, found.HandWhy)
				}
				checkContacts(t, found, c.contacts, change.closeS)
				if cut := slices.ContainsFunc(found.Serves, func(s motion.Serve) bool { return s.CutOff }); cut &&
					!c.cutOff {
					t.Errorf("a cut-off serve where the take has none: %v", describe(found))
				}
			})
		}
	}
}

func checkContacts(t *testing.T, found motion.Found, want []float64, closeS float64) {
	t.Helper()
	var got []float64
	for _, s := range found.Serves {
		if !s.CutOff {
			got = append(got, s.Events[motion.Contact].TimeS)
		}
	}
	if len(got) != len(want) {
		t.Fatalf("%d serves, want %d: got %.2f, want %.2f", len(got), len(want), got, want)
	}
	for i := range got {
		if math.Abs(got[i]-want[i]) > closeS {
			t.Errorf("contact at %.3f s, counted at %.2f s", got[i], want[i])
		}
	}
}

func describe(f motion.Found) (lines []string) {
	for _, s := range f.Serves {
		line := fmt.Sprint("cut off: ", s.CutOffWhy)
		for _, k := range motion.EventKinds {
			if e, ok := s.Events[k]; ok {
				line += fmt.Sprintf(" %s %.2f", k, e.TimeS)
			}
		}
		lines = append(lines, line)
	}
	return lines
}

func TestCutMarksServesThatTheTakeEndsIn(t *testing.T) {
	for _, c := range handCount {
		if !c.cutOff {
			continue
		}
		found := motion.Cut(realTake(t, c.file))
		last := found.Serves[len(found.Serves)-1]
		if !last.CutOff || last.CutOffWhy != "contact after the take ends" {
			t.Errorf("%s: the serve that the take ends in is not marked: %v", c.file, describe(found))
		}
	}
}

func TestCutFindsNothingInATakePlayedBackwards(t *testing.T) {
	for _, c := range handCount {
		take := realTake(t, c.file)
		for _, change := range []change{changes[0], changes[1], changes[3], changes[5], changes[12]} {
			found := motion.Cut(change.apply(reversed(take)))
			for _, s := range found.Serves {
				if !s.CutOff {
					t.Errorf("%s backwards, %s: %v", c.file, change.name, describe(found))
				}
			}
		}
	}
}

// A take that is cropped anywhere keeps the serves that lie in it whole, and none of which the release or the contact
// lies outside.
func TestCutOfACroppedTake(t *testing.T) {
	for _, c := range handCount {
		take := realTake(t, c.file)
		whole := motion.Cut(take)
		for fromS := 0.0; fromS < 24; fromS += 0.7 {
			toS := fromS + 5.3
			crop := cropped(take, fromS, toS)
			checkCrop(t, c.file, whole, motion.Cut(crop), fromS, min(toS, float64(take.Len())/take.Rate))
		}
	}
}

func checkCrop(t *testing.T, file string, whole, crop motion.Found, fromS, toS float64) {
	t.Helper()
	for _, s := range whole.Serves {
		if s.CutOff {
			continue
		}
		release, contact := s.Events[motion.Release].TimeS, s.Events[motion.Contact].TimeS
		found := slices.ContainsFunc(crop.Serves, func(x motion.Serve) bool {
			return !x.CutOff && math.Abs(x.Events[motion.Contact].TimeS+fromS-contact) < 0.05
		})
		inside := release > fromS+0.6 && contact < toS-0.9
		outside := release < fromS || contact > toS
		if inside && !found {
			t.Errorf("%s from %.1f to %.1f s: the serve with contact at %.2f s is lost: %v", file, fromS, toS,
				contact, describe(crop))
		}
		if outside && found {
			t.Errorf("%s from %.1f to %.1f s: release %.2f, contact %.2f s is not marked cut off", file, fromS, toS,
				release, contact)
		}
	}
	for _, x := range crop.Serves {
		if at := x.Events[motion.Contact].TimeS + fromS; !x.CutOff &&
			!slices.ContainsFunc(whole.Serves, func(s motion.Serve) bool {
				return math.Abs(s.Events[motion.Contact].TimeS-at) < 0.05
			}) {
			t.Errorf("%s from %.1f to %.1f s: a serve at %.2f s was invented", file, fromS, toS, at)
		}
	}
}

// Whichever way the take is turned, the direction of the serve turns with it, and its serves agree on it.
func TestHeadingTurnsWithTheTake(t *testing.T) {
	for _, c := range handCount {
		take := realTake(t, c.file)
		h, ok := motion.EstimateHeading(take)
		if !ok || h.Serves != len(c.contacts) {
			t.Fatalf("%s: heading from %d serves of %d", c.file, h.Serves, len(c.contacts))
		}
		if h.SpreadRad > spatial.Radians(12) {
			t.Errorf("%s: the serves spread by %.1f degrees", c.file, spatial.Degrees(h.SpreadRad))
		}
		other, _ := motion.EstimateHeading(turned(50)(take))
		if d := spatial.Degrees(spatial.Unwrap(other.Radians-h.Radians, 0)); math.Abs(d-50) > 0.2 {
			t.Errorf("%s: turned by 50 degrees, the heading turned by %.2f", c.file, d)
		}
		flipped, _ := motion.EstimateHeading(mirrored(take))
		if d := spatial.Degrees(spatial.Unwrap(flipped.Radians+h.Radians, 0)); math.Abs(d) > 0.2 {
			t.Errorf("%s: mirrored, the heading is off by %.2f degrees", c.file, d)
		}
	}
}

// points makes a copy of a take with every point changed.
func points(t motion.Take, f func(r3.Vec) r3.Vec) motion.Take {
	t.Frames = slices.Clone(t.Frames)
	for i := 0; i < len(t.Frames); i += 3 {
		p := f(r3.Vec{X: float64(t.Frames[i]), Y: float64(t.Frames[i+1]), Z: float64(t.Frames[i+2])})
		t.Frames[i], t.Frames[i+1], t.Frames[i+2] = float32(p.X), float32(p.Y), float32(p.Z)
	}
	return t
}

func turned(degrees float64) func(motion.Take) motion.Take {
	return func(t motion.Take) motion.Take {
		return points(t, func(p r3.Vec) r3.Vec { return spatial.TurnAbout(p, spatial.Radians(degrees)) })
	}
}

func moved(t motion.Take) motion.Take {
	return points(t, func(p r3.Vec) r3.Vec { return r3.Add(p, r3.Vec{X: -11.9, Z: 3.2}) })
}

func scaled(by float64) func(motion.Take) motion.Take {
	return func(t motion.Take) motion.Take {
		return points(t, func(p r3.Vec) r3.Vec { return r3.Scale(by, p) })
	}
}

func noisy(sigma float64) func(motion.Take) motion.Take {
	return func(t motion.Take) motion.Take {
		random := rand.New(rand.NewPCG(7, 7))
		return points(t, func(p r3.Vec) r3.Vec {
			return r3.Add(p, r3.Vec{X: sigma * random.NormFloat64(), Y: sigma * random.NormFloat64(),
				Z: sigma * random.NormFloat64()})
		})
	}
}

// mirrored is the same serve by a left-hander.
func mirrored(t motion.Take) motion.Take {
	t = points(t, func(p r3.Vec) r3.Vec { p.Z = -p.Z; return p })
	names := slices.Clone(t.Layout.Names())
	for i, n := range names {
		names[i] = n.Mirror()
	}
	t.Layout = landmark.NewLayout(names)
	return t
}

// without leaves one coordinate out, as one camera does.
func without(coordinate int) func(motion.Take) motion.Take {
	return func(t motion.Take) motion.Take {
		t.Frames = slices.Clone(t.Frames)
		for i := coordinate; i < len(t.Frames); i += 3 {
			t.Frames[i] = float32(math.NaN())
		}
		return t
	}
}

// at resamples every channel by a cubic spline.
func at(rateHz float64) func(motion.Take) motion.Take {
	return func(t motion.Take) motion.Take {
		width, n := 3*t.Layout.Len(), t.Len()
		frames := int(float64(n-1)/t.Rate*rateHz) + 1
		out := make([]float32, frames*width)
		in, resampled := make([]float64, n), make([]float64, frames)
		for c := range width {
			for i := range in {
				in[i] = float64(t.Frames[i*width+c])
			}
			signal.ResampleTo(resampled, in, 0, float64(frames-1)/rateHz*t.Rate, 10)
			for i, v := range resampled {
				out[i*width+c] = float32(v)
			}
		}
		t.Rate, t.Frames = rateHz, out
		return t
	}
}

// dropped loses one frame in thirty, and a tenth of a second of a hand here and there.
func dropped(t motion.Take) motion.Take {
	t.Frames = slices.Clone(t.Frames)
	random := rand.New(rand.NewPCG(3, 4))
	width, nan := 3*t.Layout.Len(), float32(math.NaN())
	for i := range t.Len() {
		if random.IntN(30) == 0 {
			for c := range width {
				t.Frames[i*width+c] = nan
			}
		}
	}
	for range 20 {
		from, point := random.IntN(t.Len()), random.IntN(t.Layout.Len())
		for i := from; i < min(from+int(0.1*t.Rate), t.Len()); i++ {
			for c := range 3 {
				t.Frames[i*width+3*point+c] = nan
			}
		}
	}
	return t
}

func reversed(t motion.Take) motion.Take {
	width, n := 3*t.Layout.Len(), t.Len()
	out := make([]float32, len(t.Frames))
	for i := range n {
		copy(out[i*width:(i+1)*width], t.Frames[(n-1-i)*width:])
	}
	t.Frames = out
	return t
}

func cropped(t motion.Take, fromS, toS float64) motion.Take {
	width := 3 * t.Layout.Len()
	from, to := int(fromS*t.Rate+0.5), min(int(toS*t.Rate+0.5), t.Len())
	t.Frames = t.Frames[from*width : to*width]
	return t
}

// A take that begins after the release of its only serve keeps it, whichever hand hits, though nobody said which.
func TestCutOfATakeThatBeginsInItsServe(t *testing.T) {
	kept := 0
	for _, c := range handCount {
		take := realTake(t, c.file)
		for _, s := range motion.Cut(take).Serves {
			if s.CutOff {
				continue
			}
			swing := cropped(take, s.Events[motion.Release].TimeS+0.3, s.Events[motion.Contact].TimeS+0.9)
			right, left := motion.Cut(swing), motion.Cut(mirrored(swing))
			if len(right.Serves) != len(left.Serves) || len(right.Serves) > 0 && (right.Hand != motion.HandRight ||
				left.Hand != motion.HandLeft || right.Serves[0].CutOffWhy != "release before the take starts") {
				t.Errorf("%s: %q, %v, in the mirror %q, %v", c.file, right.Hand, describe(right), left.Hand, describe(left))
			}
			kept += len(right.Serves)
		}
	}
	if kept < 30 {
		t.Errorf("%d serves are kept", kept)
	}
}
