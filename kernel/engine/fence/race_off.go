//go:build !race

package fence

const raceDetector = false
