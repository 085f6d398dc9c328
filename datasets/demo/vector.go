package demo

import "math"

// The same seed must give the same bytes on every machine. Some processors fuse a product and a sum into one
// rounding, which the language allows; a product that is converted, float64(a*b), is rounded by itself everywhere.
// All arithmetic of the model goes through the functions of this file and curve.go, which convert, and through
// sincos, since math.Sin differs in the last digit between machines.

// vec is a point or direction, metres, in the global frame or in that of a segment.
type vec struct{ X, Y, Z float64 }

func (a vec) add(b vec) vec             { return vec{a.X + b.X, a.Y + b.Y, a.Z + b.Z} }
func (a vec) sub(b vec) vec             { return vec{a.X - b.X, a.Y - b.Y, a.Z - b.Z} }
func (a vec) scale(f float64) vec       { return vec{float64(a.X * f), float64(a.Y * f), float64(a.Z * f)} }
func (a vec) plus(f float64, b vec) vec { return a.add(b.scale(f)) }
func (a vec) norm() float64             { return math.Sqrt(a.dot(a)) }
func (a vec) unit() vec                 { return a.scale(1 / a.norm()) }
func (a vec) mirrored() vec             { return vec{a.X, a.Y, -a.Z} }

func (a vec) dot(b vec) float64 {
	return float64(a.X*b.X) + float64(a.Y*b.Y) + float64(a.Z*b.Z)
}

func (a vec) cross(b vec) vec {
	return vec{
		float64(a.Y*b.Z) - float64(a.Z*b.Y),
		float64(a.Z*b.X) - float64(a.X*b.Z),
		float64(a.X*b.Y) - float64(a.Y*b.X),
	}
}

// mat is a rotation; its columns are the axes of the turned frame.
type mat struct{ x, y, z vec }

func (m mat) apply(v vec) vec { return m.x.scale(v.X).add(m.y.scale(v.Y)).add(m.z.scale(v.Z)) }
func (m mat) mul(n mat) mat   { return mat{m.apply(n.x), m.apply(n.y), m.apply(n.z)} }

// turnX, turnY and turnZ turn about an axis, right-handed, by an angle in radians.
func turnX(a float64) mat {
	s, c := sincos(a)
	return mat{vec{1, 0, 0}, vec{0, c, s}, vec{0, -s, c}}
}

func turnY(a float64) mat {
	s, c := sincos(a)
	return mat{vec{c, 0, -s}, vec{0, 1, 0}, vec{s, 0, c}}
}

func turnZ(a float64) mat {
	s, c := sincos(a)
	return mat{vec{c, s, 0}, vec{-s, c, 0}, vec{0, 0, 1}}
}

// lean is the shortest turn that takes the vertical towards X by forward radians and towards Z by right radians.
func lean(forward, right float64) mat {
	angle := math.Sqrt(float64(forward*forward) + float64(right*right))
	if angle < 1e-12 {
		return turnX(0)
	}
	k := vec{right / angle, 0, -forward / angle}
	s, c := sincos(angle)
	turn := func(v vec) vec { return v.scale(c).plus(s, k.cross(v)).plus(float64((1-c)*k.dot(v)), k) }
	return mat{turn(vec{1, 0, 0}), turn(vec{0, 1, 0}), turn(vec{0, 0, 1})}
}

const degree = math.Pi / 180

// sincos gives sine and cosine to about 1e-16, with the same last digit on every machine: reduction to a quarter
// turn and the Taylor polynomials, which at pi/4 need eight terms.
func sincos(a float64) (sin, cos float64) {
	const halfPiHigh, halfPiLow = 1.57079632679489655800e+00, 6.12323399573676603587e-17
	n := math.Round(float64(a * (2 / math.Pi)))
	r := a - float64(n*halfPiHigh) - float64(n*halfPiLow)
	r2 := float64(r * r)
	s, c := 1.0, 1.0
	for k := len(taylor) - 1; k >= 0; k-- {
		s = 1 - float64(float64(s*r2)*taylor[k][0])
		c = 1 - float64(float64(c*r2)*taylor[k][1])
	}
	s = float64(s * r)
	switch int64(n) & 3 {
	case 0:
		return s, c
	case 1:
		return c, -s
	case 2:
		return -s, -c
	}
	return -c, s
}

// taylor has the ratio of each term of the two series to the one before.
var taylor = [8][2]float64{
	{1.0 / (2 * 3), 1.0 / (1 * 2)}, {1.0 / (4 * 5), 1.0 / (3 * 4)}, {1.0 / (6 * 7), 1.0 / (5 * 6)},
	{1.0 / (8 * 9), 1.0 / (7 * 8)}, {1.0 / (10 * 11), 1.0 / (9 * 10)}, {1.0 / (12 * 13), 1.0 / (11 * 12)},
	{1.0 / (14 * 15), 1.0 / (13 * 14)}, {1.0 / (16 * 17), 1.0 / (15 * 16)},
}
