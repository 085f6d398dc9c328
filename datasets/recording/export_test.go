package recording

// CutTake and HeadingOf are for tests that need the demo season, which imports this package.
var (
	CutTake   = cutTake
	HeadingOf = headingOf
)

// ShortPieces makes pieces as short as they can be, until the function that it gives is called.
func ShortPieces() func() {
	before := longPiece
	longPiece = 0
	return func() { longPiece = before }
}
