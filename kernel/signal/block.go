package signal

import (
	"encoding/binary"
	"fmt"
	"math"
	"slices"
)

// Lanes is the number of channels that a Block keeps side by side: eight points of three coordinates, three vector
// registers of eight.
const Lanes = 24

// Block is a stretch of several channels in step, laid out so that one sample of Lanes channels lies together: a
// group is [sample][Lanes]float64, and the groups follow one another. Points are gathered whole, three channels at a
// multiple of three, so that no point straddles two groups.
//
// A Block is used by Reset, Gather, Fill, GoOn and ZeroPhase, in this order. It is scratch: Reset keeps its memory, and
// after the first few serves nothing is allocated. It must not be shared by goroutines.
type Block struct {
	data     []float64
	channels int
	samples  int // all of them
	gathered int // those that Gather read; GoOn makes the others
	groups   []bank
	holed    []byte // by row of the group that is being gathered: not 0 where a value may be missing
	gaps     []gap
}

// gap is a run of missing samples of a channel.
type gap struct {
	base, from, to int
	stays          bool // too long to be filled: missing again after filtering
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
	b.channels, b.samples, b.gaps = channels, samples, b.gaps[:0]
}

func (b *Block) stride(samples int) int { return (samples + 2*Pad) * Lanes }

// Base and Values give access without a call a sample: sample i of channel c is Values()[Base(c)+i*Lanes].
func (b *Block) Base(c int) int {
	return c/Lanes*b.stride(b.samples) + Pad*Lanes + c%Lanes
}
func (b *Block) Values() []float64 { return b.data }

// pointsAGroup is the number of points of three coordinates that a group holds.
const pointsAGroup = Lanes / 3

// Gather reads points from frames of single precision: channels 3k, 3k+1 and 3k+2 become the three values at
// places[k] of each row of width values, the third one times flip. It reads as many rows as frames holds, at least one
// and no more than Samples, and sees which values are missing or infinite. There must be three channels for each place.
func (b *Block) Gather(frames []float32, width int, places []int, flip float64) {
	b.gathered = len(frames) / width
	if 3*len(places) != b.channels || b.gathered > b.samples || b.gathered < 1 {
		panic(fmt.Sprintf("signal: %d points and %d rows for %d channels and %d samples", len(places), b.gathered,
			b.channels,
			b.samples))
	}
	b.holed = slices.Grow(b.holed[:0], b.gathered)[:b.gathered]
	for first := 0; first < len(places); first += pointsAGroup {
		points := places[first:min(first+pointsAGroup, len(places))]
		base := b.Base(3 * first)
		gather(b.data[base:], frames, width, points, flip, b.holed)
		b.findGaps(base, 3*len(points))
	}
}

// gatherScalar fills the lanes of a group and marks the rows in which a value is missing or infinite.
func gatherScalar(to []float64, frames []float32, width int, places []int, flip float64, holed []byte) {
	for i := range holed {
		row := frames[i*width : (i+1)*width]
		lanes := (*[Lanes]float64)(to[i*Lanes:])
		holed[i] = 0
		for k, place := range places {
			from := row[place : place+3 : place+3]
			x, y, z := float64(from[0]), float64(from[1]), float64(from[2])
			if d := x + y + z; d-d != 0 {
				holed[i] = 1
			}
			at := lanes[3*k : 3*k+3 : 3*k+3]
			at[0], at[1], at[2] = x, y, flip*z
		}
	}
}

// findGaps lists the gaps in the lanes of a group, in the order in which they end, and makes infinite values NaN.
func (b *Block) findGaps(base, lanes int) {
	var begun [Lanes]int // one past the first row of the gap that each lane is in; 0 outside
	var open [pointsAGroup]int
	gaps := 0 // open ones
	for i := 0; i < b.gathered; i++ {
		if gaps == 0 {
			if i = nextHole(b.holed, i); i == b.gathered {
				break
			}
		}
		// Mostly a point is there or missing as a whole.
		row := b.data[base+i*Lanes:][:lanes]
		for p := range lanes / 3 {
			if d := row[3*p] + row[3*p+1] + row[3*p+2]; d-d == 0 && open[p] == 0 {
				continue
			}
			for lane := 3 * p; lane < 3*p+3; lane++ {
				switch missing := row[lane]-row[lane] != 0; {
				case missing:
					row[lane] = math.NaN()
					if begun[lane] == 0 {
						begun[lane] = i + 1
						open[p]++
						gaps++
					}
				case begun[lane] > 0:
					b.gaps = append(b.gaps, gap{base: base + lane, from: begun[lane] - 1, to: i})
					begun[lane] = 0
					open[p]--
					gaps--
				}
			}
		}
	}
	for lane, first := range begun {
		if first > 0 {
			b.gaps = append(b.gaps, gap{base: base + lane, from: first - 1, to: b.gathered})
		}
	}
}

