package motion

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/datasets/landmark"
	"tossline/kernel/spatial"
	"tossline/kernel/words"
)

// Heading is the horizontal direction of the serves of a take, found from their motion.
type Heading struct {
	Radians   float64 // turn about the vertical from +X to the direction of the serve, as spatial.Heading
	SpreadRad float64 // circular standard deviation over the serves; NaN for a single one
	Serves    int
	Method    string // what it was found from, as a sentence
}

// EstimateHeading finds the direction in which a take's serves go, for a take that is upright (Y up, metres) but
// turned about the vertical by an unknown angle. Turning every point by spatial.TurnAbout(p, -h.Radians) brings the
// serves along X. ok is false when the take has no complete serve, or is of one camera.
//
// The best evidence there is, is used:
//
//   - the ball's path after contact. It is the serve's direction itself; what remains is that serves go to one or the
//     other side of the box, some 5 degrees about their mean.
//   - the racket's path through contact, within some 10 degrees.
//   - the mean of the hitting hand's path within 0.05 s of contact and of the line from the back foot to the front foot at
//     release. On motion capture of six players in one hall, the hand's path alone repeats within 3 to 8 degrees
//     within a player, and differs by 15 (SD) between players; the line of the feet differs by 10; their mean by 8.
//     So this is a direction for measures that ask where forward is (contact offset, drift), good to about 10 degrees.
func EstimateHeading(t Take) (h Heading, ok bool) {
	if t.seen() != seenWhole {
		return Heading{}, false
	}
	found := Cut(t)
	var sum r3.Vec
	track := newHeadingTrack(&t, found.Hand)
	for _, s := range found.Serves {
		if s.CutOff {
			continue
		}
		if d, method, ok := track.direction(s); ok {
			sum = r3.Add(sum, d)
			h.Serves++
			h.Method = method
		}
	}
	if h.Serves == 0 || spatial.Norm(sum) == 0 {
		return Heading{}, false
	}
	h.Radians, h.SpreadRad = spatial.Heading(sum), math.NaN()
	if h.Serves > 1 {
		h.SpreadRad = math.Sqrt(-2 * math.Log(min(spatial.Norm(sum)/float64(h.Serves), 1)))
	}
	h.Method += " in " + words.Count(h.Serves, "serve")
	return h, true
}

// headingTrack is what a take offers to tell the direction from: the same kind of evidence for all of its serves.
type headingTrack struct {
	rate        float64
	ball        *ballTrack
	racket      [3][]float64
	hand        [3][]float64
	front, back [3][]float64 // ankles; nil where they are not tracked
}

func newHeadingTrack(t *Take, hand Hand) *headingTrack {
	own := func(n landmark.Name) landmark.Name {
		if hand == HandLeft {
			return n.Mirror()
		}
		return n
	}
	s := source{t}
	h := &headingTrack{rate: t.Rate, ball: newBallTrack(t), racket: racketFace(t)}
	if place := s.first(own(landmark.RightHand), own(landmark.RightWrist)); place >= 0 {
		h.hand = s.smooth(place)
	}
	front, back := t.Layout.Index(own(landmark.LeftAnkle)), t.Layout.Index(own(landmark.RightAnkle))
	if front >= 0 && back >= 0 {
		h.front, h.back = s.smooth(front), s.smooth(back)
	}
	return h
}

// direction is the unit vector of one serve's direction by the best evidence.
func (h *headingTrack) direction(s Serve) (d r3.Vec, method string, ok bool) {
	contact := s.Events[Contact].TimeS * h.rate
	if s.Events[Contact].Method == byBallVelocity {
		if d, ok := h.along(h.ball.xyz, contact, contact+0.05*h.rate+2); ok {
			return d, "the ball's path after contact", true
		}
	}
	if h.racket[0] != nil {
		if d, ok := h.along(h.racket, contact-0.02*h.rate-1, contact); ok {
			return d, "the racket's path into contact", true
		}
	}
	hand, ok := h.along(h.hand, contact-0.05*h.rate, contact+0.05*h.rate)
	if !ok || h.front[0] == nil {
		return hand, "the hitting hand's path through contact", ok
	}
	release := int(s.Events[Release].TimeS * h.rate)
	feet, ok := level(r3.Sub(vecAt(h.front, release), vecAt(h.back, release)))
	if !ok {
		return hand, "the hitting hand's path through contact", true
	}
	d, ok = level(r3.Add(hand, feet))
	return d, "the hitting hand's path through contact and the line of the feet at release", ok
}

// along is the horizontal direction of a track between two frames: from the first sample that is there to the last.
func (h *headingTrack) along(xyz [3][]float64, from, to float64) (r3.Vec, bool) {
	if xyz[0] == nil {
		return r3.Vec{}, false
	}
	first, last := -1, -1
	for i := max(int(math.Ceil(from)), 0); i <= min(int(math.Floor(to)), len(xyz[0])-1); i++ {
		if p := vecAt(xyz, i); !spatial.Missing(p) {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	if last <= first {
		return r3.Vec{}, false
	}
	return level(r3.Sub(vecAt(xyz, last), vecAt(xyz, first)))
}

// level is the horizontal part of a direction, of unit length.
func level(v r3.Vec) (r3.Vec, bool) {
	v.Y = 0
	n := spatial.Norm(v)
	if !(n > 0.01) {
		return r3.Vec{}, false
	}
	return r3.Scale(1/n, v), true
}
