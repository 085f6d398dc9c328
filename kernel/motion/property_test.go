package motion

import (
	"maps"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/kernel/spatial"
)

// directed are the measures that ask where the serve goes; turning the player alone changes them.
var directed = []string{"contact_offset", "contact_offset_of_height", "contact_forward", "contact_forward_of_height",
	"body_line",
	"path_direction", "trunk_forward_trophy", "trunk_forward_contact", "trunk_sideways_trophy",
	"trunk_sideways_contact",
	"toss_apex_lateral", "toss_apex_forward", "toss_contact_lateral", "toss_contact_forward", "drift_contact",
	"drift_landing"}

// Whatever is done to the whole recording without changing the serve leaves its measures as they are, but for the
// length that a scale gives.
func TestMeasuresAreInvariant(t *testing.T) {
	b := newBody()
	c := b.clip(200)
	for _, change := range []struct {
		name    string
		clip    Clip
		scale   float64            // of lengths
		within  map[string]float64 // by unit: how far a value may move
		but     []string           // measures that may change
		onlyBut bool               // and do
	}{
		{name: "moved over the court", scale: 1, within: rounding,
			clip: changed(c, func(p r3.Vec) r3.Vec { return r3.Add(p, r3.Vec{X: -11.9, Z: 3.2}) })},
		{name: "turned, the direction not declared", scale: 1, within: rounding, but: directed, onlyBut: true,
			clip: changed(c, func(p r3.Vec) r3.Vec { return spatial.TurnAbout(p, 0.6) })},
		{name: "turned, the direction declared", scale: 1, within: rounding,
			clip: changed(changed(c, func(p r3.Vec) r3.Vec { return spatial.TurnAbout(p, 2.1) }),
				func(p r3.Vec) r3.Vec { return spatial.TurnAbout(p, -2.1) })},
		{name: "in millimetres and back", scale: 1, within: rounding,
			clip: changed(changed(c, func(p r3.Vec) r3.Vec { return r3.Scale(1000, p) }),
				func(p r3.Vec) r3.Vec { return r3.Scale(0.001, p) })},
		{name: "in a mirror", scale: 1, within: rounding, clip: leftHanded(c)},
		{name: "later in a recording", scale: 1, within: rounding, clip: later(c, 4321)},
		{name: "as a child", scale: 0.75, within: rounding, clip: scaledBy(c, 0.75),
			but: []string{"heel_lift"}}, // which goes by 3 cm
		{name: "at 50 Hz", scale: 1, within: coarse, clip: b.clip(50)},
		{name: "at 100 Hz", scale: 1, within: filtered, clip: b.clip(100)},
		{name: "at 250 Hz", scale: 1, within: filtered, clip: b.clip(250)},
		{name: "at 500 Hz", scale: 1, within: filtered, clip: b.clip(500)},
		{name: "at 1000 Hz", scale: 1, within: filtered, clip: b.clip(1000)},
	} {
		t.Run(change.name, func(t *testing.T) {
			whole := Compute(c, All()...)
			for k, v := range Compute(change.clip, All()...) {
				m := All()[k]
				want := whole[k].Number
				if m.Unit == "m" || m.Unit == "m/s" {
					want *= change.scale
				}
				moved := math.Abs(v.Number - want)
				same := moved <= change.within[m.Unit] && v.BasisText() == whole[k].BasisText()
				if slices.Contains(change.but, m.ID) {
					if change.onlyBut && same {
						t.Errorf("%s does not change", m.ID)
					}
				} else if !same {
					t.Errorf("%s = %g from %s (%s), want %g from %s", m.ID, v.Number, v.BasisText(), v.Missing, want,
						whole[k].BasisText())
				}
			}
		})
	}
}

// How far values may move: by the rounding of coordinates to single precision, and by filtering at another rate. Peaks
// of speed and their times are what filtering moves most.
var (
	rounding = map[string]float64{"m": 1e-5, "deg": 2e-3, "s": 1e-4, "%": 1e-3, "m/s": 1e-3, "deg/s": 0.3, "": 0}
	filtered = map[string]float64{"m": 0.003, "deg": 0.4, "s": 0.012, "%": 0.2, "m/s": 0.35, "deg/s": 40, "": 0}
	coarse   = map[string]float64{"m": 0.01, "deg": 2, "s": 0.03, "%": 0.6, "m/s": 1, "deg/s": 150, "": 0}
)

// later is a clip that starts at another frame of its recording.
func later(c Clip, frames int) Clip {
	c.First += frames
	c.Events = maps.Clone(c.Events)
	for kind, e := range c.Events {
		e.TimeS += float64(frames) / c.Rate
		c.Events[kind] = e
	}
	return c
}

func scaledBy(c Clip, by float64) Clip {
	c = changed(c, func(p r3.Vec) r3.Vec { return r3.Scale(by, p) })
	c.HeightM *= by
	return c
}
