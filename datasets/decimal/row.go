package decimal

import (
	"encoding/binary"
	"math"
	"math/bits"
)

// Ahead is how many bytes from the start of a number on Row32 looks at.
const Ahead = 25

// Powers of ten, and below what a mantissa has no more than 18 digits when so many follow.
var (
	power32 = [8]float32{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7}
	whole10 = [8]uint64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7}
	highest = [8]uint64{1e18, 1e17, 1e16, 1e15, 1e14, 1e13, 1e12, 1e11}
)

// Row32 reads numbers that begin at b[i] and stand between delimiters until out is full, and rounds each to float32
// once. It gives how many it has read and the index of what ends the last of them, a delimiter or the end of a line.
//
// It reads what nearly all numbers of data files are: 12 or -12.345, with a point behind one to seven digits and with
// up to 18 digits in all. At anything else it stops, and next is where that begins: a number of another form, a missing
// value, a word, or what begins less than Ahead bytes before the end of b.
func Row32(b []byte, i int, delimiter byte, out []float32) (n, next int) {
	for k := range out {
		v, end := plain32(b, i)
		if end == i {
			return k, i
		}
		if c := b[end]; c != delimiter && (k < len(out)-1 || c != '\n' && c != '\r') {
			return k, i
		}
		out[k] = v
		i = end + 1
	}
	return len(out), i - 1
}

// plain32 reads one number as Row32 does and gives the index after it, i where there is none.
func plain32(b []byte, i int) (float32, int) {
	if len(b)-i < Ahead {
		return 0, i
	}
	// No branch on the sign: it is random, and a wrong guess costs more than the work.
	minus := int((uint32(b[i]^'-') - 1) >> 31)
	start := i + minus
	word := binary.LittleEndian.Uint64(b[start:])
	others := notDigits(word)
	if others == 0 || others&0x80 != 0 {
		return 0, i
	}
	// The first two bytes that are no digits, by their high bits: mostly the point and what ends the number.
	first := others & -others
	rest := others ^ first
	var v float32
	var end int
	if (word^0x2e2e2e2e2e2e2e2e)&(first<<1-first>>7) != 0 { // no point
		n := below(first)
		v = float32(int32(digits8(word << ((71 - n) & 63))))
		end = start + int(n>>3)
	} else if rest != 0 {
		// The number ends within the word: close up the gap that the point leaves and convert all digits at once.
		// Seven digits and the power are exact in 32 bits, so that the quotient is rounded once.
		n := below(rest & -rest)
		m := int32(digits8(closed(word, first) << ((79 - n) & 63)))
		v = float32(m) / power32[((n-below(first))>>3-1)&7]
		end = start + int(n>>3)
	} else {
		var n int
		if v, n = long32(b, start, word, first); n == 0 {
			return 0, i
		}
		end = start + n
	}
	return math.Float32frombits(math.Float32bits(v) | uint32(minus)<<31), end
}

// below is how many bits are below the only one of x.
func below(x uint64) uint { return uint(bits.OnesCount64(x - 1)) }

// closed is word without the byte of which point is the high bit: the digits around a point.
func closed(word, point uint64) uint64 {
	before := point>>7 - 1
	return word&before | word>>8&^before
}

// long32 is plain32 for a number of 9 to 24 bytes without its sign, which starts at b[i]. Its first eight bytes are
// word, and point is the high bit of the byte of its point. It gives 0 bytes for what it does not decide.
func long32(b []byte, i int, word, point uint64) (float32, int) {
	m := digits8(closed(word, point) << 8)
	second := binary.LittleEndian.Uint64(b[i+8:])
	others := notDigits(second)
	length := uint(8)
	if others == 0 {
		m = m*1e8 + digits8(second)
		second = binary.LittleEndian.Uint64(b[i+16:])
		length = 16
		if others = notDigits(second); others == 0 {
			return 0, 0
		}
	}
	more := below(others&-others) >> 3 & 7
	if m >= highest[more] {
		return 0, 0
	}
	m = m*whole10[more] + digits8(second<<1<<(63-8*more))
	length += more
	after := length - below(point)>>3 - 1
	// The mantissa as a float64 and the quotient are each off by half a unit of the last place, so that what is not
	// within four units of the middle between two float32 values is rounded as the exact quotient would be.
	v := float64(int64(m)) / pow10[after]
	if math.Float64bits(v)&(1<<29-1)-(1<<28-4) <= 8 {
		return 0, 0
	}
	return float32(v), int(length)
}
