package motion

import (
	"fmt"
	"math"
)

// Found is what Cut found in a take.
type Found struct {
	Serves         []Serve // in the order of time, cut-off ones included
	Hand           Hand    // the hitting hand; HandUnknown when nothing shows it
	HandConfidence float64 // 0 to 1
	HandWhy        string  // the evidence, in a sentence
	Notes          []string
}

// Cut finds the serves of a take, its hitting hand, and the events of each serve.
//
// A serve is recognised by its sequence, not by one extreme: the tossing hand rises from below to above the head; the
// hitting hand passes its highest point 0.15 to 2.5 s later, when the tossing hand has come down; around then it is
// fast, faster than the tossing hand, and the trunk turns fastest, towards the tossing side; then the hand comes down.
// What lacks one of these is something else: a caught toss lacks the swing, a practice swing the toss, a raised arm
// the speed, a take played backwards has the trunk turning the wrong way. Every limit is in arm lengths and in units
// of sqrt(g * arm length), so that it does not depend on who serves; see the constants of this package's source.
//
// Where the ball is tracked, a swing that never comes near it is not a serve.
//
// A serve of which the release lies before the take or the contact after it is marked CutOff.
func Cut(t Take) Found {
	tr, missing := newTrace(&t)
	if tr == nil {
		return Found{Hand: t.Hand, HandWhy: "given", Notes: []string{"No serves were looked for: " + missing + "."}}
	}
	left, right := tr.swings(0), tr.swings(1)
	f := chooseHand(t.Hand, left, right)
	swings, tossing := right, 0
	if f.Hand == HandLeft {
		swings, tossing = left, 1
	}
	ball := newBallTrack(&t)
	finder := newFinder(&t, tr, f.Hand, ball)
	for _, s := range swings {
		serve, ok := finder.serve(s)
		if !ok {
			f.Notes = append(f.Notes, fmt.Sprintf("The swing at %.2f s never came near the ball: left out.",
				s.seconds(tr)))
			continue
		}
		f.Serves = append(f.Serves, serve)
	}
	if s, ok := tr.begun(tossing, swings); ok && f.Hand != HandUnknown {
		f.Serves = append(f.Serves, finder.begun(s))
	}
	if len(f.Serves) == 0 {
		f.Notes = append(f.Notes, "No serve was found.")
	}
	return f
}

// swing is a movement that has the sequence of a serve.
type swing struct {
	toss    int // frame at which the tossing hand is highest; -1 when that was before the take
	contact int // frame at which the hitting hand is highest
	speed   float64
	cutOff  string // why the serve is cut off, or ""
}

// Why a serve is cut off.
const (
	releaseBefore = "release before the take starts"
	contactAfter  = "contact after the take ends"
)

func (s swing) seconds(tr *trace) float64 { return float64(s.contact) / tr.rate }

// chooseHand decides which hand hits: the one that was said, else the one with more serves, else with faster ones.
func chooseHand(said Hand, left, right []swing) Found {
	l, r := complete(left), complete(right)
	f := Found{Hand: said, HandConfidence: 1, HandWhy: "given"}
	switch {
	case said == HandUnknown && len(l)+len(r) > 0:
		f = decideHand(l, r)
	case said == HandUnknown:
		f = decideHand(left, right)
	}
	if other := max(len(l), len(r)); said == HandLeft && len(r) > len(l) || said == HandRight && len(l) > len(r) {
		f.Notes = append(f.Notes, fmt.Sprintf("The player is said to hit with the %s hand, but %d movements look like "+
			"serves with the other one. Check the hand.", said, other))
	}
	return f
}

func decideHand(l, r []swing) Found {
	all := float64(len(l) + len(r))
	switch {
	case len(l) == 0 && len(r) == 0:
		return Found{HandWhy: "no serve shows it"}
	case len(r) > len(l) || len(r) == len(l) && fastest(r) >= fastest(l):
		return Found{Hand: HandRight, HandConfidence: float64(len(r)) / all * sureness(len(r)),
			HandWhy: fmt.Sprintf("in %d of %d serves the right hand follows the left one up and is the faster",
				len(r), len(l)+len(r))}
	}
	return Found{Hand: HandLeft, HandConfidence: float64(len(l)) / all * sureness(len(l)),
		HandWhy: fmt.Sprintf("in %d of %d serves the left hand follows the right one up and is the faster", len(l),
			len(l)+len(r))}
}

