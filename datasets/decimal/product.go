package decimal

import (
	"math"
	"math/big"
	"math/bits"
)

// Powers of ten from 10^-powerRange to 10^powerRange as 128 leading bits, truncated. Data files need no more; the
// rest goes to strconv.
const powerRange = 60

// power is 10^e = (hi, lo) * 2^(exponent), with the top bit of hi set.
type power struct {
	hi, lo   uint64
	exponent int
}

var powers = buildPowers()

func buildPowers() (out [2*powerRange + 1]power) {
	ten := big.NewInt(10)
	for e := -powerRange; e <= powerRange; e++ {
		scale := new(big.Int).Exp(ten, big.NewInt(int64(max(e, -e))), nil)
		shift := 0
		if e < 0 {
			// 2^n / 10^-e, with n so large that more than 128 bits remain.
			shift = -(scale.BitLen() + 130)
			scale.Quo(new(big.Int).Lsh(big.NewInt(1), uint(-shift)), scale)
		}
		excess := scale.BitLen() - 128
		if excess >= 0 {
			scale.Rsh(scale, uint(excess))
		} else {
			scale.Lsh(scale, uint(-excess))
		}
		lo := new(big.Int).And(scale, new(big.Int).SetUint64(math.MaxUint64)).Uint64()
		hi := new(big.Int).Rsh(scale, 64).Uint64()
		out[e+powerRange] = power{hi, lo, shift + excess}
	}
	return out
}

// product is mantissa * 10^exp rounded to nearest even, for a mantissa that is not 0. It reports false where the 128
// bits of the power do not suffice to decide, and outside the table and the normal range.
//
// The power is truncated, so the true product lies between the one computed here and one that is larger by less than
// one unit of its last bit times the mantissa. Where both round to the same float64, that is the answer.
func product(mantissa uint64, exp int) (float64, bool) {
	if exp < -powerRange || exp > powerRange {
		return 0, false
	}
	p := &powers[exp+powerRange]
	lead := bits.LeadingZeros64(mantissa)
	m := mantissa << uint(lead)
	// 192-bit product (a, b, c) of m and (hi, lo).
	a, b := bits.Mul64(m, p.hi)
	b2, c := bits.Mul64(m, p.lo)
	b, carry := bits.Add64(b, b2, 0)
	a += carry
	// The error is below m units of c, that is below one unit of b: the truncated part of the power is < 1.
	_ = c
	if b >= math.MaxUint64-1 {
		return 0, false
	}
	exponent := p.exponent + 128 - lead // of a's lowest bit
	if a>>63 == 0 {
		a = a<<1 | b>>63
		b <<= 1
		exponent--
	}
	// a has 64 bits; the float64 takes the top 53.
	fraction := a & (1<<11 - 1)
	if fraction == 1<<10 && b <= 1 || fraction == 1<<10-1 && b >= math.MaxUint64-3 {
		return 0, false // too near to the middle
	}
	top := a >> 11
	if fraction >= 1<<10 {
		top++
	}
	exponent += 11
	if exponent < -1022 || exponent > 900 {
		return 0, false
	}
	return math.Ldexp(float64(top), exponent), true
}
