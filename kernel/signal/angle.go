package signal

import "math"

// AnglesTo gives, in radians from -pi to pi, the angles that have the given sines and cosines times the same positive
// number: math.Atan2 of each pair, to the last bit; NaN where both are 0, a direction without length. The numbers must
// be finite or NaN. angle may be sine or cosine.
func AnglesTo(angle, sine, cosine []float64) {
	sameLength(angle, sine)
	sameLength(angle, cosine)
	angles(angle, sine, cosine)
}

func anglesScalar(angle, sine, cosine []float64) {
	for i, y := range sine {
		if x := cosine[i]; x == 0 && y == 0 {
			angle[i] = math.NaN()
		} else {
			angle[i] = math.Atan2(y, x)
		}
	}
}
