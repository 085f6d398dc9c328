// Command generate writes the vector kernel of package decimal for amd64: row_amd64.s and its Go side. Run it by go
// generate in the package.
package main

import (
	"math"

	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

const (
	size   = 16 // bytes that are looked at together
	middle = 1 << 28
)

func main() {
	row()
	Generate()
}

// row reads numbers of up to 15 bytes. The next number begins where the first delimiter in 16 bytes is, so that the
// processor finds it while it still converts those before: the steps that wait for one another are few.
//
// Of the bytes of a number, those that are no digits become 0, the last is brought to the end of the register, and
// those in front of the point move one place on, over the point. Neighbours are then put together three times: digits
// to pairs, these to fours, these to eights.
func row() {
	TEXT("rowAVX2", NOSPLIT, "func(text *byte, size int, delimiter uint64, out *float32, count int) (read, used int)")
	Pragma("noescape")
	Doc("rowAVX2 reads up to count numbers, at least one, into out, for processors with AVX2, BMI1 and BMI2. It gives how",
		"many it has read and where the one behind the last of them would begin. Other than Row32 it stops at numbers of",
		"more than 15 bytes too, and what it looks at lies within size bytes of text.")
	text, left := Load(Param("text"), GP64()), Load(Param("count"), GP64())
	limit := Load(Param("size"), GP64())
	LEAQ(Mem{Base: text, Index: limit, Scale: 1, Disp: -size}, limit)
	out := Load(Param("out"), GP64())
	delimiter := all(Load(Param("delimiter"), GP64()))
	zero, nine, point := every('0'), every(9), every('.')
	tens, hundreds, thousands := pairs("tens", 8, 10, 1), pairs("hundreds", 16, 100, 1), pairs("thousands", 16, 10000, 1)
	align, closing, powers := GP64(), GP64(), GP64()
	LEAQ(alignments(), align)
	LEAQ(closings(), closing)
	LEAQ(powersOfTen(), powers)

	Label("number")
	CMPQ(text, limit)
	JA(LabelRef("done"))
	bytes, marks := XMM(), XMM()
	VMOVDQU(Mem{Base: text}, bytes)
	length := GP64()
	VPCMPEQB(delimiter, bytes, marks)
	VPMOVMSKB(marks, length.As32())
	CMPQ(left, Imm(1))
	JE(LabelRef("last"))
	Label("ends")
	TESTL(length.As32(), length.As32())
	JZ(LabelRef("done"))
	TZCNTL(length.As32(), length.As32())

	// Digits, points and a sign in front of a digit are all that there may be.
	values, isDigit := XMM(), XMM()
	VPSUBB(zero, bytes, values)
	VPMINUB(nine, values, isDigit)
	VPCMPEQB(isDigit, values, isDigit)
	VPAND(isDigit, values, values)
	digits, points, minus, known := GP32(), GP64(), GP32(), GP32()
	VPMOVMSKB(isDigit, digits)
	VPCMPEQB(point, bytes, marks)
	VPMOVMSKB(marks, points.As32())
	XORL(minus, minus)
	CMPB(Mem{Base: text}, Imm('-'))
	SETEQ(minus.As8())
	BTL(minus, digits)
	JCC(LabelRef("done"))
	MOVL(digits, known)
	ORL(points.As32(), known)
	ORL(minus, known)
	NOTL(known)
	TZCNTL(known, known)
	CMPL(known, length.As32())
	JNE(LabelRef("done"))
	// One point, or none, before the end, which stands for the point where there is none.
	rest := GP32()
	BZHIL(length.As32(), points.As32(), points.As32())
	BTSL(length.As32(), points.As32())
	BLSRL(points.As32(), rest)
	BLSRL(rest, rest)
	JNZ(LabelRef("done"))
	TZCNTL(points.As32(), points.As32())
	behind := GP64() // digits behind the point, and one; 0 without a point
	MOVL(length.As32(), behind.As32())
	SUBL(points.As32(), behind.As32())

	control := XMM()
	VMOVDQU(Mem{Base: align, Index: length, Scale: 1}, control)
	VPSHUFB(control, values, values)
	at := GP64()
	MOVL(behind.As32(), at.As32())
	SHLL(Imm(4), at.As32())
	VPSHUFB(Mem{Base: closing, Index: at, Scale: 1}, values, values)
	VPMADDUBSW(tens, values, values)
	VPMADDWD(hundreds, values, values)
	VPACKUSDW(values, values, values)
	VPMADDWD(thousands, values, values)
	high, low := GP64(), GP64()
	VMOVQ(values, low)
	MOVL(low.As32(), high.As32())
	SHRQ(Imm(32), low)
	IMUL3Q(U32(1e8), high, high)
	ADDQ(high, low)
	// Mantissa and power are exact, so that the quotient is rounded once, and then once more: that is wrong only in the
	// middle between two float32 values.
	v := XMM()
	VXORPD(v, v, v)
	VCVTSI2SDQ(low, v, v)
	VDIVSD(Mem{Base: powers, Index: behind, Scale: 8}, v, v)
	bits := GP64()
	VMOVQ(v, bits)
	ANDL(Imm(2*middle-1), bits.As32())
	CMPL(bits.As32(), Imm(middle))
	JE(LabelRef("done"))
	VCVTSD2SS(v, v, v)
	VMOVD(v, bits.As32())
	SHLL(Imm(31), minus)
	ORL(minus, bits.As32())
	MOVL(bits.As32(), Mem{Base: out})
	ADDQ(Imm(4), out)
	LEAQ(Mem{Base: text, Index: length, Scale: 1, Disp: 1}, text)
	DECQ(left)
	JNZ(LabelRef("number"))

	Label("done")
	count := Load(Param("count"), GP64())
	SUBQ(left, count)
	Store(count, ReturnIndex(0))
	SUBQ(Load(Param("text"), GP64()), text)
	Store(text, ReturnIndex(1))
	RET()

	// The last number may end with the line.
	Label("last")
	more := GP32()
	for _, end := range []byte{'\n', '\r'} {
		VPCMPEQB(every(end), bytes, marks)
		VPMOVMSKB(marks, more)
		ORL(more, length.As32())
	}
	JMP(LabelRef("ends"))
}

// all is a register whose bytes are the lowest of r.
func all(r Register) VecVirtual {
	x := XMM()
	VMOVQ(r, x)
	VPBROADCASTB(x, x)
	return x
}

// every is a register whose bytes are b.
func every(b byte) VecVirtual {
	x, r := XMM(), GP32()
	MOVL(U32(b), r)
	VMOVD(r, x)
	VPBROADCASTB(x, x)
	return x
}

// pairs is a register with two numbers of so many bits in turn.
func pairs(name string, bits int, first, second uint64) VecVirtual {
	data := GLOBL(name, RODATA|NOPTR)
	for i := range size * 8 / bits {
		n := first
		if i%2 == 1 {
			n = second
		}
		if bits == 8 {
			DATA(i, U8(n))
		} else {
			DATA(2*i, U16(n))
		}
	}
	x := XMM()
	VMOVDQU(data, x)
	return x
}

// none makes a byte 0 in a shuffle.
const none = 0x80

// alignments has at a length the shuffle that brings so many bytes to the end.
func alignments() Mem {
	data := GLOBL("alignments", RODATA|NOPTR)
	for i := range 2 * size {
		if i < size {
			DATA(i, U8(none))
		} else {
			DATA(i, U8(i-size))
		}
	}
	return data
}

// closings has at 16 times one more than the digits behind the point the shuffle that moves those before it one place
// on; at 0 the one that moves none.
func closings() Mem {
	data := GLOBL("closings", RODATA|NOPTR)
	for behind := range size {
		for i := range size {
			from := i
			switch {
			case behind == 0 || i > size-behind:
			case i == 0:
				from = none
			default:
				from = i - 1
			}
			DATA(size*behind+i, U8(from))
		}
	}
	return data
}

// powersOfTen has the power of ten by which to divide at one more than the digits behind the point, and 1 at 0.
func powersOfTen() Mem {
	data := GLOBL("powersOfTen", RODATA|NOPTR)
	for behind := range size {
		DATA(8*behind, U64(math.Float64bits(math.Pow10(max(0, behind-1)))))
	}
	return data
}