// nextHole is the first row from i on that is not 0, or the number of rows.
func nextHole(holed []byte, i int) int {
	for i+8 <= len(holed) && binary.LittleEndian.Uint64(holed[i:]) == 0 {
		i += 8
	}
	for i < len(holed) && holed[i] == 0 {
		i++
	}
	return i
}

// Fill fills the gaps of at most longest samples as FillGaps does for a series. Longer ones, and those at an end, are
// bridged: by the spline, whose slope and bend at both sides keep the filter from seeing an edge; at an end by the odd
// extension. What was bridged is missing again after ZeroPhase.
func (b *Block) Fill(longest int) {
	for k := range b.gaps {
		g := &b.gaps[k]
		g.stays = g.from == 0 || g.to == b.gathered || g.to-g.from > longest ||
			!fillGap(b.data[g.base:], Lanes, g.from, g.to, b.gathered)
	}
	for _, g := range b.gaps {
		if g.stays {
			b.bridge(g)
		}
	}
}

func (b *Block) bridge(g gap) {
	x := func(i int) *float64 { return &b.data[g.base+i*Lanes] }
	switch {
	case g.from == 0 && g.to == b.gathered:
		for i := range g.to {
			*x(i) = 0
		}
	case g.from == 0:
		for k := 1; k <= g.to; k++ {
			*x(g.to - k) = *x(g.to - k + 1)
			if g.to+k < b.gathered {
				if inside := *x(g.to + k); inside == inside {
					*x(g.to - k) = 2**x(g.to) - inside
				}
			}
		}
	case g.to == b.gathered:
		for k := 1; k <= g.to-g.from; k++ {
			*x(g.from - 1 + k) = *x(g.from - 2 + k)
			if g.from-1-k >= 0 {
				*x(g.from - 1 + k) = 2**x(g.from - 1) - *x(g.from - 1 - k)
			}
		}
	case !fillGap(b.data[g.base:], Lanes, g.from, g.to, b.gathered):
		before, after := *x(g.from - 1), *x(g.to)
		for i := g.from; i < g.to; i++ {
			*x(i) = before + (after-before)*float64(i-g.from+1)/float64(g.to-g.from+1)
		}
	}
}

// GoOn continues every channel past the gathered samples, to Samples, along the parabola of least squares through the
// last near[c] of them: so filtered, a channel that ends in motion keeps its slope and its bend, which the odd
// extension would take for noise. The response of both passes of a Butterworth low-pass is flat to the third order at
// zero frequency: a parabola passes unchanged.
func (b *Block) GoOn(near []int) {
	if b.gathered == b.samples {
		return
	}
	for c := range b.channels {
		base := b.Base(c)
		p := b.ending(base, min(near[c], b.gathered))
		for i := b.gathered; i < b.samples; i++ {
			b.data[base+i*Lanes] = p.at(float64(i - b.gathered + 1))
		}
	}
	// Stale values, which may be denormal and slow, are kept out of the lanes that hold no channel.
	if used := b.channels % Lanes; used > 0 {
		for i := b.gathered; i < b.samples; i++ {
			row := b.data[b.Base(b.channels-used)+i*Lanes:]
			clear(row[used:Lanes])
		}
	}
}

// parabola is c0 + c1 t + c2 t^2, t in samples after the last one.
type parabola [3]float64

func (p parabola) at(t float64) float64 { return p[0] + t*(p[1]+t*p[2]) }

// ending is the parabola through the last near of the gathered samples from base on, three at least.
func (b *Block) ending(base, near int) parabola {
	// Sums over t from the middle one, which makes the odd ones vanish.
	middle := float64(near-1) / 2
	base += (b.gathered - near) * Lanes
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

// ZeroPhase filters channel c with filters[c], forward and backward, as Lowpass.ZeroPhaseTo does, and makes missing
// what was bridged. The filters must be low-passes of this package's design, with the numerator B0*(1, 2, 1), and
// there must be more than Pad samples.
func (b *Block) ZeroPhase(filters []Lowpass) {
	if len(filters) != b.channels || b.samples <= Pad {
		panic(fmt.Sprintf("signal: %d filters for %d channels of %d samples", len(filters), b.channels, b.samples))
	}
	for g := range b.groups {
		b.setBank(g, filters)
		rows := b.data[g*b.stride(b.samples):][:b.stride(b.samples)]
		extendOdd(rows, b.samples)
		passes(rows, min(b.channels-g*Lanes, Lanes), &b.groups[g])
	}
	for _, g := range b.gaps {
		for i := g.from; g.stays && i < g.to; i++ {
			b.data[g.base+i*Lanes] = math.NaN()
		}
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

// passesScalar runs both passes in place over the first lanes of the rows, two lanes at a time: the recursion waits for
// its own last result, and two of them side by side fill the wait without running out of registers.
func passesScalar(rows []float64, lanes int, k *bank) {
	last := len(rows)/Lanes - 1
	for lane := 0; lane < lanes; lane += 2 {
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
