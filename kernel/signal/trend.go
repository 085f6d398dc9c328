package signal

import "math"

// parabola is c0 + c1 t + c2 t^2, t in samples after the last one.
type parabola [3]float64

func (p parabola) at(t float64) float64 { return p[0] + t*(p[1]+t*p[2]) }

// Detrend takes from channel c the parabola of least squares through its last near[c] samples, and Retrend adds it
// again. Between the two, ZeroPhase filters as if the channel went on past its end along that
// parabola, whose bend and slope the odd extension would take for noise: the response of both passes of a Butterworth
// low-pass of second order is flat to the third order at zero frequency, so that parabolas pass unchanged. A channel
// whose last samples are missing in part is left as it is.
func (b *Block) Detrend(near []int) {
	b.trends = b.trends[:0]
	for c := range b.channels {
		p := b.endingOf(c, min(near[c], b.samples))
		b.trends = append(b.trends, p)
		b.addParabola(c, p, -1)
	}
}

// Retrend undoes Detrend.
func (b *Block) Retrend() {
	for c, p := range b.trends {
		b.addParabola(c, p, 1)
	}
	b.trends = b.trends[:0]
}

func (b *Block) addParabola(c int, p parabola, sign float64) {
	if p == (parabola{}) {
		return
	}
	base := b.Base(c)
	for i := range b.samples {
		b.data[base+i*Lanes] += sign * p.at(float64(i-b.samples+1))
	}
}

// endingOf is the parabola through the last samples of a channel.
func (b *Block) endingOf(c, last int) (p parabola) {
	if last < 3 {
		return p
	}
	// Sums over t = u - middle, which makes the odd ones vanish.
	middle := float64(last-1) / 2
	base := b.Base(c) + (b.samples-last)*Lanes
	var s2, s4, y0, y1, y2 float64
	for i := range last {
		t, y := float64(i)-middle, b.data[base+i*Lanes]
		s2, s4 = s2+t*t, s4+t*t*t*t
		y0, y1, y2 = y0+y, y1+t*y, y2+t*t*y
	}
	n := float64(last)
	if math.IsNaN(y0) {
		return p
	}
	bend := (n*y2 - s2*y0) / (n*s4 - s2*s2)
	slope, level := y1/s2, (y0-bend*s2)/n
	return parabola{level + middle*(slope+middle*bend), slope + 2*middle*bend, bend}
}
