package signal

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// Residual analysis looks at cutoffs of these steps, from the first up.
const (
	residualStepHz = 1.0
	// The straight part of the residual curve, as parts of half the rate: there the signal has gone and the filter
	// takes away noise alone.
	straightFrom, straightTo = 0.5, 0.9
)

// ResidualCutoff chooses the cutoff for a series by residual analysis (Winter, Biomechanics and Motor Control of Human
// Movement): the root mean square of what the filter takes away, drawn against the cutoff, becomes straight where only
// noise is taken away; that line's height at 0 Hz estimates the noise, and the cutoff is where the curve comes down to
// it. Zero-phase filters of DualPass are used, so the cutoff is that of both passes. The result lies between 1 Hz and
// 0.45 of the rate; a series too short to tell, or with missing samples, gives NaN.
func ResidualCutoff(x []float64, rateHz float64) float64 {
	if len(x) < 4*Pad || stretchEnd(x, 0) < len(x) {
		return math.NaN()
	}
	var cutoffs, residuals, room []float64
	filtered := make([]float64, len(x))
	for hz := residualStepHz; hz < straightTo*rateHz/2; hz += residualStepHz {
		room = DualPass(hz, rateHz).zeroPhase(filtered, x, room)
		cutoffs = append(cutoffs, hz)
		residuals = append(residuals, rootMeanSquare(x, filtered))
	}
	from := 0
	for from < len(cutoffs) && cutoffs[from] < straightFrom*rateHz/2 {
		from++
	}
	if len(cutoffs)-from < 2 {
		return math.NaN()
	}
	noise, _ := stat.LinearRegression(cutoffs[from:], residuals[from:], nil, false)
	for k, r := range residuals {
		if r <= noise {
			if k == 0 {
				return cutoffs[0]
			}
			part := (residuals[k-1] - noise) / (residuals[k-1] - r)
			return cutoffs[k-1] + part*residualStepHz
		}
	}
	return cutoffs[len(cutoffs)-1]
}

// rootMeanSquare is that of what the filter took away from x.
func rootMeanSquare(x, filtered []float64) float64 {
	sum := 0.0
	for i, v := range x {
		sum += (v - filtered[i]) * (v - filtered[i])
	}
	return math.Sqrt(sum / float64(len(x)))
}
