package motion

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/datasets/landmark"
	"tossline/kernel/signal"
	"tossline/kernel/spatial"
)

// finder finds the events of the serves of one take. Series are in the take's frames; those of the body are read once
// and shared by all serves.
type finder struct {
	take    *Take
	tr      *trace
	hitting int // 0 left, 1 right
	hand    [2][3][]float64
	knee    []float64    // front knee flexion, rad; nil where the leg is not tracked
	feet    [2][]float64 // height of each foot's lowest tracked point
	sole    bool         // feet are toes or heels, not ankles
	tip     []float64    // height of the racket tip; nil without racket
	face    [3][]float64 // middle of the racket face, else its tip, unfiltered; nil without racket
	ball    *ballTrack
	free    int // the first frame that no earlier serve has taken
}

// eventHz is the cutoff for finding events: a little more than the search's, so that instants are not moved.
const eventHz = 12

func newFinder(t *Take, tr *trace, hand Hand, ball *ballTrack) *finder {
	f := &finder{take: t, tr: tr, hitting: 1, ball: ball}
	if hand == HandLeft {
		f.hitting = 0
	}
	s := source{t}
	f.hand[0] = t.inPicture(f.read(s.first(landmark.LeftHand, landmark.LeftWrist)))
	f.hand[1] = t.inPicture(f.read(s.first(landmark.RightHand, landmark.RightWrist)))
	f.readKnee()
	f.readFeet()
	if place := t.Layout.Index(landmark.RacketTip); place >= 0 {
		f.tip = f.read(place)[1]
	}
	if f.face = racketFace(t); f.face[0] != nil {
		f.face = t.inPicture(f.face)
	}
	return f
}

func (f *finder) read(place int) [3][]float64 {
	return source{f.take}.filtered(place, eventHz, longestGapS)
}

// own gives the name on the hitting side as if the player were right-handed.
func (f *finder) own(n landmark.Name) landmark.Name {
	if f.hitting == 0 {
		return n.Mirror()
	}
	return n
}

func (f *finder) readKnee() {
	l := f.take.Layout
	names := [3]landmark.Name{f.own(landmark.LeftHip), f.own(landmark.LeftKnee), f.own(landmark.LeftAnkle)}
	if !l.Has(names[:]...) {
		return
	}
	hip, knee, ankle := f.read(l.Index(names[0])), f.read(l.Index(names[1])), f.read(l.Index(names[2]))
	f.knee = make([]float64, f.tr.n)
	for i := range f.knee {
		f.knee[i] = spatial.Flexion(vecAt(hip, i), vecAt(knee, i), vecAt(ankle, i))
	}
}

func vecAt(xyz [3][]float64, i int) r3.Vec { return r3.Vec{X: xyz[0][i], Y: xyz[1][i], Z: xyz[2][i]} }

// readFeet takes the lower of toe and heel of each foot, or the ankle where neither is tracked.
func (f *finder) readFeet() {
	for k, names := range [2][3]landmark.Name{
		{landmark.LeftToe, landmark.LeftHeel, landmark.LeftAnkle},
		{landmark.RightToe, landmark.RightHeel, landmark.RightAnkle},
	} {
		toe, heel, ankle := f.take.Layout.Index(names[0]), f.take.Layout.Index(names[1]), f.take.Layout.Index(names[2])
		switch {
		case toe >= 0 && heel >= 0:
			f.feet[k], f.sole = lower(f.read(toe)[1], f.read(heel)[1]), true
		case toe >= 0 || heel >= 0:
			f.feet[k], f.sole = f.read(max(toe, heel))[1], true
		case ankle >= 0:
			f.feet[k] = f.read(ankle)[1]
		}
	}
}

func lower(a, b []float64) []float64 {
	for i := range a {
		if b[i] < a[i] || a[i] != a[i] {
			a[i] = b[i]
		}
	}
	return a
}

