package signal

import "fmt"

// Lanes is the number of channels that a Block keeps side by side: eight points of three coordinates, three vector
// registers of eight.
const Lanes = 24

// Block is a stretch of several channels in step, laid out so that one sample of Lanes channels lies together: a
// group is [sample][Lanes]float64, and the groups follow one another. Points are gathered whole, three channels at a
// multiple of three, so that no point straddles two groups.
//
// A Block is scratch: Reset keeps its memory, and after the first few serves nothing is allocated. It must not be
// shared by goroutines.
type Block struct {
	data     []float64
	channels int
	samples  int
	groups   []bank
	lane     []float64 // one channel taken out, for those with gaps
	room     []float64 // for filtering it
	scratch  []float64
	missing  []bool // by point: whether Gather saw missing values
	gaps     []int  // channels in which FillGaps left some
}

// bank holds the coefficients of a group, a value a lane, as the kernels want them. The sections of this package have
// the numerator B0*(1, 2, 1), so each pass computes y/B0 and the second one applies both gains at once.
type bank struct {
	minusA1, minusA2 [Lanes]float64
	overGain, gain2  [Lanes]float64 // 1/B0 and B0*B0
}

// Reset makes the block hold the given numbers of channels and samples. Their values are not defined until set.
func (b *Block) Reset(channels, samples int) {
	groups := (channels + Lanes - 1) / Lanes
	size := groups * b.stride(samples)
	if cap(b.data) < size {
		b.data = make([]float64, size)
	}
	if cap(b.groups) < groups {
		b.groups = make([]bank, groups)
	}
	b.data, b.groups = b.data[:size], b.groups[:groups]
	b.channels, b.samples, b.missing, b.gaps = channels, samples, b.missing[:0], b.gaps[:0]
	b.clearSpareLanes()
}

// clearSpareLanes keeps stale values, which may be NaN or denormal and slow, out of the lanes that hold no channel.
func (b *Block) clearSpareLanes() {
	used := b.channels % Lanes
	if used == 0 {
		return
	}
	last := b.data[(len(b.groups)-1)*b.stride(b.samples):]
	for row := 0; row < len(last); row += Lanes {
		clear(last[row+used : row+Lanes])
	}
}

func (b *Block) stride(samples int) int { return (samples + 2*Pad) * Lanes }

// Samples and Channels are the numbers given to Reset.
func (b *Block) Samples() int  { return b.samples }
func (b *Block) Channels() int { return b.channels }

// Base and Values give access without a call a sample: sample i of channel c is Values()[Base(c)+i*Lanes].
func (b *Block) Base(c int) int {
	return c/Lanes*b.stride(b.samples) + Pad*Lanes + c%Lanes
}
func (b *Block) Values() []float64 { return b.data }

// pointsAGroup is the number of points of three coordinates that a group holds.
const pointsAGroup = Lanes / 3

// Gather reads points from frames of single precision: channels 3k, 3k+1 and 3k+2 become the three values at
// places[k] of each row of width values, the third one times flip. It reads as many rows as frames holds, which must be
// no more than Samples, and sees which points have missing values. There must be three channels for each place.
func (b *Block) Gather(frames []float32, width int, places []int, flip float64) {
	if 3*len(places) != b.channels || len(frames)/width > b.samples {
		panic(fmt.Sprintf("signal: %d points and %d rows for %d channels and %d samples", len(places), len(frames)/width,
			b.channels, b.samples))
	}
	for first := 0; first < len(places); first += pointsAGroup {
		points := places[first:min(first+pointsAGroup, len(places))]
		holes := gather(b.data[b.Base(3*first):], frames, width, points, flip)
		for k := range points {
			b.missing = append(b.missing, holes>>k&1 != 0)
		}
	}
}

// gatherScalar fills the lanes of a group and gives a bit for each point of which a value is missing or infinite.
func gatherScalar(to []float64, frames []float32, width int, places []int, flip float64) (holes uint64) {
	for len(frames) >= width {
		row := frames[:width]
		lanes := (*[Lanes]float64)(to)
		for k, place := range places {
			from := row[place : place+3 : place+3]
			x, y, z := float64(from[0]), float64(from[1]), float64(from[2])
			if d := x + y + z; d-d != 0 {
				holes |= 1 << k
			}
			at := lanes[3*k : 3*k+3 : 3*k+3]
			at[0], at[1], at[2] = x, y, flip*z
		}
		frames = frames[width:]
		if len(frames) >= width {
			to = to[Lanes:]
		}
	}
	return holes
}

// FillGaps fills the missing ones of the first samples of every point's channels as FillGaps does for a series, and
// notes the channels in which some remain. It must come after Gather.
func (b *Block) FillGaps(samples, longest int) {
	for k, missing := range b.missing {
		for c := 3 * k; missing && c < 3*k+3; c++ {
			if _, left := fillGaps(b.data, b.Base(c), Lanes, samples, longest); left > 0 {
				b.gaps = append(b.gaps, c)
			}
		}
	}
}

// GoOn continues every channel past its first samples, to Samples, along the parabola of least squares through the last
// near[c] of them: so filtered, a channel that ends in motion keeps its slope and its bend, which the odd extension would
// take for noise. The response of both passes of a Butterworth low-pass is flat to the third order at zero frequency: a
// parabola passes unchanged. A channel whose last samples are missing in part is not continued.
func (b *Block) GoOn(samples int, near []int) {
	for c := range b.channels {
		base := b.Base(c)
		p := b.ending(base, samples, min(near[c], samples))
		for i := samples; i < b.samples; i++ {
			b.data[base+i*Lanes] = p.at(float64(i - samples + 1))
		}
	}
}

