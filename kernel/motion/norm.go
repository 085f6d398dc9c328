package motion

import "math"

// Norm is a published mean of a quantity that this package measures too, or nearly so.
type Norm struct {
	Measure  string  // ID of the measure that it may stand beside
	Mean, SD float64 // in the measure's unit; SD is NaN where the source, as far as it was read, gives none
	Quantity string  // what the source measured
	Sample   string  // who, how many, of which level
	Capture  string  // how they were recorded
	Differs  string  // how the source's definition differs from the measure's; "" where they match
	Source   string  // authors, year, journal
	Read     string  // how much of the source these numbers were read in
}

// NormCaution must stand wherever a norm is shown.
const NormCaution = "Adult means are no targets for juniors: leg drive and shoulder-over-shoulder rotation mature " +
	"late (Whiteside et al. 2013, J Appl Biomech 29:573)."

// NormsFor lists the norms whose definition matches the measure's: those that may be shown as a band.
func NormsFor(m Measure) []Norm {
	var matching []Norm
	for _, n := range norms {
		if n.Measure == m.ID && n.Differs == "" {
			matching = append(matching, n)
		}
	}
	return matching
}

// Norms lists all norms, those whose definition differs too.
func Norms() []Norm { return append([]Norm(nil), norms...) }

const (
	review        = "Jacquier-Bret & Gorce 2024, Front Sports Act Living, doi 10.3389/fspor.2024.1432030"
	reviewSample  = "tennis players of 27 articles, reviewed and pooled"
	reviewCapture = "as in the articles pooled; angles of different methods were made alike first"
	olympic       = "Fleisig et al. 2003, Sports Biomech 2(1):51-64"
	olympicSample = "20 players in Olympic singles competition, 2000"
	olympicFilm   = "two synchronised cameras at 200 Hz, 20 digitised landmarks"
	abstractOnly  = "abstract only"
)

var norms = []Norm{
	{
		Measure: "trunk_inclination_trophy", Mean: 25.0, SD: 7.1, Quantity: "trunk inclination in the trophy position",
		Sample: reviewSample, Capture: reviewCapture, Source: review, Read: abstractOnly,
	},
	{
		Measure: "front_knee_flexion", Mean: 64.5, SD: 9.7, Quantity: "front knee flexion in the trophy position",
		Differs: "the knee in the trophy position, not the largest flexion from release to contact",
		Sample:  reviewSample, Capture: reviewCapture, Source: review, Read: abstractOnly,
	},
	{
		Measure: "hitting_elbow_elevation_contact", Mean: 110.7, SD: 16.9,
		Quantity: "shoulder elevation at ball impact",
		Sample:   reviewSample, Capture: reviewCapture, Source: review, Read: abstractOnly,
	},
	{
		Measure: "elbow_flexion_contact", Mean: 30.1, SD: 15.9, Quantity: "elbow flexion at ball impact",
		Sample: reviewSample, Capture: reviewCapture, Source: review, Read: abstractOnly,
	},
	{
		Measure: "external_rotation", Mean: 130.1, SD: 26.5,
		Quantity: "shoulder lateral rotation at the racket's low point",
		Differs:  "the rotation at the racket's low point, not the largest",
		Sample:   reviewSample, Capture: reviewCapture, Source: review, Read: abstractOnly,
	},
	{
		Measure: "external_rotation", Mean: 172, SD: math.NaN(), Quantity: "maximum shoulder external rotation",
		Differs: "the zero of the rotation is not in the part that was read",
		Sample:  olympicSample, Capture: olympicFilm, Source: olympic, Read: abstractOnly,
	},
	{
		Measure: "hitting_elbow_elevation_contact", Mean: 101, SD: math.NaN(), Quantity: "arm abduction at impact",
		Differs: "the convention of abduction is not in the part that was read",
		Sample:  olympicSample, Capture: olympicFilm, Source: olympic, Read: abstractOnly,
	},
	{
		Measure: "long_axis_speed", Mean: 2420, SD: math.NaN(),
		Quantity: "peak shoulder internal rotation velocity, men",
		Differs:  "of the upper arm alone, not of the racket about it",
		Sample:   olympicSample, Capture: olympicFilm, Source: olympic, Read: abstractOnly,
	},
	{
		Measure: "long_axis_speed", Mean: 1370, SD: math.NaN(),
		Quantity: "peak shoulder internal rotation velocity, women",
		Differs:  "of the upper arm alone, not of the racket about it",
		Sample:   olympicSample, Capture: olympicFilm, Source: olympic, Read: abstractOnly,
	},
	{
		Measure: "sequence_trunk", Mean: 0.058, SD: math.NaN(),
		Quantity: "upper-torso rotation peak before impact, men",
		Differs:  "the axis of the rotation is not in the part that was read; here it is the vertical",
		Sample:   olympicSample, Capture: olympicFilm, Source: olympic, Read: abstractOnly,
	},
	{
		Measure: "sequence_trunk", Mean: 0.075, SD: math.NaN(),
		Quantity: "upper-torso rotation peak before impact, women",
		Differs:  "the axis of the rotation is not in the part that was read; here it is the vertical",
		Sample:   olympicSample, Capture: olympicFilm, Source: olympic, Read: abstractOnly,
	},
}