// sureness grows with the number of serves that agree.
func sureness(n int) float64 { return 1 - 0.3/float64(n) }

func complete(swings []swing) []swing {
	var whole []swing
	for _, s := range swings {
		if s.cutOff == "" {
			whole = append(whole, s)
		}
	}
	return whole
}

func fastest(swings []swing) float64 {
	best := 0.0
	for _, s := range swings {
		best = max(best, s.speed)
	}
	return best
}

// The sequence of a serve. Lengths in arm lengths above the shoulders, speeds in sqrt(g*arm).
const (
	tossBeforeS     = 2.5  // the toss is at most this long before contact ...
	tossAtLeastS    = 0.15 // ... and at least this
	tossAbove       = 0.8  // the tossing hand's height, of that of the top of the head
	tossRise        = 0.8  // how far it has risen by then
	tossRiseS       = 2.0  // within
	tossDown        = 0.2  // how far it has come down again at contact
	contactAbove    = 1.0  // the hitting hand's height at contact, of that of the top of the head
	contactOver     = 0.25 // how much higher than the tossing hand it is then
	swingSpeed      = 1.4  // the hitting hand's largest speed, which is more than the tossing hand's ...
	swingWindowS    = 0.25 // ... within this of contact
	fall            = 0.7  // how far the hitting hand comes down ...
	fallS           = 0.9  // ... within this
	trunkTurn       = 0.7  // rad by which the trunk turns to the tossing side ...
	trunkWindowS    = 0.3  // ... from this long before contact to as long after
	fastestTurnS    = 0.22 // and it turns fastest within this of contact
	apartS          = 1.2  // two serves are at least this far apart
	afterTakeStartS = 0.1  // a contact nearer to the take's start shows no swing
)

// swings finds the serves hit by the hand k (0 left, 1 right).
func (tr *trace) swings(k int) []swing {
	h := tr.hand[k].height
	var found []swing
	for i := 1; i < tr.n-1; i++ {
		if !(h[i] >= h[i-1] && h[i] > h[i+1] && h[i] > contactAbove*tr.head) {
			continue
		}
		if s, ok := tr.swingAt(k, i); ok {
			found = keepApart(found, s, tr.frames(apartS), h)
		}
	}
	return found
}

// keepApart adds a swing, or keeps the higher of two that are too near each other to be two serves.
func keepApart(found []swing, s swing, apart int, height []float64) []swing {
	if n := len(found); n > 0 && s.contact-found[n-1].contact < apart {
		if height[s.contact] > height[found[n-1].contact] {
			found[n-1] = s
		}
		return found
	}
	return append(found, s)
}

// swingAt decides whether the hand k being highest at frame i is the contact of a serve.
func (tr *trace) swingAt(k, i int) (swing, bool) {
	hitting, tossing := tr.hand[k], tr.hand[1-k]
	w := tr.frames(swingWindowS)
	s := swing{contact: i, speed: largestOf(hitting.speed, i-w, i+w)}
	if s.speed < swingSpeed || s.speed < largestOf(tossing.speed, i-w, i+w) || !tr.comesDown(hitting, i) ||
		!tr.turnsOver(k, i) {
		return s, false
	}
	if !(hitting.height[i]-tossing.height[i] > contactOver) {
		return s, false
	}
	toss := highest(tossing.height, i-tr.frames(tossBeforeS), i-tr.frames(tossAtLeastS))
	if toss < 0 {
		return s, false
	}
	s.toss = toss
	if i < tr.frames(tossBeforeS) && tr.tossBeforeTake(tossing, toss) {
		s.toss, s.cutOff = -1, releaseBefore
		return s, i > tr.frames(afterTakeStartS)
	}
	return s, tr.isToss(tossing, s)
}

// largestOf is the largest of x in [from, to], or 0.
func largestOf(x []float64, from, to int) float64 {
	if i := highest(x, from, to); i >= 0 {
		return x[i]
	}
	return 0
}

