// Package landmark names the tracked points of a serve and says how they mirror.
//
// A landmark is a point of the body, the racket or the ball. The names here are the ones measures ask for; a
// recording may carry more points under their own names, which recipes can still read. Names are lower snake case,
// side first: left_knee, right_shoulder. They are the channel names of every frames file of a season.
//
// Body points are joint centres unless said otherwise: a hip is the centre of the hip joint, not the skin marker
// over it.
package landmark

import (
	"slices"
	"strings"
)

// Name is the name of a landmark, such as "left_knee".
type Name string

// The body.
const (
	HeadTop       Name = "head_top" // vertex
	Head          Name = "head"     // centre of the head
	C7            Name = "c7"       // spinous process of the 7th cervical vertebra; the base of the neck
	Sternum       Name = "sternum"  // jugular notch
	Chest         Name = "chest"    // the trunk between the shoulders and the pelvis, at the lower ribs
	Pelvis        Name = "pelvis"   // middle of the hips, where a system gives it by itself
	LeftShoulder  Name = "left_shoulder"
	RightShoulder Name = "right_shoulder"
	LeftElbow     Name = "left_elbow"
	RightElbow    Name = "right_elbow"
	LeftWrist     Name = "left_wrist"
	RightWrist    Name = "right_wrist"
	LeftHand      Name = "left_hand" // head of the third metacarpal; the middle of the fist
	RightHand     Name = "right_hand"
	LeftHip       Name = "left_hip"
	RightHip      Name = "right_hip"
	LeftKnee      Name = "left_knee"
	RightKnee     Name = "right_knee"
	LeftAnkle     Name = "left_ankle"
	RightAnkle    Name = "right_ankle"
	LeftHeel      Name = "left_heel"
	RightHeel     Name = "right_heel"
	LeftToe       Name = "left_toe" // tip of the longest toe
	RightToe      Name = "right_toe"
)

// The racket and the ball. Left and right edge are where the head is widest, as the player sees them holding the
// racket upright in front with the hitting face towards the net.
const (
	RacketGrip   Name = "racket_grip" // end of the handle
	RacketThroat Name = "racket_throat"
	RacketLeft   Name = "racket_left"
	RacketRight  Name = "racket_right"
	RacketTip    Name = "racket_tip"
	Ball         Name = "ball"
)

// Standard lists every landmark of this package, in the order in which a recording stores those that it has.
var Standard = []Name{
	HeadTop, Head, C7, Sternum, Chest, Pelvis,
	LeftShoulder, RightShoulder, LeftElbow, RightElbow, LeftWrist, RightWrist, LeftHand, RightHand,
	LeftHip, RightHip, LeftKnee, RightKnee, LeftAnkle, RightAnkle, LeftHeel, RightHeel, LeftToe, RightToe,
	RacketGrip, RacketThroat, RacketLeft, RacketRight, RacketTip, Ball,
}

// IsStandard reports whether n is one of Standard.
func IsStandard(n Name) bool {
	for _, s := range Standard {
		if s == n {
			return true
		}
	}
	return false
}

// Mirror gives the landmark on the other side: left_knee for right_knee. Landmarks of the middle, and names with
// no side, mirror to themselves. A side is a leading or trailing left or right, joined by an underscore.
func (n Name) Mirror() Name {
	s := string(n)
	for _, pair := range [][2]string{{"left", "right"}, {"right", "left"}} {
		if rest, ok := strings.CutPrefix(s, pair[0]+"_"); ok {
			return Name(pair[1] + "_" + rest)
		}
		if rest, ok := strings.CutSuffix(s, "_"+pair[0]); ok {
			return Name(rest + "_" + pair[1])
		}
	}
	return n
}

// Layout is the order of the landmarks in a frame: landmark i occupies the values 3i, 3i+1 and 3i+2 (x, y, z).
// A Layout is immutable and may be shared by all serves of a recording and by goroutines.
type Layout struct {
	names []Name
	index map[Name]int
}

// NewLayout makes the layout of the given order. A name given twice keeps its first place.
func NewLayout(names []Name) *Layout {
	l := &Layout{names: append([]Name(nil), names...), index: make(map[Name]int, len(names))}
	for i, n := range l.names {
		if _, ok := l.index[n]; !ok {
			l.index[n] = i
		}
	}
	return l
}

// Names lists the landmarks in order.
func (l *Layout) Names() []Name { return slices.Clone(l.names) }

// Len is the number of landmarks; a frame has three times as many values.
func (l *Layout) Len() int { return len(l.names) }

// Index is the place of n, or -1.
func (l *Layout) Index(n Name) int {
	if i, ok := l.index[n]; ok {
		return i
	}
	return -1
}

// Has reports whether all of the names are in the layout.
func (l *Layout) Has(names ...Name) bool {
	for _, n := range names {
		if l.Index(n) < 0 {
			return false
		}
	}
	return true
}
