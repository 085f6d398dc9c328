package recording

import (
	"fmt"
	"math"
	"sort"
)

// rate settles the rate and puts uneven timestamps on a uniform grid.
func (in *interpreter) rate() error {
	hz, source, evidence := in.options.RateHz, Said, ""
	switch {
	case math.IsNaN(hz) || hz < 0 || hz > 100_000:
		return Refuse("say frames a second, such as 100", "the rate %v is impossible", hz)
	case len(in.raw.TimeS) > 1 && hz == 0:
		return in.fromTimes()
	case hz == 0 && in.raw.RateHz > 0:
		hz, source = in.raw.RateHz, InFile
	case hz == 0:
		return Refuse("say it, for example --rate 100", "the file does not say how many frames a second it has")
	}
	in.setRate(hz, source, evidence)
	return nil
}

func (in *interpreter) setRate(hz float64, source Ground, evidence string) {
	in.u.Rate = Fact[float64]{hz, source, evidence}
	in.u.RateHz, in.u.Frames = hz, in.points.count()
	in.u.DurationS = math.Round(float64(in.u.Frames)/hz*1e4) / 1e4
}

// fromTimes takes the rate from the frames' times. Times are even when none strays from the grid by more than a
// tenth of a frame or by what their rounding explains.
func (in *interpreter) fromTimes() error {
	t := in.raw.TimeS
	var steps []float64 // of long takes, a part of them
	every := 1 + len(t)/mostSteps
	for i := 1; i < len(t); i++ {
		if !(t[i] > t[i-1]) {
			return Refuse("", "the times do not increase at frame %d: %v s after %v s", i, t[i], t[i-1])
		}
		if i%every == 0 {
			steps = append(steps, t[i]-t[i-1])
		}
	}
	step := median(steps)
	even := (t[len(t)-1] - t[0]) / float64(len(t)-1)
	switch early := sort.SearchFloat64s(steps, 0.9*step); {
	case math.Abs(even-step) < 0.01*step:
		step = even
	case early > len(steps)/20:
		// Frames that are lost only make steps longer. Where some are shorter, each time strays, and longer spans tell.
		if step = medianOfSpans(t, every); math.Abs(even-step) < 0.03*step {
			step = slope(t)
		}
		// The frames are put on a grid by their times, whatever its step: a rate that somebody may have meant reads best.
		if whole := math.Round(1 / step); math.Abs(whole*step-1) < 0.01 {
			step = 1 / whole
		}
	}
	hz := niceRate(step, len(t))
	if hz < slowest || hz > fastest {
		in.note(Warn, "", "the times make %.4g frames a second, which hardly any system takes: look at their unit, or say "+
			"the rate", hz)
	}
	strays, worst := strayFrames(t, 1/hz)
	if strays == 0 {
		in.setRate(hz, InFile, fmt.Sprintf("the times are %.4g s apart", 1/hz))
		return nil
	}
	g, err := newGrid(in.raw, 1/hz)
	if err != nil {
		return err
	}
	in.points.grid = g
	in.setRate(hz, InFile, fmt.Sprintf("the times are %.4g s apart in the median and uneven", 1/hz))
	in.note(Warn, "", "the times are uneven (%d of %d frames stray from the grid, the farthest by %.3g s): put on a "+
		"uniform grid of %.6g Hz by linear interpolation, %d frames become %d, %d of them missing because they lie "+
		"in a gap", strays, len(t), worst, hz, len(t), g.frames, g.lost())
	return nil
}

// medianOfSpans is the median of the mean step over some frames, beginning at every so many of them.
func medianOfSpans(t []float64, every int) float64 {
	n := min(30, max(1, (len(t)-1)/3))
	var means []float64
	for i := 0; i+n < len(t); i += every {
		means = append(means, (t[i+n]-t[i])/float64(n))
	}
	return median(means)
}

// slope is the step between frames by least squares, for times without gaps.
func slope(t []float64) float64 {
	middle := float64(len(t)-1) / 2
	var up, across float64
	for i, v := range t {
		x := float64(i) - middle
		up, across = up+x*(v-t[0]), across+x*x
	}
	return up / across
}

