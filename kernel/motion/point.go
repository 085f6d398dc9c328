package motion

import "tossline/datasets/landmark"

// point is a landmark of a measured serve, after mirroring: right is the hitting side. Its value is the landmark's
// place in landmark.Standard.
type point int8

const (
	headTop point = iota
	head
	c7
	sternum
	chest
	pelvis
	leftShoulder
	rightShoulder
	leftElbow
	rightElbow
	leftWrist
	rightWrist
	leftHand
	rightHand
	leftHip
	rightHip
	leftKnee
	rightKnee
	leftAnkle
	rightAnkle
	leftHeel
	rightHeel
	leftToe
	rightToe
	racketGrip
	racketThroat
	racketLeft
	racketRight
	racketTip
	ball
	pointCount
)

func (p point) name() landmark.Name { return landmark.Standard[p] }

// placesIn gives, for each point, the place in l of its landmark, or -1; for a left-hander, that of the landmark on
// the other side.
func placesIn(l *landmark.Layout, hand Hand) [pointCount]int {
	var places [pointCount]int
	for p := range pointCount {
		name := p.name()
		if hand == HandLeft {
			name = name.Mirror()
		}
		places[p] = l.Index(name)
	}
	return places
}

// group says how fast a point moves, which decides what may be filtered away.
func (p point) group() group {
	switch {
	case p >= racketGrip && p < ball:
		return racketGroup
	case p == rightElbow || p == rightWrist || p == rightHand:
		return armGroup
	case p == ball:
		return ballGroup
	}
	return bodyGroup
}

type group int

const (
	bodyGroup group = iota
	armGroup
	racketGroup
	ballGroup
)

// endsAtContact reports whether the point is struck: what it does after contact must not leak into what is said of
// it before.
func (g group) endsAtContact() bool { return g == armGroup || g == racketGroup }

// longestGapS is the longest gap of such points that is filled.
func (g group) longestGapS() float64 {
	if g.endsAtContact() {
		return struckGapS
	}
	return longestGapS
}

// fewestGoOn is the fewest samples that tell how a point would have gone on without contact.
const fewestGoOn = 4

// goesOnS is how much before contact tells that: long against noise, short against the bend of the path. The arm's
// bends less than the racket's.
func (g group) goesOnS() float64 {
	if g == racketGroup {
		return 0.02
	}
	return 0.04
}
