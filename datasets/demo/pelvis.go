package demo

import "math"

// setPelvis carries the pelvis from the start through the trough, whose depth is solved so that the front knee
// flexes as planned, to the place and speed with which the flight begins, and from where the flight ends back to
// the start.
func (s *serve) setPelvis() {
	t, h, p := s.times, s.body.height, s.plan
	x, z := p.place.X, p.place.Z
	start := vec{x - (0.055+p.stance/2)*h, 0.512 * h, z - 0.055*h}
	trough := vec{x - 0.075*h, 0.45 * h, z - 0.045*h}
	off := s.pelvisAtTakeoff(vec{x - 0.005*h, 0.58 * h, z - 0.075*h})
	middle := func(a, b, share float64) float64 { return a + float64(share*(b-a)) }
	s.set(pelvisX, t.begin, start.X, t.release, middle(start.X, trough.X, 0.35), t.trough, trough.X, t.takeoff, off.X)
	s.set(pelvisY, t.begin, start.Y, t.release, middle(start.Y, trough.Y, 0.20), t.trough, trough.Y, t.takeoff, off.Y)
	s.set(pelvisZ, t.begin, start.Z, t.trough, trough.Z, t.takeoff, off.Z)

	s.curves[pelvisY][2].bend = 10

	st := s.stateAt(t.takeoff)
	at := s.body.pose(&st)
	s.massAtTakeoff = at.centreOfMass()
	s.massSpeed = vec{p.advance, p.leap, p.drift}
	s.joinFlight()
	s.land(start)
	s.reachFlexion()
}

// pelvisAtTakeoff lifts a guess of the pelvis until the front leg is all but straight.
func (s *serve) pelvisAtTakeoff(guess vec) vec {
	s.set(pelvisX, s.times.takeoff, guess.X)
	s.set(pelvisZ, s.times.takeoff, guess.Z)
	straight := 0.985 * (s.body.thigh + s.body.shank)
	for range 6 {
		s.set(pelvisY, s.times.takeoff, guess.Y)
		st := s.stateAt(s.times.takeoff)
		p := s.body.pose(&st)
		line := p.points[leftHip].sub(p.points[leftAnkle])
		level := float64(line.X*line.X) + float64(line.Z*line.Z)
		guess.Y += math.Sqrt(float64(straight*straight)-level) - line.Y
	}
	return guess
}

// joinFlight gives the pelvis at takeoff the speed and acceleration with which the flight goes on.
func (s *serve) joinFlight() {
	const h = 0.002
	t := s.times.takeoff
	a, b, c := s.inFlight(t), s.inFlight(t+h), s.inFlight(t+2*h)
	for i, ch := range []channel{pelvisX, pelvisY, pelvisZ} {
		k := &s.curves[ch][len(s.curves[ch])-1]
		k.slope = (4*b[i] - float64(3*a[i]) - c[i]) / (2 * h)
		k.bend = (a[i] - 2*b[i] + c[i]) / (h * h)
	}
}

func (s *serve) inFlight(t float64) [3]float64 {
	var st state
	for c := range s.curves {
		st[c] = s.curves[c].at(t)
	}
	s.fly(&st, t)
	return [3]float64{st[pelvisX], st[pelvisY], st[pelvisZ]}
}

// land takes the pelvis over where the flight ends, breaks the fall on the front leg and walks back.
func (s *serve) land(start vec) {
	const h = 0.002
	t := s.times
	a, b := s.inFlight(t.landing-h), s.inFlight(t.landing)
	height := s.body.height
	home := t.end - s.plan.rest
	front := s.curves[frontX].at(t.landing)
	sink := []float64{front + 0.02*height, 0.475 * height, s.curves[frontZ].at(t.landing) - 0.03*height}
	back := []float64{start.X, start.Y, start.Z}
	for i, ch := range []channel{pelvisX, pelvisY, pelvisZ} {
		slope := (b[i] - a[i]) / h
		s.curves[ch] = append(s.curves[ch],
			key{t: t.landing, v: b[i], slope: slope},
			key{t: t.landing + 0.20, v: sink[i]},
			key{t: home, v: back[i]})
	}
}

// reachFlexion sets the depth of the trough by the secant rule until the largest flexion is the planned one.
func (s *serve) reachFlexion() {
	depth := &s.curves[pelvisY][2].v
	t := s.times
	largest := func() float64 {
		v, _ := extreme(t.trough-0.16, t.takeoff, 0.01, func(x float64) float64 {
			st := s.stateAt(x)
			p := s.body.pose(&st)
			return kneeFlexion(&p, leftHip, leftKnee, leftAnkle)
		})
		return v
	}
	secant(depth, -0.03, s.plan.flexion, largest)
}

// secant changes *x until f is want, starting with a first step; f must be near linear in *x. It stops within 1e-4
// of want, far above rounding, so that every machine takes the same number of steps.
func secant(x *float64, step, want float64, f func() float64) {
	x0, f0 := *x, f()
	*x += step
	for range 12 {
		f1 := f()
		if math.Abs(f1-want) < 1e-4 {
			return
		}
		next := *x + float64((want-f1)*(*x-x0))/(f1-f0)
		x0, f0, *x = *x, f1, next
	}
}

// extreme is the largest value of f from a to b and where it lies, by steps and a parabola through the best three.
func extreme(a, b, step float64, f func(float64) float64) (value, at float64) {
	n := int((b - a) / step)
	best, values := 0, make([]float64, n+1)
	for i := range values {
		values[i] = f(a + float64(float64(i)*step))
		if values[i] > values[best] {
			best = i
		}
	}
	at, value = a+float64(float64(best)*step), values[best]
	if best == 0 || best == n {
		return value, at
	}
	before, after := values[best-1], values[best+1]
	curvature := before - 2*value + after
	if curvature >= 0 {
		return value, at
	}
	shift := (before - after) / (2 * curvature)
	return value - float64((before-after)*shift)/4, at + float64(shift*step)
}

// kneeFlexion is 180 degrees less the angle between thigh and shank.
func kneeFlexion(p *pose, hip, knee, ankle int) float64 {
	return 180 - angle(p.points[hip].sub(p.points[knee]), p.points[ankle].sub(p.points[knee]))
}

// angle between two directions, in degrees.
func angle(a, b vec) float64 {
	return math.Atan2(a.cross(b).norm(), a.dot(b)) / degree
}
