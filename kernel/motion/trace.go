package motion

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/datasets/landmark"
	"tossline/kernel/signal"
	"tossline/kernel/spatial"
)

// trace is a take reduced to what shows a serve, at the take's own rate: where the hands are, how fast they move and
// how the trunk turns. Lengths are in arm lengths and speeds in units of sqrt(g * arm length), the speed of a fall
// through half an arm: so the same numbers hold for a child and for an adult.
type trace struct {
	rate float64
	n    int
	arm  float64 // length of the arm without the hand, m
	unit float64 // sqrt(g*arm), m/s
	hand [2]side // left, right
	turn []float64
	head float64 // how high the top of the head is above the shoulders when standing, in arm lengths
}

// side is one hand: its height above the middle of the shoulders, its upward speed and its speed.
type side struct{ height, rise, speed []float64 }

const (
	gravity = 9.81
	// coarseHz smooths what the search looks at: it must keep the swing, and no more.
	coarseHz = 8
	// coarseGapS may be bridged when looking for serves, though not when measuring them.
	coarseGapS = 0.3
)

// newTrace reads the take; the reason says what is missing when a serve cannot be recognised in it.
func newTrace(t *Take) (tr *trace, missing string) {
	s := source{t}
	left, right := s.first(landmark.LeftHand, landmark.LeftWrist), s.first(landmark.RightHand, landmark.RightWrist)
	switch {
	case t.Rate <= 0 || t.Len() < 2*signal.Pad:
		return nil, "the recording is too short"
	case left < 0 || right < 0:
		return nil, "a hand or wrist of each side is needed to find serves"
	case !t.Layout.Has(landmark.LeftShoulder, landmark.RightShoulder):
		return nil, "both shoulders are needed to find serves"
	}
	tr = &trace{rate: t.Rate, n: t.Len()}
	shoulders := [2][3][]float64{s.smooth(t.Layout.Index(landmark.LeftShoulder)),
		s.smooth(t.Layout.Index(landmark.RightShoulder))}
	hands := [2][3][]float64{s.smooth(left), s.smooth(right)}
	tr.arm = s.armLength(shoulders, hands)
	if !(tr.arm > 0.1) {
		return nil, "the arms could not be seen"
	}
	tr.unit = math.Sqrt(gravity * tr.arm)
	for k := range tr.hand {
		tr.hand[k] = tr.follow(hands[k], shoulders)
	}
	tr.turn = headings(shoulders)
	tr.head = s.headHeight(shoulders) / tr.arm
	return tr, ""
}

// follow makes the side of a hand.
func (tr *trace) follow(hand [3][]float64, shoulders [2][3][]float64) side {
	s := side{make([]float64, tr.n), make([]float64, tr.n), make([]float64, tr.n)}
	var v [3][]float64
	for k := range v {
		v[k] = make([]float64, tr.n)
		signal.DerivativeTo(v[k], hand[k], tr.rate)
	}
	for i := range tr.n {
		s.height[i] = (hand[1][i] - (shoulders[0][1][i]+shoulders[1][1][i])/2) / tr.arm
		s.rise[i] = v[1][i] / tr.unit
		s.speed[i] = math.Sqrt(present(v[0][i])+present(v[1][i])+present(v[2][i])) / tr.unit
		if math.IsNaN(v[1][i]) {
			s.speed[i] = math.NaN()
		}
	}
	return s
}

// present is the square of a component, and 0 for the one that a single camera does not see.
func present(v float64) float64 {
	if v != v {
		return 0
	}
	return v * v
}

// headings is the direction of the line from the left shoulder to the right one, seen from above and without jumps.
// Where the line stands too steep to have a direction, the last one stays.
func headings(shoulders [2][3][]float64) []float64 {
	h := make([]float64, len(shoulders[0][0]))
	last := 0.0
	for i := range h {
		line := r3.Vec{X: shoulders[1][0][i] - shoulders[0][0][i], Z: shoulders[1][2][i] - shoulders[0][2][i]}
		if a := spatial.Heading(line); !math.IsNaN(a) {
			last = spatial.Unwrap(a, last)
		}
		h[i] = last
	}
	return h
}

// source reads landmarks of a take.
type source struct{ take *Take }

func (s source) first(names ...landmark.Name) int {
	for _, n := range names {
		if i := s.take.Layout.Index(n); i >= 0 {
			return i
		}
	}
	return -1
}

// channel is one coordinate of a landmark as it was recorded.
func (s source) channel(place, coordinate int) []float64 {
	return s.stretch(place, coordinate, 0, s.take.Len()-1)
}