// comesDown reports whether the hitting hand falls after contact, as far as the take shows it.
func (tr *trace) comesDown(hitting side, i int) bool {
	end := i + tr.frames(fallS)
	low := lowest(hitting.height, i, end)
	return hitting.height[i]-hitting.height[low] >= fall
}

// turnsOver reports whether the trunk turns towards the tossing side through contact, seen from above to the left for
// a right-hander, and fastest near contact: a take played backwards, or a toss taken for a swing, turns at another
// time. A recording of one camera has no heading, and is let through.
func (tr *trace) turnsOver(k, i int) bool {
	if tr.flat() {
		return true
	}
	sense := 1.0
	if k == 0 {
		sense = -1
	}
	w, wide := tr.frames(trunkWindowS), tr.frames(2*trunkWindowS)
	if sense*(tr.turn[tr.clamp(i+w)]-tr.turn[tr.clamp(i-w)]) < trunkTurn {
		return false
	}
	fastest, at, step := 0.0, i, max(1, tr.frames(0.02))
	for j := tr.clamp(i - wide); j+step <= tr.clamp(i+wide); j++ {
		if turned := sense * (tr.turn[j+step] - tr.turn[j]); turned > fastest {
			fastest, at = turned, j+step/2
		}
	}
	return math.Abs(float64(at-i)) <= fastestTurnS*tr.rate
}

// flat reports whether the take has no depth.
func (tr *trace) flat() bool { return tr.turn[0] == 0 && tr.turn[tr.n-1] == 0 && tr.turn[tr.n/2] == 0 }

// isToss reports whether the tossing hand's highest point belongs to a toss that the swing follows.
func (tr *trace) isToss(tossing side, s swing) bool {
	top := tossing.height[s.toss]
	below := lowest(tossing.height, s.toss-tr.frames(tossRiseS), s.toss)
	return top >= tossAbove*tr.head && top-tossing.height[below] >= tossRise &&
		top-tossing.height[s.contact] >= tossDown
}

// tossBeforeTake reports whether the take starts after the release: the tossing hand is high, or the hitting one
// already above the shoulders, when it starts, and nothing of its rise is seen.
func (tr *trace) tossBeforeTake(tossing side, toss int) bool {
	start := lowest(tossing.height, 0, toss)
	return tossing.height[toss]-tossing.height[start] < tossRise/2
}

// The beginning of a serve that the take does not see to its end.
const (
	begunRise  = 0.4 // the tossing hand has risen this far ...
	begunRiseS = 1.2 // ... within this
	begunSpeed = 0.8 // at this upward speed, when the take ends while it rises ...
	thrownFast = 1.5 // ... or at this one, when it is seen to stop
)

// begun looks for a toss at the end of the take whose contact is not seen. tossing is the index of the tossing hand.
func (tr *trace) begun(tossing int, swings []swing) (swing, bool) {
	h := tr.hand[tossing].height
	from := tr.n - tr.frames(tossBeforeS)
	if n := len(swings); n > 0 {
		from = max(from, swings[n-1].contact+tr.frames(0.5))
	}
	if tr.rises(tossing, from, tr.n-1, begunSpeed) {
		return swing{toss: tr.n - 1, contact: -1, cutOff: contactAfter}, true
	}
	top := highest(h, from, tr.n-1)
	if top < 0 || !tr.rises(tossing, from, top, begunSpeed) {
		return swing{}, false
	}
	if top < tr.n-tr.frames(0.1) && !(h[top] >= tossAbove*tr.head && tr.rises(tossing, from, top, thrownFast)) {
		return swing{}, false // the hand was raised and stopped before the take ended, and it was no toss
	}
	return swing{toss: top, contact: -1, cutOff: contactAfter}, true
}

// rises reports whether the hand k, from its lowest place shortly before, has risen to frame top as for a toss, at some
// time at least as fast as speed.
func (tr *trace) rises(k, from, top int, speed float64) bool {
	h, rise := tr.hand[k].height, tr.hand[k].rise
	below := lowest(h, max(from, top-tr.frames(begunRiseS)), top)
	return below >= 0 && h[top]-h[below] >= begunRise && largestOf(rise, below, top) >= speed
}
