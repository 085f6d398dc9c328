// Package motion knows what a serve is: it cuts takes into serves, finds their events and computes their measures.
//
// # Frame of reference
//
// Everything is in the global frame of Wu & Cavanagh (1995), right-handed: X horizontal in the direction of the
// serve, Y up, Z to the server's right. Metres, seconds, hertz. The origin lies on the court's surface, so that y is
// height above the court. Degrees appear only in measures.
//
// # Sides
//
// Frames are stored as recorded. A left-hander is mirrored when a serve is measured (z becomes -z, left and right
// names swap), so that the hitting arm is the right arm for everyone, the front leg the left one, and a positive
// lateral value means outside, away from the head.
//
// # Missing values
//
// A missing coordinate is NaN. A measure that cannot be computed is absent with a reason, never zero; a measure
// computed from a stand-in says so in its Basis.
//
// # Reading on
//
// Take is what comes in, Cut turns it into serves with events, Clip is one serve's frames, Measure is one registered
// measure and Curve one registered course, Season is what recipes see. MEASURES.md is the reference page of all
// measures, written by Reference.
//
// # Speed
//
// A season is measured serve by serve on all cores, each worker with one view of its own. A view gathers the points
// that the rules read straight from the mapped frames into a signal.Block, filters the stretch that they look at and no
// more, and keeps what several measures ask for (frames of segments, flexions, peaks). Nothing is allocated for a serve
// once buffers have grown. Of the time of all measures, some 40 % goes into gathering, filling and filtering, 15 % into
// the sequence of peaks, 13 % into arc tangents; of that of the knees', most goes into gathering and filtering.
// BenchmarkPeer sets it against a script of numpy and scipy.
package motion
