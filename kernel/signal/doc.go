// Package signal smooths, fills, differentiates and resamples uniformly sampled series.
//
// # Conventions
//
// A series is a []float64 at a uniform rate in hertz; NaN is a missing sample. Times are in samples unless a name
// ends in S (seconds). Functions do not change their arguments unless the name or the first sentence says so; a
// destination comes first in functions whose name ends in To, must have the length of the source, and may be the
// source itself where that is said.
//
// # Filtering
//
// Lowpass is a second-order Butterworth low-pass; run forward and backward (ZeroPhaseTo) it has no phase lag and is
// of fourth order in effect. DualPass designs it so that the gain of both passes together is 1/sqrt(2) at the cutoff.
// Both ends are extended by Pad samples, reflected through the end point (odd extension), and each pass starts in the
// steady state of its first sample: the rule of scipy.signal.filtfilt at its defaults.
//
// Block does the same to many channels in step, which is where the time goes when a season is measured: channels are
// lanes of vector registers, so that the recursion's latency is paid once for all of them. The kernels for AVX2 are
// written by the generator in generate and chosen at run time; they do the same operations in the same order as the
// scalar code beside them, and give the same numbers to the last bit.
//
// A mistake of the caller (a cutoff at or above half the rate, slices of different length) panics; data never does.
package signal
