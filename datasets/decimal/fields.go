package decimal

import (
	"encoding/binary"
)

// Around is how many bytes must lie behind a text, whatever they are, for Separators and Fields32.
const Around = 64

// Separators appends to ends the indices of all delimiters and newlines of text, which must have less than 2 GB.
func Separators(text []byte, delimiter byte, ends []int32) []int32 {
	if vectors {
		return vectorSeparators(text, delimiter, ends)
	}
	const ones, high = 0x0101010101010101, 0x8080808080808080
	all := text[:len(text)+8]
	for i := 0; i < len(text); i += 8 {
		word := binary.LittleEndian.Uint64(all[i:])
		x, y := word^ones*uint64(delimiter), word^ones*'\n'
		// A byte that is zero in x or y is not marked by its high bit.
		others := (x&^high + ^uint64(high) | x) & (y&^high + ^uint64(high) | y) & high
		for marks := others ^ high; marks != 0; marks &= marks - 1 {
			if at := i + int(below(marks&-marks)>>3); at < len(text) {
				ends = append(ends, int32(at))
			}
		}
	}
	return ends
}

// Run is how the numbers of a table follow one another: Length fields that are neighbours, and Skip fields before the
// next ones.
type Run struct{ Length, Skip int }

// Fields32 reads the numbers of fields of b until out is full, and rounds each to float32 once. The first is between
// the bytes at fronts[0] and ends[0], and all others in turn. The first done numbers are there already. It gives how
// many there are then.
//
// It reads what nearly all numbers of data files are: 12 or -12.345, with up to eight digits in front of a point and up
// to 24 behind it. It stops at anything else: a number of another form, a missing value, a word.
func Fields32(b []byte, fronts, ends []int32, run Run, out []float32, done int) int {
	const before = 8 // bytes that are looked at in front of a point
	n := done
	for n < len(out) {
		at := run.Place(n)
		if vectors && len(out)-n >= 4 && fronts[at] >= before {
			n += vectorFields(b, fronts[at:], ends[at:], run.Length-n%run.Length, run, out[n:])
		}
		// A few by themselves: the first, the last, and those among which one is of another form.
		for stop := min(n+4, len(out)); n < stop; n++ {
			at := run.Place(n)
			start, end := int(fronts[at])+1, int(ends[at])
			v, next := plain32(b, start)
			if next != end || start == end {
				return n
			}
			out[n] = v
		}
	}
	return n
}

// Place is the index of number n among the fields.
func (r Run) Place(n int) int { return n/r.Length*(r.Length+r.Skip) + n%r.Length }
