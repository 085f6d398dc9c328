package recording

import (
	"fmt"
	"math"
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
	in.u.RateHz, in.u.Frames = hz, in.raw.Frames()
	in.u.DurationS = math.Round(float64(in.u.Frames)/hz*1e4) / 1e4
}

// fromTimes takes the rate from the frames' times. Times are even when none strays from the grid by more than a
// tenth of a frame or by what their rounding explains.
func (in *interpreter) fromTimes() error {
	t := in.raw.TimeS
	steps := make([]float64, 0, len(t)-1)
	for i := 1; i < len(t); i++ {
		if !(t[i] > t[i-1]) {
			return Refuse("", "the times do not increase at frame %d: %v s after %v s", i, t[i], t[i-1])
		}
		steps = append(steps, t[i]-t[i-1])
	}
	step := median(steps)
	if even := (t[len(t)-1] - t[0]) / float64(len(t)-1); math.Abs(even-step) < 0.01*step {
		step = even
	}
	hz := niceRate(step, len(t))
	strays, worst := strayFrames(t, 1/hz)
	if strays == 0 {
		in.setRate(hz, InFile, fmt.Sprintf("the times are %.4g s apart", 1/hz))
		return nil
	}
	before := in.raw.Frames()
	lost, err := in.resample(1 / hz)
	if err != nil {
		return err
	}
	in.setRate(hz, InFile, fmt.Sprintf("the times are %.4g s apart in the median and uneven", 1/hz))
	in.note(Warn, "", "the times are uneven (%d of %d frames stray from the grid, the farthest by %.3g s): put on a "+
		"uniform grid of %.6g Hz by linear interpolation, %d frames become %d, %d of them missing because they lie "+
		"in a gap", strays, before, worst, hz, before, in.raw.Frames(), lost)
	return nil
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

// maxGridFrames bounds what a single wild timestamp could ask for, as a multiple of the frames there are.
const maxGridFrames = 20

// resample puts the raw frames on a grid of the given step, starting at the first time. Between frames farther
// apart than 0.1 s, or three steps where that is longer, the grid is left missing: that is a gap, not a movement.
func (in *interpreter) resample(step float64) (missing int, err error) {
	t := in.raw.TimeS
	width := 3 * len(in.raw.Points)
	span := (t[len(t)-1] - t[0]) / step
	if span > float64(maxGridFrames*len(t)+1000) {
		return 0, Refuse("look at the column of times", "the times run over %.4g s, far more than %d frames fill",
			t[len(t)-1]-t[0], len(t))
	}
	n := int(math.Floor(span+1e-6)) + 1
	reach := max(0.1, 3*step)
	out := make([]float32, n*width)
	i := 0
	for g := range n {
		at := t[0] + float64(g)*step
		for i+2 < len(t) && t[i+1] <= at {
			i++
		}
		gap := t[i+1] - t[i]
		w := min(1, max(0, (at-t[i])/gap))
		a, b := in.raw.XYZ[i*width:(i+1)*width], in.raw.XYZ[(i+1)*width:(i+2)*width]
		if gap > reach && w > 1e-6 && w < 1-1e-6 {
			missing++
			fillMissing(out[g*width : (g+1)*width])
			continue
		}
		blend(out[g*width:(g+1)*width], a, b, w)
	}
	in.raw.XYZ, in.raw.TimeS = out, nil
	return missing, nil
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
