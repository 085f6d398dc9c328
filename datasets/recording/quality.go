package recording

import (
	"fmt"
	"math"
	"strings"

	"tossline/datasets/landmark"
	"tossline/kernel/motion"
	"tossline/kernel/words"
)

// mostNotes is how many notes of one kind are written out; more are counted.
const mostNotes = 6

// quality remarks on what a person should look at before trusting numbers: gaps, jumps, frozen frames, sides. It goes
// over the frames once, whatever their number.
func (in *interpreter) quality(t motion.Take) {
	w := newWatch(t)
	for f := range t.Len() {
		w.frame(t, f)
		in.tick(workBefore/2, workBefore, f, t.Len())
	}
	w.gaps(in)
	w.jumps(in)
	w.frozen(in)
	w.sides(in)
	in.mirrorImage(t)
}

// stretch is a run of frames, inclusive.
type stretch struct{ first, last int }

func (s stretch) frames() int { return s.last - s.first + 1 }

func (s stretch) text(rate float64) string {
	if s.first == s.last {
		return fmt.Sprintf("frame %d (%.2f s)", s.first, float64(s.first)/rate)
	}
	return fmt.Sprintf("frames %d-%d (%.2f-%.2f s)", s.first, s.last, float64(s.first)/rate, float64(s.last)/rate)
}

// at is where a landmark is in a frame. A camera alone sees no depth: what is missing of a place that is seen is 0.
func at(t motion.Take, channel, frame int) vector {
	v := t.Frames[3*(frame*t.Layout.Len()+channel):]
	p := vector{float64(v[0]), float64(v[1]), float64(v[2])}
	if p[1] == p[1] {
		switch {
		case p[2] != p[2] && p[0] == p[0]:
			p[2] = 0
		case p[0] != p[0] && p[2] == p[2]:
			p[0] = 0
		}
	}
	return p
}

// watch collects what quality tells.
type watch struct {
	rate     float64
	frames   int
	channels []track
	pairs    []pair
	still    stretch // of frames like the one before, up to now
	stills   []stretch
	leap     []float64 // by channel: square of the distance, m, that no landmark goes in a frame
	moved    []float64 // by channel: square of how far it went to the present frame
}

// track is what is told of one landmark.
type track struct {
	name    landmark.Name
	limit   float64 // m/s
	missing int
	gap     stretch // the one up to now
	longest stretch
	jumps   int
	first   int // jump
}

// pair is a landmark and its mirror image.
type pair struct {
	left, right  int
	swaps, first int
}

// tooFast is a speed that no part of a body reaches: the hand of the fastest servers stays below 25 m/s. The racket
// and the ball are let go faster.
const (
	tooFast       = 40.0 // m/s
	tooFastRacket = 120.0
)

func newWatch(t motion.Take) *watch {
	w := &watch{rate: t.Rate, frames: t.Len(), still: stretch{0, -1}}
	for c, name := range t.Layout.Names() {
		one := track{name: name, limit: tooFast, gap: stretch{0, -1}, longest: stretch{0, -1}}
		if n := string(name); strings.HasPrefix(n, "racket") || strings.HasPrefix(n, "ball") {
			one.limit = tooFastRacket
		}
		w.channels = append(w.channels, one)
		if r := t.Layout.Index(name.Mirror()); r >= 0 && name.Mirror() != name && strings.HasPrefix(string(name), "left") {
			w.pairs = append(w.pairs, pair{left: c, right: r})
		}
	}
	w.moved, w.leap = make([]float64, len(w.channels)), make([]float64, len(w.channels))
	for c := range w.channels {
		far := max(0.1, w.channels[c].limit/t.Rate)
		w.leap[c] = far * far
	}
	return w
}

// frame looks at one frame after the other.
func (w *watch) frame(t motion.Take, f int) {
	width := 3 * len(w.channels)
	now := t.Frames[f*width : (f+1)*width]
	before := now
	if f > 0 {
		before = t.Frames[(f-1)*width : f*width]
	}
	still, some := true, false
	for c := range w.channels {
		v, u := now[3*c:3*c+3], before[3*c:3*c+3]
		dx, dy, dz := float64(v[0]-u[0]), float64(v[1]-u[1]), float64(v[2]-u[2])
		d := dx*dx + dy*dy + dz*dz
		if d != d {
			d = w.gone(t, c, f)
			still = still && f > 0 && (d == 0 || d != d && at(t, c, f).missing() == at(t, c, f-1).missing())
		} else {
			still, some = still && d == 0, true
		}
		w.moved[c] = d
		if d > w.leap[c] {
			one := &w.channels[c]
			if one.jumps == 0 {
				one.first = f
			}
			one.jumps++
		}
	}
	if f > 0 {
		w.swaps(t, f)
		w.standing(still && some, f)
	}
}

// gone looks at a landmark of which something is missing, now or in the frame before, and gives the square of how far
// it moved; NaN where that is not known.
func (w *watch) gone(t motion.Take, c, f int) float64 {
	v, one := at(t, c, f), &w.channels[c]
	if v.missing() {
		if one.missing++; one.gap.last == f-1 && one.gap.frames() > 0 {
			one.gap.last = f
		} else {
			one.gap = stretch{f, f}
		}
		if one.gap.frames() > one.longest.frames() {
			one.longest = one.gap
		}
	}
	if f == 0 {
		return math.NaN()
	}
	d := v.distance(at(t, c, f-1))
	return d * d
}

