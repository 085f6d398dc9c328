package recording

import (
	"fmt"
	"math"
	"strings"

	"tossline/datasets/landmark"
	"tossline/kernel/motion"
	"tossline/kernel/words"
)

// Interpret turns what a file says into a take in the global frame: at a uniform rate, in metres, Y up, X towards the
// serve, the court at height 0, with landmarks under the names of package landmark. What the options do not say is
// taken from the file or guessed, and the Understanding tells which and why. Interpret takes over raw's memory: raw
// must not be used afterwards, except for its description.
//
// It fails when nothing usable could come out: units that cannot be, a landmark map that names absent points.
func Interpret(raw *Raw, o Options) (Understanding, motion.Take, error) {
	in := &interpreter{raw: raw, options: o}
	in.u = Understanding{File: raw.File, Format: raw.Format, SHA256: raw.SHA256, Part: raw.Part, Signals: raw.Signals,
		Marks: raw.Marks, Notes: append([]Note{}, raw.Notes...)}
	if len(raw.SHA256) >= 12 {
		in.u.Recording = raw.SHA256[:12]
	}
	take, err := in.run()
	return in.u, take, err
}

// interpreter holds what has been settled so far.
type interpreter struct {
	raw     *Raw
	options Options
	u       Understanding
	points  *points
	scale   float64 // metres in a unit of the file
	upward  vector
	flat    bool // depth, of which nothing is known, is to be missing and not 0
}

func (in *interpreter) run() (motion.Take, error) {
	set := MarkerSet(in.raw.Points)
	byHand, kept := in.options.Map, false
	if len(byHand) == 0 {
		byHand, kept = in.options.Maps[set]
	}
	m, err := mapPoints(in.raw.Points, byHand, in.raw.Settled)
	if err != nil {
		return motion.Take{}, err
	}
	in.describeMap(m)
	in.u.Landmarks.Set, in.u.Landmarks.Kept = set, kept
	in.points = newPoints(in.raw, m)
	in.absent()
	for _, settle := range []func() error{in.rate, in.units, in.up} {
		if err := settle(); err != nil {
			return motion.Take{}, err
		}
	}
	in.points.mm = 0.001 / in.scale
	if in.raw.Planar {
		in.note(Warn, "", "the landmarks are those of a picture: nothing is known of depth, and measures that turn or move "+
			"out of the picture's plane are wrong")
	}
	in.floor()
	in.particulars()
	in.checkHeight()
	take, err := in.take()
	if err != nil {
		return motion.Take{}, err
	}
	in.gravityOfBall(take)
	in.quality(take)
	return take, nil
}

func (in *interpreter) describeMap(m mapping) {
	l := &in.u.Landmarks
	l.Found, l.Missing = m.found()
	l.Unknown, l.Map = append([]string{}, m.unknown...), m.text()
	in.u.Notes = append(in.u.Notes, m.notes...)
	if len(l.Found) == 0 {
		in.note(Warn, "", "no point of the file is known as a landmark: map them by hand")
	}
}

// particulars takes over what was said, and what the file says, of the player and the day.
func (in *interpreter) particulars() {
	in.u.Hand = in.saidHand()
	in.u.Player = saidOrFile(in.options.Player, in.raw.Player)
	in.u.Session = saidOrFile(in.options.Session, in.raw.Session)
	in.u.Height = in.saidHeight()
}

func (in *interpreter) saidHand() Fact[motion.Hand] {
	if in.options.Hand != motion.HandUnknown {
		return Fact[motion.Hand]{in.options.Hand, Said, ""}
	}
	switch strings.ToLower(in.raw.Hand) {
	case "":
	case "left", "l", "left-handed", "lh":
		return Fact[motion.Hand]{motion.HandLeft, InFile, ""}
	case "right", "r", "right-handed", "rh":
		return Fact[motion.Hand]{motion.HandRight, InFile, ""}
	default:
		in.note(Warn, "", "the file gives the hitting hand as %s, which is not known: it is guessed", Quote(in.raw.Hand))
	}
	return Fact[motion.Hand]{motion.HandUnknown, Unknown, ""}
}

