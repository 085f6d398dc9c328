package motion

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/datasets/landmark"
	"tossline/kernel/spatial"
)

// ballTrack is the tracked ball of a take, as recorded. A nil ballTrack is a take without one.
type ballTrack struct {
	rate float64
	xyz  [3][]float64
}

func newBallTrack(t *Take) *ballTrack {
	place := t.Layout.Index(landmark.Ball)
	if place < 0 {
		return nil
	}
	b := &ballTrack{rate: t.Rate}
	for k := range b.xyz {
		b.xyz[k] = source{t}.channel(place, k)
	}
	b.xyz = t.inPicture(b.xyz)
	return b
}

func (b *ballTrack) has(i int) bool {
	return i >= 0 && i < len(b.xyz[1]) && b.xyz[1][i] == b.xyz[1][i]
}

// seenAround reports whether the ball was tracked often enough before a frame to say where it flew.
func (b *ballTrack) seenAround(at float64) bool {
	if b == nil {
		return false
	}
	seen, from, to := 0, int(at-0.25*b.rate), int(at)
	for i := from; i <= to; i++ {
		if b.has(i) {
			seen++
		}
	}
	return seen >= fewestInFlight && 3*seen >= to-from
}

// nearest is the smallest distance of the ball from a point within 0.1 s of a frame; infinite when it was not seen.
func (b *ballTrack) nearest(p [3][]float64, at float64) float64 {
	best := math.Inf(1)
	for i := int(at - 0.1*b.rate); i <= int(at+0.1*b.rate); i++ {
		if b.has(i) {
			if d := distance(p, b.xyz, i); d < best {
				best = d
			}
		}
	}
	return best
}

// path is a parabola of the ball: position and its two coefficients at a reference frame, t in seconds from there.
type path struct {
	rate, from float64
	x          [3][3]float64
}

func (p path) at(frame float64) r3.Vec {
	t := (frame - p.from) / p.rate
	along := func(c [3]float64) float64 { return c[0] + t*(c[1]+t*c[2]) }
	return r3.Vec{X: along(p.x[0]), Y: along(p.x[1]), Z: along(p.x[2])}
}

func (p path) velocity(frame float64) r3.Vec {
	t := (frame - p.from) / p.rate
	along := func(c [3]float64) float64 { return c[1] + 2*t*c[2] }
	return r3.Vec{X: along(p.x[0]), Y: along(p.x[1]), Z: along(p.x[2])}
}

// fit is the parabola of least squares through the ball in the frames from first to last.
func (b *ballTrack) fit(first, last int) (path, bool) {
	p := path{rate: b.rate, from: float64(last)}
	fitted := throwThrough(first, last, func(i int) (float64, r3.Vec) {
		if !b.has(i) {
			return 0, missingPoint
		}
		return (float64(i) - p.from) / p.rate, b.point(i)
	})
	p.x = fitted.x
	return p, fitted.places >= fewestInFlight
}

// How far the ball may be from the parabola of its toss before it has been hit, and how much of the toss the
// parabola is drawn through.
const (
	offPath   = 0.08 // m
	tossSpanS = 0.30
)

// before is the toss's parabola just before a frame. It starts from a stretch that is surely before contact and
// goes on for as long as the ball follows.
func (b *ballTrack) before(at float64) (path, bool) {
	p, _, ok := b.follow(at)
	return p, ok
}

// follow is before, with the last frame at which the ball was on the parabola.
func (b *ballTrack) follow(at float64) (p path, last int, ok bool) {
	last = int(at - 0.1*b.rate)
	p, ok = b.fit(last-int(tossSpanS*b.rate), last)
	for ok {
		next := b.next(last)
		if b.off(p, next) {
			// A ball that was mistaken for another one is back on its path soon; one that was hit is not.
			if next = b.next(next); b.off(p, next) {
				next = b.next(next)
			}
		}
		if float64(next) > at+0.15*b.rate || b.off(p, next) {
			break
		}
		last = next
		p, ok = b.fit(last-int(tossSpanS*b.rate), last)
	}
	return p, last, ok
}

