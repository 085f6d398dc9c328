package motion

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/datasets/landmark"
	"tossline/kernel/spatial"
)

// A body of which every angle, offset and depth is known: its joints are placed from smooth curves of time, so that the
// truth of a measure can be read off the curves and filtering hardly touches them.

// curve is a smooth quantity: a level and bumps of Gaussian shape.
type curve struct {
	level float64
	bumps []bump
}

type bump struct{ height, at, width float64 }

func (c curve) at(t float64) float64 {
	y := c.level
	for _, b := range c.bumps {
		u := (t - b.at) / b.width
		y += b.height * math.Exp(-u*u)
	}
	return y
}

// slope is the exact derivative.
func (c curve) slope(t float64) float64 {
	y := 0.0
	for _, b := range c.bumps {
		u := (t - b.at) / b.width
		y -= 2 * u / b.width * b.height * math.Exp(-u*u)
	}
	return y
}

// Times of the body's serve, s.
const (
	bodyStart, bodyRelease, bodyTrophy, bodyLow = 0.8, 1.3, 1.9, 2.3
	bodyContact, bodyLanding, bodyFinish        = 2.5033, 2.7, 3.0
	bodyTakeoff, bodyEnd                        = 2.4, 3.8
)

// body holds the curves; angles in degrees, lengths in metres.
type body struct {
	x, y, z                        curve // middle of the hips
	hipHeading, hipTilt            curve // the line from left to right hip: against Z seen from above; tossing side up
	shoulderHeading, shoulderTilt  curve
	forward, sideways              curve // trunk
	frontKnee, backKnee            curve
	plane, elevation, axial, elbow curve // hitting arm in the thorax, Y-X-Y; elbow flexion
	wrist                          curve // bend of the hitting hand, in the elbow's plane
	tossElevation, tossElbow       curve
	racketTurn                     curve // of the racket about the upper arm, beyond the arm's own
	ballOut, ballFront, ballHeight float64
	size                           float64
}

func newBody() body {
	return body{
		x: curve{0.1, []bump{{0.3, 2.7, 0.5}}}, y: curve{0.92, []bump{{-0.12, 1.9, 0.3}, {0.16, 2.55, 0.2}}},
		z:          curve{0.3, []bump{{-0.15, 2.6, 0.4}}},
		hipHeading: curve{-70, []bump{{65, 2.7, 0.4}}}, hipTilt: curve{2, []bump{{11, 1.9, 0.25}, {-8, 2.5, 0.2}}},
		shoulderHeading: curve{-85, []bump{{-15, 2.0, 0.3}, {85, 2.75, 0.35}}},
		shoulderTilt:    curve{3, []bump{{24, 1.9, 0.25}, {-40, 2.55, 0.25}}},
		forward:         curve{0, []bump{{-15, 1.9, 0.3}, {18, 2.6, 0.3}}}, sideways: curve{0, []bump{{-20, 2.5, 0.3}}},
		frontKnee: curve{12, []bump{{66, 1.9, 0.35}}}, backKnee: curve{8, []bump{{71, 1.8, 0.4}}},
		plane: curve{10, nil}, elevation: curve{-70, []bump{{-40, 2.5, 0.6}}},
		axial: curve{-20, []bump{{-105, 2.25, 0.3}, {40, 2.65, 0.2}}}, elbow: curve{95, []bump{{-60, 2.6, 0.2}}},
		tossElevation: curve{20, []bump{{135, 1.9, 0.4}}}, tossElbow: curve{5, []bump{{30, 2.5, 0.3}}},
		racketTurn: curve{0, []bump{{-140, 2.25, 0.16}, {50, 2.6, 0.2}}},
		ballOut:    0.12, ballFront: 0.25, ballHeight: 2.62, size: 1,
	}
}

// lineTo is the unit vector of a line from left to right: heading against Z (positive = turned to the left), tilt with
// the left end up.
func lineTo(heading, tilt float64) r3.Vec {
	s, c := math.Sincos(spatial.Radians(tilt))
	return spatial.TurnAbout(r3.Vec{Y: -s, Z: c}, spatial.Radians(heading))
}

// trunk is the direction of the trunk.
func (b body) trunk(t float64) r3.Vec {
	return r3.Unit(r3.Vec{X: math.Tan(spatial.Radians(b.forward.at(t))), Y: 1,
		Z: math.Tan(spatial.Radians(b.sideways.at(t)))})
}

