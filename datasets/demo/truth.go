package demo

import (
	"math"

	"tossline/kernel/motion"
)

// Serve is what is known of one serve of a take: the particulars that an analyst would type in, and the truth.
type Serve struct {
	CourtSide   string  `json:"court_side"` // "deuce" or "ad"
	ServeType   string  `json:"serve_type"` // "first" or "second"
	Outcome     string  `json:"outcome"`    // "in", "net", "long" or "wide"
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
	front := func(p *pose) float64 { return kneeFlexion(p, leftHip, leftKnee, leftAnkle) }
	back := func(p *pose) float64 { return kneeFlexion(p, rightHip, rightKnee, rightAnkle) }
	drop := func(p *pose) float64 { return p.points[rightShoulder].Y - p.points[racketTip].Y }

	_, low := s.largest(t.trough, t.contact, func(p *pose) float64 { return -p.points[racketTip].Y })
	_, trophy := s.largest(t.release, low, front)
	_, low = s.largest(trophy, t.contact, func(p *pose) float64 { return -p.points[racketTip].Y })
	_, finish := s.largest(t.contact, t.contact+0.6, func(p *pose) float64 { return -p.points[rightHand].Y })
	frontMax, _ := s.largest(t.release, t.contact, front)
	backMax, _ := s.largest(t.release, t.contact, back)
	dropMax, _ := s.largest(trophy, t.contact, drop)
	racketSpeed, _ := extreme(t.contact-0.05, t.contact, truthStep, s.faceSpeed)
	rotation, _ := extreme(t.contact-0.1, t.contact, truthStep, s.longAxisSpeed)
	c := s.poseAt(t.contact)
	meet := c.points[ball].sub(c.points[rightShoulder])

	out := Truth{Events: map[motion.EventKind]float64{}, Measures: map[string]float64{}}
	for kind, at := range map[motion.EventKind]float64{
		motion.Start: t.begin, motion.Release: t.release, motion.Trophy: trophy, motion.LowPoint: low,
		motion.Takeoff: t.takeoff, motion.Contact: t.contact, motion.Landing: t.landing, motion.Finish: finish,
	} {
		out.Events[kind] = rounded(start + at)
	}
	for column, v := range map[string]float64{
		"front_knee_flexion_deg": frontMax, "back_knee_flexion_deg": backMax, "drop_depth_m": dropMax,
		"contact_offset_m": meet.Z, "contact_forward_m": meet.X, "contact_height_m": c.points[ball].Y,
		"racket_speed_m_s": racketSpeed, "long_axis_speed_deg_s": rotation,
	} {
		out.Measures[column] = rounded(v)
	}
	return out
}

func (s *serve) largest(a, b float64, f func(p *pose) float64) (value, at float64) {
	return extreme(a, b, truthStep, func(t float64) float64 {
		p := s.poseAt(t)
		return f(&p)
	})
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