// parabola is c0 + c1 t + c2 t^2, t in samples after the last one.
type parabola [3]float64

func (p parabola) at(t float64) float64 { return p[0] + t*(p[1]+t*p[2]) }

// ending is the parabola through the last near of the samples from base on; NaN when one of them is missing.
func (b *Block) ending(base, samples, near int) parabola {
	// Sums over t from the middle one, which makes the odd ones vanish.
	middle := float64(near-1) / 2
	base += (samples - near) * Lanes
	var s2, s4, y0, y1, y2 float64
	for i := range near {
		t, y := float64(i)-middle, b.data[base+i*Lanes]
		s2, s4 = s2+t*t, s4+t*t*t*t
		y0, y1, y2 = y0+y, y1+t*y, y2+t*t*y
	}
	n := float64(near)
	bend := (n*y2 - s2*y0) / (n*s4 - s2*s2)
	slope, level := y1/s2, (y0-bend*s2)/n
	return parabola{level + middle*(slope+middle*bend), slope + 2*middle*bend, bend}
}

// ZeroPhase filters channel c with filters[c], forward and backward, as Lowpass.ZeroPhaseTo does. The filters must be
// low-passes of this package's design, with the numerator B0*(1, 2, 1).
func (b *Block) ZeroPhase(filters []Lowpass) {
	if len(filters) != b.channels {
		panic(fmt.Sprintf("signal: %d filters for %d channels", len(filters), b.channels))
	}
	if b.samples <= Pad {
		for c := range b.channels {
			b.oneChannel(c, filters[c])
		}
		return
	}
	b.setGaps(filters)
	for g := range b.groups {
		b.setBank(g, filters)
		rows := b.data[g*b.stride(b.samples):][:b.stride(b.samples)]
		extendOdd(rows, b.samples)
		passes(rows, &b.groups[g])
	}
	b.restoreGaps()
}

// setGaps filters the channels with gaps by themselves, keeps the results aside and puts zeros in their lanes.
func (b *Block) setGaps(filters []Lowpass) {
	b.scratch = b.scratch[:0]
	for _, c := range b.gaps {
		b.oneChannel(c, filters[c])
		base := b.Base(c)
		for i := range b.samples {
			b.scratch = append(b.scratch, b.data[base+i*Lanes])
			b.data[base+i*Lanes] = 0
		}
	}
}

func (b *Block) restoreGaps() {
	for k, c := range b.gaps {
		base := b.Base(c)
		for i, v := range b.scratch[k*b.samples:][:b.samples] {
			b.data[base+i*Lanes] = v
		}
	}
}

func (b *Block) oneChannel(c int, f Lowpass) {
	base := b.Base(c)
	b.lane = b.lane[:0]
	for i := range b.samples {
		b.lane = append(b.lane, b.data[base+i*Lanes])
	}
	b.room = f.zeroPhase(b.lane, b.lane, b.room)
	for i, v := range b.lane {
		b.data[base+i*Lanes] = v
	}
}

func (b *Block) setBank(g int, filters []Lowpass) {
	k := &b.groups[g]
	for lane := range Lanes {
		f := Lowpass{B0: 1}
		if c := g*Lanes + lane; c < b.channels {
			f = filters[c]
		}
		k.minusA1[lane], k.minusA2[lane] = -f.A1, -f.A2
		k.overGain[lane], k.gain2[lane] = 1/f.B0, f.B0*f.B0
	}
}

// extendOdd writes the Pad rows before and after the samples: the samples next to an end, turned about its value.
func extendOdd(rows []float64, samples int) {
	row := func(i int) *[Lanes]float64 { return (*[Lanes]float64)(rows[(Pad+i)*Lanes:]) }
	first, last := row(0), row(samples-1)
	for k := 1; k <= Pad; k++ {
		before, inside := row(-k), row(k)
		after, within := row(samples-1+k), row(samples-1-k)
		for c := range Lanes {
			before[c] = 2*first[c] - inside[c]
			after[c] = 2*last[c] - within[c]
		}
	}
}

// passesScalar runs both passes in place over the rows, two lanes at a time: the recursion waits for its own last
// result, and two of them side by side fill the wait without running out of registers.
func passesScalar(rows []float64, k *bank) {
	last := len(rows)/Lanes - 1
	for lane := 0; lane < Lanes; lane += 2 {
		passTwo(rows, k, lane, 0, last+1, 1, 1, 1)
		passTwo(rows, k, lane, last, -1, -1, k.gain2[lane], k.gain2[lane+1])
	}
}

func passTwo(rows []float64, k *bank, lane, from, to, step int, scaleA, scaleB float64) {
	a1, a2, b1, b2 := k.minusA1[lane], k.minusA2[lane], k.minusA1[lane+1], k.minusA2[lane+1]
	start := (*[2]float64)(rows[from*Lanes+lane:])
	xa1, xb1 := start[0], start[1]
	xa2, xb2 := xa1, xb1
	ya1, yb1 := xa1*k.overGain[lane], xb1*k.overGain[lane+1]
	ya2, yb2 := ya1, yb1
	for i := from; i != to; i += step {
		p := (*[2]float64)(rows[i*Lanes+lane:])
		xa, xb := p[0], p[1]
		ya := (xa + xa2 + 2*xa1 + a2*ya2) + a1*ya1
		yb := (xb + xb2 + 2*xb1 + b2*yb2) + b1*yb1
		xa2, xa1, ya2, ya1 = xa1, xa, ya1, ya
		xb2, xb1, yb2, yb1 = xb1, xb, yb1, yb
		p[0], p[1] = ya*scaleA, yb*scaleB
	}
}