// saidHeight is the standing height where somebody says it. An estimate from segments is evidence, not a value.
func (in *interpreter) saidHeight() Fact[float64] {
	switch {
	case in.options.HeightM > 0:
		return Fact[float64]{in.options.HeightM, Said, ""}
	case in.raw.HeightM > 0:
		return Fact[float64]{in.raw.HeightM, InFile, ""}
	}
	f := Fact[float64]{0, Unknown, ""}
	if h, n := in.points.stature(); n > 0 {
		f.Evidence = fmt.Sprintf("by the length of %s about %.2f m", words.Count(n, "segment"), h*in.scale)
	}
	return f
}

// checkHeight compares the height that was said with that of the body.
func (in *interpreter) checkHeight() {
	h, n := in.points.stature()
	if tall := h * in.scale; n > 0 && in.u.Height.Value > 0 && math.Abs(tall/in.u.Height.Value-1) > 0.15 {
		in.note(Warn, "", "the player is said to be %.2f m tall, and is %.2f m by the length of %s",
			in.u.Height.Value, tall, words.Count(n, "segment"))
	}
}

func saidOrFile(said, file string) Fact[string] {
	switch {
	case said != "":
		return Fact[string]{said, Said, ""}
	case file != "":
		return Fact[string]{file, InFile, ""}
	}
	return Fact[string]{"", Unknown, ""}
}

// take builds the frames in the global frame and turns them to the serve.
func (in *interpreter) take() (motion.Take, error) {
	ahead, said, err := in.saidForward()
	if err != nil {
		return motion.Take{}, err
	}
	t := motion.Take{Rate: in.u.RateHz, Layout: in.layout(), Hand: in.u.Hand.Value}
	in.flat = in.raw.Planar && said
	t.Frames = in.build(ahead)
	if said {
		return t, nil
	}
	turn := in.heading(t)
	if in.raw.Planar {
		// What the picture shows, it shows of its own plane: the serve goes one way along it or the other.
		ahead, in.flat = ahead.times(math.Copysign(1, math.Cos(turn))), true
		t.Frames = in.build(ahead)
	} else {
		ahead = ahead.times(math.Cos(turn)).plus(in.sideways(ahead).times(math.Sin(turn)))
		in.turn(t, turn)
	}
	in.u.Forward.Value = axisText(ahead)
	return t, nil
}

// heading guesses the direction of the serve, as an angle from +X towards +Z.
func (in *interpreter) heading(t motion.Take) float64 {
	h, ok := headingOf(t)
	if !ok {
		in.u.Forward = Fact[string]{Source: Guessed, Evidence: "nothing shows it: a horizontal axis of the file is taken"}
		in.note(Warn, "", "nothing shows in which direction the serves go: say it")
		return 0
	}
	in.u.Forward = Fact[string]{Source: Guessed, Evidence: h.Method}
	return -h.Radians
}

func (in *interpreter) layout() *landmark.Layout {
	names := make([]landmark.Name, len(in.points.channels))
	for i, c := range in.points.channels {
		names[i] = channelName(c.name, in.options.Sides)
	}
	return landmark.NewLayout(names)
}

func channelName(n landmark.Name, s Sides) landmark.Name {
	if s == SidesSwapped {
		return n.Mirror()
	}
	return n
}

// saidForward gives the direction of the serve in the file's axes: what was said, or an arbitrary horizontal one.
func (in *interpreter) saidForward() (ahead vector, said bool, err error) {
	switch in.options.Sides {
	case SidesKept, SidesSwapped, SidesMirrored:
	default:
		return vector{}, false, Refuse("say swapped or mirrored", "the sides %s are not known",
			Quote(string(in.options.Sides)))
	}
	forward, source := in.options.Forward, Said
	if forward == "" && in.raw.Settled {
		forward, source = "+x", InFile
	}
	if forward == "" {
		ahead = vector{1, 0, 0}
		if math.Abs(in.upward[0]) > 0.7 {
			ahead = vector{0, 1, 0}
		}
		return in.horizontal(ahead), false, nil
	}
	v, ok := parseAxis(forward)
	if !ok {
		return vector{}, false, Refuse("say an axis such as -x, or a direction such as 0.8,0,0.6",
			"the forward direction %s is not known", Quote(forward))
	}
	if math.Abs(v.dot(in.upward)) > 0.9 {
		return vector{}, false, Refuse("say a horizontal direction", "the serve cannot go along %s, which points up or down",
			forward)
	}
	v = in.horizontal(v)
	in.u.Forward = Fact[string]{axisText(v), source, ""}
	return v, true, nil
}

