package demo

import (
	"math"
	"strings"

	"tossline/datasets/landmark"
	"tossline/kernel/motion"
)

// Rate is the frame rate of every recording of the season, Hz.
const Rate = 200

// Take is one recording: a player's serves of one day.
type Take struct {
	motion.Take
	Name    string // of the recording, as a file would be called
	Player  Player
	Session string // ISO date
	Serves  []Serve
}

// layout is the order of landmarks, that of the constants of body.go.
var layout = landmark.NewLayout([]landmark.Name{
	landmark.HeadTop, landmark.Head, landmark.C7, landmark.Sternum,
	landmark.LeftShoulder, landmark.RightShoulder, landmark.LeftElbow, landmark.RightElbow,
	landmark.LeftWrist, landmark.RightWrist, landmark.LeftHand, landmark.RightHand,
	landmark.LeftHip, landmark.RightHip, landmark.LeftKnee, landmark.RightKnee,
	landmark.LeftAnkle, landmark.RightAnkle, landmark.LeftHeel, landmark.RightHeel, landmark.LeftToe, landmark.RightToe,
	landmark.RacketGrip, landmark.RacketThroat, landmark.RacketLeft, landmark.RacketRight, landmark.RacketTip,
	landmark.Ball,
})

// mirrorOf is where each landmark goes for a left-hander.
var mirrorOf = func() (to [landmarks]int) {
	for i, n := range layout.Names() {
		to[i] = layout.Index(n.Mirror())
	}
	return to
}()

// session is the order for one take: who, when, and what befalls the recording.
type session struct {
	member   *member
	seed     uint64
	number   uint64 // of the take in the season, for its dice
	day      int    // index of sessions
	serves   int
	noRacket bool
	late     bool // the recording starts after the first serve's release
	early    bool // the recording stops before the last serve's contact
}

// The parts of a take that have dice of their own.
const (
	partDay = iota
	partPlans
	partNoise
	partGaps
)

// stretch is one serve laid on the take's clock.
type stretch struct {
	serve    *serve
	from, to float64
}

// make builds the take: the model of each serve, then the frames, noise and gaps.
func (c *session) make() Take {
	take := Take{
		Name:    strings.ToLower(strings.ReplaceAll(c.member.Name, " ", "-")) + "-" + sessions[c.day],
		Player:  c.member.Player,
		Session: sessions[c.day],
	}
	stretches, end := c.model(&take)
	n := int(end * Rate)
	frames := make([]float32, n*landmarks*3)
	rec := recorder{dice: newDice(c.seed, c.number, partNoise), frames: frames, left: c.member.Hand == motion.HandLeft}
	first := stretches[0]
	for i := range n {
		t := float64(i) / Rate
		for len(stretches) > 1 && t >= stretches[0].to {
			stretches = stretches[1:]
		}
		p, ballSeen := stretches[0].at(t)
		if t < first.from {
			p, ballSeen = first.serve.bouncing(t, first.from), true
		}
		rec.write(i, &p, ballSeen)
	}
	c.tearGaps(&take, frames)
	take.Take = motion.Take{Rate: Rate, Layout: layout, Frames: frames, Hand: c.member.Hand}
	return take
}

// model draws and builds the serves, fills in what is known of them, and says when the recording ends.
func (c *session) model(take *Take) (stretches []stretch, end float64) {
	m := c.member
	usual := m.usual
	if m.change != nil {
		m.change(c.day, &usual)
	}
	day := m.drawDay(newDice(c.seed, c.number, partDay))
	d := newDice(c.seed, c.number, partPlans)
	b := newBody(m.HeightM, m.racket)
	side := courtSide(c)
	at := bounceTime
	if c.late {
		at = -1.3
	}
	for i := range c.serves {
		known := Serve{CourtSide: side, ServeType: "flat", Outcome: outcome(d)}
		p := m.draw(usual, day, d)
		known.StanceType = "platform"
		if p.pinpoint {
			known.StanceType = "pinpoint"
		}
		switch u := d.Float64(); {
		case u < 0.15:
			known.ServeType = "slice"
			p.speed = float64(0.9 * p.speed)
		case u < 0.22:
			known.ServeType = "kick"
			p.speed = float64(0.9 * p.speed)
		}
		p.aim(known, m.Hand, d)
		known.BallSpeedMS = math.Round(p.ballOff.norm()*10) / 10
		s := newServe(&b, &p)
		known.Truth = s.truth(at)
		end = at + s.times.end
		if c.early && i == c.serves-1 {
			end = at + s.times.trough + 0.1
			known.Truth.CutOff = true
		}
		if c.late && i == 0 {
			known.Truth.CutOff = true
		}
		stretches = append(stretches, stretch{s, at, at + s.times.end})
		take.Serves = append(take.Serves, known)
		at += s.times.end
	}
	return stretches, end
}

// courtSide alternates from session to session.
func courtSide(c *session) string {
	if (c.day+len(c.member.Name))%2 == 0 {
		return "deuce"
	}
	return "ad"
}

func outcome(d dice) string {
	switch u := d.Float64(); {
	case u < 0.63:
		return "in"
	case u < 0.77:
		return "net"
	case u < 0.92:
		return "long"
	}
	return "wide"
}

// aim puts the player on the side of the court and sends the ball across it, in the axes of a right-hander.
func (p *plan) aim(s Serve, hand motion.Hand, d dice) {
	right := 1.0
	if (s.CourtSide == "ad") != (hand == motion.HandLeft) {
		right = -1
	}
	p.place = vec{-0.05, 0, float64(0.55*right) + 0.1}
	across := float64(-right*6.0) + float64(1.3*d.normal())
	down := 5.2 - float64(0.11*(40-p.speed)) + float64(0.5*d.normal())
	sinA, cosA := sincos(float64(across * degree))
	sinD, cosD := sincos(float64(down * degree))
	speed := float64(1.27*p.speed) + float64(0.4*d.normal())
	p.ballOff = vec{float64(cosA * cosD), -sinD, float64(sinA * cosD)}.scale(speed)
}

