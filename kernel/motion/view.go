package motion

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/datasets/landmark"
	"tossline/kernel/signal"
)

const (
	// longestGapS is the longest gap that is filled, and struckGapS that of points that are struck: within 0.1 s a
	// racket goes from its drop to the ball, and no spline knows how.
	longestGapS = 0.1
	struckGapS  = 0.04
	// marginPeriods is how much more than the stretch asked for is filtered, in periods of the slowest cutoff: by then
	// the filter's start has faded to about 1e-6 of itself, which is less than a millimetre.
	marginPeriods = 2.5
	// tailPeriods is how far struck points go on past contact.
	tailPeriods = 3
)

// view is one serve as measures see it: mirrored where the player is left-handed, gaps filled, filtered. Samples are
// counted from the view's own start. A view is scratch for one goroutine: look makes it show another serve.
type view struct {
	clip    *Clip
	rate    float64
	mirror  float64 // -1 for a left-hander's z, else 1
	layout  *landmark.Layout
	hand    Hand
	places  [pointCount]int // of layout for a player with that hand
	tracks  [pointCount]track
	first   int // frame of the clip that is sample 0
	samples int
	last    int // the last sample before contact
	event   [eventCount]float64
	standIn [eventCount]bool

	loads   []*signal.Block
	used    int
	columns []int // where the points that are being loaded lie in a frame
	filters []signal.Lowpass
	near    []int // samples before contact that tell how a channel would have gone on
	flight  flight
	room    []float64 // for the cosines of angles
	turned  []r3.Vec  // for the axes of rotations
	remembered
}

// track is where the samples of a point lie: coordinate k of sample i is at values[base+i*signal.Lanes+k].
type track struct {
	values  []float64
	base    int
	samples int // 0 while not loaded
}

const eventCount = 8

// eventIndex is the place of a kind in EventKinds.
func eventIndex(kind EventKind) int {
	for i, k := range EventKinds {
		if k == kind {
			return i
		}
	}
	return -1
}

// look makes the view show the stretch of a clip from one event to another, with margins; an event that the clip
// lacks, or "", opens the stretch to the clip's end.
func (v *view) look(clip *Clip, from, to EventKind) {
	if !v.knows(clip) {
		v.places = placesIn(clip.Layout, clip.Hand)
		v.layout, v.hand = clip.Layout, clip.Hand
	}
	v.clip, v.rate, v.used = clip, clip.Rate, 0
	v.mirror = 1
	if clip.Hand == HandLeft {
		v.mirror = -1
	}
	v.first, v.samples = 0, clip.Len()
	v.findEvents()
	margin := marginPeriods / slowestCutoffHz(&clip.Take) * v.rate
	begin, end := 0, clip.Len()-1
	if at := v.at(from); !math.IsNaN(at) {
		begin = max(begin, int(at-margin))
	}
	if at := v.at(to); !math.IsNaN(at) {
		end = min(end, int(at+margin)+1)
	}
	v.first, v.samples = begin, max(end-begin+1, 0)
	for k := range v.event {
		v.event[k] -= float64(begin)
	}
	v.last = v.samples - 1
	if at := v.at(Contact); !math.IsNaN(at) {
		v.last = min(v.last, int(math.Floor(at+1e-6)))
	}
	v.tracks = [pointCount]track{}
	v.flight = flight{}
	v.remembered.forget()
}

// knows reports whether the clip before had the same points in the same places.
func (v *view) knows(clip *Clip) bool { return v.layout == clip.Layout && v.hand == clip.Hand }

// findEvents turns the clip's events into frames of the clip; NaN where there is none.
func (v *view) findEvents() {
	for k, kind := range EventKinds {
		v.event[k], v.standIn[k] = math.NaN(), false
		if e, ok := v.clip.Events[kind]; ok {
			v.event[k], v.standIn[k] = e.TimeS*v.rate-float64(v.clip.First), e.StandIn && !e.ByHand
		}
	}
}

// at is the sample, with its fraction, of an event; NaN where the serve has none.
func (v *view) at(kind EventKind) float64 {
	if k := eventIndex(kind); k >= 0 {
		return v.event[k]
	}
	return math.NaN()
}

// has reports whether the recording has all of the points.
func (v *view) has(points ...point) bool {
	for _, p := range points {
		if v.places[p] < 0 {
			return false
		}
	}
	return true
}

// firstOf gives the first of the points that the recording has.
func (v *view) firstOf(points ...point) (point, bool) {
	for _, p := range points {
		if v.places[p] >= 0 {
			return p, true
		}
	}
	return 0, false
}

// load filters the points that are not loaded yet, those that are struck apart from the others.
func (v *view) load(points ...point) {
	var room [pointCount]point
	for _, struck := range [...]bool{false, true} {
		wanted := room[:0]
		for _, p := range points {
			if v.places[p] >= 0 && v.tracks[p].samples == 0 && p != ball && p.group().endsAtContact() == struck {
				wanted = append(wanted, p)
				v.tracks[p].samples = -1 // listed twice, loaded once
			}
		}
		samples := v.samples
		if struck {
			samples = v.last + 1
		}
		if len(wanted) > 0 && samples > signal.Pad {
			v.loadBlock(wanted, samples)
		}
	}
}