func (b body) pose(t float64) map[landmark.Name]r3.Vec {
	p := map[landmark.Name]r3.Vec{}
	hips := r3.Vec{X: b.x.at(t), Y: b.y.at(t), Z: b.z.at(t)}
	hipLine := lineTo(b.hipHeading.at(t), b.hipTilt.at(t))
	p[landmark.LeftHip], p[landmark.RightHip] = r3.Add(hips, r3.Scale(-0.13, hipLine)), r3.Add(hips,
		r3.Scale(0.13, hipLine))
	neck := r3.Add(hips, r3.Scale(0.5, b.trunk(t)))
	line := lineTo(b.shoulderHeading.at(t), b.shoulderTilt.at(t))
	p[landmark.LeftShoulder], p[landmark.RightShoulder] = r3.Add(neck, r3.Scale(-0.18, line)), r3.Add(neck,
		r3.Scale(0.18, line))
	p[landmark.HeadTop] = r3.Add(neck, r3.Scale(0.3, b.trunk(t)))
	b.placeLegs(p, t)
	b.placeArms(p, t, spatial.FrameYZ(b.trunk(t), line))
	for n, v := range p {
		p[n] = r3.Scale(b.size, v)
	}
	if ball, ok := b.ball(t); ok {
		p[landmark.Ball] = r3.Scale(b.size, ball)
	}
	return p
}

func (b body) placeLegs(p map[landmark.Name]r3.Vec, t float64) {
	down := func(degrees, length float64) r3.Vec {
		s, c := math.Sincos(spatial.Radians(degrees))
		return r3.Vec{X: length * s, Y: -length * c}
	}
	for _, side := range []struct {
		hip, knee, ankle, heel, toe landmark.Name
		flexion                     float64
	}{
		{landmark.LeftHip, landmark.LeftKnee, landmark.LeftAnkle, landmark.LeftHeel, landmark.LeftToe,
			b.frontKnee.at(t)},
		{landmark.RightHip, landmark.RightKnee, landmark.RightAnkle, landmark.RightHeel, landmark.RightToe,
			b.backKnee.at(t)},
	} {
		p[side.knee] = r3.Add(p[side.hip], down(side.flexion/2, 0.42))
		p[side.ankle] = r3.Add(p[side.knee], down(-side.flexion/2, 0.42))
		p[side.heel] = r3.Add(p[side.ankle], r3.Vec{X: -0.05, Y: -0.07})
		p[side.toe] = r3.Add(p[side.ankle], r3.Vec{X: 0.18, Y: -0.07})
	}
}

func (b body) placeArms(p map[landmark.Name]r3.Vec, t float64, thorax spatial.Frame) {
	local := spatial.RotationYXY(spatial.Radians(b.plane.at(t)), spatial.Radians(b.elevation.at(t)),
		spatial.Radians(b.axial.at(t)))
	arm := spatial.Frame{X: thorax.Apply(local.X), Y: thorax.Apply(local.Y), Z: thorax.Apply(local.Z)}
	s, c := math.Sincos(spatial.Radians(b.elbow.at(t)))
	fore := r3.Add(r3.Scale(-c, arm.Y), r3.Scale(s, arm.X))
	p[landmark.RightElbow] = r3.Add(p[landmark.RightShoulder], r3.Scale(-0.3, arm.Y))
	p[landmark.RightWrist] = r3.Add(p[landmark.RightElbow], r3.Scale(0.26, fore))
	s, c = math.Sincos(spatial.Radians(b.elbow.at(t) + b.wrist.at(t)))
	hand := r3.Add(r3.Scale(-c, arm.Y), r3.Scale(s, arm.X))
	p[landmark.RightHand] = r3.Add(p[landmark.RightWrist], r3.Scale(0.08, hand))
	b.placeRacket(p, t, arm)
	// The tossing arm swings in the vertical plane through the trunk, the elbow bends in it too.
	turn := func(degrees float64) r3.Vec {
		s, c := math.Sincos(spatial.Radians(degrees))
		return r3.Add(r3.Scale(-c, thorax.Y), r3.Scale(s, thorax.X))
	}
	raised := b.tossElevation.at(t)
	p[landmark.LeftElbow] = r3.Add(p[landmark.LeftShoulder], r3.Scale(0.3, turn(raised)))
	p[landmark.LeftWrist] = r3.Add(p[landmark.LeftElbow], r3.Scale(0.26, turn(raised+b.tossElbow.at(t))))
	p[landmark.LeftHand] = r3.Add(p[landmark.LeftWrist], r3.Scale(0.08, turn(raised+b.tossElbow.at(t))))
}

// placeRacket holds the racket in the hand: its long axis across the upper arm, turned about it beyond the arm's turn.
func (b body) placeRacket(p map[landmark.Name]r3.Vec, t float64, arm spatial.Frame) {
	turn := r3.NewRotation(spatial.Radians(b.racketTurn.at(t)), arm.Y)
	along, across := turn.Rotate(arm.X), turn.Rotate(arm.Z)
	at := func(length, side float64) r3.Vec {
		return r3.Add(p[landmark.RightHand], r3.Add(r3.Scale(length, along), r3.Scale(side, across)))
	}
	p[landmark.RacketGrip], p[landmark.RacketThroat], p[landmark.RacketTip] = at(-0.1, 0), at(0.25, 0), at(0.55, 0)
	p[landmark.RacketLeft], p[landmark.RacketRight] = at(0.42, -0.12), at(0.42, 0.12)
}

