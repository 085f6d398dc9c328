package motion

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