func (v *view) loadBlock(points []point, samples int) {
	if v.used == len(v.loads) {
		v.loads = append(v.loads, new(signal.Block))
	}
	b := v.loads[v.used]
	v.used++
	slowest := math.Inf(1)
	v.columns, v.filters, v.near = v.columns[:0], v.filters[:0], v.near[:0]
	for _, p := range points {
		hz := cutoffHz(&v.clip.Take, v.places[p], p)
		slowest = min(slowest, hz)
		low := signal.DualPass(hz, v.rate)
		near := max(int(p.group().goesOnS()*v.rate+0.5), fewestGoOn)
		v.columns = append(v.columns, 3*v.places[p])
		v.filters, v.near = append(v.filters, low, low, low), append(v.near, near, near, near)
	}
	tail := 0
	if points[0].group().endsAtContact() {
		tail = int(tailPeriods/slowest*v.rate) + 1
	}
	b.Reset(3*len(points), samples+tail)
	width := 3 * v.clip.Layout.Len()
	b.Gather(v.clip.Frames[v.first*width:(v.first+samples)*width], width, v.columns, v.mirror)
	b.Fill(int(points[0].group().longestGapS()*v.rate + 0.5))
	b.GoOn(v.near)
	b.ZeroPhase(v.filters)
	for k, p := range points {
		v.tracks[p] = track{values: b.Values(), base: b.Base(3 * k), samples: samples}
	}
}

// track is where a point's samples lie, filtered at first demand.
func (v *view) track(p point) track {
	if v.tracks[p].samples == 0 {
		v.load(p)
	}
	return v.tracks[p]
}

// at is the point at a sample; missing outside the track.
func (t *track) at(i int) r3.Vec {
	if i < 0 || i >= t.samples {
		return missingPoint
	}
	at := t.base + i*signal.Lanes
	xyz := t.values[at : at+3 : at+3]
	return r3.Vec{X: xyz[0], Y: xyz[1], Z: xyz[2]}
}

// velocity is the point's velocity at a sample by central differences, one-sided at the ends.
func (t *track) velocity(i int, rate float64) r3.Vec {
	before, after, ok := neighbours(i, t.samples)
	if !ok {
		return missingPoint
	}
	return r3.Scale(rate/float64(after-before), r3.Sub(t.at(after), t.at(before)))
}

var missingPoint = r3.Vec{X: math.NaN(), Y: math.NaN(), Z: math.NaN()}

// pos is a point at a sample; missing outside the stretch and where the recording lacks it.
func (v *view) pos(p point, i int) r3.Vec {
	t := &v.tracks[p]
	if t.samples == 0 {
		v.load(p)
	}
	return t.at(i)
}

// posAt is a point between samples, by the cubic through the four samples around. A struck point is extrapolated to
// contact.
func (v *view) posAt(p point, t float64) r3.Vec {
	v.pos(p, 0)
	track := &v.tracks[p]
	n := track.samples
	if math.IsNaN(t) || n < 5 || t < 0 {
		return missingPoint
	}
	if t > float64(n-1) {
		if t > float64(n) {
			return missingPoint
		}
		return v.extrapolate(p, t-float64(n-1))
	}
	i := min(max(int(t)-1, 0), n-4)
	w := cubicWeights(t - float64(i))
	sum := r3.Vec{}
	for k, weight := range w {
		sum = r3.Add(sum, r3.Scale(weight, track.at(i+k)))
	}
	return sum
}

// cubicWeights are the weights at u of the samples at 0, 1, 2 and 3 (Lagrange).
func cubicWeights(u float64) [4]float64 {
	a, b, c, d := u, u-1, u-2, u-3
	return [4]float64{-b * c * d / 6, a * c * d / 2, -a * b * d / 2, a * b * c / 6}
}

// cubicAt is the cubic through four values, u samples after the first of them.
func cubicAt(values []float64, u float64) (y float64) {
	for k, weight := range cubicWeights(u) {
		if weight != 0 {
			y += weight * values[k]
		}
	}
	return y
}

// extrapolate carries a point u samples past its last one: along the parabola of least squares through the samples that
// tell how it goes on, three to five.
func (v *view) extrapolate(p point, u float64) r3.Vec {
	t := &v.tracks[p]
	n := min(max(int(p.group().goesOnS()*v.rate+1.5), 3), 5)
	sum := r3.Vec{}
	weights := parabolaWeights(n, u)
	for k, weight := range weights[:n] {
		sum = r3.Add(sum, r3.Scale(weight, t.at(t.samples-n+k)))
	}
	return sum
}

// parabolaWeights are the weights with which the parabola of least squares through n equally spaced samples gives its
// value u samples after the last: with k and t counted from the middle, s2 and s4 the sums of k^2 and k^4,
// 1/n + k t/s2 + (k^2-s2/n)(t^2-s2/n)/(s4-s2^2/n).
func parabolaWeights(n int, u float64) (w [5]float64) {
	count, middle := float64(n), float64(n-1)/2
	var s2, s4 float64
	for i := range n {
		k := float64(i) - middle
		s2, s4 = s2+k*k, s4+k*k*k*k
	}
	t := middle + u
	for i := range n {
		k := float64(i) - middle
		w[i] = 1/count + k*t/s2 + (k*k-s2/count)*(t*t-s2/count)/(s4-s2*s2/count)
	}
	return w
}

// span gives the samples from one event to another, inclusive, or the reason why there are none.
func (v *view) span(from, to EventKind) (first, last int, missing string) {
	a, b := v.at(from), v.at(to)
	switch {
	case math.IsNaN(a):
		return 0, -1, noEvent(from)
	case math.IsNaN(b):
		return 0, -1, noEvent(to)
	}
	first, last = int(math.Ceil(a-1e-6)), int(math.Floor(b+1e-6))
	switch {
	case b < a:
		return 0, -1, outOfOrder(from, to)
	case last < first:
		return 0, -1, tooShort
	}
	if first, last = max(first, 0), min(last, v.samples-1); last < first {
		return 0, -1, gapBetween(from, to)
	}
	return first, last, ""
}