func (in *interpreter) horizontal(v vector) vector {
	return v.minus(in.upward.times(v.dot(in.upward))).unit()
}

// sideways is the file's direction that becomes +Z.
func (in *interpreter) sideways(ahead vector) vector {
	z := ahead.cross(in.upward)
	if in.options.Sides == SidesMirrored {
		return z.times(-1)
	}
	return z
}

// build computes every channel of every frame with X along ahead.
func (in *interpreter) build(ahead vector) []float32 {
	x, y, z := newDirection(ahead, in.scale), newDirection(in.upward, in.scale), newDirection(in.sideways(ahead), in.scale)
	floor := in.u.Floor.Value
	n := in.points.count()
	out := in.raw.room
	if size := 3 * n * len(in.points.channels); cap(out) < size {
		out = make([]float32, 0, size)
	}
	straight := x.only >= 0 && y.only >= 0 && z.only >= 0 && !in.flat
	for f := range n {
		in.tick(0, workBefore/2, f, n)
		row := in.points.row(f)
		for c := range in.points.channels {
			if from := &in.points.channels[c].from; straight && from.kind == itself {
				v := row[3*from.points[0]:][:3]
				out = append(out, float32(float64(v[x.only])*x.v[x.only]), float32(float64(v[y.only])*y.v[y.only]-floor),
					float32(float64(v[z.only])*z.v[z.only]))
				continue
			}
			p := in.points.at(c, f)
			if in.flat {
				p[2] = math.NaN()
			}
			out = append(out, float32(x.along(p)), float32(y.along(p)-floor), float32(z.along(p)))
		}
	}
	return out
}

// direction is an axis of the global frame in the file's axes and units. Along an axis of the file only that
// coordinate counts, whether the others are missing or not.
type direction struct {
	v    vector
	only int // axis of the file, -1 where the direction is between them
}

func newDirection(v vector, scale float64) direction {
	d := direction{v.times(scale), -1}
	for k := range v {
		if math.Abs(v[k]) == 1 {
			d.only = k
		}
	}
	return d
}

func (d direction) along(p vector) float64 {
	if d.only >= 0 {
		return p[d.only] * d.v[d.only]
	}
	return p.dot(d.v)
}

// workBefore is which part of the work on a recording that was read comes before it is cut, about.
const workBefore = 0.2

// tick tells now and then how far frame is among frames, in a stage that begins and ends at parts of the work.
func (in *interpreter) tick(begin, end float64, frame, frames int) {
	if frame&(1<<14-1) == 0 && in.raw.tick != nil {
		in.raw.tick(begin + (end-begin)*float64(frame)/float64(frames))
	}
}

// turn turns the frames of a take so that the direction at rad from +X towards +Z becomes +X.
func (in *interpreter) turn(t motion.Take, rad float64) {
	width := 3 * t.Layout.Len()
	for f := 0; f < t.Len(); f += 1 << 14 {
		in.tick(workBefore/2, workBefore/2, f, t.Len())
		turnFrames(t.Frames[f*width:min(f+1<<14, t.Len())*width], rad)
	}
}

// turnFrames turns the frames about Y so that the direction at rad from +X towards +Z becomes +X.
func turnFrames(xyz []float32, rad float64) {
	sin, cos := math.Sincos(rad)
	for i := 0; i+2 < len(xyz); i += 3 {
		x, z := float64(xyz[i]), float64(xyz[i+2])
		xyz[i], xyz[i+2] = float32(x*cos+z*sin), float32(z*cos-x*sin)
	}
}

func (in *interpreter) note(s Severity, where, format string, args ...any) {
	in.u.Notes = append(in.u.Notes, Note{s, where, fmt.Sprintf(format, args...)})
}
