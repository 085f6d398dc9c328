package motion

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/kernel/spatial"
	"tossline/kernel/table"
	"tossline/kernel/words"
)

// Curve describes a quantity that has a value at every moment of a serve. Curves are registered beside measures.
type Curve struct {
	ID         string // snake case without the unit: "front_knee"
	Title      string // "Front knee flexion"
	Unit       string // "deg", "m", "m/s", "deg/s"
	Sign       string // what positive means, or ""
	Definition string // one or two sentences
	Needs      string // what a recording must have; nothing stands in
}

// Column is the column name of the curve's values, such as "front_knee_deg"; MissingColumn that of the text that says
// why a serve has none.
func (c Curve) Column() string        { return Measure{ID: c.ID, Unit: c.Unit}.Column() }
func (c Curve) MissingColumn() string { return c.ID + "_missing" }

// drawn is a curve with its formula.
type drawn struct {
	Curve
	points []point
	hand   bool // needs the hitting hand or its wrist besides the points
	course *quantity
}

var drawnCurves = map[string]drawn{}

func draw(c Curve, points []point, course *quantity) Curve {
	drawnCurves[c.ID] = drawn{c, points, false, course}
	return c
}

func drawHand(c Curve, points []point, course *quantity) Curve {
	drawnCurves[c.ID] = drawn{c, points, true, course}
	return c
}

// Curves lists every curve.
func Curves() []Curve {
	return []Curve{
		FrontKneeCurve, BackKneeCurve, ElbowCurve, ExternalRotationCurve, ShoulderTiltCurve, PelvisTiltCurve,
		SeparationCurve, TrunkForwardCurve, TrunkSidewaysCurve, PelvisHeightCurve, RacketDepthCurve,
		HandDepthCurve, RacketSpeedCurve, HandSpeedCurve, LongAxisCurve,
	}
}

// The curves.
var (
	FrontKneeCurve = draw(Curve{
		ID: "front_knee", Title: "Front knee flexion", Unit: "deg", Sign: "0 = straight leg, larger = more bent",
		Definition: "180 degrees less the angle hip, knee, ankle of the front leg.", Needs: "front hip, knee and ankle",
	}, frontLeg.points(), frontKnee)
	BackKneeCurve = draw(Curve{
		ID: "back_knee", Title: "Back knee flexion", Unit: "deg", Sign: "0 = straight leg, larger = more bent",
		Definition: "180 degrees less the angle hip, knee, ankle of the back leg.", Needs: "back hip, knee and ankle",
	}, backLeg.points(), backKnee)
	ElbowCurve = draw(Curve{
		ID: "elbow", Title: "Hitting-elbow flexion", Unit: "deg", Sign: "0 = straight",
		Definition: "180 degrees less the angle shoulder, elbow, wrist of the hitting arm.",
		Needs:      "hitting shoulder, elbow and wrist",
	}, hittingArm.points(), hittingElbow)
	ExternalRotationCurve = draw(Curve{
		ID: "external_rotation_course", Title: "External rotation", Unit: "deg", Sign: ExternalRotation.Sign,
		Definition: "External rotation of the hitting upper arm against the trunk, as in the measure of that name; " +
			"missing while the elbow is within 20 degrees of straight.",
		Needs: ExternalRotation.Needs,
	}, armAndTrunk, externalRotation)
	ShoulderTiltCurve = draw(Curve{
		ID: "shoulder_tilt", Title: "Shoulder tilt", Unit: "deg", Sign: "positive = tossing side up",
		Definition: "Angle of the line through both shoulders to the horizontal.", Needs: "both shoulders",
	}, []point{leftShoulder, rightShoulder}, tiltCourse(leftShoulder, rightShoulder))
	PelvisTiltCurve = draw(Curve{
		ID: "pelvis_tilt", Title: "Pelvis tilt", Unit: "deg", Sign: "positive = tossing side up",
		Definition: "Angle of the line through both hip joints to the horizontal.", Needs: "both hips",
	}, []point{leftHip, rightHip}, tiltCourse(leftHip, rightHip))
	SeparationCurve = draw(Curve{
		ID: "separation_course", Title: "Separation", Unit: "deg", Sign: separationSign,
		Definition: "Angle, seen from above, by which the line of the shoulders is turned back behind the line of " +
			"the hips.",
		Needs: "both shoulders and both hips",
	}, trunkPoints, separation)
	TrunkForwardCurve = draw(Curve{
		ID: "trunk_forward", Title: "Trunk lean forward", Unit: "deg", Sign: "positive = towards the net",
		Definition: "Trunk inclination in the vertical plane along the direction of the serve. " + trunkAxis,
		Needs:      "both shoulders and both hips",
	}, trunkPoints, lean(func(up r3.Vec) float64 { return up.X }))
	TrunkSidewaysCurve = draw(Curve{
		ID: "trunk_sideways", Title: "Trunk lean sideways", Unit: "deg", Sign: "positive = towards the hitting side",
		Definition: "Trunk inclination in the vertical plane across the direction of the serve. " + trunkAxis,
		Needs:      "both shoulders and both hips",
	}, trunkPoints, lean(func(up r3.Vec) float64 { return up.Z }))
	PelvisHeightCurve = draw(Curve{
		ID: "pelvis_height", Title: "Pelvis height", Unit: "m", Sign: "above the court",
		Definition: "Height of the middle of the hips.", Needs: "both hips",
	}, []point{leftHip, rightHip}, newQuantity(func(v *view, first int, found []float64) {
		left, right := v.track(leftHip), v.track(rightHip)
		for k := range found {
			found[k] = spatial.Middle(left.at(first+k), right.at(first+k)).Y
		}
	}))
	RacketDepthCurve = draw(Curve{
		ID: "racket_depth", Title: "Racket tip below the shoulder", Unit: "m",
		Sign:       "positive = below the hitting shoulder",
		Definition: "Height of the hitting shoulder less that of the racket tip.",
		Needs:      "hitting shoulder and racket tip",
	}, []point{rightShoulder, racketTip}, racketDepth)
	HandDepthCurve = drawHand(Curve{
		ID: "hand_depth", Title: "Hitting hand below the shoulder", Unit: "m",
		Sign:       "positive = below the hitting shoulder",
		Definition: "Height of the hitting shoulder less that of the hitting hand (else the wrist).",
		Needs:      "hitting shoulder, and hitting hand or wrist",
	}, []point{rightShoulder}, handDepth)
	RacketSpeedCurve = draw(Curve{
		ID: "racket_speed_course", Title: "Racket speed", Unit: "m/s",
		Definition: "Speed of the middle of the racket head.", Needs: "both racket edges",
	}, []point{racketLeft, racketRight}, strikerSpeed)
	HandSpeedCurve = drawHand(Curve{
		ID: "hand_speed_course", Title: "Hand speed", Unit: "m/s",
		Definition: "Speed of the hitting hand (else the wrist).", Needs: "hitting hand or wrist",
	}, nil, handSpeed)
	LongAxisCurve = draw(Curve{
		ID: "long_axis_speed_course", Title: "Long-axis speed of the upper arm", Unit: "deg/s",
		Sign: "positive = internal rotation",
		Definition: "Speed at which the hitting upper arm turns about its long axis against the trunk, with the " +
			"forearm for the axial direction; missing while the elbow is within 20 degrees of straight.",
		Needs: ExternalRotation.Needs,
	}, armAndTrunk, humeralSpeed)
)

