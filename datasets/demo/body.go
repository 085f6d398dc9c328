package demo

import "math"

// The landmarks a demo recording has, in their order in a frame.
const (
	headTop = iota
	head
	c7
	sternum
	leftShoulder
	rightShoulder
	leftElbow
	rightElbow
	leftWrist
	rightWrist
	leftHand
	rightHand
	leftHip
	rightHip
	leftKnee
	rightKnee
	leftAnkle
	rightAnkle
	leftHeel
	rightHeel
	leftToe
	rightToe
	racketGrip
	racketThroat
	racketLeft
	racketRight
	racketTip
	ball
	landmarks
)

// channel is one of the quantities whose course over time makes a serve. Angles are in radians, places in metres.
// Everybody is modelled as a right-hander: the hitting arm is the right one, the front leg the left one.
type channel int

const (
	pelvisX channel = iota // middle of the hips
	pelvisY
	pelvisZ
	pelvisTurn    // about the vertical; 0 faces the net, -90 degrees the right-hand side
	pelvisForward // lean of the pelvis towards X and towards Z
	pelvisRight
	trunkTurn // shoulders about the vertical
	trunkForward
	trunkRight
	headForward
	headRight

	hitPlane     // plane of elevation: 0 to the side, 90 degrees to the front of the trunk
	hitElevation // upper arm from the trunk's downward axis
	hitRotation  // long-axis rotation of the upper arm, internal positive
	hitElbow     // flexion
	hitPronation
	hitWristFlexion
	hitWristRadial

	tossPlane
	tossElevation
	tossRotation
	tossElbow

	frontX // tip of the toes
	frontY
	frontZ
	frontTurn
	frontHeel // pitch of the foot about the toes

	backX
	backY
	backZ
	backTurn
	backHeel

	channels
)

// state is the value of every channel at one instant.
type state [channels]float64

// arm angles, in the order of the channels from hitPlane.
const armAngles = 7

// body is a player's skeleton: lengths in metres, from stature by the fractions of Drillis & Contini (1966) as
// tabulated by Winter. They are means of one adult sample; for the younger players they are a likeness only.
type body struct {
	height                        float64
	halfHips, halfShoulders       float64
	trunk, neck, crown            float64
	upperArm, forearm, hand       float64
	thigh, shank, foot            float64
	ankleBack, ankleUp, footThick float64
	racket                        float64 // length of the racket
	ballInHand                    float64 // from the hand landmark to the centre of a ball held in it
}

const (
	ballRadius = 0.033 // ITF rules: diameter 6.54 to 6.86 cm
	gravity    = 9.81

	faceCentre = 0.525 / 0.685 // place along the racket's length of the middle of the strings
	throatAt   = 0.340 / 0.685
	halfFace   = 0.128 / 0.685
	handOnGrip = 0.075 // from the end of the handle to the fist
	shaftTilt  = 42 * degree
)

func newBody(height, racket float64) body {
	h := height
	return body{
		height: h, halfHips: 0.052 * h, halfShoulders: 0.112 * h,
		trunk: 0.288 * h, neck: 0.118 * h, crown: 0.064 * h,
		upperArm: 0.186 * h, forearm: 0.146 * h, hand: 0.052 * h,
		thigh: 0.245 * h, shank: 0.246 * h, foot: 0.152 * h,
		ankleBack: 0.113 * h, ankleUp: float64(0.039*h) - 0.012, footThick: 0.012,
		racket: racket, ballInHand: 0.062,
	}
}

// of is a share of the body's height.
func (b *body) of(share float64) float64 { return float64(share * b.height) }

// pose is where every landmark is at one instant, and the frames that later questions need.
type pose struct {
	points [landmarks]vec
	racket mat // the racket: x towards its tip, y the hitting face's normal, z towards its right edge
	trunk  mat
}

// pose places the body with the given state; the ball is held in the tossing hand.
func (b *body) pose(s *state) pose {
	var p pose
	b.placeTrunk(s, &p)
	b.placeHittingArm(s, &p)
	b.placeTossingArm(s, &p)
	b.placeLegs(s, &p)
	return p
}