// The ball leaves the volume that the cameras see some way in front of the player, and a new one is taken from the
// pocket after a while.
const (
	ballSeenFor  = 0.075 // s after contact
	newBallAfter = 0.80  // s after contact
)

// at is the pose at time t of the take, and whether the cameras see the ball.
func (x stretch) at(t float64) (pose, bool) {
	own := math.Max(0, t-x.from)
	s := x.serve
	p := s.poseAt(own)
	after := own - s.times.contact
	if after > newBallAfter {
		_, p = s.bodyAt(own)
	}
	return p, after <= ballSeenFor || after > newBallAfter
}

// bounceTime is how long a recording runs before its first serve begins: the player bounces the ball once.
const bounceTime = 1.5

// bouncing is the pose while the ball is bounced, from time 0 to until.
func (s *serve) bouncing(t, until float64) pose {
	st, rest := s.bodyAt(0)
	const throw, speed = 0.3, 1.5
	from := rest.points[ball]
	fall := from.Y - ballRadius
	downFor := (math.Sqrt(float64(speed*speed)+float64(2*gravity*fall)) - speed) / gravity
	upSpeed := math.Sqrt(float64(2 * gravity * fall))
	caught := throw + downFor + upSpeed/gravity

	push := through(0, 0, throw-0.2, 0.25, throw, 0, throw+0.25, -0.15, caught, 0, until, 0)
	st[tossElbow] += push.at(t)
	p := s.body.pose(&st)
	switch {
	case t <= throw || t >= caught:
	case t <= throw+downFor:
		p.points[ball] = thrown(from, vec{0, -speed, 0}, t-throw)
	default:
		p.points[ball] = thrown(vec{from.X, ballRadius, from.Z}, vec{0, upSpeed, 0}, t-throw-downFor)
	}
	return p
}

// recorder turns poses into frames as cameras would: noisy, in tenths of a millimetre, sides as they are.
type recorder struct {
	dice   dice
	frames []float32
	left   bool
}

// noise is the standard deviation of each coordinate of a landmark, m.
func noise(point int) float64 {
	switch {
	case point == ball:
		return 0.0020
	case point >= racketGrip:
		return 0.0018
	case point == leftHip || point == rightHip:
		return 0.0022
	}
	return 0.0012
}

func (r *recorder) write(frame int, p *pose, ballSeen bool) {
	row := r.frames[frame*landmarks*3:][:landmarks*3]
	for i, v := range p.points {
		to := i
		if r.left {
			to, v = mirrorOf[i], v.mirrored()
		}
		sd := noise(i)
		for axis, x := range [3]float64{v.X, v.Y, v.Z} {
			row[3*to+axis] = tenths(x + float64(sd*r.dice.normal()))
		}
	}
	if !ballSeen {
		lose(r.frames, frame, frame, ball)
	}
}

// tenths rounds to a tenth of a millimetre, far above any rounding of the model and far below the noise.
func tenths(x float64) float32 { return float32(math.Round(x*1e4) / 1e4) }

// lose makes points missing from frame first to last.
func lose(frames []float32, first, last int, points ...int) {
	nan := float32(math.NaN())
	n := len(frames) / (landmarks * 3)
	for f := max(0, first); f <= min(last, n-1); f++ {
		for _, p := range points {
			for axis := range 3 {
				frames[(f*landmarks+p)*3+axis] = nan
			}
		}
	}
}

var racketPoints = []int{racketGrip, racketThroat, racketLeft, racketRight, racketTip}

// tearGaps loses what cameras lose: short stretches anywhere, and now and then the racket and ball at contact or the
// front leg while it loads; in one session the racket throughout.
func (c *session) tearGaps(take *Take, frames []float32) {
	d := newDice(c.seed, c.number, partGaps)
	n := len(frames) / (landmarks * 3)
	for p := range landmarks {
		every := 18.0 // seconds between gaps, on average
		if p >= racketGrip {
			every = 9
		}
		for range int(float64(n)/Rate/every + d.Float64()) {
			first := d.IntN(n)
			lose(frames, first, first+2+d.IntN(13), p)
		}
	}
	if c.noRacket {
		lose(frames, 0, n-1, racketPoints...)
	}
	for i := range take.Serves {
		c.loseInServe(&take.Serves[i].Truth, d, frames)
	}
}

func (c *session) loseInServe(t *Truth, d dice, frames []float32) {
	u := d.Float64()
	around := func(at, half float64, points ...int) {
		lose(frames, int((at-half)*Rate), int((at+half)*Rate), points...)
	}
	if c.noRacket {
		t.Missing = append(t.Missing, NoRacket)
	}
	switch contact := t.Events[motion.Contact]; {
	case u < 0.010:
		around(contact, contactGap, append([]int{ball}, racketPoints...)...)
		t.Missing = append(t.Missing, GapAtContact)
	case u < 0.016:
		front := []int{leftKnee, leftAnkle}
		if c.member.Hand == motion.HandLeft {
			front = []int{rightKnee, rightAnkle}
		}
		around(t.Events[motion.Trophy], frontLegGap, front...)
		t.Missing = append(t.Missing, FrontLegLost)
	case u < 0.021:
		around(contact, 1.5, ball)
		t.Missing = append(t.Missing, NoBall)
	}
}
