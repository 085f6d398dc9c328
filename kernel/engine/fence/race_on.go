//go:build race

package fence

// The race detector keeps shadow memory far beyond any sensible limit.
const raceDetector = true
