package demo

import "math"

// troughKey is the place of the trough among the keys of the pelvis's height: two keys, for the legs push off harder
// than they gave way.
const troughKey = 2

// setPelvis carries the pelvis from the start through the trough to the place of takeoff.
func (s *serve) setPelvis() {
	t, of, x, z := s.times, s.body.of, s.plan.place.X, s.plan.place.Z
	start := s.startOfPelvis()
	trough := vec{x - of(0.075), of(0.45), z - of(0.045)}
	off := s.pelvisAtTakeoff(vec{x - of(0.005), of(0.58), z - of(0.075)})
	middle := func(a, b, share float64) float64 { return a + float64(share*(b-a)) }
	s.set(pelvisX, t.begin, start.X, t.release, middle(start.X, trough.X, 0.35), t.trough, trough.X, t.takeoff, off.X)
	s.set(pelvisY, t.begin, start.Y, t.release, middle(start.Y, trough.Y, 0.05), t.trough, trough.Y,
		t.trough, trough.Y, t.takeoff, off.Y)
	s.set(pelvisZ, t.begin, start.Z, t.trough, trough.Z, t.takeoff, off.Z)
	s.curves[pelvisY][troughKey].bend, s.curves[pelvisY][troughKey+1].bend = 3, 4+float64(5.5*s.plan.leap)
}

func (s *serve) startOfPelvis() vec {
	of, place := s.body.of, s.plan.place
	return vec{place.X - of(0.055+s.plan.stance/2), of(0.522), place.Z - of(0.055)}
}

// pelvisAtTakeoff lifts a guess of the pelvis until the front leg is all but straight.
func (s *serve) pelvisAtTakeoff(guess vec) vec {
	s.set(pelvisX, s.times.takeoff, guess.X)
	s.set(pelvisZ, s.times.takeoff, guess.Z)
	straight := 0.985 * (s.body.thigh + s.body.shank)
	for range 6 {
		s.set(pelvisY, s.times.takeoff, guess.Y)
		_, p := s.bodyAt(s.times.takeoff)
		line := p.points[leftHip].sub(p.points[leftAnkle])
		level := float64(line.X*line.X) + float64(line.Z*line.Z)
		guess.Y += math.Sqrt(float64(straight*straight)-level) - line.Y
	}
	return guess
}

// takeOff starts the flight of the centre of mass where body and plan have it at takeoff, and gives the pelvis the
// speed and acceleration with which the flight goes on.
func (s *serve) takeOff() {
	const h = 0.002
	t := s.times.takeoff
	_, p := s.bodyAt(t)
	s.massAtTakeoff = p.centreOfMass()
	s.massSpeed = vec{s.plan.advance, s.plan.leap, s.plan.drift}
	a, b, c := s.inFlight(t), s.inFlight(t+h), s.inFlight(t+2*h)
	for i, ch := range []channel{pelvisX, pelvisY, pelvisZ} {
		k := s.curves[ch].last()
		k.slope = (4*b[i] - float64(3*a[i]) - c[i]) / (2 * h)
		k.bend = (a[i] - 2*b[i] + c[i]) / (h * h)
	}
}

// inFlight is where the pelvis is at t, when the centre of mass flies.
func (s *serve) inFlight(t float64) [3]float64 {
	st := s.stateAt(t)
	p := s.body.pose(&st)
	s.fly(&st, &p, s.massAt(t))
	return [3]float64{st[pelvisX], st[pelvisY], st[pelvisZ]}
}

// land takes the pelvis over where the flight ends, breaks the fall on the front leg and walks back.
func (s *serve) land() {
	const h = 0.002
	t, of := s.times, s.body.of
	a, b := s.inFlight(t.landing-h), s.inFlight(t.landing)
	front := vec{s.curves[frontX].at(t.landing), 0, s.curves[frontZ].at(t.landing)}
	sink := []float64{front.X + of(0.02), of(0.475), front.Z - of(0.03)}
	start := s.startOfPelvis()
	back := []float64{start.X, start.Y, start.Z}
	for i, ch := range []channel{pelvisX, pelvisY, pelvisZ} {
		s.curves[ch] = append(s.curves[ch],
			key{t: t.landing, v: b[i], slope: (b[i] - a[i]) / h},
			key{t: t.landing + 0.20, v: sink[i]},
			key{t: t.home, v: back[i]})
	}
}

// reachFlexion sets the depth of the trough by the secant rule until the largest flexion, before the heel rises and
// bends the knee once more, is the planned one.
func (s *serve) reachFlexion() {
	depth := s.curves[pelvisY][troughKey].v
	t := s.times
	largest := func() float64 {
		s.curves[pelvisY][troughKey].v, s.curves[pelvisY][troughKey+1].v = depth, depth
		v, _ := extreme(t.trough-0.16, t.trough+heelRises, 0.01, func(x float64) float64 {
			_, p := s.bodyAt(x)
			return kneeFlexion(&p, leftHip, leftKnee, leftAnkle)
		})
		return v
	}
	secant(&depth, -0.03, s.plan.flexion, largest)
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
	n := int(math.Round((b - a) / step))
	step = (b - a) / float64(n)
	values := make([]float64, n+1)
	for i := range values {
		values[i] = f(a + float64(float64(i)*step))
	}
	value, place := peak(values)
	return value, a + float64(place*step)
}

// peak is the largest of values and its place among them, between two where a parabola puts it.
func peak(values []float64) (value, place float64) {
	best := 0
	for i, v := range values {
		if v > values[best] {
			best = i
		}
	}
	if best == 0 || best == len(values)-1 {
		return values[best], float64(best)
	}
	before, after := values[best-1], values[best+1]
	shift := (before - after) / (2 * (before - 2*values[best] + after))
	return values[best] - float64((before-after)*shift)/4, float64(best) + shift
}

// kneeFlexion is 180 degrees less the angle between thigh and shank.
func kneeFlexion(p *pose, hip, knee, ankle int) float64 {
	return 180 - angle(p.points[hip].sub(p.points[knee]), p.points[ankle].sub(p.points[knee]))
}

// angle between two directions, in degrees.
func angle(a, b vec) float64 {
	return math.Atan2(a.cross(b).norm(), a.dot(b)) / degree
}
