package host

import "fmt"

// outside is what was wrong with the index or the bounds that were last found to be out of range: the access that
// follows panics with it.
var outside string

// At gives an index as it is, and keeps what a panic has to say of it.
func At(i int64, n int) int {
	switch {
	case i < 0:
		outside = fmt.Sprintf("index out of range [%d]", i)
	case i >= int64(n):
		outside = fmt.Sprintf("index out of range [%d] with length %d", i, n)
	}
	return int(i)
}

// AtUnsigned is At for the numbers without a sign. What is too large for an int is out of range as -1 is.
func AtUnsigned(i uint64, n int) int {
	if i < uint64(n) {
		return int(i)
	}
	outside = fmt.Sprintf("index out of range [%d] with length %d", i, n)
	return -1
}

// Between gives the low bound of a slice expression, and keeps what a panic has to say of its bounds: each with whether
// it is there. The limit is the capacity of a slice, the length of all else and where no high bound is given.
func Between(hasLow bool, low int, hasHigh bool, high int, hasMost bool, most, limit int, slice bool) int {
	of := "length"
	if slice {
		of = "capacity"
	}
	if !hasLow {
		low = 0
	}
	if !hasHigh {
		high = limit
	}
	switch {
	case hasMost && most < 0:
		outside = fmt.Sprintf("slice bounds out of range [::%d]", most)
	case hasMost && most > limit:
		outside = fmt.Sprintf("slice bounds out of range [::%d] with %s %d", most, of, limit)
	case hasMost && high < 0:
		outside = fmt.Sprintf("slice bounds out of range [:%d:]", high)
	case hasMost && high > most:
		outside = fmt.Sprintf("slice bounds out of range [:%d:%d]", high, most)
	case hasMost && low < 0:
		outside = fmt.Sprintf("slice bounds out of range [%d::]", low)
	case hasMost && low > high:
		outside = fmt.Sprintf("slice bounds out of range [%d:%d:]", low, high)
	case high < 0:
		outside = fmt.Sprintf("slice bounds out of range [:%d]", high)
	case high > limit && !hasMost:
		outside = fmt.Sprintf("slice bounds out of range [:%d] with %s %d", high, of, limit)
	case low < 0:
		outside = fmt.Sprintf("slice bounds out of range [%d:]", low)
	case low > high:
		outside = fmt.Sprintf("slice bounds out of range [%d:%d]", low, high)
	}
	return low
}

// told gives what was kept of the panic that has come, or what the interpreter says of it.
func told(otherwise string) failure {
	text := otherwise
	if outside != "" {
		text, outside = outside, ""
	}
	return failure(text)
}
