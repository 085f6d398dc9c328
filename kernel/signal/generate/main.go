// Command generate writes the vector kernels of package signal for amd64: kernels_amd64.s and its Go side. Run it by go
// generate in the package.
package main

import (
	"fmt"
	"math"

	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// The layout of rows and of a bank, as package signal has them.
const (
	lanes    = 24
	wide     = 4         // lanes of a register
	rowBytes = lanes * 8 // of a row of samples
	part     = 3         // registers that are filtered together: their state fills twelve of the sixteen
	parts    = lanes / (part * wide)
	minusA1  = 0 * rowBytes
	minusA2  = 1 * rowBytes
	overGain = 2 * rowBytes
	gain2    = 3 * rowBytes
)

func main() {
	passes()
	gather()
	angles()
	Generate()
}

// passes runs both passes of twelve lanes over all rows, then of the other twelve. The order of operations is that of
// the scalar code, without fused multiplication and addition, so that the results are the same to the last bit.
func passes() {
	TEXT("passesAVX2", NOSPLIT, "func(rows *float64, count, lanes int, bank *float64)")
	Pragma("noescape")
	Doc("passesAVX2 is passesScalar over count rows, at least one, and at least the given lanes, for processors with AVX2.")
	rows, count, k := Load(Param("rows"), GP64()), Load(Param("count"), GP64()), Load(Param("bank"), GP64())
	used := Load(Param("lanes"), GP64())
	for p := range parts {
		if p > 0 {
			CMPQ(used, Imm(uint64(p*part*wide)))
			JLE(LabelRef("done"))
		}
		at := p * part * wide * 8
		first, n := GP64(), GP64()
		LEAQ(Mem{Base: rows, Disp: at}, first)
		MOVQ(count, n)
		pass(first, n, k, at, rowBytes, false)
		SUBQ(Imm(rowBytes), first)
		MOVQ(count, n)
		pass(first, n, k, at, -rowBytes, true)
	}
	Label("done")
	VZEROUPPER()
	RET()
}

// pass runs over n rows from row on, which it leaves one step past the last one.
func pass(row, n, k Register, at, step int, last bool) {
	var x1, x2, y1, y2 [part]VecVirtual
	for r := range part {
		x1[r], x2[r], y1[r], y2[r] = YMM(), YMM(), YMM(), YMM()
		VMOVUPD(Mem{Base: row, Disp: r * 32}, x1[r])
		VMOVAPD(x1[r], x2[r])
		VMULPD(Mem{Base: k, Disp: overGain + at + r*32}, x1[r], y1[r])
		VMOVAPD(y1[r], y2[r])
	}
	loop := label()
	Label(loop)
	for r := range part {
		x, y, t := YMM(), YMM(), YMM()
		VMOVUPD(Mem{Base: row, Disp: r * 32}, x)
		VADDPD(x2[r], x, y)
		VADDPD(x1[r], x1[r], t)
		VADDPD(t, y, y)
		VMULPD(Mem{Base: k, Disp: minusA2 + at + r*32}, y2[r], t)
		VADDPD(t, y, y)
		VMULPD(Mem{Base: k, Disp: minusA1 + at + r*32}, y1[r], t)
		VADDPD(t, y, y)
		VMOVAPD(x1[r], x2[r])
		VMOVAPD(x, x1[r])
		VMOVAPD(y1[r], y2[r])
		VMOVAPD(y, y1[r])
		if last {
			VMULPD(Mem{Base: k, Disp: gain2 + at + r*32}, y, y)
		}
		VMOVUPD(y, Mem{Base: row, Disp: r * 32})
	}
	if step > 0 {
		ADDQ(Imm(uint64(step)), row)
	} else {
		SUBQ(Imm(uint64(-step)), row)
	}
	DECQ(n)
	JNZ(LabelRef(loop))
}

// gather converts the four values at each of eight places of a row, and stores them three lanes apart, each store over
// the last lane of the one before. The difference of their sum with itself is NaN when one is NaN or infinite.
func gather() {
	const points = lanes / 3
	TEXT("gatherAVX2", NOSPLIT, "func(to *float64, frames *float32, rows, width int, places *int, signs *float64, holed "+
		"*byte)")
	Pragma("noescape")
	Doc("gatherAVX2 is gatherScalar for eight places and a width in bytes, for processors with AVX2. It reads one value "+
		"and",
		"writes one lane more than it should, so the last row must be left to the scalar code; that value can mark a row in",
		"which none is missing. There must be one row at least; signs are 1, 1, flip and 1.")
	to, frames := Load(Param("to"), GP64()), Load(Param("frames"), GP64())
	// The row counts from -rows to 0, against the end of holed.
	row, end := Load(Param("rows"), GP64()), Load(Param("holed"), GP64())
	ADDQ(row, end)
	NEGQ(row)
	width, err := Param("width").Resolve()
	if err != nil {
		panic(err)
	}
	list := Load(Param("places"), GP64())
	var places [points]Register
	for k := range points {
		places[k] = GP64()
		MOVQ(Mem{Base: list, Disp: 8 * k}, places[k])
	}
	signs := YMM()
	VMOVUPD(Mem{Base: Load(Param("signs"), list)}, signs)
	Label("rows")
	sum := YMM()
	for k := range points {
		values := YMM()
		VCVTPS2PD(Mem{Base: frames, Index: places[k], Scale: 4}, values)
		VMULPD(signs, values, values)
		VMOVUPD(values, Mem{Base: to, Disp: 24 * k})
		if k == 0 {
			VMOVAPD(values, sum)
		} else {
			VADDPD(values, sum, sum)
		}
	}
	VSUBPD(sum, sum, sum)
	VCMPPD(Imm(3), sum, sum, sum)
	hole := GP32()
	VMOVMSKPD(sum, hole)
	MOVB(hole.As8(), Mem{Base: end, Index: row, Scale: 1})
	ADDQ(width.Addr, frames)
	ADDQ(Imm(rowBytes), to)
	INCQ(row)
	JNZ(LabelRef("rows"))
	VZEROUPPER()
	RET()
}

// The parts of the arc tangent of package math, which is that of the Cephes library: a rational approximation up to
// 0.66, to which larger arguments are brought through pi/4 and pi/2.
var (
	numerator = []float64{-8.750608600031904122785e-01, -1.615753718733365076637e+01, -7.500855792314704667340e+01,
		-1.228866684490136173410e+02, -6.485021904942025371773e+01}
	denominator = []float64{2.485846490142306297962e+01, 1.650270098316988542046e+02, 4.328810604912902668951e+02,
		4.853903996359136964868e+02, 1.945506571482613964425e+02}
)

const (
	straight     = 0.66
	steep        = 2.41421356237309504880      // tan(3 pi/8)
	restOfHalfPi = 6.123233995736765886130e-17 // pi/2 less its double
)

// angles is math.Atan2 of four pairs at a time, with the operations of package math in their order.
func angles() {
	TEXT("anglesAVX2", NOSPLIT, "func(angle, sine, cosine *float64, count int)")
	Pragma("noescape")
	Doc("anglesAVX2 is anglesScalar over count pairs, a multiple of four and not 0, for processors with AVX2.")
	angle, sine, cosine := Load(Param("angle"), GP64()), Load(Param("sine"), GP64()), Load(Param("cosine"), GP64())
	n := Load(Param("count"), GP64())
	Label("angles")
	y, x := YMM(), YMM()
	VMOVUPD(Mem{Base: sine}, y)
	VMOVUPD(Mem{Base: cosine}, x)
	// The tangent's size, and the argument of the approximation as a quotient.
	a, over, under := YMM(), YMM(), YMM()
	VDIVPD(x, y, a)
	VANDPD(bits(1<<63-1), a, a)
	one := YMM()
	VMOVUPD(four(1), one)
	bent, isSteep := YMM(), YMM()
	VCMPPD(Imm(greater), four(straight), a, bent)
	VCMPPD(Imm(greater), four(steep), a, isSteep)
	t := YMM()
	VSUBPD(one, a, t)
	VBLENDVPD(bent, t, a, over)
	VBLENDVPD(isSteep, four(-1), over, over)
	VADDPD(one, a, t)
	VBLENDVPD(bent, t, one, under)
	VBLENDVPD(isSteep, a, under, under)
	VDIVPD(under, over, t)
	// t + t z P(z)/Q(z) with z the square of t.
	z, p, q := YMM(), YMM(), YMM()
	VMULPD(t, t, z)
	VMULPD(four(numerator[0]), z, p)
	for _, c := range numerator[1:4] {
		VADDPD(four(c), p, p)
		VMULPD(z, p, p)
	}
	VADDPD(four(numerator[4]), p, p)
	VADDPD(four(denominator[0]), z, q)
	for _, c := range denominator[1:] {
		VMULPD(z, q, q)
		VADDPD(four(c), q, q)
	}
	VMULPD(z, p, p)
	VDIVPD(q, p, p)
	VMULPD(t, p, p)
	VADDPD(t, p, p)
	// The angle that was taken away, and what its double lacks.
	for _, c := range [][2]float64{{math.Pi / 4, math.Pi / 2}, {restOfHalfPi / 2, restOfHalfPi}} {
		VANDPD(four(c[0]), bent, t)
		VBLENDVPD(isSteep, four(c[1]), t, t)
		VADDPD(t, p, p)
	}
	// The quadrant: pi less the angle where the cosine is negative, and the sine's sign.
	zero := YMM()
	VXORPD(zero, zero, zero)
	VCMPPD(Imm(less), zero, x, x)
	VMOVUPD(four(math.Pi), t)
	VSUBPD(p, t, t)
	VBLENDVPD(x, t, p, p)
	VANDPD(bits(1<<63), y, y)
	VORPD(y, p, p)
	VMOVUPD(p, Mem{Base: angle})
	for _, at := range []Register{angle, sine, cosine} {
		ADDQ(Imm(wide*8), at)
	}
	SUBQ(Imm(wide), n)
	JNZ(LabelRef("angles"))
	VZEROUPPER()
	RET()
}

// Predicates of VCMPPD: ordered, quiet.
const less, greater = 0x11, 0x1e

// four is a constant in each of the four lanes of a register, and bits one by its bits.
func four(c float64) Mem { return bits(math.Float64bits(c)) }

var constants = map[uint64]Mem{}

func bits(c uint64) Mem {
	if _, ok := constants[c]; !ok {
		constants[c] = GLOBL(fmt.Sprintf("four%016x", c), RODATA|NOPTR)
		for lane := range wide {
			DATA(8*lane, U64(c))
		}
	}
	return constants[c]
}

var labels int

func label() string {
	labels++
	return "loop" + string(rune('0'+labels))
}
