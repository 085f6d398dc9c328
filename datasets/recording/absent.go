package recording

import (
	"math"
	"strconv"

	"tossline/kernel/words"
)

// Many systems write a number for a place that they don't know: 0, 0, 0, or -9999 three times. Such a place shows by
// having the same number in all axes, which no other place has but by chance, and by being away from those before and
// after it: near zero a little will do, any other number must lie where nobody could have gone.
const (
	awayFromZero = 0.005 // of the size of the body
	awayFromBody = 3.0
)

// absent makes such places missing.
func (in *interpreter) absent() {
	if in.raw.Settled || !in.raw.Alike {
		return
	}
	n := len(in.raw.Points)
	counts := make([]int, n) // frames by point
	for row := range in.raw.Frames() {
		for i, v := 0, in.raw.XYZ[3*n*row:][:3*n]; len(v) > 0; i, v = i+1, v[3:] {
			if in.alike(v) {
				counts[i]++
			}
		}
	}
	notes := limited{in: in, severity: Warn, kind: "points with numbers for missing places"}
	for i, frames := range counts {
		if frames == 0 || frames == in.raw.Frames() {
			continue
		}
		if number, lost := in.absentOf(i); lost > 0 {
			notes.add(in.raw.Points[i], "is at %[1]s, %[1]s, %[1]s in %[2]s, away from where it is before and after: missing "+
				"there", strconv.FormatFloat(float64(number)+0, 'g', -1, 32), words.Count(lost, "frame"))
		}
	}
	notes.end()
}

// alike reports whether a place has the same number in all axes.
func (in *interpreter) alike(v []float32) bool {
	return v[0] == v[1] && (v[1] == v[2] || in.raw.Planar && v[0] == 0)
}

// sizeOfOthers is points.extent without such places.
func (in *interpreter) sizeOfOthers() float64 {
	var sizes []float64
	for _, row := range in.points.frames(200) {
		box := newBox()
		for v := in.raw.XYZ[3*len(in.raw.Points)*row:][:3*len(in.raw.Points)]; len(v) > 0; v = v[3:] {
			if !in.alike(v) {
				box.add(vector{float64(v[0]), float64(v[1]), float64(v[2])})
			}
		}
		if size := box.side(); size > 0 {
			sizes = append(sizes, size)
		}
	}
	if len(sizes) == 0 {
		return 0
	}
	return median(sizes)
}

// absentOf makes the places of one point missing that are such a number, and gives it and how many they are.
func (in *interpreter) absentOf(point int) (number float32, lost int) {
	size := in.sizeOfOthers()
	place := func(row int) []float32 { return in.raw.XYZ[3*(len(in.raw.Points)*row+point):][:3] }
	last := -1 // frame with a place of its own
	away := func(row, from int) bool {
		v, u := place(row), place(from)
		limit := awayFromBody
		if v[0] == 0 {
			limit = awayFromZero
		}
		d := vector{float64(v[0] - u[0]), float64(v[1] - u[1]), float64(v[2] - u[2])}
		return d.length() > limit*size
	}
	nan := float32(math.NaN())
	frames := in.raw.Frames()
	for row := 0; row < frames; row++ {
		v := place(row)
		if !in.alike(v) {
			if v[0] == v[0] {
				last = row
			}
			continue
		}
		end := row + 1
		for end < frames && (place(end)[0] == v[0] && in.alike(place(end)) || place(end)[0] != place(end)[0]) {
			end++
		}
		if last >= 0 && away(row, last) || end < frames && away(row, end) {
			number = v[0]
			for ; row < end; row++ {
				if u := place(row); u[0] == u[0] {
					u[0], u[1], u[2] = nan, nan, nan
					lost++
				}
			}
		}
		row = end - 1
	}
	return number, lost
}
