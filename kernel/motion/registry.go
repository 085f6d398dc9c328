package motion

import (
	"fmt"
)

// rule says how a measure is computed: what the evaluation must have at hand, and the formula.
type rule struct {
	from, to EventKind // the stretch of the serve that the formula looks at
	points   []point   // what it always reads
	oneOf    [][]point // what it reads besides: the first of these sets of which the recording has every point
	eval     func(v *view) Value
}

type entry struct {
	Measure
	rule
}

var byID = map[string]*entry{}

// methods is the version of what all measures share: filling, filtering, interpolation. It is raised whenever that
// changes, and with it the version of every measure.
const methods = 2

// register adds a measure to the registry while the package is initialised.
func register(m Measure, r rule) Measure {
	facts, known := shown[m.ID]
	if byID[m.ID] != nil || !known || m.Version < 1 || r.eval == nil {
		panic(fmt.Sprintf("motion: measure %q is registered twice, or without version, rule or what is shown of it",
			m.ID))
	}
	m.Version, m.Noise, m.Camera = m.Version+methods, facts.noise, facts.camera
	byID[m.ID] = &entry{Measure: m, rule: r}
	return m
}

// Chapter is a part of the measures' table.
type Chapter struct {
	Title    string
	Measures []Measure
}

// chapters gives the order in which measures are listed.
var chapters = []struct {
	title string
	ids   []string
}{
	{"Legs", []string{"front_knee_flexion", "back_knee_flexion", "front_knee_extension_speed",
		"back_knee_extension_speed"}},
	{"Racket drop and contact", []string{"drop_depth", "drop_depth_of_height", "contact_offset",
		"contact_offset_of_height",
		"contact_forward", "contact_forward_of_height", "contact_height", "contact_height_of_height", "body_line"}},
	{"Hitting arm", []string{"long_axis_speed", "external_rotation", "hitting_elbow_elevation_trophy",
		"hitting_elbow_elevation_contact", "hitting_elbow_height_trophy", "hitting_elbow_height_contact",
		"elbow_flexion_trophy",
		"elbow_flexion_low_point", "elbow_flexion_contact", "wrist_trophy", "wrist_low_point", "wrist_contact"}},
	{"Trunk", []string{"shoulder_tilt_trophy", "shoulder_tilt_contact", "pelvis_tilt_trophy", "pelvis_tilt_contact",
		"separation",
		"separation_trophy", "trunk_inclination_trophy", "trunk_inclination_contact", "trunk_forward_trophy",
		"trunk_forward_contact", "trunk_sideways_trophy", "trunk_sideways_contact"}},
	{"Racket and hand", []string{"racket_speed", "hand_speed", "face_on_edge", "path_direction"}},
	{"Toss", []string{"toss_arm_elevation", "toss_elbow_flexion", "toss_apex", "toss_apex_lateral", "toss_apex_forward",
		"toss_contact_lateral", "toss_contact_forward", "toss_time", "tossing_hand_tuck"}},
	{"Feet and jump", []string{"jump_height", "flight_time", "drift_contact", "drift_landing", "stance_start",
		"stance_trophy",
		"stance", "heel_lift"}},
	{"Tempo and sequence", []string{"tempo_release_trophy", "tempo_trophy_low_point", "tempo_low_point_contact",
		"sequence_knee",
		"sequence_pelvis", "sequence_trunk", "sequence_elbow", "sequence_long_axis", "sequence_racket",
		"sequence_order"}},
}

// Chapters lists every registered measure, by the part of the body or of the serve that it is about.
func Chapters() []Chapter {
	all := make([]Chapter, len(chapters))
	for i, c := range chapters {
		all[i].Title = c.title
		for _, id := range c.ids {
			all[i].Measures = append(all[i].Measures, byID[id].Measure)
		}
	}
	return all
}

// All lists every registered measure, in the order of Chapters.
func All() []Measure {
	var all []Measure
	for _, c := range Chapters() {
		all = append(all, c.Measures...)
	}
	return all
}

// Lookup finds a measure by its ID.
func Lookup(id string) (Measure, bool) {
	e, ok := byID[id]
	if !ok {
		return Measure{}, false
	}
	return e.Measure, true
}

// Compute gives the measures of one serve, in the order asked. A measure that is not registered is missing with a
// reason, as any other that cannot be computed. For many serves, Season.Measure is faster.
func Compute(clip Clip, ms ...Measure) []Value {
	values := make([]Value, len(ms))
	newEvaluator(ms).run(&clip, values)
	return values
}