// next is the next frame in which the ball was tracked; past the last one where there is none.
func (b *ballTrack) next(i int) int {
	for i++; i < len(b.xyz[1]) && !b.has(i); i++ {
	}
	return i
}

// off reports whether the ball is not on a path in a frame.
func (b *ballTrack) off(p path, i int) bool {
	if !b.has(i) {
		return true
	}
	d := r3.Sub(b.point(i), p.at(float64(i)))
	return present(d.X)+present(d.Y)+present(d.Z) > offPath*offPath
}

func (b *ballTrack) point(i int) r3.Vec { return vecAt(b.xyz, i) }

// jump finds the instant near a frame at which the ball leaves the parabola of its toss for another path: where the
// two paths meet. It needs two frames of the ball after contact.
func (b *ballTrack) jump(near float64) (at float64, ok bool) {
	toss, last, ok := b.follow(near)
	if !ok {
		return 0, false
	}
	var after []int
	for i := last + 1; i < len(b.xyz[1]) && i <= last+1+int(0.06*b.rate)+2; i++ {
		if b.has(i) && b.off(toss, i) {
			after = append(after, i)
		}
	}
	if len(after) < 2 || float64(after[0]) > near+0.15*b.rate {
		return 0, false
	}
	return b.meet(toss, after)
}

// meet is where the straight line through the ball's first places after contact comes nearest to its toss. What the
// ball weighs against its speed then makes gravity negligible.
func (b *ballTrack) meet(toss path, after []int) (at float64, ok bool) {
	first, lastSeen := after[0], after[len(after)-1]
	origin := b.point(first)
	seconds := float64(lastSeen-first) / b.rate
	v := r3.Scale(1/seconds, r3.Sub(b.point(lastSeen), origin))
	at = float64(first)
	for range 3 {
		gap := r3.Sub(r3.Add(origin, r3.Scale((at-float64(first))/b.rate, v)), toss.at(at))
		closing := r3.Sub(v, toss.velocity(at))
		at -= r3.Dot(gap, closing) / r3.Norm2(closing) * b.rate
	}
	change := spatial.Norm(r3.Sub(v, toss.velocity(at)))
	return at, change > 5 && at <= float64(first) && at > float64(first)-0.1*b.rate
}

// How far the ball is from where it lay in the hand when it is seen to leave: two distances, by which the instant of
// leaving is found as that of a motion that starts from rest.
const (
	leftBy  = 0.03
	goneBy  = 0.12
	holding = 0.25 // no hand holds a ball farther from its tracked point than this
)

// leaves finds when the ball leaves a hand for good, between two frames of which the later is contact.
func (b *ballTrack) leaves(hand [3][]float64, from, contact int) (at float64, ok bool) {
	if b == nil {
		return 0, false
	}
	apart := make([]float64, contact+1) // from from on
	for i := max(0, from); i <= contact; i++ {
		apart[i] = distance(hand, b.xyz, i)
	}
	held := lowest(apart, from, contact)
	if held < 0 || apart[held] > holding {
		return 0, false
	}
	rest := quantileOf(append([]float64(nil), apart[max(from, held-int(0.2*b.rate)):held+1]...), 0.5)
	gone, ok1 := b.lastBelow(apart, rest+goneBy, from, contact)
	left, ok2 := b.lastBelow(apart, rest+leftBy, from, int(math.Ceil(gone)))
	if !ok1 || !ok2 || gone-left > 0.25*b.rate {
		return 0, false
	}
	return max(2*left-gone, float64(from)), true
}

// lastBelow is the last crossing of a level upwards between two frames.
func (b *ballTrack) lastBelow(x []float64, level float64, from, to int) (at float64, ok bool) {
	for i := min(to, len(x)-1) - 1; i >= from; i-- {
		if x[i] <= level && x[i+1] > level {
			return float64(i) + (level-x[i])/(x[i+1]-x[i]), true
		}
	}
	return 0, false
}
