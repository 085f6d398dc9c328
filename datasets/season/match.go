package season

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"tossline/kernel/motion"
)

// SameServeS is how far apart two contact times of one recording may lie and still be of the same serve, in seconds.
// Serves are seconds apart; two ways of finding contact differ by a few hundredths.
const SameServeS = 0.15

// AnchorS is the event time by which a serve is known again, in seconds: contact, or what is nearest to it in a serve
// that is cut off; NaN where there is none.
func AnchorS(events motion.Events) float64 {
	for _, kind := range [...]motion.EventKind{motion.Contact, motion.LowPoint, motion.Trophy, motion.Release} {
		if e, ok := events[kind]; ok {
			return e.TimeS
		}
	}
	return math.NaN()
}

// anchor is AnchorS, or the middle of a serve that has no such event.
func anchor(s motion.Serve, rateHz float64) float64 {
	if at := AnchorS(s.Events); at == at {
		return at
	}
	return float64(s.First+s.Last) / 2 / rateHz
}

// match gives for each new serve the id of the old one that it is, or "". Pairs are made nearest first, each serve in
// at most one. scale turns old times into new ones.
func match(old []storedServe, serves []motion.Serve, rateHz, scale float64) []motion.ServeID {
	type pair struct {
		old, new int
		apart    float64
	}
	var pairs []pair
	for i, o := range old {
		for j, s := range serves {
			apart := math.Inf(1)
			for _, a := range o.anchors {
				apart = min(apart, math.Abs(a*scale-anchor(s, rateHz)))
			}
			if apart <= SameServeS {
				pairs = append(pairs, pair{i, j, apart})
			}
		}
	}
	slices.SortStableFunc(pairs, func(a, b pair) int { return cmp.Compare(a.apart, b.apart) })
	ids := make([]motion.ServeID, len(serves))
	used := make([]bool, len(old))
	for _, p := range pairs {
		if !used[p.old] && ids[p.new] == "" {
			used[p.old], ids[p.new] = true, old[p.old].id
		}
	}
	return ids
}

// RecordingOf is the id of the recording that a serve is of: the ids of serves start with it.
func RecordingOf(id motion.ServeID) string {
	recording, _, _ := strings.Cut(string(id), "-")
	return recording
}
