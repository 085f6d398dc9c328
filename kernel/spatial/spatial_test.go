package spatial

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"
)

const close = 1e-12

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > close || math.IsNaN(got) != math.IsNaN(want) {
		t.Errorf("%s = %.15g, want %.15g", what, got, want)
	}
}

func nearVec(t *testing.T, what string, got, want r3.Vec) {
	t.Helper()
	near(t, what+".X", got.X, want.X)
	near(t, what+".Y", got.Y, want.Y)
	near(t, what+".Z", got.Z, want.Z)
}

var x, y, z = r3.Vec{X: 1}, r3.Vec{Y: 1}, r3.Vec{Z: 1}

func TestFlexion(t *testing.T) {
	hip, knee := r3.Vec{Y: 1}, r3.Vec{Y: 0.5}
	for _, degrees := range []float64{0, 1e-3, 30, 64.5, 90, 179.99, 180} {
		s, c := math.Sincos(Radians(degrees))
		ankle := r3.Add(knee, r3.Vec{X: -0.45 * s, Y: -0.45 * c})
		near(t, "flexion", Degrees(Flexion(hip, knee, ankle)), degrees)
	}
	if !math.IsNaN(Flexion(hip, hip, knee)) {
		t.Error("the flexion of a segment without length is a number")
	}
}

func TestTurnAndHeading(t *testing.T) {
	near(t, "x to -z about y", Turn(x, r3.Vec{Z: -2}, y), math.Pi/2)
	near(t, "x to z about y", Turn(x, z, y), -math.Pi/2)
	near(t, "parts along the axis do not count", Turn(r3.Vec{X: 1, Y: 5}, r3.Vec{X: 1, Y: -3, Z: -1}, y), math.Pi/4)
	near(t, "x to -z, level", TurnLevel(r3.Vec{X: 1, Y: 4}, r3.Vec{Y: -1, Z: -2}), math.Pi/2)
	near(t, "heading", Heading(r3.Vec{X: 1, Y: 7, Z: -1}), math.Pi/4)
	nearVec(t, "turned", TurnAbout(x, Heading(r3.Vec{X: 3, Z: 4})), r3.Vec{X: 0.6, Z: 0.8})
	if !math.IsNaN(Heading(y)) || !math.IsNaN(Turn(y, x, y)) || !math.IsNaN(TurnLevel(y, x)) {
		t.Error("the vertical has a heading")
	}
	near(t, "unwrap", Unwrap(-3, 3), -3+2*math.Pi)
}

func TestFrames(t *testing.T) {
	f := FrameYZ(r3.Vec{X: 0.1, Y: 2, Z: 0.3}, r3.Vec{X: 0.2, Y: 0.5, Z: 1})
	for _, axis := range []r3.Vec{f.X, f.Y, f.Z} {
		near(t, "length", r3.Norm(axis), 1)
	}
	nearVec(t, "x cross y", r3.Cross(f.X, f.Y), f.Z)
	v := r3.Vec{X: 0.3, Y: -2, Z: 0.7}
	nearVec(t, "there and back", f.Apply(f.Components(v)), v)
	nearVec(t, "in itself", f.In(f).X, x)
	g := FrameZY(z, y)
	nearVec(t, "identity", g.X, x)
}

// The sequences give back the angles that a frame was made from, for the whole range that they name uniquely.
func TestYXYGivesBackItsAngles(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for range 2000 {
		a, b, c := (random.Float64()*2-1)*math.Pi, -random.Float64()*math.Pi, (random.Float64()*2-1)*math.Pi
		plane, elevation, axial := RotationYXY(a, b, c).YXY()
		if math.Sin(-b) < 0.01 {
			continue
		}
		for _, d := range []float64{plane - a, elevation - b, axial - c} {
			if math.Abs(Unwrap(d, 0)) > 1e-9 {
				t.Fatalf("angles %g %g %g came back as %g %g %g", a, b, c, plane, elevation, axial)
			}
		}
	}
	if _, _, axial := Identity.YXY(); !math.IsNaN(axial) {
		t.Errorf("an arm at the side has the axial rotation %g", axial)
	}
}

// Poses of the right arm whose shoulder angles follow from the definitions of Wu et al. (2005): the thorax is the
// global frame, X forwards, Y up, Z to the right.
func TestHumerusInThorax(t *testing.T) {
	for _, c := range []struct {
		name                    string
		elbow, wrist            r3.Vec // from the shoulder, from the elbow
		plane, elevation, axial float64
	}{
		{"out sideways, forearm forwards", z, x, 0, -90, 0},
		{"out sideways, forearm up", z, y, 0, -90, -90},
		{"out sideways, forearm down", z, r3.Vec{Y: -1}, 0, -90, 90},
		{"out forwards, forearm to the left", x, r3.Vec{Z: -1}, 90, -90, 0},
		{"out forwards, forearm up", x, y, 90, -90, -90},
		{"45 degrees up sideways, forearm forwards", r3.Vec{Y: 1, Z: 1}, x, 0, -135, 0},
	} {
		shoulder := r3.Vec{X: 0.1, Y: 1.4, Z: 0.2}
		elbow := r3.Add(shoulder, r3.Scale(0.3, c.elbow))
		plane, elevation, axial := Humerus(shoulder, elbow, r3.Add(elbow, r3.Scale(0.25, c.wrist))).YXY()
		for i, got := range []float64{plane, elevation, axial} {
			if want := []float64{c.plane, c.elevation, c.axial}[i]; math.Abs(Degrees(got)-want) > 1e-9 {
				t.Errorf("%s: angle %d is %g, want %g", c.name, i, Degrees(got), want)
			}
		}
	}
}

func TestZXY(t *testing.T) {
	for _, want := range [][3]float64{{0.3, 0.1, -0.2}, {-1.2, 0.4, 2.2}, {2.5, -1.1, 0.01}} {
		f := rotationZXY(want[0], want[1], want[2])
		a, b, c := f.ZXY()
		for i, got := range []float64{a, b, c} {
			near(t, "angle", got, want[i])
		}
	}
}

func rotationZXY(a, b, c float64) Frame {
	rotateZ := func(v r3.Vec) r3.Vec {
		s, co := math.Sincos(a)
		return r3.Vec{X: co*v.X - s*v.Y, Y: s*v.X + co*v.Y, Z: v.Z}
	}
	turn := func(v r3.Vec) r3.Vec { return rotateZ(rotateX(TurnAbout(v, c), b)) }
	return Frame{X: turn(x), Y: turn(y), Z: turn(z)}
}

func TestRotationVectorAgreesWithGonum(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 9))
	for range 500 {
		axis := r3.Unit(r3.Vec{X: random.NormFloat64(), Y: random.NormFloat64(), Z: random.NormFloat64()})
		angle := random.Float64() * 3.1
		from := RotationYXY(random.NormFloat64(), random.NormFloat64(), random.NormFloat64())
		rotate := r3.NewRotation(angle, axis)
		to := Frame{X: rotate.Rotate(from.X), Y: rotate.Rotate(from.Y), Z: rotate.Rotate(from.Z)}
		if d := r3.Norm(r3.Sub(RotationVector(from, to), r3.Scale(angle, axis))); d > 1e-9 {
			t.Fatalf("rotation by %g about %v came back as %v", angle, axis, RotationVector(from, to))
		}
	}
	nearVec(t, "no rotation", RotationVector(Identity, Identity), r3.Vec{})
}
