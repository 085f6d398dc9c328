package demo

import "math"

// reachBall poses the hitting arm at contact so that the face is at the planned place from the shoulder, square to
// the way the ball leaves, and gives the joints the speeds that move the face as planned.
func (s *serve) reachBall() {
	st, base := s.bodyAt(s.times.contact)
	target := s.contactPlace(&base)
	off := s.plan.ballOff.unit()
	q := s.solveArm(st, target, off)
	copy(st[hitPlane:], q[:])
	speeds := s.solveSpeeds(st)
	for i := range q {
		c := s.curves[int(hitPlane)+i]
		c[contactKey].v, c[contactKey].slope = q[i], speeds[i]
		c[contactKey+1].v = q[i] + float64(0.42*(c[contactKey+1].t-c[contactKey].t))*speeds[i]
		c[contactKey+1].slope = harmonicSlope(c[contactKey], c[contactKey+1], c[contactKey+2])
		c[lowKey].slope = 0
	}
}

// contactPlace is where the ball is to be met: outside and in front of the hitting shoulder as planned, and as high
// as the planned share of the arm's and the racket's length goes.
func (s *serve) contactPlace(p *pose) vec {
	full := s.body.upperArm + s.body.forearm + s.body.hand + float64(faceCentre*s.body.racket) - handOnGrip
	reach := float64(s.plan.reach * full)
	offset, forward := s.plan.offset, s.plan.forward
	up := math.Sqrt(float64(reach*reach) - float64(offset*offset) - float64(forward*forward))
	return p.points[rightShoulder].add(vec{forward, up, offset})
}

// Comfortable arm angles at contact, and how far from comfort a degree is, in the order of the arm's channels.
var (
	comfort = [armAngles]float64{
		25 * degree, 122 * degree, -72 * degree, 24 * degree, -14 * degree, 2 * degree, -6 * degree,
	}
	stiff = [armAngles]float64{0.4, 0.5, 0.3, 1.0, 0.5, 1.2, 1.2}
)

// solveArm finds the arm angles that put the ball at target with the face's normal along off, staying near comfort
// where that leaves a choice: damped Gauss-Newton, a fixed number of rounds.
func (s *serve) solveArm(st state, target, off vec) [armAngles]float64 {
	q := comfort
	const rows = 6 + armAngles
	residual := func(q [armAngles]float64) (r [rows]float64) {
		copy(st[hitPlane:], q[:])
		p := s.body.pose(&st)
		miss := p.face().plus(ballRadius, p.racket.y).sub(target).scale(3000)
		tilt := p.racket.y.sub(off).scale(8)
		r = [rows]float64{miss.X, miss.Y, miss.Z, tilt.X, tilt.Y, tilt.Z}
		for i := range q {
			r[6+i] = float64(stiff[i] * (q[i] - comfort[i]))
		}
		return r
	}
	for round := range 24 {
		r := residual(q)
		var normal [armAngles][armAngles + 1]float64
		var jac [armAngles][rows]float64
		for j := range q {
			moved := q
			moved[j] += 1e-6
			after := residual(moved)
			for i := range r {
				jac[j][i] = (after[i] - r[i]) / 1e-6
			}
		}
		damping := 30 / float64(1+round*round*round)
		for j := range q {
			for k := range q {
				normal[j][k] = product(jac[j][:], jac[k][:])
			}
			normal[j][j] += damping
			normal[j][armAngles] = -product(jac[j][:], r[:])
		}
		step := eliminate(normal)
		for j := range q {
			q[j] += math.Max(-0.25, math.Min(0.25, step[j]))
		}
	}
	return q
}

func product(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += float64(a[i] * b[i])
	}
	return sum
}

// eliminate solves the normal equations, given with their right-hand side as the last column; they are positive
// definite, so that no rows need be exchanged.
func eliminate(m [armAngles][armAngles + 1]float64) (x [armAngles]float64) {
	for i := range m {
		for r := i + 1; r < armAngles; r++ {
			f := m[r][i] / m[i][i]
			for c := i; c <= armAngles; c++ {
				m[r][c] -= float64(f * m[i][c])
			}
		}
	}
	for i := armAngles - 1; i >= 0; i-- {
		x[i] = (m[i][armAngles] - product(m[i][i+1:armAngles], x[i+1:])) / m[i][i]
	}
	return x
}

// solveSpeeds gives the arm's joint speeds at contact: the planned long-axis rotation, shared between upper arm and
// forearm, and of the other joints those nearest to usual that give the middle of the face its planned velocity
// on top of what legs and trunk give.
func (s *serve) solveSpeeds(st state) [armAngles]float64 {
	rotation := s.plan.rotation * degree
	usual := [armAngles]float64{2, 4, float64(0.72 * rotation), -5, float64(0.28 * rotation), 17, -3}
	free := [armAngles]float64{16, 16, 0.02, 1, 0.02, 12, 4}

	carried := s.faceVelocity(st, usual)
	want := s.faceDirection().scale(s.plan.speed)
	miss := want.sub(carried)
	var jac [armAngles]vec
	for j := range jac {
		jac[j] = s.faceGradient(st, j)
	}
	m := mat{x: vec{X: 0.01}, y: vec{Y: 4}, z: vec{Z: 8}} // J W J', and leave to miss the planned way sideways
	for j, g := range jac {
		w := g.scale(free[j])
		m.x, m.y, m.z = m.x.plus(g.X, w), m.y.plus(g.Y, w), m.z.plus(g.Z, w)
	}
	push := m.solve(miss)
	for j, g := range jac {
		usual[j] += float64(free[j] * g.dot(push))
	}
	return usual
}