// swaps watches for sides that change places between two frames.
func (w *watch) swaps(t motion.Take, f int) {
	for i := range w.pairs {
		p := &w.pairs[i]
		if !(w.moved[p.left]+w.moved[p.right] > 0.005) {
			continue // sides that are 0.1 m apart move farther when they change places
		}
		l0, r0, l1, r1 := at(t, p.left, f-1), at(t, p.right, f-1), at(t, p.left, f), at(t, p.right, f)
		apart := l0.distance(r0)
		if apart > 0.1 && l1.distance(r0)+r1.distance(l0) < 0.3*apart && l1.distance(l0)+r1.distance(r0) > 1.4*apart {
			if p.swaps == 0 {
				p.first = f
			}
			p.swaps++
		}
	}
}

// standing watches for stretches in which nothing moves at all.
func (w *watch) standing(still bool, f int) {
	switch {
	case still && w.still.frames() > 0 && w.still.last == f-1:
		w.still.last = f
		if n := len(w.stills); n > 0 && w.stills[n-1].first == w.still.first {
			w.stills[n-1] = w.still
		} else if w.still.frames() >= 3 {
			w.stills = append(w.stills, w.still)
		}
	case still:
		w.still = stretch{f, f}
	}
}

// gaps remarks on missing values longer than the 0.1 s that filtering fills.
func (w *watch) gaps(in *interpreter) {
	notes := limited{in: in, severity: Warn, kind: "gaps"}
	for _, c := range w.channels {
		switch {
		case float64(c.longest.frames()) <= 0.1*w.rate:
		case c.missing == w.frames:
			notes.add(string(c.name), "missing in every frame")
		default:
			notes.add(string(c.name), "missing in %.1f %% of the frames; the longest gap is %s",
				100*float64(c.missing)/float64(w.frames), c.longest.text(w.rate))
		}
	}
	notes.end()
}

// jumps remarks on landmarks that leap from one frame to the next and could not have moved there.
func (w *watch) jumps(in *interpreter) {
	notes := limited{in: in, severity: Warn, kind: "jumps"}
	for _, c := range w.channels {
		if c.jumps > 0 {
			notes.add(string(c.name), "jumps %s, first at %s", words.Count(c.jumps, "time"),
				stretch{c.first, c.first}.text(w.rate))
		}
	}
	notes.end()
}

// frozen remarks on stretches in which nothing moves: a system that lost its subject repeats the last frame.
func (w *watch) frozen(in *interpreter) {
	notes := limited{in: in, severity: Warn, kind: "frozen stretches"}
	for _, s := range w.stills {
		notes.add(s.text(w.rate), "all points stand exactly still: the frames repeat the one before")
	}
	notes.end()
}

// sides remarks on landmarks whose left and right change places between two frames.
func (w *watch) sides(in *interpreter) {
	notes := limited{in: in, severity: Warn, kind: "swapped sides"}
	for _, p := range w.pairs {
		if p.swaps > 0 {
			notes.add(string(w.channels[p.left].name)+", "+string(w.channels[p.right].name),
				"left and right change places %s, first at %s", words.Count(p.swaps, "time"),
				stretch{p.first, p.first}.text(w.rate))
		}
	}
	notes.end()
}

// mirrorImage compares the way the feet point with the side on which the left hip is.
func (in *interpreter) mirrorImage(t motion.Take) {
	forward, side := [2]landmark.Name{landmark.LeftAnkle, landmark.LeftToe}, landmark.LeftHip
	if !t.Layout.Has(forward[0], forward[1], forward[0].Mirror(), forward[1].Mirror(), side, side.Mirror()) {
		return
	}
	get := func(n landmark.Name, f int) vector { return at(t, t.Layout.Index(n), f) }
	wrong, all := 0, 0
	for f := 0; f < t.Len(); f += max(1, t.Len()/500) {
		toes := get(forward[1], f).minus(get(forward[0], f)).plus(
			get(forward[1].Mirror(), f).minus(get(forward[0].Mirror(), f)))
		right := get(side.Mirror(), f).minus(get(side, f))
		// Y x Z = X: what points forward, up and to the right must turn the same way.
		if turn := toes.cross(vector{0, 1, 0}).dot(right); !math.IsNaN(turn) {
			all++
			if turn < 0 {
				wrong++
			}
		}
	}
	if all > 0 && float64(wrong) > 0.8*float64(all) {
		in.note(Warn, "", "the feet point backwards in %.0f %% of the frames: either left and right are named the wrong "+
			"way round (say sides swapped), or the axes are left-handed (say sides mirrored)",
			100*float64(wrong)/float64(all))
	}
}

// limited writes the first few notes of a kind and counts the rest.
type limited struct {
	in       *interpreter
	severity Severity
	kind     string
	count    int
}

func (l *limited) add(where, format string, args ...any) {
	if l.count++; l.count <= mostNotes {
		l.in.note(l.severity, where, format, args...)
	}
}

func (l *limited) end() {
	if l.count > mostNotes {
		l.in.note(l.severity, "", "%d more %s are not listed", l.count-mostNotes, l.kind)
	}
}
