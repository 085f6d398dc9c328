package motion

import "math"

// seen is what a recording shows of space.
type seen int

const (
	seenWhole      seen = iota
	seenFromBehind      // x is missing throughout: one camera behind the server
	seenFromSide        // z is missing throughout: one camera beside the server
)

// seen looks at the first landmark that is there at all. A recording of one camera has one coordinate missing in
// every landmark and frame.
func (t *Take) seen() seen {
	for i := 0; i+2 < len(t.Frames); i += 3 {
		x, y, z := t.Frames[i], t.Frames[i+1], t.Frames[i+2]
		switch {
		case y != y:
			continue
		case x != x:
			return seenFromBehind
		case z != z:
			return seenFromSide
		}
		return seenWhole
	}
	return seenWhole
}

// inPicture makes the coordinate that a single camera does not see 0, so that places and distances are those of its
// picture. What several cameras saw stays.
func (t *Take) inPicture(xyz [3][]float64) [3][]float64 {
	unseen := map[seen]int{seenFromBehind: 0, seenFromSide: 2}
	k, flat := unseen[t.seen()]
	if !flat {
		return xyz
	}
	for i, y := range xyz[1] {
		if !math.IsNaN(y) {
			xyz[k][i] = 0
		}
	}
	return xyz
}
