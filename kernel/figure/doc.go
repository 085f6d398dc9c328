// Package figure draws single serves as stick figures, with the lines that a measure is defined by: the plane through
// the hitting shoulder, the depth of the drop, the angle of a knee.
//
//	Contact  from behind at contact, with the contact offset
//	Drop     from the hitting side where the racket hangs lowest, with the drop depth
//	Knees    from the hitting side where the front knee is most bent, with its flexion
//	At       any event, from any side, without measures
//
// Each takes the serve to look at first, then those to compare it with; they are drawn side by side to one scale. The
// numbers are those of the measures in tables. Left-handers are mirrored, and the figure says so.
package figure