// mostPoints bounds how finely a curve is drawn.
const mostPoints = 1001

// Curves gives a quantity over every serve, time-normalised: a row for each serve and point, with the columns serve,
// player, session, phase_pct (0 to 100, the same points for every serve), the curve's Column and its MissingColumn. The
// curves run from the first of the events to the last one, and are registered on those between: every event falls on
// one phase in all serves, that of its mean time in the season. Struck points are filtered up to contact and after it
// apart. Events must be given in the order of time, two at least; points 2 to 1001.
func (s Season) Curves(c Curve, points int, events ...EventKind) (table.Table, error) {
	curve, known := drawnCurves[c.ID]
	switch {
	case !known:
		return table.Table{}, fmt.Errorf("no curve %q; motion.Curves lists them", c.ID)
	case points < 2 || points > mostPoints:
		return table.Table{}, fmt.Errorf("a curve of %d points; ask for 2 to %d", points, mostPoints)
	case len(events) < 2 || !slices.IsSortedFunc(events,
		func(a, b EventKind) int { return eventIndex(a) - eventIndex(b) }):
		return table.Table{}, fmt.Errorf("curves from %q: name at least two events in the order of time", events)
	}
	d := &drawing{season: s, curve: curve, points: points, events: events}
	if err := d.findPhases(); err != nil {
		return table.Table{}, err
	}
	d.values, d.why = make([]float64, points*s.Len()), make([]string, s.Len())
	if err := s.everyServe(d.worker); err != nil {
		return table.Table{}, err
	}
	return d.table()
}

// drawing is one run of Curves.
type drawing struct {
	season Season
	curve  drawn
	points int
	events []EventKind
	phase  []float64 // of the events, 0 to 1
	values []float64
	why    []string
}

// findPhases gives every event the phase of its mean time between the first and the last one.
func (d *drawing) findPhases() error {
	d.phase = make([]float64, len(d.events))
	for k := range d.phase {
		d.phase[k] = float64(k) / float64(len(d.phase)-1)
	}
	sums, n := make([]float64, len(d.events)), 0
	for k := range d.season.Len() {
		clip, err := d.season.source.Clip(d.season.row(k))
		if err != nil {
			return err
		}
		if at, _ := d.times(&clip); at != nil {
			n++
			for k := range at {
				sums[k] += (at[k] - at[0]) / (at[len(at)-1] - at[0])
			}
		}
	}
	for k := range sums {
		if n > 0 {
			d.phase[k] = sums[k] / float64(n)
		}
	}
	return nil
}