// niceRate is the rate of a step: a whole number where the times' rounding allows.
func niceRate(step float64, frames int) float64 {
	hz := 1 / step
	if whole := math.Round(hz); whole > 0 && math.Abs(hz-whole)/whole < max(1e-4, 0.1/float64(frames)) {
		return whole
	}
	// 59.94 comes out as 59.940000000003: a rate has no more than six decimals.
	if short := math.Round(hz*1e6) / 1e6; math.Abs(hz-short) < 1e-9*hz {
		return short
	}
	return hz
}

// strayFrames counts the frames that are off the uniform grid that starts with the first.
func strayFrames(t []float64, step float64) (n int, worst float64) {
	for i, v := range t {
		off := math.Abs(v - t[0] - float64(i)*step)
		if off > 0.1*step+1e-9 {
			n++
			worst = max(worst, off)
		}
	}
	return n, worst
}

// Rates that are doubted, in Hz.
const slowest, fastest = 10, 5000

// mostSteps is of about how many steps between frames the median is taken.
const mostSteps = 1 << 20

// maxGridFrames bounds what a single wild timestamp could ask for, as a multiple of the frames there are.
const maxGridFrames = 20

// grid puts unevenly timed frames at even times, each as it is asked for, so that a take of any length needs no memory
// for it. Between frames farther apart than 0.1 s, or three steps where that is longer, what is asked for is missing:
// that is a gap, not a movement.
type grid struct {
	raw    *Raw
	step   float64
	frames int

	asked  int // frame that values holds, -1 at first
	before int // index of a frame of the file that is not after it
	values []float32
}

func newGrid(raw *Raw, step float64) (*grid, error) {
	t := raw.TimeS
	span := (t[len(t)-1] - t[0]) / step
	if span > float64(maxGridFrames*len(t)+1000) {
		return nil, Refuse("look at the column of times", "the times run over %.4g s, far more than %d frames fill",
			t[len(t)-1]-t[0], len(t))
	}
	return &grid{raw: raw, step: step, frames: int(math.Floor(span+1e-6)) + 1, asked: -1,
		values: make([]float32, 3*len(raw.Points))}, nil
}

// place finds the frame of the file before a frame of the grid, the way from there to the next as a part of it, and
// whether that is a gap.
func (g *grid) place(frame int) (i int, part float64, gap bool) {
	t := g.raw.TimeS
	at := t[0] + float64(frame)*g.step
	if i = g.before; t[i] > at || i+16 < len(t) && t[i+16] <= at {
		i = sort.Search(len(t)-1, func(i int) bool { return t[i+1] > at })
	}
	for i+2 < len(t) && t[i+1] <= at {
		i++
	}
	i = min(i, len(t)-2)
	g.before = i
	apart := t[i+1] - t[i]
	part = min(1, max(0, (at-t[i])/apart))
	return i, part, apart > max(0.1, 3*g.step) && part > 1e-6 && part < 1-1e-6
}

// lost is how many frames lie in gaps.
func (g *grid) lost() int {
	n := 0
	for f := range g.frames {
		if _, _, gap := g.place(f); gap {
			n++
		}
	}
	return n
}

// row gives the values of a frame. They are good until another is asked for.
func (g *grid) row(frame int) []float32 {
	if frame == g.asked {
		return g.values
	}
	g.asked = frame
	i, part, gap := g.place(frame)
	if gap {
		fillMissing(g.values)
		return g.values
	}
	width := len(g.values)
	blend(g.values, g.raw.XYZ[i*width:(i+1)*width], g.raw.XYZ[(i+1)*width:(i+2)*width], part)
	return g.values
}

// blend sets dst to a*(1-w)+b*w. At the ends a missing neighbour does not matter.
func blend(dst, a, b []float32, w float64) {
	switch {
	case w < 1e-6:
		copy(dst, a)
	case w > 1-1e-6:
		copy(dst, b)
	default:
		for k := range dst {
			dst[k] = float32(float64(a[k])*(1-w) + float64(b[k])*w)
		}
	}
}

func fillMissing(dst []float32) {
	nan := float32(math.NaN())
	for k := range dst {
		dst[k] = nan
	}
}
