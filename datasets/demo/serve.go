package demo

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
	s.takeOff()
	s.reachBall()
	s.reachDrop()
	s.takeOff() // again, since the arms have changed
	s.land()
	s.reachFlexion()
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

// stateAt evaluates the channels at time t.
func (s *serve) stateAt(t float64) state {
	var st state
	for c := range s.curves {
		st[c] = s.curves[c].at(t)
	}
	return st
}

// bodyAt is the body at time t, with the ball in the tossing hand, and the channels that place it. In the air the
// pelvis is where the free flight of the centre of mass puts it.
func (s *serve) bodyAt(t float64) (state, pose) {
	st := s.stateAt(t)
	p := s.body.pose(&st)
	if t > s.times.takeoff && t < s.times.landing {
		s.fly(&st, &p, s.massAt(t))
	}
	return st, p
}

// poseAt is the body at time t, with the ball where it is then.
func (s *serve) poseAt(t float64) pose {
	_, p := s.bodyAt(t)
	if t >= s.times.release {
		p.points[ball] = s.ballAt(t)
	}
	return p
}

// fly moves the pelvis so that the centre of mass is where it is wanted. The feet stay where their channels say, so
// that part of the mass does not follow the pelvis; eight rounds bring the error below a nanometre.
func (s *serve) fly(st *state, p *pose, want vec) {
	for range 8 {
		s.body.carry(st, p, want.sub(p.centreOfMass()).scale(1.2))
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
	flight := s.times.landing - s.times.takeoff
	forward, side := float64(s.plan.advance*flight), float64(s.plan.drift*flight)
	land := s.plan.place.add(vec{forward + s.body.of(0.02), 0, side})
	s.setFrontFoot(land)
	s.setBackFoot(land, forward)
}

const heelRises = 0.12 // of the front foot, after the trough, s

// setFrontFoot leaves the court last and lands first, at land.
func (s *serve) setFrontFoot(land vec) {
	t, at := s.times, s.plan.place
	stay, back := t.landing+0.30, t.home-0.1
	s.set(frontX, t.takeoff, at.X, t.landing, land.X, stay, land.X, back, at.X)
	s.set(frontZ, t.takeoff, at.Z, t.landing, land.Z, stay, land.Z, back, at.Z)
	rise := float64(0.95 * s.plan.leap)
	apex := float64(s.plan.leap*s.plan.leap) / (2 * gravity)
	s.curves[frontY] = curve{
		{t: t.takeoff}, {t: t.takeoff, slope: rise, bend: -gravity},
		{t: (t.takeoff + t.landing) / 2, v: apex + 0.075, bend: -gravity},
		{t: t.landing, slope: -1.1 * rise, bend: -4}, {t: t.landing},
		{t: stay}, {t: (stay + back) / 2, v: 0.05}, {t: back},
	}
	s.turn(frontTurn, t.takeoff, -45, t.landing, -25, stay, -25, back, -45)
	s.turn(frontHeel, t.trough+heelRises, 0, t.takeoff, 52, t.contact, 62, t.landing, 40, t.landing+0.09, 4, stay, 0)
}

// setBackFoot joins the front foot in a pinpoint stance, pushes off, kicks back and swings through to the next step.
func (s *serve) setBackFoot(land vec, forward float64) {
	t, p, of := s.times, s.plan, s.body.of
	start := p.place.add(vec{-of(p.stance), 0, of(0.015)})
	push, lift := start, 0.0
	if p.pinpoint {
		push, lift = p.place.add(vec{-of(0.075), 0, of(0.03)}), 0.035
	}
	step := land.add(vec{of(0.13), 0, of(0.10)})
	joinFrom, joinTo, off := t.release-0.05, t.trough-0.06, t.takeoff-0.06
	down, back := t.landing+0.25, t.home-0.35
	s.set(backX, joinFrom, start.X, joinTo, push.X, off, push.X, t.contact+0.06, p.place.X+forward/2-of(0.17),
		t.landing, land.X-of(0.20), down, step.X, back, step.X, t.home, start.X)
	s.set(backZ, joinFrom, start.Z, joinTo, push.Z, off, push.Z, t.landing, push.Z-of(0.02), down, step.Z, back, step.Z,
		t.home, start.Z)
	s.curves[backY] = curve{
		{t: joinFrom}, {t: (joinFrom + joinTo) / 2, v: lift}, {t: joinTo},
		{t: off}, {t: off, slope: float64(0.95 * p.leap)}, {t: t.contact + 0.05, v: of(0.17), slope: 0.5},
		{t: t.landing, v: of(0.19)}, {t: down, slope: -0.5}, {t: down},
		{t: back}, {t: t.home - 0.17, v: 0.05}, {t: t.home},
	}
	s.turn(backTurn, t.release, -95, t.takeoff, -75, down, -40, t.home-0.2, -40, t.home, -95)
	s.turn(backHeel, t.release, 0, t.trough, p.heelRaise, off, 58, t.contact+0.05, 80, t.landing, 75, down, 8,
		back, 5, t.home-0.17, 15, t.home, 0)
}

// setTrunk turns and leans pelvis, trunk and head.
func (s *serve) setTrunk() {
	t, p := s.times, s.plan
	s.turn(pelvisTurn, t.begin, -75, t.release, -78, t.trough, -80, t.low, -52, t.contact, -12, t.contact+0.25, 18,
		t.contact+0.5, 10, t.home, -75)
	s.turn(trunkTurn, t.begin, -78, t.release, -92, t.trough, -80-p.coil, t.low, -60, t.contact, 4,
		t.contact+0.22, 40, t.contact+0.5, 25, t.home, -78)
	s.turn(trunkForward, t.begin, 3, t.release, -5, t.trough, -p.bow, t.low, -4, t.contact, 16, t.contact+0.25, 42,
		t.contact+0.5, 25, t.home, 3)
	s.turn(trunkRight, t.begin, 9, t.release, -2, t.trough, -10, t.low, -0.72*p.sideBend, t.contact, -p.sideBend,
		t.contact+0.25, -10, t.contact+0.5, 3, t.home, 9)
	s.curves[trunkTurn][4].slope = 330 * degree
	s.curves[trunkForward][4].slope = 210 * degree
	s.turn(pelvisForward, t.begin, 0, t.trough, 4, t.low, 4, t.contact, 6, t.contact+0.25, 18, t.home, 0)
	s.turn(pelvisRight, t.begin, 4, t.release, 0, t.trough, 4, t.low, -3, t.contact, -10, t.contact+0.25, -4, t.home, 4)
	s.turn(headForward, t.begin, 8, t.release, 4, t.trough, -4, t.contact, 6, t.contact+0.25, 30, t.home, 8)
	s.turn(headRight, t.begin, 10, t.release, -8, t.trough, -14, t.low, -24, t.contact, -24, t.contact+0.25, 0, t.home, 10)
}

// tossKey is the place of the release among the keys of the tossing arm's plane and elevation: two keys, before and
// after the ball has gone.
const tossKey = 2

// setTossingArm swings the arm up to the release and on to the trophy position, and tucks it before contact. How fast
// it is at the release is solved later, together with the ball.
func (s *serve) setTossingArm() {
	t, p := s.times, s.plan
	drop, gone := t.release-0.30, t.release+0.13
	s.turn(tossPlane, t.begin, 62, drop, 40, t.release, 22, t.release, 22, gone, 18, t.trough, 12, t.low, 25,
		t.contact, 50, t.finish, 55, t.home, 62)
	s.turn(tossElevation, t.begin, 32, drop, 24, t.release, releaseElevation, t.release, releaseElevation,
		gone, releaseElevation+30, t.trough, p.tossReach, t.low, 118, t.contact, 42, t.finish, 30, t.home, 32)
	s.turn(tossRotation, t.begin, -32, drop, -25, t.release, -15, t.trough, -15, t.contact, 5, t.finish, 0, t.home, -32)
	s.turn(tossElbow, t.begin, 72, drop, 16, t.release, 10, t.trough, p.tossBend, t.low, 45, t.contact, 105,
		t.finish, 95, t.home, 72)
}

const releaseElevation = 90 // of the tossing arm when the ball leaves it, deg

// lowKey and contactKey are the places of these instants among the keys of the hitting arm.
const (
	lowKey     = 5
	contactKey = 6
)

// setHittingArm swings the racket back and up, drops it behind the back and, from there, up to contact and across the
// body. The angles at the low point and at contact are first guesses for what is solved later.
func (s *serve) setHittingArm() {
	t := s.times
	down := t.release - 0.18
	half := (t.release + t.trough) / 2
	arm := func(c channel, ready, swing, release, cock, trophy, low, contact, finish float64) {
		s.turn(c, t.begin, ready, down, swing, t.release, release, half, cock, t.trough, trophy, t.low, low,
			t.contact, contact, t.contact+0.08, contact, t.finish, finish, t.home, ready)
	}
	arm(hitPlane, 62, 30, -8, -8, -4, 8, 25, 105)
	arm(hitElevation, 30, 22, 42, 72, 86, 108, 122, 52)
	arm(hitRotation, -28, -20, -10, -48, -76, -165, -72, 12)
	arm(hitElbow, 82, 30, 28, 70, 98, 112, 18, 48)
	arm(hitPronation, 5, 5, 10, 0, -8, -28, -14, 38)
	arm(hitWristFlexion, -8, -6, -5, -10, -12, -42, 4, 25)
	arm(hitWristRadial, 4, 4, 6, 8, 8, 4, -14, -6)
}
