package demo

import "math"

// serve is one modelled serve: the course of every channel, the flight of the body and that of the ball.
type serve struct {
	body   *body
	plan   *plan
	times  times
	curves [channels]curve

	// The centre of mass flies freely from takeoff to landing.
	massAtTakeoff, massSpeed vec

	// The ball flies freely from release to contact, and after contact.
	ballAtRelease, ballSpeed, ballAtContact vec
}

// newServe builds the serve that the plan asks for.
func newServe(b *body, p *plan) *serve {
	s := &serve{body: b, plan: p, times: p.times()}
	s.setFeet()
	s.setTrunk()
	s.setTossingArm()
	s.setHittingArm()
	s.setPelvis()
	s.reachBall()
	s.reachDrop()
	s.toss()
	return s
}

// set gives a channel its course: times and values in turn.
func (s *serve) set(c channel, tv ...float64) { s.curves[c] = through(tv...) }

// turn is set with values in degrees.
func (s *serve) turn(c channel, tv ...float64) {
	for i := 1; i < len(tv); i += 2 {
		tv[i] *= degree
	}
	s.set(c, tv...)
}

// stateAt evaluates the channels at time t. In the air the pelvis is where the free flight of the centre of mass
// puts it.
func (s *serve) stateAt(t float64) state {
	var st state
	for c := range s.curves {
		st[c] = s.curves[c].at(t)
	}
	if t > s.times.takeoff && t < s.times.landing {
		s.fly(&st, t)
	}
	return st
}

// poseAt is the body at time t, with the ball where it is then.
func (s *serve) poseAt(t float64) pose {
	st := s.stateAt(t)
	p := s.body.pose(&st)
	if t >= s.times.release {
		p.points[ball] = s.ballAt(t)
	}
	return p
}

// fly moves the pelvis so that the centre of mass is on its parabola. Feet stay where their channels say, so that
// part of the mass does not follow the pelvis; eight rounds bring the error below a nanometre.
func (s *serve) fly(st *state, t float64) {
	want := s.massAt(t)
	for range 8 {
		p := s.body.pose(st)
		miss := want.sub(p.centreOfMass()).scale(1.2)
		st[pelvisX], st[pelvisY], st[pelvisZ] = st[pelvisX]+miss.X, st[pelvisY]+miss.Y, st[pelvisZ]+miss.Z
	}
}

func (s *serve) massAt(t float64) vec {
	return thrown(s.massAtTakeoff, s.massSpeed, t-s.times.takeoff)
}

// thrown is where something is t seconds after it left a place at a speed, without drag.
func thrown(from, speed vec, t float64) vec {
	return from.plus(t, speed).plus(-gravity*float64(t*t)/2, vec{0, 1, 0})
}

// setFeet plants the feet, takes them through the jump, and walks them back to the start.
func (s *serve) setFeet() {
	t, h, p := s.times, s.body.height, s.plan
	x, z := p.place.X, p.place.Z
	forward := p.advance * (t.landing - t.takeoff)
	landX, landZ := x+forward+0.02*h, z+p.drift*(t.landing-t.takeoff)
	stepBack := t.landing + 0.30
	home := t.end - p.rest

	s.set(frontX, t.takeoff, x, t.landing, landX, stepBack, landX, home-0.1, x)
	s.set(frontZ, t.takeoff, z, t.landing, landZ, stepBack, landZ, home-0.1, z)
	rise := 0.95 * p.leap
	mid := (stepBack + home - 0.1) / 2
	s.curves[frontY] = curve{
		{t: t.takeoff}, {t: t.takeoff, slope: rise, bend: -gravity},
		{t: (t.takeoff + t.landing) / 2, v: p.leap*p.leap/(2*gravity) + 0.075, bend: -gravity},
		{t: t.landing, slope: -1.1 * rise, bend: -4}, {t: t.landing},
		{t: stepBack}, {t: mid, v: 0.05}, {t: home - 0.1},
	}
	s.turn(frontTurn, t.takeoff, -45, t.landing, -25, stepBack, -25, home-0.1, -45)
	s.turn(frontHeel, t.trough+0.08, 0, t.takeoff, 52, t.contact, 62, t.landing, 40, t.landing+0.09, 4, stepBack, 0)

	backX0, backZ0 := x-p.stance*h, z+0.015*h
	s.turn(backTurn, t.release, -95, t.takeoff, -75, t.landing+0.25, -40, home-0.2, -40, home, -95)
	x1, z1 := backX0, backZ0
	if p.pinpoint {
		x1, z1 = x-0.075*h, z+0.03*h
	}
	joinFrom, joinTo := t.release-0.05, t.trough-0.06
	off := t.takeoff - 0.06
	kickX := x + forward/2 - 0.17*h
	s.set(backX, joinFrom, backX0, joinTo, x1, off, x1, t.contact+0.06, kickX, t.landing, landX-0.20*h,
		t.landing+0.25, landX+0.13*h, home-0.35, landX+0.13*h, home, backX0)
	s.set(backZ, joinFrom, backZ0, joinTo, z1, off, z1, t.landing, z1-0.02*h, t.landing+0.25, landZ+0.10*h,
		home-0.35, landZ+0.10*h, home, backZ0)
	lift := 0.0
	if p.pinpoint {
		lift = 0.035
	}
	s.curves[backY] = curve{
		{t: joinFrom}, {t: (joinFrom + joinTo) / 2, v: lift}, {t: joinTo},
		{t: off}, {t: off, slope: rise}, {t: t.contact + 0.05, v: 0.17 * h, slope: 0.5}, {t: t.landing, v: 0.19 * h},
		{t: t.landing + 0.25, slope: -0.5}, {t: t.landing + 0.25},
		{t: home - 0.35}, {t: home - 0.17, v: 0.05}, {t: home},
	}
	s.turn(backHeel, t.release, 0, t.trough, p.heelRaise, off, 58, t.contact+0.05, 80, t.landing, 75,
		t.landing+0.25, 8, home-0.35, 5, home-0.17, 15, home, 0)
}

