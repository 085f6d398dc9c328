package recording

import (
	"fmt"
	"math"
	"strings"

	"tossline/datasets/landmark"
	"tossline/kernel/motion"
)

// mostNotes is how many notes of one kind are written out; more are counted.
const mostNotes = 6

// quality remarks on what a person should look at before trusting numbers: gaps, jumps, frozen frames, sides.
func (in *interpreter) quality(t motion.Take) {
	in.gaps(t)
	in.jumps(t)
	in.frozen(t)
	in.sides(t)
}

// stretch is a run of frames, inclusive.
type stretch struct{ first, last int }

func (s stretch) text(rate float64) string {
	if s.first == s.last {
		return fmt.Sprintf("frame %d (%.2f s)", s.first, float64(s.first)/rate)
	}
	return fmt.Sprintf("frames %d-%d (%.2f-%.2f s)", s.first, s.last, float64(s.first)/rate, float64(s.last)/rate)
}

// stretches collects the runs of frames in which holds is true.
func stretches(n int, holds func(frame int) bool) []stretch {
	var out []stretch
	for f := range n {
		if !holds(f) {
			continue
		}
		if k := len(out) - 1; k >= 0 && out[k].last == f-1 {
			out[k].last = f
		} else {
			out = append(out, stretch{f, f})
		}
	}
	return out
}

func at(t motion.Take, channel, frame int) vector {
	v := t.Frames[3*(frame*t.Layout.Len()+channel):]
	return vector{float64(v[0]), float64(v[1]), float64(v[2])}
}

// gaps remarks on missing values longer than the 0.1 s that filtering fills.
func (in *interpreter) gaps(t motion.Take) {
	notes := limited{in: in, severity: Warn, kind: "gaps"}
	for c, name := range t.Layout.Names() {
		runs := stretches(t.Len(), func(f int) bool { return at(t, c, f).missing() })
		missing, longest := 0, stretch{0, -1}
		for _, r := range runs {
			n := r.last - r.first + 1
			missing += n
			if n > longest.last-longest.first+1 {
				longest = r
			}
		}
		if n := longest.last - longest.first + 1; float64(n) > 0.1*t.Rate {
			if missing == t.Len() {
				notes.add(string(name), "missing in every frame")
				continue
			}
			notes.add(string(name), "missing in %.1f %% of the frames; the longest gap is %s",
				100*float64(missing)/float64(t.Len()), longest.text(t.Rate))
		}
	}
	notes.end()
}

// tooFast is a speed that no part of a body reaches: the hand of the fastest servers stays below 25 m/s. The racket
// and the ball are let go faster.
const (
	tooFast       = 40.0 // m/s
	tooFastRacket = 120.0
)

// jumps remarks on landmarks that leap from one frame to the next and could not have moved there.
func (in *interpreter) jumps(t motion.Take) {
	notes := limited{in: in, severity: Warn, kind: "jumps"}
	for c, name := range t.Layout.Names() {
		limit := tooFast
		if n := string(name); strings.HasPrefix(n, "racket") || strings.HasPrefix(n, "ball") {
			limit = tooFastRacket
		}
		var first, count int
		for f := 1; f < t.Len(); f++ {
			if d := at(t, c, f).distance(at(t, c, f-1)); d*t.Rate > limit && d > 0.1 {
				if count == 0 {
					first = f
				}
				count++
			}
		}
		if count > 0 {
			notes.add(string(name), "jumps %d times, first at %s", count, stretch{first, first}.text(t.Rate))
		}
	}
	notes.end()
}

// frozen remarks on stretches in which nothing moves at all: a system that lost its subject repeats the last frame.
func (in *interpreter) frozen(t motion.Take) {
	notes := limited{in: in, severity: Warn, kind: "frozen stretches"}
	width := 3 * t.Layout.Len()
	runs := stretches(t.Len(), func(f int) bool {
		return f > 0 && sameFrame(t.Frames[(f-1)*width:f*width], t.Frames[f*width:(f+1)*width])
	})
	for _, r := range runs {
		if n := r.last - r.first + 1; n >= 3 {
			notes.add(r.text(t.Rate), "all points stand exactly still: the frames repeat the one before")
		}
	}
	notes.end()
}

// sameFrame reports whether two frames have the same values and at least one value at all.
func sameFrame(a, b []float32) bool {
	some := false
	for k := range a {
		if math.Float32bits(a[k]) != math.Float32bits(b[k]) && !(a[k] != a[k] && b[k] != b[k]) {
			return false
		}
		some = some || a[k] == a[k]
	}
	return some
}

// sides remarks on landmarks whose left and right change places between two frames, and on a body whose left is on
// its right all the time.
func (in *interpreter) sides(t motion.Take) {
	notes := limited{in: in, severity: Warn, kind: "swapped sides"}
	for l, name := range t.Layout.Names() {
		r := t.Layout.Index(name.Mirror())
		if r < 0 || name.Mirror() == name || !strings.HasPrefix(string(name), "left") {
			continue
		}
		var swaps []int
		for f := 1; f < t.Len(); f++ {
			l0, r0, l1, r1 := at(t, l, f-1), at(t, r, f-1), at(t, l, f), at(t, r, f)
			apart := l0.distance(r0)
			if apart > 0.1 && l1.distance(r0)+r1.distance(l0) < 0.3*apart &&
				l1.distance(l0)+r1.distance(r0) > 1.4*apart {
				swaps = append(swaps, f)
			}
		}
		if len(swaps) > 0 {
			notes.add(string(name)+", "+string(name.Mirror()), "left and right change places %d times, first at %s",
				len(swaps), stretch{swaps[0], swaps[0]}.text(t.Rate))
		}
	}
	notes.end()
	in.mirrorImage(t)
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