// Methods of events, as they are shown.
const (
	byBallVelocity = "ball velocity"
	byRacketBall   = "racket nearest the ball"
	byHandHighest  = "hand highest (stand-in)"
	byBallDistance = "ball leaves the hand"
	byTossSpeed    = "tossing hand fastest upwards (stand-in)"
	byKnee         = "front knee most bent"
	byTossHighest  = "tossing hand highest (stand-in)"
	byTip          = "racket tip lowest"
	byHandLowest   = "hitting hand lowest against the shoulder (stand-in)"
	byUpswing      = "hitting hand begins to rise (stand-in)"
	byFeet         = "feet off the court"
	byAnkles       = "ankles above their standing height (stand-in)"
	byQuiet        = "hands begin to move"
	byFinish       = "hitting hand lowest after contact"
)

// edgeS is how near to the start of a take nothing can be told apart from the start itself.
const edgeS = 0.03

// serve finds the events of a swing; ok is false when the ball shows that nothing was hit.
func (f *finder) serve(s swing) (serve Serve, ok bool) {
	events := Events{}
	contact, met := f.contact(s.contact)
	if !met {
		return Serve{}, false
	}
	events[Contact] = f.event(contact)
	at := int(contact.at)
	toss := s.toss
	if toss >= 0 {
		release := f.release(toss, at)
		if release.at < edgeS*f.take.Rate {
			s.cutOff = releaseBefore // what is found is the take's first frame
		}
		events[Release] = f.event(release)
		events[Start] = f.event(f.start(int(release.at)))
		low := f.lowPoint(toss, at)
		events[LowPoint] = f.event(low)
		events[Trophy] = f.event(f.trophy(release.at, low.at, toss))
	}
	finish := f.finish(at)
	events[Finish] = f.event(finish)
	f.jump(events, at)
	serve = Serve{Events: events, CutOff: s.cutOff != "", CutOffWhy: s.cutOff}
	serve.First, serve.Last = f.bounds(events, at)
	f.free = int(finish.at)
	return serve, true
}

// begun makes the cut-off serve of a toss of which the contact is not seen.
func (f *finder) begun(s swing) Serve {
	events := Events{}
	release := f.release(s.toss, f.tr.n-1)
	events[Release] = f.event(release)
	events[Start] = f.event(f.start(int(release.at)))
	serve := Serve{Events: events, CutOff: true, CutOffWhy: s.cutOff, Last: f.tr.n - 1}
	serve.First, _ = f.bounds(events, f.tr.n-1)
	return serve
}

// found is an event before it is written down: a frame with its fraction, and how sure it is.
type found struct {
	at      float64
	method  string
	sure    float64
	standIn bool
}

func (f *finder) event(e found) Event {
	return Event{TimeS: e.at / f.take.Rate, Method: e.method, Confidence: math.Round(e.sure*100) / 100,
		StandIn: e.standIn}
}

// clipMarginS is how much of the take a serve keeps before its first and after its last event.
const clipMarginS = 0.6

// bounds gives the frames to keep of a serve with these events.
func (f *finder) bounds(events Events, contact int) (first, last int) {
	from, to := float64(contact)/f.take.Rate, float64(contact)/f.take.Rate
	for _, e := range events {
		from, to = min(from, e.TimeS), max(to, e.TimeS)
	}
	return f.tr.clamp(int((from - clipMarginS) * f.take.Rate)), f.tr.clamp(int((to + clipMarginS) * f.take.Rate))
}

// contact finds when racket and ball meet near the frame at which the hitting hand is highest. met is false when the
// ball was tracked and stayed away.
func (f *finder) contact(near int) (c found, met bool) {
	height := f.hand[f.hitting][1]
	w := f.tr.frames(0.12)
	top := highest(height, near-w, near+w)
	if top < 0 {
		top = near
	}
	at, _ := signal.VertexAt(height, top)
	c = found{at, byHandHighest, 0.7, true}
	if besideGap(height, top) {
		c.sure = 0.3
	}
	if !f.ball.seenAround(at) {
		return c, true
	}
	if hit, ok := f.ball.jump(at); ok && f.nearRacket(hit) {
		return found{hit, byBallVelocity, 0.98, false}, true
	}
	if hit, gap := f.closest(at); f.face[0] != nil && !math.IsNaN(hit) {
		if gap > missedBy+fastestFace/2/f.take.Rate {
			return c, false
		}
		return found{hit, byRacketBall, 0.85, false}, true
	}
	return c, f.nearHand(at)
}

