package motion

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/kernel/spatial"
	"tossline/kernel/words"
)

// The sequence of peak speeds. It is described, never graded: in Olympic players the upper trunk peaked before the
// pelvis (Fleisig et al. 2003).

// link is one link of the sequence: when between trophy and contact its speed is largest.
type link struct {
	id, title, definition, needs string
	points                       []point
	oneOf                        [][]point
	speed                        *quantity
}

const linkCount = 6

var links = [linkCount]link{
	{"knee", "knee extension", "extension of the front knee", "front hip, knee and ankle", frontLeg.points(), nil,
		frontKneeExtension},
	{"pelvis", "pelvis rotation", "turning of the line of the hips, seen from above", "both hips",
		[]point{leftHip, rightHip}, nil, turning(leftHip, rightHip)},
	{"trunk", "trunk rotation", "turning of the line of the shoulders, seen from above", "both shoulders",
		[]point{leftShoulder, rightShoulder}, nil, turning(leftShoulder, rightShoulder)},
	{"elbow", "elbow extension", "extension of the hitting elbow", "hitting shoulder, elbow and wrist",
		hittingArm.points(), nil, hittingElbowExtension},
	{"long_axis", "long-axis rotation", "internal rotation of the upper arm against the trunk",
		"both shoulders and hips, hitting elbow and wrist", armAndTrunk, nil, humeralSpeed},
	{"racket", "racket speed", "the speed of the racket head (hand where there is no racket)",
		"racket; the hitting hand stands in", nil,
		[][]point{{racketLeft, racketRight}, {racketTip}, {rightHand}, {rightWrist}}, strikerSpeed},
}

// The times before contact at which each link peaks.
var (
	SequenceKnee     = sequence(0)
	SequencePelvis   = sequence(1)
	SequenceTrunk    = sequence(2)
	SequenceElbow    = sequence(3)
	SequenceLongAxis = sequence(4)
	SequenceRacket   = sequence(5)
	SequenceOrder    = register(Measure{
		ID: "sequence_order", Title: "Order of the peaks", Unit: "",
		Sign: "digits in the order of time: 1 knee, 2 pelvis, 3 trunk, 4 elbow, 5 long axis, 6 racket",
		Definition: "The order in time in which the speeds of the sequence peak; 132456 reads knee, trunk, pelvis, " +
			"elbow, long axis, racket.",
		Needs: "all links of the sequence", Source: "described as Fleisig et al. 2003, not graded", Version: 2,
	}, rule{from: Trophy, to: Contact, points: armAndTrunk, eval: sequenceOrder})
)

func sequence(k int) Measure {
	l := &links[k]
	return register(Measure{
		ID: "sequence_" + l.id, Title: words.Capital(l.title) + ", peak before contact", Unit: "s",
		Sign:       "time before contact",
		Definition: "Time before contact at which " + l.definition + " is fastest, between trophy and contact.",
		Needs:      l.needs, Source: "common practice", Version: 2,
	}, rule{from: Trophy, to: Contact, points: l.points, oneOf: l.oneOf, eval: func(v *view) Value { return v.peakOf(k) }})
}

// peakOf is when link k peaks, found once for a serve.
func (v *view) peakOf(k int) Value {
	if v.peaks[k] == (Value{}) {
		v.peaks[k] = links[k].peak(v)
	}
	return v.peaks[k]
}

func (l *link) peak(v *view) Value {
	basis := fromBody
	if l.points == nil {
		if !v.has(racketLeft, racketRight) && !v.has(racketTip) {
			if _, ok := v.firstOf(rightHand, rightWrist); !ok {
				return missing(noRacket)
			}
			basis = fromHand
		} else {
			basis = fromRacket
		}
	}
	if why := v.lacks(l.points...); why != "" {
		return missing(why)
	}
	first, last, why := v.span(Trophy, Contact)
	if why != "" {
		return missing(why)
	}
	speed := v.over(l.speed, first, min(last, v.last))
	if l.speed == humeralSpeed && v.torn(speed, first) || l.speed != humeralSpeed && slices.ContainsFunc(speed, math.IsNaN) {
		return missing(v.orView(gapBetween(Trophy, Contact)))
	}
	at := peakAt(first, speed)
	if math.IsNaN(at) {
		return missing(straightElbow)
	}
	found := value((v.at(Contact)-at)/v.rate, basis)
	found.StandIn = basis == fromHand
	return found
}

// peakAt is the sample, with its fraction, at which a speed is largest, whose values begin at a sample; those that
// are missing (a straight elbow) are passed over.
func peakAt(first int, speed []float64) float64 {
	best, where := math.Inf(-1), -1
	for i, y := range speed {
		if y > best {
			best, where = y, i
		}
	}
	if where < 0 {
		return math.NaN()
	}
	if where == 0 || where == len(speed)-1 {
		return float64(first + where)
	}
	_, at := vertex(speed[where-1], best, speed[where+1], first+where)
	return at
}

func sequenceOrder(v *view) Value {
	var times [linkCount]float64
	worst := value(0, fromBody)
	for k := range links {
		found := v.peakOf(k)
		if found.Missing != "" {
			return found
		}
		times[k] = found.Number
		worst.StandIn = worst.StandIn || found.StandIn
	}
	for range links {
		first := 0
		for k := range times {
			if times[k] > times[first] {
				first = k
			}
		}
		worst.Number = 10*worst.Number + float64(first+1)
		times[first] = math.Inf(-1)
	}
	return worst
}

// turning is the speed in deg/s at which a line from left to right turns towards the tossing side, seen from above.
func turning(left, right point) *quantity {
	return newQuantity(func(v *view, first int, found []float64) {
		from, to := v.track(left), v.track(right)
		n := to.samples
		v.angles(first, found, func(v *view, first int, sine, cosine []float64) {
			for k := range sine {
				before, after, ok := neighbours(first+k, n)
				if !ok {
					before, after = -1, -1 // outside: missing
				}
				sine[k], cosine[k] = spatial.TurnLevelParts(r3.Sub(to.at(before), from.at(before)),
					r3.Sub(to.at(after), from.at(after)))
			}
		})
		for k := range found {
			before, after, _ := neighbours(first+k, n)
			found[k] = found[k] * v.rate / float64(after-before)
		}
	})
}
