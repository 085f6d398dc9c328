package recording

import (
	"math"
	"sort"

	"tossline/datasets/landmark"
)

// points gives the positions of a take's channels in the file's own units and axes, by frame.
type points struct {
	raw      *Raw
	channels []channelOf
	index    map[landmark.Name]int
	mm       float64 // length of a millimetre in the file's units; 0 while unknown
	grid     *grid   // of unevenly timed frames
}

func newPoints(raw *Raw, m mapping) *points {
	p := &points{raw: raw, channels: m.channels, index: map[landmark.Name]int{}}
	for i, c := range m.channels {
		p.index[c.name] = i
	}
	return p
}

type vector [3]float64

func (a vector) plus(b vector) vector      { return vector{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func (a vector) minus(b vector) vector     { return vector{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func (a vector) times(k float64) vector    { return vector{a[0] * k, a[1] * k, a[2] * k} }
func (a vector) dot(b vector) float64      { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func (a vector) length() float64           { return math.Sqrt(a.dot(a)) }
func (a vector) distance(b vector) float64 { return a.minus(b).length() }
func (a vector) unit() vector              { return a.times(1 / a.length()) }
func (a vector) missing() bool             { return math.IsNaN(a[0] + a[1] + a[2]) }
func (a vector) cross(b vector) vector {
	return vector{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

var nowhere = vector{math.NaN(), math.NaN(), math.NaN()}

// count is the number of frames.
func (p *points) count() int {
	if p.grid != nil {
		return p.grid.frames
	}
	return p.raw.Frames()
}

// row gives the values of a frame, which are good until another is asked for.
func (p *points) row(frame int) []float32 {
	if p.grid != nil {
		return p.grid.row(frame)
	}
	width := 3 * len(p.raw.Points)
	return p.raw.XYZ[frame*width:][:width]
}

// point is where point i of the file is.
func (p *points) point(i, frame int) vector {
	xyz := p.row(frame)[3*i:]
	return vector{float64(xyz[0]), float64(xyz[1]), float64(xyz[2])}
}

// at is where a channel is.
func (p *points) at(channel, frame int) vector {
	o := &p.channels[channel].from
	switch o.kind {
	case middleOf:
		sum := vector{}
		for _, q := range o.points {
			sum = sum.plus(p.point(q, frame))
		}
		return sum.times(1 / float64(len(o.points)))
	case alongLine:
		a, b := p.point(o.points[0], frame), p.point(o.points[1], frame)
		if o.reach != 0 {
			return a.plus(b.minus(a).unit().times(1000 * o.reach * p.mm))
		}
		return a.plus(b.minus(a).times(o.part))
	case hipFromBone:
		return p.hip(o, frame)
	}
	return p.point(o.points[0], frame)
}

// hip is the hip centre from the markers of the pelvis by the regression of Harrington et al., J Biomech 40 (2007)
// 595-602, on pelvic depth and width, in mm: forward -0.24 PD - 9.9, up -0.30 PW - 10.9, outward 0.33 PW + 7.3 from
// the middle of the two front markers.
func (p *points) hip(o *origin, frame int) vector {
	left, right := p.point(o.points[0], frame), p.point(o.points[1], frame)
	back := p.point(o.points[2], frame)
	if len(o.points) == 4 {
		back = back.plus(p.point(o.points[3], frame)).times(0.5)
	}
	front := left.plus(right).times(0.5)
	across := right.minus(left)
	width := across.length()
	z := across.unit()
	x := front.minus(back)
	x = x.minus(z.times(x.dot(z)))
	depth := x.length()
	x = x.unit()
	y := z.cross(x)
	outward := 0.33*width + 7.3*p.mm
	if o.side == "left" {
		outward = -outward
	}
	return front.plus(x.times(-0.24*depth - 9.9*p.mm)).plus(y.times(-0.30*width - 10.9*p.mm)).plus(z.times(outward))
}

// mean is the mean place of those of the named landmarks that the take has, without missing ones.
func (p *points) mean(frame int, names ...landmark.Name) vector {
	sum, n := vector{}, 0
	for _, name := range names {
		if c, ok := p.index[name]; ok {
			if v := p.at(c, frame); !v.missing() {
				sum, n = sum.plus(v), n+1
			}
		}
	}
	if n == 0 {
		return nowhere
	}
	return sum.times(1 / float64(n))
}

// frames gives up to most frames, evenly spread: enough for a guess.
func (p *points) frames(most int) []int {
	n := p.count()
	step := max(1, n/most)
	var out []int
	for f := 0; f < n; f += step {
		out = append(out, f)
	}
	return out
}

// segment is a length of the body as a share of standing height: Drillis & Contini 1966, as given by Winter,
// Biomechanics and Motor Control of Human Movement. Its ends are the middles of the landmarks named.
type bodySegment struct {
	from, to []landmark.Name
	share    float64
}

var segments = buildSegments()

func buildSegments() []bodySegment {
	out := []bodySegment{{
		from:  []landmark.Name{landmark.LeftHip, landmark.RightHip},
		to:    []landmark.Name{landmark.LeftShoulder, landmark.RightShoulder},
		share: 0.288,
	}}
	for _, s := range []struct {
		from, to landmark.Name
		share    float64
	}{
		{landmark.LeftHip, landmark.LeftKnee, 0.245},
		{landmark.LeftKnee, landmark.LeftAnkle, 0.246},
		{landmark.LeftShoulder, landmark.LeftElbow, 0.186},
		{landmark.LeftElbow, landmark.LeftWrist, 0.146},
	} {
		out = append(out,
			bodySegment{[]landmark.Name{s.from}, []landmark.Name{s.to}, s.share},
			bodySegment{[]landmark.Name{s.from.Mirror()}, []landmark.Name{s.to.Mirror()}, s.share})
	}
	return out
}

// stature estimates standing height in the file's units from the lengths of segments, 0 where there are none. It
// needs no axes, and a crouching player is as tall as a standing one.
func (p *points) stature() (height float64, from int) {
	frames := p.frames(200)
	var length, share float64
	for _, s := range segments {
		if !p.has(s.from...) || !p.has(s.to...) {
			continue
		}
		var lengths []float64
		for _, f := range frames {
			if d := p.mean(f, s.from...).distance(p.mean(f, s.to...)); d > 0 {
				lengths = append(lengths, d)
			}
		}
		if len(lengths) > 0 {
			length += quantile(lengths, p.typical())
			share += s.share
			from++
		}
	}
	if share == 0 {
		return 0, 0
	}
	return length / share, from
}

// typical is the quantile of lengths that stands for the true one: the median, but in a picture, which shows lengths
// shortened unless they lie in its plane, nearly the longest.
func (p *points) typical() float64 {
	if p.raw.Planar {
		return 0.9
	}
	return 0.5
}

// channel finds a channel by its landmark or by the name of the point that it is in the file.
func (p *points) channel(name string) (int, error) {
	if c, ok := p.index[landmark.Name(name)]; ok {
		return c, nil
	}
	for i, c := range p.channels {
		if c.from.kind == itself && p.raw.Points[c.from.points[0]] == name {
			return i, nil
		}
	}
	return 0, Refuse("the file has: "+list(p.raw.Points, 40), "there is no landmark and no point %s", Quote(name))
}

func (p *points) has(names ...landmark.Name) bool {
	for _, n := range names {
		if _, ok := p.index[n]; !ok {
			return false
		}
	}
	return true
}

// extent is the median over frames of the largest side of the box around all points.
func (p *points) extent() float64 {
	var sizes []float64
	for _, f := range p.frames(200) {
		all := newBox()
		for i := range p.raw.Points {
			all.add(p.point(i, f))
		}
		if size := all.side(); size > 0 {
			sizes = append(sizes, size)
		}
	}
	if len(sizes) == 0 {
		return 0
	}
	return median(sizes)
}

// box is the space that places take, along the axes.
type box struct{ low, high vector }

func newBox() box {
	most := math.Inf(1)
	return box{vector{most, most, most}, vector{-most, -most, -most}}
}

func (b *box) add(v vector) {
	for k := range v {
		if !math.IsNaN(v[k]) {
			b.low[k], b.high[k] = min(b.low[k], v[k]), max(b.high[k], v[k])
		}
	}
}

// side is the longest side, 0 without places.
func (b *box) side() float64 {
	d := b.high.minus(b.low)
	if size := max(d[0], d[1], d[2]); size > 0 && !math.IsInf(size, 0) {
		return size
	}
	return 0
}

func median(v []float64) float64 { return quantile(v, 0.5) }

// quantile sorts v and gives its q-quantile, the nearest value.
func quantile(v []float64, q float64) float64 {
	sort.Float64s(v)
	return v[int(math.Round(q*float64(len(v)-1)))]
}