// times are those of the events of a clip, in seconds; or why there are none.
func (d *drawing) times(clip *Clip) (at []float64, why string) {
	for _, kind := range d.events {
		e, ok := clip.Events[kind]
		if !ok {
			return nil, noEvent(kind)
		}
		at = append(at, e.TimeS)
	}
	if !slices.IsSorted(at) || at[0] == at[len(at)-1] {
		return nil, noEvent(d.events[len(d.events)-1])
	}
	return at, ""
}

func (d *drawing) worker() func(k int) error {
	before, after := new(view), new(view)
	return func(k int) error {
		clip, err := d.season.source.Clip(d.season.row(k))
		if err != nil {
			return err
		}
		d.why[k] = d.serve(before, after, &clip, d.values[k*d.points:][:d.points])
		return nil
	}
}

// serve draws the curve of a clip into values and says why there is none.
func (d *drawing) serve(before, after *view, clip *Clip, values []float64) (why string) {
	for i := range values {
		values[i] = math.NaN()
	}
	at, why := d.times(clip)
	if why != "" {
		return why
	}
	from, to := d.events[0], d.events[len(d.events)-1]
	before.look(clip, from, to)
	if why := before.lacks(d.curve.points...); why != "" {
		return why
	}
	if _, ok := before.firstOf(rightHand, rightWrist); d.curve.hand && !ok {
		return noPoint(rightHand)
	}
	contact, last := before.at(Contact), before.sample(at[len(at)-1])
	if math.IsNaN(contact) {
		contact = math.Inf(1)
	}
	before.find(d.curve, before.sample(at[0]), min(last, contact))
	v, found := before, 0
	for i := range values {
		t := before.sample(d.timeAt(float64(i)/float64(d.points-1), at))
		if t > contact && v == before {
			v = after
			after.look(clip, from, to)
			after.last = after.samples - 1
			after.find(d.curve, t, last)
		}
		values[i] = v.curveAt(d.curve.course, t)
		if values[i] == values[i] {
			found++
		}
	}
	if found == 0 {
		return before.orView(gapBetween(from, to))
	}
	return ""
}

// timeAt is the moment of a phase in a serve with the given times of the events.
func (d *drawing) timeAt(phase float64, at []float64) float64 {
	k := 0
	for k < len(at)-2 && phase > d.phase[k+1] {
		k++
	}
	if d.phase[k+1] == d.phase[k] {
		return at[k+1]
	}
	return at[k] + (phase-d.phase[k])/(d.phase[k+1]-d.phase[k])*(at[k+1]-at[k])
}

// find finds a curve's values around the samples first to last together.
func (v *view) find(d drawn, first, last float64) {
	v.load(d.points...)
	if p, ok := v.firstOf(rightHand, rightWrist); d.hand && ok {
		v.load(p)
	}
	if v.last >= 3 {
		v.over(d.course, v.firstOfFour(first), v.firstOfFour(last)+3)
	}
}

// firstOfFour is the first of the four samples around a moment; just past the last sample before contact, of the last
// four. There must be as many.
func (v *view) firstOfFour(t float64) int { return min(max(int(t)-1, 0), v.last-3) }

// curveAt is a quantity between samples, by the cubic through the four around.
func (v *view) curveAt(q *quantity, t float64) float64 {
	if v.last < 3 {
		return math.NaN()
	}
	i := v.firstOfFour(t)
	return cubicAt(v.over(q, i, i+3), t-float64(i))
}

func (d *drawing) table() (table.Table, error) {
	particulars := d.season.Particulars()
	repeated := func(column string) table.Column {
		texts := make([]string, 0, len(d.values))
		if particulars.Has(column) {
			for _, text := range particulars.Texts(column) {
				texts = append(texts, slices.Repeat([]string{text}, d.points)...)
			}
		}
		return table.Text(column, texts[:len(d.values):len(d.values)]).Titled(words.Capital(column))
	}
	phases, why := make([]float64, len(d.values)), make([]string, len(d.values))
	for i := range d.values {
		phases[i] = 100 * float64(i%d.points) / float64(d.points-1)
		why[i] = d.why[i/d.points]
	}
	c := d.curve.Curve
	t := table.New(repeated("serve"), repeated("player"), repeated("session"),
		table.Number("phase_pct", "%", phases).Titled("Phase").
			Defined("Time from "+inWords(d.events[0])+" to "+inWords(d.events[len(d.events)-1])+", events registered "+
				"on their mean phases."),
		table.Number(c.Column(), c.Unit, d.values).Titled(c.Title).Defined(c.Definition),
		table.Text(c.MissingColumn(), why).Titled(c.Title+", why missing"))
	return t, t.Err()
}