func (b *body) placeTrunk(s *state, p *pose) {
	middle := vec{s[pelvisX], s[pelvisY], s[pelvisZ]}
	pelvis := lean(s[pelvisForward], s[pelvisRight]).mul(turnY(s[pelvisTurn]))
	p.trunk = lean(s[trunkForward], s[trunkRight]).mul(turnY(s[trunkTurn]))
	p.points[leftHip] = middle.plus(-b.halfHips, pelvis.z)
	p.points[rightHip] = middle.plus(b.halfHips, pelvis.z)
	top := middle.plus(b.trunk, p.trunk.y)
	p.points[leftShoulder] = top.plus(-b.halfShoulders, p.trunk.z)
	p.points[rightShoulder] = top.plus(b.halfShoulders, p.trunk.z)
	p.points[c7] = top.plus(b.of(0.034), p.trunk.y).plus(b.of(-0.025), p.trunk.x)
	p.points[sternum] = top.plus(b.of(0.004), p.trunk.y).plus(b.of(0.035), p.trunk.x)
	up := lean(s[headForward], s[headRight]).y
	p.points[head] = top.plus(b.neck, up)
	p.points[headTop] = top.plus(b.neck+b.crown, up)
}

// upperLimb gives elbow, wrist and hand from the shoulder, and the hand's frame (x to the thumb, -y along the
// fingers, -z out of the palm), all in the trunk's axes, for a right arm.
func (b *body) upperLimb(plane, elevation, rotation, elbow, pronation, flexion, radial float64) (
	e, w, h vec, hand mat) {
	humerus := turnY(plane).mul(turnX(-elevation)).mul(turnY(rotation))
	e = humerus.y.scale(-b.upperArm)
	fore := humerus.mul(turnZ(elbow)).mul(turnY(pronation))
	w = e.plus(-b.forearm, fore.y)
	hand = fore.mul(turnX(flexion)).mul(turnZ(radial))
	h = w.plus(-b.hand, hand.y)
	return e, w, h, hand
}

func (b *body) placeHittingArm(s *state, p *pose) {
	e, w, h, hand := b.upperLimb(s[hitPlane], s[hitElevation], s[hitRotation], s[hitElbow], s[hitPronation],
		s[hitWristFlexion], s[hitWristRadial])
	shoulder := p.points[rightShoulder]
	p.points[rightElbow] = shoulder.add(p.trunk.apply(e))
	p.points[rightWrist] = shoulder.add(p.trunk.apply(w))
	p.points[rightHand] = shoulder.add(p.trunk.apply(h))
	hand = p.trunk.mul(hand)
	sin, cos := sincos(shaftTilt)
	shaft := hand.x.scale(sin).plus(-cos, hand.y)
	normal := hand.z.scale(-1)
	p.racket = mat{shaft, normal, normal.cross(shaft)}
	grip := p.points[rightHand].plus(-handOnGrip, shaft)
	p.points[racketGrip] = grip
	p.points[racketThroat] = grip.plus(float64(throatAt*b.racket), shaft)
	p.points[racketTip] = grip.plus(b.racket, shaft)
	middle := grip.plus(float64(faceCentre*b.racket), shaft)
	p.points[racketLeft] = middle.plus(float64(-halfFace*b.racket), p.racket.z)
	p.points[racketRight] = middle.plus(float64(halfFace*b.racket), p.racket.z)
}

// face is the middle of the strings.
func (p *pose) face() vec { return p.points[racketLeft].add(p.points[racketRight]).scale(0.5) }

func (b *body) placeTossingArm(s *state, p *pose) {
	e, w, h, hand := b.upperLimb(s[tossPlane], s[tossElevation], s[tossRotation], s[tossElbow], 0, 0, 0)
	shoulder := p.points[leftShoulder]
	place := func(v vec) vec { return shoulder.add(p.trunk.apply(v.mirrored())) }
	p.points[leftElbow], p.points[leftWrist], p.points[leftHand] = place(e), place(w), place(h)
	reach := hand.y.scale(-0.8).plus(0.6, hand.x)
	p.points[ball] = place(h.plus(b.ballInHand, reach))
}

func (b *body) placeLegs(s *state, p *pose) {
	b.placeLeg(s, frontX, p, leftHip, leftKnee, leftAnkle, leftHeel, leftToe)
	b.placeLeg(s, backX, p, rightHip, rightKnee, rightAnkle, rightHeel, rightToe)
}

