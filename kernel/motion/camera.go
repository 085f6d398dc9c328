package motion

// seen is what a recording shows of space.
type seen int

const (
	seenWhole      seen = iota
	seenFromBehind      // x is missing throughout: one camera behind the server
	seenFromSide        // z is missing throughout: one camera beside the server
)

// seen looks at the first landmark that is there at all. A recording of one camera has one coordinate missing in
// every landmark and frame.
func (c *Clip) seen() seen {
	for i := 0; i+2 < len(c.Frames); i += 3 {
		x, y, z := c.Frames[i], c.Frames[i+1], c.Frames[i+2]
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
