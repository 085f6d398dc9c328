package recording

import (
	"context"
	"maps"
	"math"
	"runtime"
	"runtime/debug"
	"sync"

	"tossline/kernel/motion"
)

// Takes of hours are searched for serves piece by piece, so that the search needs memory for a piece and not for the
// take. Pieces overlap by more than a serve lasts: a serve that one of them cuts off is whole in the next.
const overlapS = 15.0 // seconds

// longPiece is how many frames a piece has. Pieces are searched at the same time, and each while it is still near.
var longPiece = 40_000

// pieces gives the first and last frames of the pieces of a take, the last excluded.
func pieces(t motion.Take) [][2]int {
	n, overlap := t.Len(), int(math.Ceil(overlapS*t.Rate))
	length := max(longPiece, 4*overlap)
	var out [][2]int
	for from := 0; ; from += length - overlap {
		if from+length >= n {
			return append(out, [2]int{from, n})
		}
		out = append(out, [2]int{from, from + length})
	}
}

func pieceOf(t motion.Take, piece [2]int) motion.Take {
	width := 3 * t.Layout.Len()
	t.Frames = t.Frames[piece[0]*width : piece[1]*width]
	return t
}

// headingOf is motion.EstimateHeading on the first piece that shows it.
func headingOf(t motion.Take) (motion.Heading, bool) {
	for _, piece := range pieces(t) {
		if h, ok := motion.EstimateHeading(pieceOf(t, piece)); ok {
			return h, true
		}
	}
	return motion.Heading{}, false
}

// Cut is motion.Cut for a take of any length, piece by piece. The hand that most pieces show by their serves is that of
// the take. tick hears now and then which part of the work is done; it may be nil. Cut stops with ctx.Err() when ctx
// ends. What panics in a piece, such as the fault of a mapped file that was cut short, panics on the calling goroutine.
func Cut(ctx context.Context, t motion.Take, tick func(part float64)) (motion.Found, error) {
	all := pieces(t)
	found, err := cutPieces(ctx, t, all, tick)
	if err != nil {
		return motion.Found{}, err
	}
	votes := map[motion.Hand]float64{}
	for i := range all {
		if found[i].Hand != motion.HandUnknown {
			votes[found[i].Hand] += found[i].HandConfidence * float64(1+len(found[i].Serves))
		}
	}
	if len(all) == 1 {
		return found[0], nil
	}
	whole := motion.Found{}
	if t.Hand = motion.HandRight; votes[motion.HandLeft] > votes[motion.HandRight] {
		t.Hand = motion.HandLeft
	}
	if len(votes) == 0 {
		t.Hand = motion.HandUnknown
	}
	for i, piece := range all {
		if found[i].Hand == t.Hand && found[i].HandConfidence > whole.HandConfidence {
			whole.Hand, whole.HandConfidence, whole.HandWhy = t.Hand, found[i].HandConfidence, found[i].HandWhy
		}
		if found[i].Hand != t.Hand && len(votes) > 0 && len(found[i].Serves) > 0 {
			found[i] = motion.Cut(pieceOf(t, piece))
		}
		for _, s := range found[i].Serves {
			if s.CutOff && !atEnd(s, piece, t.Len()) {
				continue
			}
			whole.Serves = addServe(whole.Serves, moved(s, piece[0], t.Rate), t.Rate)
		}
	}
	if len(whole.Serves) == 0 {
		whole.Notes = found[0].Notes // why there is none
	}
	return whole, nil
}

// cutPieces cuts pieces, as many at a time as there are processors.
func cutPieces(ctx context.Context, t motion.Take, all [][2]int, tick func(part float64)) ([]motion.Found, error) {
	found := make([]motion.Found, len(all))
	slots := make(chan struct{}, runtime.GOMAXPROCS(0))
	var left sync.WaitGroup
	var first any
	var once sync.Once
	for i, piece := range all {
		slots <- struct{}{}
		if ctx.Err() != nil {
			break
		}
		if tick != nil {
			tick(float64(i) / float64(len(all)))
		}
		left.Go(func() {
			defer func() { <-slots }()
			defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
			defer func() {
				if fault := recover(); fault != nil {
					once.Do(func() { first = fault })
				}
			}()
			found[i] = motion.Cut(pieceOf(t, piece))
		})
	}
	left.Wait()
	if first != nil {
		panic(first)
	}
	return found, ctx.Err()
}

// chooseCutoffs is motion.ChooseCutoffs on the first piece that has a whole serve.
func chooseCutoffs(t motion.Take, serves []motion.Serve) []float64 {
	for _, piece := range pieces(t) {
		var own []motion.Serve
		for _, s := range serves {
			if s.First >= piece[0] && s.Last < piece[1] {
				own = append(own, moved(s, -piece[0], t.Rate))
			}
		}
		if cutoffs := motion.ChooseCutoffs(pieceOf(t, piece), own); cutoffs != nil {
			return cutoffs
		}
	}
	return nil
}

// atEnd reports whether a serve of a piece is cut off by an end of the take, and not of the piece.
func atEnd(s motion.Serve, piece [2]int, frames int) bool {
	return s.First == 0 && piece[0] == 0 || s.Last == piece[1]-piece[0]-1 && piece[1] == frames
}

// moved gives a serve of a piece its place in the take.
func moved(s motion.Serve, by int, rate float64) motion.Serve {
	s.First, s.Last = s.First+by, s.Last+by
	s.Events = maps.Clone(s.Events)
	for kind, e := range s.Events {
		e.TimeS += float64(by) / rate
		s.Events[kind] = e
	}
	return s
}

// addServe adds a serve, unless the piece before had it too.
func addServe(serves []motion.Serve, s motion.Serve, rate float64) []motion.Serve {
	anchor := func(s motion.Serve) float64 {
		if e, ok := s.Events[motion.Contact]; ok {
			return e.TimeS
		}
		return float64(s.Last) / rate
	}
	at := anchor(s)
	for i := len(serves) - 1; i >= 0 && anchor(serves[i]) > at-2*overlapS; i-- {
		if math.Abs(anchor(serves[i])-at) < 0.15 {
			return serves
		}
	}
	return append(serves, s)
}