// ball is thrown so that it is at a known place from the hitting shoulder at contact, falling at 2 m/s.
func (b body) ball(t float64) (r3.Vec, bool) {
	if t < bodyRelease || t > bodyContact {
		return r3.Vec{}, false
	}
	at, s := b.contactPoint(), t-bodyContact
	return r3.Add(at, r3.Vec{X: 0.3 * s, Y: -2*s - 0.5*gravity*s*s, Z: -0.1 * s}), true
}

func (b body) contactPoint() r3.Vec {
	shoulder := b.shoulder(bodyContact)
	return r3.Vec{X: shoulder.X + b.ballFront, Y: b.ballHeight, Z: shoulder.Z + b.ballOut}
}

func (b body) shoulder(t float64) r3.Vec {
	neck := r3.Add(r3.Vec{X: b.x.at(t), Y: b.y.at(t), Z: b.z.at(t)}, r3.Scale(0.5, b.trunk(t)))
	return r3.Add(neck, r3.Scale(0.18, lineTo(b.shoulderHeading.at(t), b.shoulderTilt.at(t))))
}

// clip films the body with the landmarks of names.
func (b body) clip(rate float64, names ...landmark.Name) Clip {
	if len(names) == 0 {
		names = without()
	}
	layout := landmark.NewLayout(names)
	frames := int(bodyEnd*rate) + 1
	c := Clip{Take: Take{Rate: rate, Layout: layout, Hand: HandRight, Frames: make([]float32, frames*3*layout.Len())},
		HeightM: 1.8}
	nan := float32(math.NaN())
	for i := range frames {
		pose := b.pose(float64(i) / rate)
		for k, n := range names {
			to := c.Frames[(i*layout.Len()+k)*3:][:3]
			if v, ok := pose[n]; ok {
				to[0], to[1], to[2] = float32(v.X), float32(v.Y), float32(v.Z)
			} else {
				to[0], to[1], to[2] = nan, nan, nan
			}
		}
	}
	c.Events = bodyEvents()
	return c
}

func bodyEvents() Events {
	events := Events{}
	for kind, at := range map[EventKind]float64{
		Start: bodyStart, Release: bodyRelease, Trophy: bodyTrophy, LowPoint: bodyLow, Takeoff: bodyTakeoff,
		Contact: bodyContact,
		Landing: bodyLanding, Finish: bodyFinish,
	} {
		events[kind] = Event{TimeS: at, Method: "known", Confidence: 1}
	}
	return events
}

// without lists the landmarks that the body has, but for some.
func without(left ...landmark.Name) []landmark.Name {
	pose := newBody().pose(bodyContact)
	return slices.DeleteFunc(slices.Clone(landmark.Standard), func(n landmark.Name) bool {
		_, there := pose[n]
		return !there || slices.Contains(left, n)
	})
}

var racketAndBall = []landmark.Name{landmark.RacketGrip, landmark.RacketThroat, landmark.RacketLeft,
	landmark.RacketRight,
	landmark.RacketTip, landmark.Ball}

// changed is a clip with every point changed.
func changed(c Clip, f func(r3.Vec) r3.Vec) Clip {
	c.Frames = append([]float32(nil), c.Frames...)
	for i := 0; i < len(c.Frames); i += 3 {
		p := f(r3.Vec{X: float64(c.Frames[i]), Y: float64(c.Frames[i+1]), Z: float64(c.Frames[i+2])})
		c.Frames[i], c.Frames[i+1], c.Frames[i+2] = float32(p.X), float32(p.Y), float32(p.Z)
	}
	return c
}

// leftHanded is the clip in a mirror.
func leftHanded(c Clip) Clip {
	c = changed(c, func(p r3.Vec) r3.Vec { p.Z = -p.Z; return p })
	var names []landmark.Name
	for _, n := range c.Layout.Names() {
		names = append(names, n.Mirror())
	}
	c.Layout, c.Hand = landmark.NewLayout(names), HandLeft
	return c
}

func withNoise(c Clip, sigma float64, random *rand.Rand) Clip {
	return changed(c, func(p r3.Vec) r3.Vec {
		return r3.Add(p, r3.Vec{X: sigma * random.NormFloat64(), Y: sigma * random.NormFloat64(),
			Z: sigma * random.NormFloat64()})
	})
}

// What one camera sees: from behind, all but x; from the side, all but z.
func noX(p r3.Vec) r3.Vec { p.X = math.NaN(); return p }
func noZ(p r3.Vec) r3.Vec { p.Z = math.NaN(); return p }