// placeLeg stands a foot where its channels say and bends the knee so that the leg spans hip and ankle. Where the
// foot is farther than the leg is long, it is drawn up to where the leg reaches.
func (b *body) placeLeg(s *state, foot channel, p *pose, hip, knee, ankle, heel, toe int) {
	sinTurn, cosTurn := sincos(s[foot+3])
	ahead := vec{cosTurn, 0, -sinTurn}
	sin, cos := sincos(s[foot+4])
	along := ahead.scale(cos).plus(-sin, vec{0, 1, 0}) // heel to toe
	above := ahead.scale(sin).plus(cos, vec{0, 1, 0})
	tip := vec{s[foot], s[foot+1] + b.footThick, s[foot+2]}
	a := tip.plus(-b.ankleBack, along).plus(b.ankleUp, above)
	line := a.sub(p.points[hip])
	reach := line.norm()
	if longest := 0.9985 * (b.thigh + b.shank); reach > longest {
		shift := line.scale(longest/reach - 1)
		tip, a, line, reach = tip.add(shift), a.add(shift), line.add(shift), longest
	}
	p.points[toe], p.points[ankle] = tip, a
	p.points[heel] = tip.plus(-b.foot, along)
	down := line.scale(1 / reach)
	bend := ahead.plus(-ahead.dot(down), down).unit()
	t2, s2, r2 := float64(b.thigh*b.thigh), float64(b.shank*b.shank), float64(reach*reach)
	across := (t2 + r2 - s2) / (2 * reach)
	out := math.Sqrt(math.Max(0, t2-float64(across*across)))
	p.points[knee] = p.points[hip].plus(across, down).plus(out, bend)
}

// part is a segment's share of body mass and its centre between two points, after de Leva (1996), men.
type part struct {
	mass, at float64
	from, to int
}

var (
	arms = []part{
		{0.0271, 0.5772, leftShoulder, leftElbow}, {0.0271, 0.5772, rightShoulder, rightElbow},
		{0.0162, 0.4574, leftElbow, leftWrist}, {0.0162, 0.4574, rightElbow, rightWrist},
		{0.0061, 0.7900, leftWrist, leftHand}, {0.0061, 0.7900, rightWrist, rightHand},
	}
	legs = []part{
		{0.1416, 0.4095, leftHip, leftKnee}, {0.1416, 0.4095, rightHip, rightKnee},
		{0.0433, 0.4395, leftKnee, leftAnkle}, {0.0433, 0.4395, rightKnee, rightAnkle},
		{0.0137, 0.4415, leftHeel, leftToe}, {0.0137, 0.4415, rightHeel, rightToe},
	}
)

const (
	headMass, trunkMass, trunkCentre = 0.0694, 0.4346, 0.4310 // the trunk's from the shoulders to the hips
	upperMass                        = 1 - 2*(0.1416+0.0433+0.0137)
)

// moments sums mass times place over parts.
func (p *pose) moments(parts []part) (sum vec) {
	for _, l := range parts {
		from := p.points[l.from]
		sum = sum.plus(l.mass, from.plus(l.at, p.points[l.to].sub(from)))
	}
	return sum
}

// upperMoments is that of head, trunk and arms.
func (p *pose) upperMoments() vec {
	shoulders := p.points[leftShoulder].add(p.points[rightShoulder]).scale(0.5)
	hips := p.points[leftHip].add(p.points[rightHip]).scale(0.5)
	trunk := shoulders.plus(trunkCentre, hips.sub(shoulders)).scale(trunkMass)
	return p.moments(arms).add(trunk).plus(headMass, p.points[head])
}

// centreOfMass is that of the whole body, racket left out.
func (p *pose) centreOfMass() vec { return p.upperMoments().add(p.moments(legs)) }

// carry moves the pelvis, and all above it, by d; the feet stay.
func (b *body) carry(s *state, p *pose, d vec) {
	s[pelvisX], s[pelvisY], s[pelvisZ] = s[pelvisX]+d.X, s[pelvisY]+d.Y, s[pelvisZ]+d.Z
	for i := range p.points {
		p.points[i] = p.points[i].add(d)
	}
	b.placeLegs(s, p)
}