// point is the three channels of a landmark, read together: each frame is elsewhere in memory.
func (s source) point(place int) (xyz [3][]float64) {
	n, width := s.take.Len(), 3*s.take.Layout.Len()
	for k := range xyz {
		xyz[k] = make([]float64, n)
	}
	x, y, z := xyz[0], xyz[1][:n], xyz[2][:n]
	for i := range x {
		at := s.take.Frames[i*width+3*place:][:3]
		x[i], y[i], z[i] = float64(at[0]), float64(at[1]), float64(at[2])
	}
	return xyz
}

// stretch is a channel from one frame to another.
func (s source) stretch(place, coordinate, first, last int) []float64 {
	width := 3 * s.take.Layout.Len()
	x := make([]float64, last-first+1)
	for i := range x {
		x[i] = float64(s.take.Frames[(first+i)*width+3*place+coordinate])
	}
	return x
}

// smooth gives the coordinates of a landmark, filled and filtered for the search.
func (s source) smooth(place int) (xyz [3][]float64) {
	return s.filtered(place, coarseHz, coarseGapS)
}

func (s source) filtered(place int, hz, gapS float64) (xyz [3][]float64) {
	low := signal.DualPass(min(hz, highestCutoff*s.take.Rate), s.take.Rate)
	xyz = s.point(place)
	for k := range xyz {
		signal.FillGaps(xyz[k], int(gapS*s.take.Rate+0.5))
		low.ZeroPhaseTo(xyz[k], xyz[k])
	}
	return xyz
}

// armLength is the typical length of upper arm and forearm; without elbows, the distance from shoulder to hand when
// the arm is nearly stretched.
func (s source) armLength(shoulders, hands [2][3][]float64) float64 {
	var lengths []float64
	elbows := [2]landmark.Name{landmark.LeftElbow, landmark.RightElbow}
	wrists := [2]landmark.Name{landmark.LeftWrist, landmark.RightWrist}
	for k := range 2 {
		if s.take.Layout.Has(elbows[k], wrists[k]) {
			elbow, wrist := s.smooth(s.take.Layout.Index(elbows[k])), s.smooth(s.take.Layout.Index(wrists[k]))
			for i := range elbow[0] {
				lengths = append(lengths, distance(shoulders[k], elbow, i)+distance(elbow, wrist, i))
			}
		}
	}
	if typical := quantileOf(lengths, 0.5); !math.IsNaN(typical) {
		return typical
	}
	lengths = lengths[:0]
	for k := range 2 {
		for i := range hands[k][0] {
			lengths = append(lengths, distance(shoulders[k], hands[k], i))
		}
	}
	return 0.9 * quantileOf(lengths, 0.95)
}

func distance(p, q [3][]float64, i int) float64 {
	if d := q[1][i] - p[1][i]; d != d {
		return d
	}
	return math.Sqrt(present(q[0][i]-p[0][i]) + present(q[1][i]-p[1][i]) + present(q[2][i]-p[2][i]))
}

// headHeight is how high the top of the head usually is above the shoulders.
func (s source) headHeight(shoulders [2][3][]float64) float64 {
	typical, up := math.NaN(), 0.0
	if place := s.first(landmark.HeadTop); place >= 0 {
		typical = s.usualHeight(place, shoulders)
	} else if place := s.first(landmark.Head); place >= 0 {
		typical, up = s.usualHeight(place, shoulders), 0.12
	}
	if math.IsNaN(typical) {
		return 0.3
	}
	return typical + up
}

func (s source) usualHeight(place int, shoulders [2][3][]float64) float64 {
	y := s.channel(place, 1)
	for i := range y {
		y[i] -= (shoulders[0][1][i] + shoulders[1][1][i]) / 2
	}
	return quantileOf(y, 0.5)
}

// quantileOf is a quantile of the values that are there; it reorders them.
func quantileOf(values []float64, p float64) float64 {
	values = slices.DeleteFunc(values, math.IsNaN)
	if len(values) == 0 {
		return math.NaN()
	}
	slices.Sort(values)
	return values[int(p*float64(len(values)-1)+0.5)]
}

// frames turns seconds into frames.
func (tr *trace) frames(seconds float64) int { return int(math.Round(seconds * tr.rate)) }

// clamp keeps a frame inside the take.
func (tr *trace) clamp(i int) int { return min(max(i, 0), tr.n-1) }

// highest is the frame of the largest of x in [from, to], or -1 when all of it is missing.
func highest(x []float64, from, to int) int {
	best := -1
	for i := max(from, 0); i <= min(to, len(x)-1); i++ {
		if x[i] == x[i] && (best < 0 || x[i] > x[best]) {
			best = i
		}
	}
	return best
}

// lowest is the frame of the smallest of x in [from, to], or -1.
func lowest(x []float64, from, to int) int {
	best := -1
	for i := max(from, 0); i <= min(to, len(x)-1); i++ {
		if x[i] == x[i] && (best < 0 || x[i] < x[best]) {
			best = i
		}
	}
	return best
}
