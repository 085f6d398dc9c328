package motion

import (
	"math"

	"tossline/datasets/landmark"
	"tossline/kernel/signal"
)

// Cutoffs of the low-pass filter where a take brings none of its own, in hertz. The trunk and legs of a serve move
// slowly; the hitting arm turns at some 6 Hz and the racket faster, and a filter fit for the hip would take several
// per cent off the racket's speed.
const (
	bodyCutoffHz   = 10
	armCutoffHz    = 15
	racketCutoffHz = 25
)

// highestCutoff is the largest part of the rate that a cutoff may be: nearer to half the rate, the bilinear
// transform's corner is no longer a low-pass worth the name.
const highestCutoff = 0.25

// cutoffHz is the cutoff for a point of a take: the take's own where it has one, else by how fast the point moves.
func cutoffHz(t *Take, place int, p point) float64 {
	if place < len(t.Cutoffs) && t.Cutoffs[place] > 0 {
		return min(t.Cutoffs[place], 0.45*t.Rate)
	}
	hz := float64(bodyCutoffHz)
	switch p.group() {
	case armGroup:
		hz = armCutoffHz
	case racketGroup:
		hz = racketCutoffHz
	}
	return min(hz, highestCutoff*t.Rate)
}

// slowestCutoffHz is the lowest cutoff of a take's points.
func slowestCutoffHz(t *Take) float64 {
	slowest := min(bodyCutoffHz, highestCutoff*t.Rate)
	for _, hz := range t.Cutoffs {
		if hz > 0 {
			slowest = min(slowest, hz)
		}
	}
	return slowest
}

const (
	// analysedServes is how many serves of a take residual analysis looks at.
	analysedServes = 5
	// beforeReleaseS is how much before release belongs to the stretch that it looks at, which ends at contact:
	// standing about would make every landmark seem slower than it is in a serve.
	beforeReleaseS = 0.2
)

// ChooseCutoffs chooses the cutoff of each landmark of a take by residual analysis (Winter, Biomechanics and Motor
// Control of Human Movement) of its serves, from shortly before release to contact: the median over serves of the
// highest of its three coordinates. A landmark that is never whole in a serve, and the ball, have 0, which leaves the
// choice to the package. nil without a complete serve.
func ChooseCutoffs(t Take, serves []Serve) []float64 {
	found := make([][]float64, t.Layout.Len())
	looked := 0
	for _, s := range serves {
		release, ok := s.Events[Release]
		contact, hit := s.Events[Contact]
		if s.CutOff || !ok || !hit || looked == analysedServes {
			continue
		}
		looked++
		first, last := max(int((release.TimeS-beforeReleaseS)*t.Rate), 0), min(int(contact.TimeS*t.Rate), t.Len()-1)
		for place, name := range t.Layout.Names() {
			if name == landmark.Ball {
				continue
			}
			if hz := (source{&t}).residualCutoff(place, first, last); hz > 0 {
				found[place] = append(found[place], hz)
			}
		}
	}
	if looked == 0 {
		return nil
	}
	cutoffs := make([]float64, len(found))
	for place, all := range found {
		if median := quantileOf(all, 0.5); median > 0 {
			cutoffs[place] = math.Round(10*min(median, highestCutoff*t.Rate)) / 10
		}
	}
	return cutoffs
}

// residualCutoff is the highest cutoff of a landmark's coordinates over a stretch; NaN where it has gaps.
func (s source) residualCutoff(place, first, last int) float64 {
	highest := math.NaN()
	for k := range 3 {
		x := s.stretch(place, k, first, last)
		signal.FillGaps(x, int(longestGapS*s.take.Rate))
		if hz := signal.ResidualCutoff(x, s.take.Rate); !(hz <= highest) {
			highest = hz
		}
	}
	return highest
}
