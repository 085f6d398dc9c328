package recording

import (
	"fmt"
	"math"
	"sort"

	"tossline/datasets/landmark"
	"tossline/kernel/motion"
)

// A ball in the air tells rate, units and vertical at once: it falls at 9.81 m/s², downwards. Air resistance takes
// less than a tenth of that at the speed of a toss.

const (
	fallSpan    = 0.15 // seconds in which a ball is watched
	fallStray   = 0.01 // metres by which it may leave a parabola: a hand does not move so evenly
	fewestFalls = 3    // stretches that must agree
	gravity     = 9.81 // m/s²
)

// gravityOfBall compares how the ball falls with gravity, and notes where they disagree.
func (in *interpreter) gravityOfBall(t motion.Take) {
	g, n := in.fallOf(t)
	if n < fewestFalls {
		return
	}
	size := g.length()
	angle := math.Acos(min(1, max(-1, -g[1]/size))) * 180 / math.Pi
	in.u.Up.Evidence = join(in.u.Up.Evidence,
		fmt.Sprintf("the ball falls within %.0f° of the vertical", math.Ceil(angle)))
	in.u.Rate.Evidence = join(in.u.Rate.Evidence, fmt.Sprintf("the ball falls at %.1f m/s²", size))
	if size < 0.85*gravity || size > 1.15*gravity {
		in.note(Warn, "ball", "falls at %.1f m/s², where gravity has 9.81: the rate or the units are wrong", size)
	}
	if angle > 20 {
		in.note(Warn, "ball", "falls %.0f° off the vertical: say which axis points up", angle)
	}
}

// unitOfFall is the unit in which the ball falls as it must; "" where it shows none.
func (in *interpreter) unitOfFall() string {
	c, ok := in.points.index[landmark.Ball]
	if !ok || in.raw.Planar {
		return ""
	}
	n := min(in.points.count(), longPiece)
	for _, unit := range unitNames {
		t := motion.Take{Rate: in.u.RateHz, Layout: landmark.NewLayout([]landmark.Name{landmark.Ball})}
		for f := range n {
			p := in.points.at(c, f).times(metres[unit])
			t.Frames = append(t.Frames, float32(p[0]), float32(p[1]), float32(p[2]))
		}
		if g, stretches := in.fallOf(t); stretches >= fewestFalls && math.Abs(g.length()/gravity-1) < 0.15 {
			return unit
		}
	}
	return ""
}

func join(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

// fallOf gives the acceleration on which most of the stretches agree in which the ball moves along a parabola, and how
// many these are.
func (in *interpreter) fallOf(t motion.Take) (vector, int) {
	c := t.Layout.Index(landmark.Ball)
	n := max(6, int(math.Round(fallSpan*t.Rate)))
	if c < 0 || t.Len() < n {
		return vector{}, 0
	}
	var found []vector
	for f, k := 0, 0; f+n <= t.Len(); f, k = f+max(1, n/2), k+1 {
		if k&(1<<10-1) == 0 {
			in.tick(workBefore, workBefore, 0, 1)
		}
		if a, stray := parabola(t, c, f, n); stray < fallStray && a.length() > 2 && a.length() < 50 {
			found = append(found, a)
		}
	}
	sort.Slice(found, func(i, j int) bool { return found[i].length() < found[j].length() })
	best, most := vector{}, 0
	for i, last := 0, 0; i < len(found); i++ {
		for last < len(found) && found[last].length() < 1.1*found[i].length() {
			last++
		}
		if last-i > most {
			most, best = last-i, vector{}
			for _, a := range found[i:last] {
				best = best.plus(a.times(1 / float64(last-i)))
			}
		}
	}
	return best, most
}

// parabola fits x = p + v t + a t²/2 to n frames by least squares, and gives a and the root mean square distance from
// it; NaN where a frame is missing.
func parabola(t motion.Take, c, first, n int) (a vector, stray float64) {
	// On times around 0 the fit falls apart: v = Σtx/Σt², and a from x and t², each less its mean.
	var t2, t4 float64
	var sx, stx, st2x vector
	for i := range n {
		s := (float64(i) - float64(n-1)/2) / t.Rate
		x := at(t, c, first+i)
		t2, t4 = t2+s*s, t4+s*s*s*s
		sx, stx, st2x = sx.plus(x), stx.plus(x.times(s)), st2x.plus(x.times(s*s))
	}
	m := float64(n)
	half := st2x.minus(sx.times(t2 / m)).times(1 / (t4 - t2*t2/m))
	v, p := stx.times(1/t2), sx.minus(half.times(t2)).times(1/m)
	sum := 0.0
	for i := range n {
		s := (float64(i) - float64(n-1)/2) / t.Rate
		d := at(t, c, first+i).distance(p.plus(v.times(s)).plus(half.times(s * s)))
		sum += d * d
	}
	return half.times(2), math.Sqrt(sum / m)
}