// solve gives x with m x = b.
func (m mat) solve(b vec) vec {
	det := m.x.dot(m.y.cross(m.z))
	return vec{b.dot(m.y.cross(m.z)), m.x.dot(b.cross(m.z)), m.x.dot(m.y.cross(b))}.scale(1 / det)
}

// faceDirection is the way the face moves at contact: along the ball's way, a few degrees upward of it.
func (s *serve) faceDirection() vec {
	return s.plan.ballOff.unit().add(vec{0, 0.06, 0}).unit()
}

// faceVelocity is that of the middle of the strings at contact when the arm's joints turn at the given speeds.
func (s *serve) faceVelocity(at state, speeds [armAngles]float64) vec {
	const h = 1e-4
	place := func(dt float64) vec {
		st, _ := s.bodyAt(s.times.contact + dt)
		for i, v := range speeds {
			st[int(hitPlane)+i] = at[int(hitPlane)+i] + float64(v*dt)
		}
		p := s.body.pose(&st)
		return p.face()
	}
	return place(h).sub(place(-h)).scale(1 / (2 * h))
}

// faceGradient is how the middle of the strings moves with arm angle j.
func (s *serve) faceGradient(st state, j int) vec {
	const h = 1e-5
	st[int(hitPlane)+j] += h
	up := s.body.pose(&st)
	st[int(hitPlane)+j] -= 2 * h
	down := s.body.pose(&st)
	return up.face().sub(down.face()).scale(1 / (2 * h))
}

// reachDrop bends the arm at the low point until the racket tip hangs as far below the shoulder as planned.
func (s *serve) reachDrop() {
	t := s.times
	secant(&s.curves[hitRotation][lowKey].v, -0.05, s.plan.drop, func() float64 {
		v, _ := extreme(t.low-0.06, t.contact-0.03, 0.008, func(x float64) float64 {
			p := s.poseAt(x)
			return p.points[rightShoulder].Y - p.points[racketTip].Y
		})
		return v
	})
}

// toss throws the ball so that it is at the contact point at contact, and swings the tossing arm so that the hand is
// as fast as the ball when they part, and then slows down more than gravity slows the ball.
func (s *serve) toss() {
	t := s.times
	_, c := s.bodyAt(t.contact)
	s.ballAtContact = c.face().plus(ballRadius, c.racket.y)
	st, p := s.bodyAt(t.release)
	s.ballAtRelease = p.points[ball]
	d := t.contact - t.release
	way := s.ballAtContact.sub(s.ballAtRelease).plus(gravity*float64(d*d)/2, vec{0, 1, 0})
	s.ballSpeed = way.scale(1 / d)
	s.swingWith(&st)
}

func (s *serve) swingWith(st *state) {
	const h = 1e-4
	joints := []channel{tossPlane, tossElevation}
	carried := s.heldBall(s.times.release+h, *st, joints).sub(s.heldBall(s.times.release-h, *st, joints)).scale(0.5 / h)
	miss := s.ballSpeed.sub(carried)
	m := mat{x: vec{X: 0.01}, y: vec{Y: 0.01}, z: vec{Z: 0.01}}
	var gradient [2]vec
	for j, ch := range joints {
		up, down := *st, *st
		up[ch] += h
		down[ch] -= h
		a, b := s.body.pose(&up), s.body.pose(&down)
		g := a.points[ball].sub(b.points[ball]).scale(0.5 / h)
		gradient[j] = g
		m.x, m.y, m.z = m.x.plus(g.X, g), m.y.plus(g.Y, g), m.z.plus(g.Z, g)
	}
	push := m.solve(miss)
	for j, ch := range joints {
		s.part(ch, gradient[j].dot(push), gradient[j].norm())
	}
}

// heldBall is where the ball would be at t if the given joints stood still.
func (s *serve) heldBall(t float64, still state, joints []channel) vec {
	st := s.stateAt(t)
	for _, ch := range joints {
		st[ch] = still[ch]
	}
	p := s.body.pose(&st)
	return p.points[ball]
}

// part gives a joint of the tossing arm its speed at release; before it the hand slows as the ball will, after it
// by three times as much more.
func (s *serve) part(ch channel, speed, radius float64) {
	before, after, gone := &s.curves[ch][tossKey], &s.curves[ch][tossKey+1], &s.curves[ch][tossKey+2]
	before.slope, after.slope = speed, speed
	if ch == tossElevation {
		before.bend, after.bend = -gravity/radius, -4*gravity/radius
	}
	gone.v = after.v + float64(0.42*(gone.t-after.t))*speed
	gone.slope = harmonicSlope(*after, *gone, s.curves[ch][tossKey+3])
}

// ballAt is where the ball is at t, from release on.
func (s *serve) ballAt(t float64) vec {
	if t <= s.times.contact {
		return thrown(s.ballAtRelease, s.ballSpeed, t-s.times.release)
	}
	return thrown(s.ballAtContact, s.plan.ballOff, t-s.times.contact)
}
