// Package spatial has the geometry of a moving body: directions, angles at joints, frames from joint centres, and the
// rotation sequences in which joints are described.
//
// # Conventions
//
// Points and directions are gonum r3 vectors in a right-handed frame whose Y axis is up, X the direction of the serve
// and Z to the right (Wu & Cavanagh 1995). Angles are in radians. A missing coordinate is NaN and makes every result
// that depends on it NaN; so does a direction that is not defined, such as that of a vector of no length.
//
// A Frame's columns are its axes written in the outer frame, so that Frame.Apply turns components in the frame into
// components in the outer one. Euler sequences are of rotations about the moving axes: YXY(a, b, c) is a turn by a
// about Y, then b about the new X, then c about the newest Y, that is Ry(a) Rx(b) Ry(c).
package spatial

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Up is the vertical.
var Up = r3.Vec{Y: 1}

// Degrees turns radians into degrees.
func Degrees(radians float64) float64 { return radians * (180 / math.Pi) }

// Radians turns degrees into radians.
func Radians(degrees float64) float64 { return degrees * (math.Pi / 180) }

// Missing reports whether a coordinate of p is NaN.
func Missing(p r3.Vec) bool { return p.X != p.X || p.Y != p.Y || p.Z != p.Z }

// Norm is the length of v. Unlike gonum's it does not guard against overflow, which metres do not come near, and
// takes a fifth of the time.
func Norm(v r3.Vec) float64 { return math.Sqrt(v.X*v.X + v.Y*v.Y + v.Z*v.Z) }

// Unit is the direction of v, of length 1; NaN for a vector of no length.
func Unit(v r3.Vec) r3.Vec {
	n := 1 / Norm(v)
	return r3.Vec{X: n * v.X, Y: n * v.Y, Z: n * v.Z}
}

// Middle is the point half-way between p and q.
func Middle(p, q r3.Vec) r3.Vec { return r3.Scale(0.5, r3.Add(p, q)) }

// Angle is the angle between two directions, 0 to pi. It is accurate at both ends (Kahan: from the cross product and
// the dot product rather than from the arc cosine); a direction without length gives NaN.
func Angle(u, v r3.Vec) float64 { return angleOf(AngleParts(u, v)) }

// AngleParts are the sine and the cosine of Angle, times the same positive number: for many angles at once.
func AngleParts(u, v r3.Vec) (sine, cosine float64) { return Norm(r3.Cross(u, v)), r3.Dot(u, v) }

// angleOf is the angle of a sine and a cosine that were multiplied by the same positive number; NaN where both are 0.
func angleOf(sine, cosine float64) float64 {
	if sine == 0 && cosine == 0 {
		return math.NaN()
	}
	return math.Atan2(sine, cosine)
}

// Flexion is the angle by which the joint at middle is bent: 0 when the three points lie on a line with middle
// between the others, pi when folded onto itself.
func Flexion(proximal, middle, distal r3.Vec) float64 {
	return Angle(r3.Sub(middle, proximal), r3.Sub(distal, middle))
}

// Across is the part of v that is perpendicular to the direction axis.
func Across(v, axis r3.Vec) r3.Vec {
	return r3.Sub(v, r3.Scale(r3.Dot(v, axis)/r3.Norm2(axis), axis))
}

// Turn is the angle from u to v about axis by the right-hand rule, -pi to pi, after both are projected onto the plane
// across the axis. A direction along the axis gives NaN.
func Turn(u, v, axis r3.Vec) float64 {
	a := Unit(axis)
	u, v = Across(u, a), Across(v, a)
	return angleOf(r3.Dot(a, r3.Cross(u, v)), r3.Dot(u, v))
}

// TurnLevel is Turn about the vertical.
func TurnLevel(u, v r3.Vec) float64 { return angleOf(TurnLevelParts(u, v)) }

// TurnLevelParts are the sine and the cosine of TurnLevel, times the same positive number.
func TurnLevelParts(u, v r3.Vec) (sine, cosine float64) { return u.Z*v.X - u.X*v.Z, u.X*v.X + u.Z*v.Z }

// Heading is the direction of v seen from above: the angle about the vertical from X, 0 along X and positive towards
// the left (-Z), as rotations about Y count.
func Heading(v r3.Vec) float64 {
	if v.X == 0 && v.Z == 0 {
		return math.NaN()
	}
	return math.Atan2(-v.Z, v.X)
}

// TurnAbout turns p about the vertical through the origin by the given heading.
func TurnAbout(p r3.Vec, heading float64) r3.Vec {
	s, c := math.Sincos(heading)
	return r3.Vec{X: c*p.X + s*p.Z, Y: p.Y, Z: -s*p.X + c*p.Z}
}

// Unwrap changes an angle by whole turns so that it lies within half a turn of near.
func Unwrap(angle, near float64) float64 {
	return angle - 2*math.Pi*math.Round((angle-near)/(2*math.Pi))
}
