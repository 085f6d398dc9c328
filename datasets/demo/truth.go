package demo

import (
	"math"

	"tossline/kernel/motion"
)

// Serve is what is known of one serve of a take: the particulars that an analyst would type in, and the truth.
type Serve struct {
	CourtSide   string  `json:"court_side"`  // "deuce" or "ad"
	ServeType   string  `json:"serve_type"`  // "flat", "slice" or "kick"
	StanceType  string  `json:"stance_type"` // "platform" or "pinpoint"
	Outcome     string  `json:"outcome"`     // "in", "net", "long" or "wide"
	BallSpeedMS float64 `json:"ball_speed_m_s"`
	Truth       Truth   `json:"truth"`
}

// Truth is what the model did, without noise. Event times are seconds from the start of the take; Measures are keyed
// by the column of the measure, such as "contact_offset_m", mirrored for left-handers as measures are.
type Truth struct {
	CutOff   bool                         `json:"cut_off,omitempty"` // contact or release lies outside the take
	Missing  []string                     `json:"missing,omitempty"` // what the recording lacks: see the constants
	Events   map[motion.EventKind]float64 `json:"events"`
	Measures map[string]float64           `json:"measures"`
}

// What may be missing from the recording of a serve.
const (
	NoRacket      = "no racket"      // the racket was not tracked
	GapAtContact  = "gap at contact" // racket and ball are lost around contact
	FrontLegLost  = "front leg lost" // knee and ankle are lost while the legs load
	NoBall        = "no ball"        // the ball was not tracked
	contactGap    = 0.12             // half-width of a gap at contact, s
	frontLegGap   = 0.30             // half-width of a gap of the front leg, s
	truthStep     = 0.0025           // s, for the search of extremes; a parabola refines them
	truthDecimals = 1e-6
)

// truth finds the events and measures of the serve from the model itself. Times are in the serve's own clock, moved
// by start.
func (s *serve) truth(start float64) Truth {
	t := s.times
	c := s.sample(t.release, t.contact)
	_, low := c.tip.least(t.trough, t.contact)
	_, trophy := c.front.largest(t.release, low)
	frontMax, _ := c.front.largest(t.release, t.contact)
	backMax, _ := c.back.largest(t.release, t.contact)
	dropMax, _ := c.drop.largest(trophy, t.contact)
	_, finish := extreme(t.contact, t.contact+0.6, 0.01, func(x float64) float64 {
		p := s.poseAt(x)
		return -p.points[rightHand].Y
	})
	racketSpeed, _ := extreme(t.contact-0.05, t.contact, truthStep, s.faceSpeed)
	rotation, _ := extreme(t.contact-0.1, t.contact, truthStep, s.longAxisSpeed)
	p := s.poseAt(t.contact)
	meet := p.points[ball].sub(p.points[rightShoulder])

	out := Truth{Events: map[motion.EventKind]float64{}, Measures: map[string]float64{}}
	for kind, at := range map[motion.EventKind]float64{
		motion.Start: t.begin, motion.Release: t.release, motion.Trophy: trophy, motion.LowPoint: low,
		motion.Takeoff: t.takeoff, motion.Contact: t.contact, motion.Landing: t.landing, motion.Finish: finish,
	} {
		out.Events[kind] = rounded(start + at)
	}
	for column, v := range map[string]float64{
		"front_knee_flexion_deg": frontMax, "back_knee_flexion_deg": backMax, "drop_depth_m": dropMax,
		"contact_offset_m": meet.Z, "contact_forward_m": meet.X, "contact_height_m": p.points[ball].Y,
		"racket_speed_m_s": racketSpeed, "long_axis_speed_deg_s": rotation,
	} {
		out.Measures[column] = rounded(v)
	}
	return out
}

// series is a quantity at steps of truthStep from a time on.
type series struct {
	from   float64
	values []float64
}

// courses are the quantities whose extremes are events and measures.
type courses struct{ front, back, tip, drop series }

func (s *serve) sample(from, to float64) courses {
	n := int((to-from)/truthStep) + 2
	c := courses{}
	for _, x := range []*series{&c.front, &c.back, &c.tip, &c.drop} {
		*x = series{from, make([]float64, n)}
	}
	for i := range n {
		p := s.poseAt(from + float64(float64(i)*truthStep))
		c.front.values[i] = kneeFlexion(&p, leftHip, leftKnee, leftAnkle)
		c.back.values[i] = kneeFlexion(&p, rightHip, rightKnee, rightAnkle)
		c.tip.values[i] = p.points[racketTip].Y
		c.drop.values[i] = p.points[rightShoulder].Y - p.points[racketTip].Y
	}
	return c
}

// largest is the largest value between two times and when it is reached.
func (s series) largest(from, to float64) (value, at float64) {
	first := int(math.Ceil((from - s.from) / truthStep))
	last := int(math.Floor((to - s.from) / truthStep))
	value, place := peak(s.values[first : last+1])
	return value, s.from + float64((float64(first)+place)*truthStep)
}

func (s series) least(from, to float64) (value, at float64) {
	turned := series{s.from, make([]float64, len(s.values))}
	for i, v := range s.values {
		turned.values[i] = -v
	}
	value, at = turned.largest(from, to)
	return -value, at
}

func rounded(v float64) float64 { return math.Round(v/truthDecimals) * truthDecimals }

// around gives the poses a tenth of a millisecond before and after t.
func (s *serve) around(t float64) (before, after pose, seconds float64) {
	const h = 1e-4
	return s.poseAt(t - h), s.poseAt(t + h), 2 * h
}

// faceSpeed is that of the middle of the strings at t, m/s.
func (s *serve) faceSpeed(t float64) float64 {
	before, after, dt := s.around(t)
	return after.face().sub(before.face()).norm() / dt
}

// longAxisSpeed is the rate at which the racket turns against the trunk about the hitting upper arm at t, in deg/s,
// internal rotation positive.
func (s *serve) longAxisSpeed(t float64) float64 {
	before, after, dt := s.around(t)
	now := s.poseAt(t)
	axis := now.points[rightShoulder].sub(now.points[rightElbow]).unit()
	turn := turning(before.racket, after.racket).sub(turning(before.trunk, after.trunk))
	return turn.dot(axis) / dt / degree
}

// turning is the small rotation from one frame to another, as a vector along its axis: half the sum of the cross
// products of the axes before and after.
func turning(a, b mat) vec {
	return a.x.cross(b.x).add(a.y.cross(b.y)).add(a.z.cross(b.z)).scale(0.5)
}