const (
	missedBy    = 0.35 // m: a racket that comes no nearer to the ball has missed it ...
	fastestFace = 30.0 // m/s: ... unless it does between two frames
)

// reach is how far from the hitting hand a ball can be when a racket meets it.
const reach = 1.2 // m

// nearHand reports whether the ball came within reach of the hitting hand around a frame, where its toss takes it when
// it was not seen there. A ball of which nothing is known is taken to have come.
func (f *finder) nearHand(at float64) bool {
	hand := f.hand[f.hitting]
	if near := f.ball.nearest(hand, at); !math.IsInf(near, 1) {
		return near < reach
	}
	path, ok := f.ball.before(at)
	if !ok {
		return true
	}
	return !(spatial.Norm(r3.Sub(vecAt(hand, f.tr.clamp(int(at))), path.at(at))) > reach)
}

// nearRacket reports whether the ball was within reach of racket or hand when its velocity jumped: it also jumps when
// it bounces and when it is caught.
func (f *finder) nearRacket(at float64) bool {
	if _, gap := f.closest(at); !math.IsNaN(gap) {
		return gap < 0.5
	}
	return f.nearHand(at)
}

// closest finds when the racket face is nearest to the ball's parabola around a frame, and how near; NaN when that
// cannot be seen.
func (f *finder) closest(at float64) (when, gap float64) {
	path, ok := f.ball.before(at)
	if f.face[0] == nil || !ok {
		return math.NaN(), math.NaN()
	}
	w := f.tr.frames(0.1)
	from := f.tr.clamp(int(at) - w)
	gaps := make([]float64, 0, 2*w+1)
	for i := from; i <= f.tr.clamp(int(at)+w); i++ {
		gaps = append(gaps, spatial.Norm(r3.Sub(vecAt(f.face, i), path.at(float64(i)))))
	}
	near := lowest(gaps, 0, len(gaps)-1)
	if near <= 0 || near >= len(gaps)-1 || math.IsNaN(gaps[near-1]+gaps[near+1]) {
		return math.NaN(), math.NaN() // nearer yet where racket or ball were not seen
	}
	where, gap := signal.VertexAt(gaps, near)
	return float64(from) + where, gap
}

// release finds when the ball leaves the tossing hand, whose highest point is at frame toss.
func (f *finder) release(toss, contact int) found {
	hand := f.hand[1-f.hitting]
	from := f.tr.clamp(toss - f.tr.frames(1.2))
	if at, ok := f.ball.leaves(hand, from, contact); ok {
		return found{at, byBallDistance, 0.95, false}
	}
	rise := make([]float64, f.tr.n)
	signal.DerivativeTo(rise, hand[1], f.take.Rate)
	below := max(from, lowest(hand[1], from, toss))
	fast := highest(rise, below, toss)
	if fast < 0 {
		return found{float64(toss), byTossHighest, 0.3, true}
	}
	at, _ := signal.VertexAt(rise, fast)
	return found{at, byTossSpeed, 0.6, true}
}

// What counts as movement at the start, against the speed of the toss.
const (
	quietPart = 0.12
	quietS    = 0.15
	startS    = 4.0
	restS     = 0.5 // of the quiet stretch tells how still hands are at rest
)

