// Package decimal reads decimal numbers from bytes: the same values as strconv.ParseFloat, several times faster.
//
// The numbers are those of data files: an optional sign, digits with at most one decimal mark, an optional exponent.
// Words such as nan and inf, hexadecimal and underscores are not numbers here: what they mean is the caller's affair.
package decimal

import "strconv"

// pow10 holds the powers of ten that a float64 represents exactly.
var pow10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// Scan reads the number at the start of b. It gives the value and the number of bytes that it took; 0 bytes means
// that b does not start with a number. Values beyond the range of float64 become infinite, as in strconv.
func Scan(b []byte) (float64, int) {
	n := scanParts(b)
	if n.length == 0 {
		return 0, 0
	}
	if n.exact && n.mantissa < 1<<53 && -22 <= n.exp && n.exp <= 22 {
		// Both factors are exact, so one rounding is all there is (Clinger 1990).
		v := float64(n.mantissa)
		if n.exp < 0 {
			v /= pow10[-n.exp]
		} else {
			v *= pow10[n.exp]
		}
		if n.negative {
			v = -v
		}
		return v, n.length
	}
	v, _ := strconv.ParseFloat(string(b[:n.length]), 64)
	return v, n.length
}

// parts is a number taken to pieces: mantissa * 10^exp. exact is false when digits had to be dropped.
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
	digits, seen, point := 0, 0, -1
	for ; i < len(b); i++ {
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
		digits++
		if digits <= 19 {
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
