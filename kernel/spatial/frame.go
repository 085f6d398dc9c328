package spatial

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Frame is an orientation: three perpendicular unit axes with X x Y = Z, written in the outer frame.
type Frame struct{ X, Y, Z r3.Vec }

// Identity is the outer frame itself.
var Identity = Frame{X: r3.Vec{X: 1}, Y: r3.Vec{Y: 1}, Z: r3.Vec{Z: 1}}

// FrameYZ is the frame whose Y axis lies along y and whose X axis is perpendicular to y and z; z is only a hint of
// where the Z axis points. The frames of trunk and pelvis are made so: y up the trunk, z from the left joint to the
// right one.
func FrameYZ(y, z r3.Vec) Frame {
	f := Frame{Y: Unit(y)}
	f.X = Unit(r3.Cross(f.Y, z))
	f.Z = r3.Cross(f.X, f.Y)
	return f
}

// FrameZY is the frame whose Z axis lies along z and whose X axis is perpendicular to y and z; y is the hint.
func FrameZY(z, y r3.Vec) Frame {
	f := Frame{Z: Unit(z)}
	f.X = Unit(r3.Cross(y, f.Z))
	f.Y = r3.Cross(f.Z, f.X)
	return f
}

// Humerus is the frame of the upper arm by option 2 of Wu et al. (2005), J Biomech 38:981-992, 2.3.5, from joint
// centres: Y from the elbow to the shoulder; Z perpendicular to the plane of upper arm and forearm, pointing to the
// right; X completes it, forwards. The forearm gives the axial direction, so the frame fades as the elbow straightens
// and is NaN when it is straight. For a left arm the points must be mirrored first.
func Humerus(shoulder, elbow, wrist r3.Vec) Frame {
	y := Unit(r3.Sub(shoulder, elbow))
	z := Unit(r3.Cross(r3.Sub(wrist, elbow), y))
	return Frame{X: r3.Cross(y, z), Y: y, Z: z}
}

// Apply turns components in the frame into components in the outer one.
func (f Frame) Apply(v r3.Vec) r3.Vec {
	return r3.Add(r3.Scale(v.X, f.X), r3.Add(r3.Scale(v.Y, f.Y), r3.Scale(v.Z, f.Z)))
}

// Components gives the components in the frame of a vector of the outer frame.
func (f Frame) Components(v r3.Vec) r3.Vec {
	return r3.Vec{X: r3.Dot(f.X, v), Y: r3.Dot(f.Y, v), Z: r3.Dot(f.Z, v)}
}

// In gives f as seen from g: the rotation from g to f, with axes written in g.
func (f Frame) In(g Frame) Frame {
	return Frame{X: g.Components(f.X), Y: g.Components(f.Y), Z: g.Components(f.Z)}
}

// RotationYXY is the frame Ry(a) Rx(b) Ry(c) seen from the outer frame.
func RotationYXY(a, b, c float64) Frame {
	return Frame{
		X: rotateYXY(r3.Vec{X: 1}, a, b, c),
		Y: rotateYXY(r3.Vec{Y: 1}, a, b, c),
		Z: rotateYXY(r3.Vec{Z: 1}, a, b, c),
	}
}

func rotateYXY(v r3.Vec, a, b, c float64) r3.Vec {
	return TurnAbout(rotateX(TurnAbout(v, c), b), a)
}

func rotateX(v r3.Vec, angle float64) r3.Vec {
	s, c := math.Sincos(angle)
	return r3.Vec{X: v.X, Y: c*v.Y - s*v.Z, Z: s*v.Y + c*v.Z}
}

// singular is how near the middle angle of a Y-X-Y sequence may come to 0 or pi before its outer angles lose meaning.
const singular = 1e-6

// YXY decomposes f into the sequence of the shoulder of Wu et al. (2005): a turn by plane about Y (plane of
// elevation), by elevation about the new X, and by axial about the newest Y (internal rotation positive). Elevation is
// given as 0 to -pi, the ISB's sign, in which the arm at the side is 0 and the arm straight up -pi. Within 1e-6 of
// either, plane and axial are not defined alone: axial is NaN, and plane holds their sum or difference.
func (f Frame) YXY() (plane, elevation, axial float64) {
	// With b = elevation: f = Ry(a) Rx(b) Ry(c) has Y = (sin a sin b, cos b, cos a sin b), and as its second row
	// (sin b sin c, cos b, -sin b cos c).
	sine := math.Sqrt(f.Y.X*f.Y.X + f.Y.Z*f.Y.Z)
	elevation = -math.Atan2(sine, f.Y.Y)
	if sine < singular {
		return math.Atan2(-f.X.Z, f.X.X), elevation, math.NaN()
	}
	return math.Atan2(-f.Y.X, -f.Y.Z), elevation, f.AxialYXY()
}

// AxialYXY is the third angle of YXY alone.
func (f Frame) AxialYXY() float64 { return angleOf(f.AxialPartsYXY()) }

// AxialPartsYXY are the sine and the cosine of AxialYXY, times the same positive number.
func (f Frame) AxialPartsYXY() (sine, cosine float64) {
	if f.Y.X*f.Y.X+f.Y.Z*f.Y.Z < singular*singular {
		return math.NaN(), math.NaN()
	}
	return -f.X.Y, f.Z.Y
}

// ZXY decomposes f into Rz(flexion) Rx(sideways) Ry(axial): the order flexion about Z, abduction about the floating
// axis, axial rotation about Y of Wu et al. (2002), J Biomech 35:543-548, for hip and knee, and of Wu et al. (2005)
// for the elbow.
func (f Frame) ZXY() (flexion, sideways, axial float64) {
	// f = Rz(a) Rx(b) Ry(c): Y = (-sin a cos b, cos a cos b, sin b); third row (-cos b sin c, sin b, cos b cos c).
	sideways = math.Atan2(f.Y.Z, math.Sqrt(f.Y.X*f.Y.X+f.Y.Y*f.Y.Y))
	return math.Atan2(-f.Y.X, f.Y.Y), sideways, math.Atan2(-f.X.Z, f.Z.Z)
}

// RotationVector is the rotation that takes one frame to another: its direction is the axis, in the outer frame, and
// its length the angle in radians, 0 to pi.
func RotationVector(from, to Frame) r3.Vec {
	sine, cosine := RotationParts(from, to)
	n := Norm(sine)
	if n == 0 {
		return r3.Scale(0, sine)
	}
	return r3.Scale(math.Atan2(n, cosine)/n, sine)
}

// RotationParts are the axis of RotationVector times the sine of its angle, and the cosine.
func RotationParts(from, to Frame) (sine r3.Vec, cosine float64) {
	// R = to * from^T; its antisymmetric part is sin(angle) times the axis, its trace 1 + 2 cos(angle).
	sine = r3.Scale(0.5, r3.Add(r3.Cross(from.X, to.X), r3.Add(r3.Cross(from.Y, to.Y), r3.Cross(from.Z, to.Z))))
	return sine, (r3.Dot(from.X, to.X) + r3.Dot(from.Y, to.Y) + r3.Dot(from.Z, to.Z) - 1) / 2
}