// start finds the first sustained movement of either hand before the toss: where a hand begins to move out of the last
// quiet stretch before the release, or the quietest instant when the hands never rest.
func (f *finder) start(release int) found {
	tr := f.tr
	from := max(tr.clamp(release-tr.frames(startS)), min(f.free, release))
	speed := func(i int) float64 { return max(tr.hand[0].speed[i], tr.hand[1].speed[i]) }
	limit := quietPart * largestOf(tr.hand[1-f.hitting].speed, from, release)
	quietest, still, need := release, 0, tr.frames(quietS)
	for i := release; i >= from; i-- {
		if s := speed(i); s < speed(quietest) || s == s && speed(quietest) != speed(quietest) {
			quietest = i
		}
		if !(speed(i) < limit) {
			still = 0
		} else if still++; still >= need {
			last := i + still - 1
			for i > max(from, last-tr.frames(restS)) && speed(i-1) < limit {
				i--
			}
			return found{min(tr.leavesRest(0, i, last), tr.leavesRest(1, i, last)), byQuiet, 0.8, false}
		}
	}
	return found{float64(quietest), byQuiet, 0.4, false}
}

// leavesRest is where, in a quiet stretch that ends with movement, the speed of a hand rises for good above what it is
// at rest: its median in the stretch and three times its scatter.
func (tr *trace) leavesRest(k, first, last int) float64 {
	speed := tr.hand[k].speed
	median := quantileOf(part(speed, first, last), 0.5)
	scatter := part(speed, first, last)
	for i := range scatter {
		scatter[i] = math.Abs(scatter[i] - median)
	}
	rest := median + 3*1.4826*quantileOf(scatter, 0.5) // 1.4826: to the SD of normal scatter
	i := last
	for i > first && speed[i] > rest {
		i--
	}
	if i == last {
		return float64(last)
	}
	return float64(i) + min(max((rest-speed[i])/(speed[i+1]-speed[i]), 0), 1)
}

// lowPoint finds the bottom of the racket's drop: going back from contact, the first bottom of the racket tip that a
// rise of its own length's part precedes; without racket, of the hitting hand against the shoulder.
func (f *finder) lowPoint(toss, contact int) found {
	if f.tip != nil {
		if at, ok := f.bottomBefore(f.tip, contact, 0.3*f.tr.arm, 0.7); ok {
			return found{at, byTip, 0.9, false}
		}
	}
	height := f.tr.hand[f.hitting].height
	if at, ok := f.bottomBefore(height, contact, 0.05, 0.6); ok {
		return found{at, byHandLowest, 0.6, true}
	}
	return f.upswing(toss, contact)
}

// upswing finds where the hitting hand begins to rise to contact, for hands that do not drop before: going back from
// where it rises fastest, where it rose at a fifth of that.
func (f *finder) upswing(toss, contact int) found {
	rise := f.tr.hand[f.hitting].rise
	from := max(contact-f.tr.frames(0.6), min(toss, contact))
	fast := highest(rise, from, contact)
	i := max(fast, from)
	for i > from && rise[i] > rise[fast]/5 {
		i--
	}
	return found{float64(i), byUpswing, 0.35, true}
}

// besideGap reports whether a value next to one is missing: then the extremum that was sought may lie in the gap.
func besideGap(x []float64, i int) bool {
	before, after := x[max(i-1, 0)], x[min(i+1, len(x)-1)]
	return before != before || after != after
}

// bottomBefore goes back from a frame to the lowest sample that is followed, going further back, by a rise of at
// least back; it must lie within the given time and beside no gap.
func (f *finder) bottomBefore(x []float64, frame int, back, withinS float64) (at float64, ok bool) {
	low := frame
	for i := frame; i >= f.tr.clamp(frame-f.tr.frames(withinS)); i-- {
		switch {
		case x[i] < x[low] || x[low] != x[low]:
			low = i
		case x[i] > x[low]+back:
			at, _ = signal.VertexAt(x, low)
			return at, low < frame && !besideGap(x, low)
		}
	}
	return 0, false
}

// trophy finds the largest flexion of the front knee between release and low point.
func (f *finder) trophy(release, low float64, toss int) found {
	from, to := int(math.Ceil(release)), int(low)
	bent := -1
	if f.knee != nil {
		bent = highest(f.knee, from, to)
	}
	if bent < 0 || besideGap(f.knee, bent) {
		return found{min(max(float64(toss), release), low), byTossHighest, 0.4, true}
	}
	at, _ := signal.VertexAt(f.knee, bent)
	sure := 0.9
	if bent == from || bent == to {
		sure = 0.5
	}
	return found{min(max(at, release), low), byKnee, sure, false}
}