// setTrunk turns and leans pelvis, trunk and head.
func (s *serve) setTrunk() {
	t, p := s.times, s.plan
	home := t.end - p.rest
	s.turn(pelvisTurn, t.begin, -75, t.release, -78, t.trough, -80, t.low, -52, t.contact, -12, t.contact+0.25, 18,
		t.contact+0.5, 10, home, -75)
	s.turn(trunkTurn, t.begin, -78, t.release, -92, t.trough, -80-p.coil, t.low, -60, t.contact, 4,
		t.contact+0.22, 40, t.contact+0.5, 25, home, -78)
	s.turn(trunkForward, t.begin, 3, t.release, -5, t.trough, -p.bow, t.low, -4, t.contact, 16, t.contact+0.25, 42,
		t.contact+0.5, 25, home, 3)
	s.turn(trunkRight, t.begin, 9, t.release, -2, t.trough, -10, t.low, -0.72*p.sideBend, t.contact, -p.sideBend,
		t.contact+0.25, -10, t.contact+0.5, 3, home, 9)
	s.curves[trunkTurn][4].slope = 330 * degree
	s.curves[trunkForward][4].slope = 210 * degree
	s.turn(pelvisForward, t.begin, 0, t.trough, 4, t.low, 4, t.contact, 6, t.contact+0.25, 18, home, 0)
	s.turn(pelvisRight, t.begin, 4, t.release, 0, t.trough, 4, t.low, -3, t.contact, -10, t.contact+0.25, -4, home, 4)
	s.turn(headForward, t.begin, 8, t.release, 4, t.trough, -4, t.contact, 6, t.contact+0.25, 30, home, 8)
	s.turn(headRight, t.begin, 10, t.release, -8, t.trough, -14, t.low, -24, t.contact, -24, t.contact+0.25, 0, home, 10)
}

func (s *serve) setTossingArm() {
	t, p := s.times, s.plan
	home := t.end - p.rest
	drop := t.release - 0.30
	raise := (p.tossReach - 112) / (t.trough - t.release) * 1.6
	s.turn(tossPlane, t.begin, 62, drop, 40, t.release, 22, t.trough, 12, t.low, 25, t.contact, 50, t.finish, 55, home, 62)
	s.turn(tossElevation, t.begin, 32, drop, 24, t.release, 112, t.trough, p.tossReach, t.low, 118, t.contact, 42,
		t.finish, 30, home, 32)
	s.curves[tossElevation][2].slope = math.Max(raise, 330) * degree
	s.turn(tossRotation, t.begin, -32, drop, -25, t.release, -15, t.trough, -15, t.contact, 5, t.finish, 0, home, -32)
	s.turn(tossElbow, t.begin, 72, drop, 16, t.release, 10, t.trough, p.tossBend, t.low, 45, t.contact, 105,
		t.finish, 95, home, 72)
}

// lowKey and contactKey are the places of these instants among the keys of the hitting arm.
const (
	lowKey     = 5
	contactKey = 6
)

func (s *serve) setHittingArm() {
	t, p := s.times, s.plan
	home := t.end - p.rest
	down := t.release - 0.18
	half := (t.release + t.trough) / 2
	arm := func(c channel, ready, swing, release, cock, trophy, low, contact, finish float64) {
		s.turn(c, t.begin, ready, down, swing, t.release, release, half, cock, t.trough, trophy, t.low, low,
			t.contact, contact, t.contact+0.08, contact, t.finish, finish, home, ready)
	}
	arm(hitPlane, 62, 30, -8, -8, -4, 8, 25, 105)
	arm(hitElevation, 30, 22, 42, 72, 86, 108, 122, 52)
	arm(hitRotation, -28, -20, -10, -48, -76, -165, -72, 12)
	arm(hitElbow, 82, 30, 28, 70, 98, 112, 18, 48)
	arm(hitPronation, 5, 5, 10, 0, -8, -28, -14, 38)
	arm(hitWristFlexion, -8, -6, -5, -10, -12, -42, 4, 25)
	arm(hitWristRadial, 4, 4, 6, 8, 8, 4, -14, -6)
}
