// Package decimal reads decimal numbers from bytes: the same values as strconv.ParseFloat, several times faster.
//
// The numbers are those of data files: an optional sign, digits with at most one decimal point, an optional exponent.
// Words such as nan and inf, hexadecimal and underscores are not numbers here: what they mean is the caller's affair.
//
// # How
//
// Digits are found and converted eight at a time within a 64-bit word (SWAR). A mantissa below 2^53 and a power of
// ten up to 22 are exact as float64, so that one division or multiplication rounds once (Clinger, "How to read
// floating point numbers accurately", PLDI 1990). Longer mantissas go through a 128-bit product with the power of ten
// (Lemire, "Number parsing at a gigabyte per second", Software: Practice and Experience 51, 2021). What neither can
// decide is left to strconv.
//
// Whole tables go faster: Separators finds where all fields of a text end, and Fields32 reads four of them at a time,
// by vector kernels where the processor has them.
package decimal

import (
	"encoding/binary"
	"math"
	"strconv"
)

// pow10 holds the powers of ten that a float64 represents exactly.
var pow10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// Scan reads the number at the start of b. It gives the value and the number of bytes that it took; 0 bytes means
// that b does not start with a number. Values beyond the range of float64 become infinite, as in strconv.
func Scan(b []byte) (float64, int) {
	if v, n := short(b); n > 0 {
		return v, n
	}
	p := scanParts(b)
	if p.length == 0 {
		return 0, 0
	}
	if v, ok := p.float64(); ok {
		return v, p.length
	}
	v, _ := strconv.ParseFloat(string(b[:p.length]), 64)
	return v, p.length
}

// short is Scan for a number that ends, sign and all, within eight bytes, and has no exponent; 0 bytes for others.
func short(b []byte) (float64, int) {
	if len(b) < 10 {
		return 0, 0
	}
	minus := 0
	if b[0] == '-' {
		minus = 1
	}
	word := binary.LittleEndian.Uint64(b[minus:])
	others := notDigits(word)
	first := others & -others
	if others == 0 || first == 0x80 {
		return 0, 0
	}
	n, after := below(first), uint(0) // bits of the number, and digits behind its point
	if b[minus+int(n>>3)] == '.' {
		rest := others ^ first
		if rest == 0 {
			return 0, 0
		}
		n = below(rest & -rest)
		after = (n-below(first))>>3 - 1
		word = closed(word, first) << 8
	}
	end := minus + int(n>>3)
	if b[end]|0x20 == 'e' {
		return 0, 0
	}
	v := float64(digits8(word<<((71-n)&63))) / pow10[after]
	if minus > 0 {
		v = -v
	}
	return v, end
}

// halfway reports whether v lies exactly between two float32 values of the normal range. Only there does rounding to
// float64 first and then to float32 go wrong.
func halfway(v float64) bool { return math.Float64bits(v)&(1<<29-1) == 1<<28 }

// Scan32 reads the number that starts at b[i] and gives its float32, rounded once, and the index after it, which is
// i when there is no number.
func Scan32(b []byte, i int) (float32, int) {
	if i >= len(b) {
		return 0, i
	}
	p := scanParts(b[i:])
	end := i + p.length
	if p.length == 0 {
		return 0, i
	}
	v, ok := p.float64()
	magnitude := math.Abs(v)
	if ok && (v == 0 || magnitude >= 0x1p-126 && magnitude < math.MaxFloat32) && !halfway(v) {
		return float32(v), end
	}
	f, _ := strconv.ParseFloat(string(b[i:end]), 32)
	return float32(f), end
}

// notDigits marks the bytes of word, first byte lowest, that are no digits by their high bits. Bytes beyond the first
// that is not ASCII may be marked wrongly.
func notDigits(word uint64) uint64 {
	x := word ^ 0x3030303030303030
	// A byte of x is a digit's value when it is below 10; adding 0x76 sets the high bit of those that are not. Only
	// bytes that are not ASCII carry over, upwards.
	return (x + 0x7676767676767676 | x) & 0x8080808080808080
}

// digits8 is the number that the eight bytes of word spell, where bytes of zero count as the digit 0.
func digits8(word uint64) uint64 {
	v := word & 0x0f0f0f0f0f0f0f0f
	v = (v*10 + v>>8) & 0x00ff00ff00ff00ff
	v = (v*100 + v>>16) & 0x0000ffff0000ffff
	return (v*10000 + v>>32) & 0xffffffff
}

// parts is a number taken to pieces: mantissa * 10^exp. exact is false when digits that count were dropped.
type parts struct {
	mantissa uint64
	exp      int
	negative bool
	exact    bool
	length   int
}

func scanParts(b []byte) parts {
	p := parts{exact: true}
	i := 0
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		p.negative = b[i] == '-'
		i++
	}
	count, seen, point := 0, 0, -1
	for ; i < len(b); i++ {
		if count > 0 && count <= 11 && i+8 <= len(b) {
			if word := binary.LittleEndian.Uint64(b[i:]); notDigits(word) == 0 {
				p.mantissa = p.mantissa*1e8 + digits8(word)
				count, seen, i = count+8, seen+8, i+7
				continue
			}
		}
		c := b[i]
		if c == '.' && point < 0 {
			point = seen
			continue
		}
		d := c - '0'
		if d > 9 {
			break
		}
		seen++
		if p.mantissa == 0 && d == 0 {
			continue
		}
		count++
		if count <= 19 {
			p.mantissa = p.mantissa*10 + uint64(d)
		} else {
			p.exp++
			p.exact = p.exact && d == 0
		}
	}
	if seen == 0 {
		return parts{}
	}
	if point >= 0 {
		p.exp -= seen - point
	}
	e, used := scanExponent(b[i:])
	p.exp += e
	p.length = i + used
	return p
}

// float64 gives the value where it can be decided here.
func (p *parts) float64() (float64, bool) {
	if !p.exact {
		return 0, false
	}
	v, ok := 0.0, true
	switch {
	case p.mantissa == 0:
	case p.mantissa < 1<<53 && -22 <= p.exp && p.exp < 0:
		v = float64(p.mantissa) / pow10[-p.exp]
	case p.mantissa < 1<<53 && 0 <= p.exp && p.exp <= 22:
		v = float64(p.mantissa) * pow10[p.exp]
	default:
		v, ok = product(p.mantissa, p.exp)
	}
	if p.negative {
		v = -v
	}
	return v, ok
}

// scanExponent reads "e-5". An e without digits is not part of the number.
func scanExponent(b []byte) (exp, used int) {
	if len(b) == 0 || b[0]|0x20 != 'e' {
		return 0, 0
	}
	i, sign := 1, 1
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		if b[i] == '-' {
			sign = -1
		}
		i++
	}
	first := i
	for ; i < len(b) && b[i]-'0' <= 9; i++ {
		if exp < 10000 {
			exp = exp*10 + int(b[i]-'0')
		}
	}
	if i == first {
		return 0, 0
	}
	return sign * exp, i
}