// finishS is the longest follow-through.
const finishS = 1.2

// finish finds the first bottom of the hitting hand after contact.
func (f *finder) finish(contact int) found {
	height := f.hand[f.hitting][1]
	low, back := contact, 0.15*f.tr.arm
	for i := contact; i <= f.tr.clamp(contact+f.tr.frames(finishS)); i++ {
		if height[i] < height[low] || height[low] != height[low] {
			low = i
		} else if height[i] > height[low]+back && height[contact]-height[low] > f.tr.arm {
			break
		}
	}
	at, _ := signal.VertexAt(height, low)
	if besideGap(height, low) {
		return found{at, byFinish, 0.3, false}
	}
	return found{at, byFinish, 0.8, false}
}

// A foot is off the court when its lowest point is this far above where it stood, in metres; an ankle also rises
// when the heel does.
const (
	footUp  = 0.035
	ankleUp = 0.10
)

// jump finds takeoff and landing around contact, where there is a flight at all.
func (f *finder) jump(events Events, contact int) {
	if f.feet[0] == nil || f.feet[1] == nil {
		return
	}
	limit, method, sure := footUp, byFeet, 0.8
	if !f.sole {
		limit, method, sure = ankleUp, byAnkles, 0.4
	}
	from := f.tr.clamp(contact - f.tr.frames(1.5))
	clearance := make([]float64, f.tr.n)
	ground := [2]float64{quantileOf(part(f.feet[0], from, contact), 0.1),
		quantileOf(part(f.feet[1], from, contact), 0.1)}
	for i := range clearance {
		clearance[i] = min(f.feet[0][i]-ground[0], f.feet[1][i]-ground[1]) - limit
	}
	w := f.tr.frames(0.15)
	high := highest(clearance, contact-w, contact+w)
	if high < 0 || !(clearance[high] > 0) {
		return
	}
	if at, ok := crossing(clearance, high, -1); ok {
		events[Takeoff] = f.event(found{at - f.sinceGround(clearance, at, limit), method, sure, !f.sole})
	}
	if at, ok := crossing(clearance, high, 1); ok {
		events[Landing] = f.event(found{at + f.sinceGround(clearance, at, limit), method, sure, !f.sole})
	}
}

// mostFootS bounds how long a foot can take from the court to the height at which it counts as off it.
const mostFootS = 0.05

// sinceGround is how many frames the foot takes between the court and the limit, at its speed where it crosses that.
func (f *finder) sinceGround(clearance []float64, at, limit float64) float64 {
	i := min(int(at), len(clearance)-2)
	speed := math.Abs(clearance[i+1] - clearance[i])
	return min(limit/speed, mostFootS*f.take.Rate)
}

func part(x []float64, from, to int) []float64 { return append([]float64(nil), x[from:to+1]...) }

// crossing goes from a frame at which x is positive in the given direction to where it is zero, between frames,
// unless a gap comes first.
func crossing(x []float64, from, step int) (at float64, ok bool) {
	for i := from + step; i >= 0 && i < len(x) && x[i] == x[i]; i += step {
		if x[i] <= 0 {
			return float64(i) - float64(step)*x[i]/(x[i]-x[i-step]), true
		}
	}
	return 0, false
}

// racketFace is the middle of the two edges of the racket head, or its tip, as recorded; without racket nil.
func racketFace(t *Take) (face [3][]float64) {
	s := source{t}
	left, right := t.Layout.Index(landmark.RacketLeft), t.Layout.Index(landmark.RacketRight)
	tip := t.Layout.Index(landmark.RacketTip)
	for k := range face {
		switch {
		case left >= 0 && right >= 0:
			face[k] = s.channel(left, k)
			for i, v := range s.channel(right, k) {
				face[k][i] = (face[k][i] + v) / 2
			}
		case tip >= 0:
			face[k] = s.channel(tip, k)
		}
	}
	return face
}
