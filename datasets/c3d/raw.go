package c3d

import (
	"math"
	"strconv"
	"strings"

	"tossline/datasets/recording"
)

// raw turns a file into a recording. It takes the file's memory over, and calls alive now and then.
func (f *File) raw(alive func()) (*recording.Raw, error) {
	if len(f.Labels) == 0 {
		return nil, recording.Refuse("", "the file has %d analog channels and no points", len(f.Channels))
	}
	raw := &recording.Raw{Format: Name, RateHz: f.RateHz, Units: f.text("POINT", "UNITS"), UpIs: f.upward()}
	f.particulars(raw)
	raw.Settled = f.text(ownGroup, "FRAME") == ownFrame
	f.clear(alive)
	raw.Notes = f.Notes
	points, modelled, units := f.split()
	if len(points) == 0 {
		return nil, recording.Refuse("", "the file has modelled outputs and no points")
	}
	for _, i := range modelled {
		f.addModelled(raw, i, units[f.Labels[i]])
	}
	for _, i := range points {
		raw.Points = append(raw.Points, f.pointName(i))
	}
	if len(modelled) > 0 {
		f.keepPoints(points)
	}
	raw.XYZ = f.XYZ
	for i, c := range f.Channels {
		raw.Signals = append(raw.Signals, recording.Signal{Name: orNumber(c.Name, "channel", i), Unit: c.Unit,
			RateHz: f.RateHz * float64(f.PerFrame), Values: f.Samples(i)})
	}
	start := 0.0
	if f.RateHz > 0 {
		start = float64(f.First-1) / f.RateHz
	}
	for _, e := range f.Events() {
		if t := e.TimeS - start; !math.IsNaN(t) && !math.IsInf(t, 0) {
			raw.Marks = append(raw.Marks, recording.Mark{Name: e.Label, Side: e.Context, TimeS: t})
		}
	}
	return raw, nil
}

func (f *File) pointName(i int) string { return orNumber(f.Labels[i], "point", i) }

func orNumber(name, kind string, i int) string {
	if name == "" {
		return kind + " " + strconv.Itoa(i+1)
	}
	return name
}

// upward is the axis that the file draws upwards on a screen.
func (f *File) upward() string {
	axis := strings.ToLower(f.text("POINT", "Y_SCREEN"))
	if len(axis) == 1 {
		axis = "+" + axis
	}
	return axis
}

// particulars takes what the file says of the player.
func (f *File) particulars(raw *recording.Raw) {
	if names := f.parameter("SUBJECTS", "NAMES").texts(); len(names) == 1 {
		raw.Player = names[0]
	}
	if raw.Session = f.text(ownGroup, "SESSION"); raw.Session != "" {
		raw.Hand = f.text(ownGroup, "HAND")
	}
	if v, ok := f.number("PROCESSING", "HEIGHT"); ok && v > 500 && v < 2600 {
		raw.HeightM = v / 1000
	}
}

// clear puts NaN where a point is missing. A file in which every residual is below zero does not use them: then only
// the origin counts as missing.
func (f *File) clear(alive func()) {
	seen, placed := false, false
	for i, w := range f.Fourth {
		if seen = w >= 0; seen {
			break
		}
		placed = placed || f.XYZ[3*i] != 0 || f.XYZ[3*i+1] != 0 || f.XYZ[3*i+2] != 0
	}
	if !seen && placed {
		f.note(recording.Warn, "", "every point is marked as missing, yet all have places: the marks are not believed")
	}
	nan := float32(math.NaN())
	for i, w := range f.Fourth {
		if i&(1<<20-1) == 0 {
			alive()
		}
		v := f.XYZ[3*i : 3*i+3]
		if seen && w < 0 || v[0] == 0 && v[1] == 0 && v[2] == 0 || !finite(v) {
			v[0], v[1], v[2] = nan, nan, nan
		}
	}
}

func finite(v []float32) bool { return v[0]-v[0] == 0 && v[1]-v[1] == 0 && v[2]-v[2] == 0 }

// split tells places of points from outputs of a model (angles, forces), which are kept in the same way and listed in
// the parameters of the group POINT that TYPE_GROUPS names.
// Those come with their units, "" where the file does not say.
func (f *File) split() (points, modelled []int, units map[string]string) {
	units = map[string]string{}
	for _, g := range f.outputGroups() {
		unit := f.text("POINT", g[1])
		for _, label := range f.allTexts("POINT", g[0]) {
			if _, ok := units[label]; !ok {
				units[label] = unit
			}
		}
	}
	for i, label := range f.Labels {
		if _, listed := units[label]; listed && label != "" {
			modelled = append(modelled, i)
		} else {
			points = append(points, i)
		}
	}
	return points, modelled, units
}

// outputGroups names the parameters that list outputs of a model, each with that of their unit.
func (f *File) outputGroups() [][2]string {
	groups := [][2]string{{"ANGLES", "ANGLE_UNITS"}, {"FORCES", "FORCE_UNITS"}, {"MOMENTS", "MOMENT_UNITS"},
		{"POWERS", "POWER_UNITS"}, {"SCALARS", "SCALAR_UNITS"}}
	if p := f.parameter("POINT", "TYPE_GROUPS"); p != nil && len(p.Dims) == 3 && p.Dims[1] == 2 {
		names := p.texts()
		for i := 0; i+1 < len(names); i += 2 {
			if names[i] != "" {
				groups = append(groups, [2]string{names[i], names[i+1]})
			}
		}
	}
	return groups
}

// addModelled keeps the three components of a model's output as signals at the rate of the frames.
func (f *File) addModelled(raw *recording.Raw, i int, unit string) {
	for axis, name := range [...]string{"x", "y", "z"} {
		s := recording.Signal{Name: f.Labels[i] + " " + name, Unit: unit, RateHz: f.RateHz}
		for at := 3*i + axis; at < len(f.XYZ); at += 3 * len(f.Labels) {
			s.Values = append(s.Values, f.XYZ[at])
		}
		raw.Signals = append(raw.Signals, s)
	}
}

// keepPoints keeps only some points, in place.
func (f *File) keepPoints(points []int) {
	n, to := len(f.Labels), 0
	for frame := range f.Frames() {
		for _, i := range points {
			to += copy(f.XYZ[to:], f.XYZ[3*(frame*n+i):][:3])
		}
	}
	f.XYZ = f.XYZ[:to]
}

// parameterEvents reads the group EVENT: times are pairs of minutes and seconds.
func (f *File) parameterEvents() []Event {
	times := f.parameter("EVENT", "TIMES").numbers()
	labels, contexts := f.allTexts("EVENT", "LABELS"), f.allTexts("EVENT", "CONTEXTS")
	n := len(times) / 2
	if used, ok := f.parameter("EVENT", "USED").count(); ok {
		n = min(n, used)
	}
	var out []Event
	for i := range n {
		e := Event{TimeS: 60*times[2*i] + times[2*i+1]}
		if i < len(labels) {
			e.Label = labels[i]
		}
		if i < len(contexts) {
			e.Context = contexts[i]
		}
		if e.TimeS == e.TimeS && !math.IsInf(e.TimeS, 0) {
			out = append(out, e)
		}
	}
	return out
}
