// Command generate writes the vector kernels of package signal for amd64: kernels_amd64.s and its Go side. Run it by go
// generate in the package.
package main

import (
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
// the last lane of the one before. The sum of differences of values with themselves is NaN when one is NaN or infinite.
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
			VSUBPD(values, values, sum)
		} else {
			VSUBPD(values, values, values)
			VADDPD(values, sum, sum)
		}
	}
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

var labels int

func label() string {
	labels++
	return "loop" + string(rune('0'+labels))
}
