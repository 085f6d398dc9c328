package demo

// key is a value that a channel passes through at a time, with its slope and second derivative there.
type key struct{ t, v, slope, bend float64 }

// curve is a channel of the model over time: quintics between keys, so that position, speed and acceleration are
// continuous wherever one key stands alone. Two keys at the same time make a kink, as when a foot strikes the court.
// Before its first key and after its last a curve stays at rest.
type curve []key

// at evaluates the curve at time t.
func (c curve) at(t float64) float64 {
	if t <= c[0].t {
		return c[0].v
	}
	for i := 1; i < len(c); i++ {
		if t < c[i].t {
			return quintic(c[i-1], c[i], t)
		}
	}
	return c[len(c)-1].v
}

func (c curve) last() *key { return &c[len(c)-1] }

// quintic is the polynomial of degree five that meets value, slope and bend at both keys.
func quintic(a, b key, t float64) float64 {
	w := b.t - a.t
	s := (t - a.t) / w
	s2 := float64(s * s)
	s3 := float64(s2 * s)
	s4 := float64(s2 * s2)
	s5 := float64(s4 * s)
	rise := float64(10*s3) - float64(15*s4) + float64(6*s5)
	in := s - float64(6*s3) + float64(8*s4) - float64(3*s5)
	out := float64(7*s4) - float64(4*s3) - float64(3*s5)
	bendIn := (s2 - float64(3*s3) + float64(3*s4) - s5) / 2
	bendOut := (s3 - float64(2*s4) + s5) / 2
	w2 := float64(w * w)
	return a.v + float64(rise*(b.v-a.v)) + float64(w*(float64(in*a.slope)+float64(out*b.slope))) +
		float64(w2*(float64(bendIn*a.bend)+float64(bendOut*b.bend)))
}

// through makes a curve through values at times: t0, v0, t1, v1, and so on. Slopes follow the values without
// overshooting them: zero at a peak, the harmonic mean of the neighbouring secants elsewhere
// (Fritsch & Butland 1984); zero at a kink.
func through(tv ...float64) curve {
	var c curve
	for i := 0; i+1 < len(tv); i += 2 {
		c = append(c, key{t: tv[i], v: tv[i+1]})
	}
	for i := 1; i+1 < len(c); i++ {
		if c[i].t == c[i-1].t || c[i].t == c[i+1].t {
			continue
		}
		c[i].slope = harmonicSlope(c[i-1], c[i], c[i+1])
	}
	return c
}

func harmonicSlope(a, b, c key) float64 {
	before, after := (b.v-a.v)/(b.t-a.t), (c.v-b.v)/(c.t-b.t)
	if float64(before*after) <= 0 {
		return 0
	}
	return 2 * float64(before*after) / (before + after)
}
