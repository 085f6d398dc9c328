package recording

// HeadingOf is for a test that needs the demo season, which imports this package.
var HeadingOf = headingOf

// ShortPieces makes pieces as short as they can be, until the function that it gives is called.
func ShortPieces() func() {
	before := longPiece
	longPiece = 0
	return func() { longPiece = before }
}
