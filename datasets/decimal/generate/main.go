// Command generate writes the vector kernels of package decimal for amd64: fields_amd64.s and its Go side. Run it by go
// generate in the package.
package main

import (
	"math"

	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

func main() {
	separators()
	fields()
	Generate()
}

// separators looks at 64 bytes at a time. Few of them are separators, so that a dozen places are written whatever their
// number: that is faster than to ask after each whether there is another.
func separators() {
	TEXT("separatorsAVX2", NOSPLIT, "func(text *byte, from, to int, delimiter uint64, ends *int32) (n int)")
	Pragma("noescape")
	Doc("separatorsAVX2 writes where delimiters and newlines are from byte from on and gives their number. It looks at",
		"whole multiples of 64 bytes, past to, and writes up to 12 places more than there are.")
	text, to, at := Load(Param("text"), GP64()), Load(Param("to"), GP64()), GP64()
	Load(Param("from"), at)
	delimiter, newline := YMM(), YMM()
	VMOVQ(Load(Param("delimiter"), GP64()), delimiter.AsX())
	VPBROADCASTB(delimiter.AsX(), delimiter)
	VPBROADCASTB(constant("newline", '\n'), newline)
	ends := Load(Param("ends"), GP64())

	Label("look")
	CMPQ(at, to)
	JGE(LabelRef("found"))
	var masks [2]Register
	for half := range 2 {
		bytes, marks, mask := YMM(), YMM(), GP64()
		VMOVDQU(Mem{Base: text, Index: at, Scale: 1, Disp: 32 * half}, bytes)
		VPCMPEQB(delimiter, bytes, marks)
		VPCMPEQB(newline, bytes, bytes)
		VPOR(marks, bytes, bytes)
		VPMOVMSKB(bytes, mask.As32())
		masks[half] = mask
	}
	mask, count, place := masks[1].(GPVirtual), GP64(), GP64()
	SHLQ(Imm(32), mask)
	ORQ(masks[0], mask)
	POPCNTQ(mask, count)
	const most = 12
	write := func(k int) {
		TZCNTQ(mask, place)
		ADDL(at.As32(), place.As32())
		MOVL(place.As32(), Mem{Base: ends, Disp: 4 * k})
		BLSRQ(mask, mask)
	}
	for k := range most {
		write(k)
	}
	more := GP64()
	LEAQ(Mem{Base: ends, Index: count, Scale: 4}, more)
	JMP(LabelRef("rest"))
	Label("one")
	ADDQ(Imm(4), ends)
	write(most - 1)
	Label("rest")
	TESTQ(mask, mask)
	JNZ(LabelRef("one"))
	MOVQ(more, ends)
	ADDQ(Imm(64), at)
	JMP(LabelRef("look"))

	Label("found")
	SUBQ(Load(Param("ends"), GP64()), ends)
	SARQ(Imm(2), ends)
	Store(ends, ReturnIndex(0))
	VZEROUPPER()
	RET()
}

const (
	mostFraction = 24 // digits behind the point
	mostWhole    = 8  // digits in front of it
)

// fields reads four numbers at a time. In the register of each are the digits behind its point from the first byte on,
// and in the middle eight bytes those in front of it, up to the last of these bytes. Neighbours are put together three
// times: digits to pairs, these to fours, these to eights, which are multiplied by their powers of ten and added up.
//
// The sum is off by less than four units of the last place of a float64: four terms of positive sign, each with the
// rounding of its power and of its product, and the two roundings of the sum. What is not within eight units of the
// middle between two float32 values is thus rounded as the number itself would be.
func fields() {
	TEXT("fieldsAVX2", NOSPLIT, "func(text *byte, fronts, ends *int32, left, run, skip int, out *float32, fours int) "+
		"(read int)")
	Pragma("noescape")
	Doc("fieldsAVX2 reads up to four times fours numbers into out, for processors with AVX2, BMI1 and FMA, and gives how",
		"many it has read. The next number is between fronts[0] and ends[0]. After left numbers, and then after every run of",
		"them, it leaves out skip fields. It looks at 8 bytes before numbers and at 32 behind.")
	text, fronts, ends := Load(Param("text"), GP64()), Load(Param("fronts"), GP64()), Load(Param("ends"), GP64())
	left, out := Load(Param("left"), GP64()), Load(Param("out"), GP64())
	skip, fours := Load(Param("skip"), GP64()), Load(Param("fours"), GP64())
	fraction, whole := GP64(), GP64()
	LEAQ(keepFraction(), fraction)
	LEAQ(keepWhole(), whole)
	point := XMM()
	VPBROADCASTB(constant("point", '.'), point)
	zero, greatest := YMM(), YMM()
	VPBROADCASTB(constant("zero", '0'), zero)
	VPXOR(greatest, greatest, greatest)
	tens, hundreds := YMM(), YMM()
	VMOVDQU(pairs("tens", 1, 10, 1), tens)
	VMOVDQU(pairs("hundreds", 2, 100, 1), hundreds)
	thousands := pairs("thousands", 2, 10000, 1)
	powers, otherPowers := doubles("powers", 1e-8, 1e-16), doubles("otherPowers", 1, 1e-24)

	// number takes the next field to pieces: its first bytes, and its digits in fours.
	numbers := 0
	number := func() (first, digits VecVirtual) {
		first, digits = XMM(), YMM()
		start, length, minus, at, in := GP64(), GP64(), GP64(), GP64(), GP64()
		MOVLQSX(Mem{Base: fronts}, start)
		MOVL(Mem{Base: ends}, length.As32())
		VMOVDQU(Mem{Base: text, Index: start, Scale: 1, Disp: 1}, first)
		SUBL(start.As32(), length.As32())
		DECL(length.As32())
		XORL(minus.As32(), minus.As32())
		CMPB(Mem{Base: text, Index: start, Scale: 1, Disp: 1}, Imm('-'))
		SETEQ(minus.As8())
		// The end stands for the point where there is none. Too long a number has more than it may behind the point.
		marks := XMM()
		VPCMPEQB(point, first, marks)
		VPMOVMSKB(marks, at.As32())
		BTSL(length.As32(), at.As32())
		TZCNTL(at.As32(), at.As32())
		SUBL(at.As32(), length.As32())
		CMPL(length.As32(), Imm(mostFraction+1))
		JA(LabelRef("done"))
		ADDQ(at, start)
		SUBL(minus.As32(), at.As32())
		LEAL(Mem{Base: at, Disp: -1}, in.As32())
		CMPL(in.As32(), Imm(mostWhole-1))
		JA(LabelRef("done"))
		others := XMM()
		VMOVDQU(Mem{Base: text, Index: start, Scale: 1, Disp: 2}, digits.AsX())
		VMOVQ(Mem{Base: text, Index: start, Scale: 1, Disp: 1 - mostWhole}, others)
		VMOVHPS(Mem{Base: text, Index: start, Scale: 1, Disp: 2 + 16}, others, others)
		VINSERTI128(Imm(1), others, digits, digits)
		VPSUBB(zero, digits, digits)
		SHLL(Imm(5), length.As32())
		SHLL(Imm(5), at.As32())
		VPAND(Mem{Base: fraction, Index: length, Scale: 1}, digits, digits)
		VPAND(Mem{Base: whole, Index: at, Scale: 1}, digits, digits)
		VPMAXUB(digits, greatest, greatest)
		VPMADDUBSW(tens, digits, digits)
		VPMADDWD(hundreds, digits, digits)
		numbers++
		next := "next" + string(rune('0'+numbers))
		ADDQ(Imm(4), fronts)
		ADDQ(Imm(4), ends)
		DECQ(left)
		JNZ(LabelRef(next))
		Load(Param("run"), left)
		LEAQ(Mem{Base: fronts, Index: skip, Scale: 4}, fronts)
		LEAQ(Mem{Base: ends, Index: skip, Scale: 4}, ends)
		Label(next)
		return first, digits
	}
	// pair reads two numbers, each as the sum of two neighbours, and their first bytes.
	pair := func() (first, sums VecVirtual) {
		first, sums = number()
		second, others := number()
		VPUNPCKLDQ(second, first, first)
		VPACKUSDW(others, sums, sums)
		VPMADDWD(thousands, sums, sums)
		VEXTRACTI128(Imm(1), sums, others.AsX())
		VCVTDQ2PD(sums.AsX(), sums)
		VCVTDQ2PD(others.AsX(), others)
		VMULPD(powers, sums, sums)
		VFMADD231PD(otherPowers, others, sums)
		return first, sums
	}

	Label("four")
	TESTQ(fours, fours)
	JZ(LabelRef("done"))
	first, v := pair()
	others, w := pair()
	VHADDPD(w, v, v)
	VPERMPD(Imm(0b11_01_10_00), v, v)
	// How far they are from the middle, or some byte is no digit.
	bad, beside := YMM(), YMM()
	VPAND(doubleWords("fine", 1<<29-1, 0), v, bad)
	VPSUBD(doubleWords("middle", 1<<28, 1<<28), bad, bad)
	VPABSD(bad, bad)
	VMOVDQU(doubleWords("near", 9, 9), beside)
	VPCMPGTD(bad, beside, bad)
	VPSUBUSB(doubleWords("nine", 0x09090909, 0x09090909), greatest, beside)
	VPOR(beside, bad, bad)
	VPTEST(bad, bad)
	JNZ(LabelRef("done"))
	VPUNPCKLQDQ(others, first, first)
	VPSLLD(Imm(24), first, first)
	VPCMPEQD(doubleWords("minus", '-'<<24, '-'<<24), first, first)
	VPSLLD(Imm(31), first, first)
	VCVTPD2PSY(v, v.AsX())
	VPOR(first, v.AsX(), v.AsX())
	VMOVDQU(v.AsX(), Mem{Base: out})
	ADDQ(Imm(16), out)
	DECQ(fours)
	JMP(LabelRef("four"))

	Label("done")
	SUBQ(Load(Param("out"), GP64()), out)
	SARQ(Imm(2), out)
	Store(out, ReturnIndex(0))
	VZEROUPPER()
	RET()
}

// constant is a byte in memory.
func constant(name string, b byte) Mem {
	data := GLOBL(name, RODATA|NOPTR)
	DATA(0, U8(b))
	return data
}

// pairs is memory with two numbers of so many bytes in turn.
func pairs(name string, bytes int, first, second uint16) Mem {
	data := GLOBL(name, RODATA|NOPTR)
	for i := range 32 / bytes {
		n := first
		if i%2 == 1 {
			n = second
		}
		if bytes == 1 {
			DATA(i, U8(n))
		} else {
			DATA(2*i, U16(n))
		}
	}
	return data
}

// doubles is memory with two numbers in turn.
func doubles(name string, first, second float64) Mem {
	data := GLOBL(name, RODATA|NOPTR)
	for i := range 2 {
		DATA(16*i, U64(math.Float64bits(first)))
		DATA(16*i+8, U64(math.Float64bits(second)))
	}
	return data
}

// doubleWords is memory with two numbers of four bytes in turn.
func doubleWords(name string, first, second uint32) Mem {
	data := GLOBL(name, RODATA|NOPTR)
	for i := range 4 {
		DATA(8*i, U32(first))
		DATA(8*i+4, U32(second))
	}
	return data
}

// keepFraction has for one more than the digits behind the point the bytes that they take. Those of the digits in front
// of it stay.
func keepFraction() Mem {
	return masks("keepFraction", mostFraction+2, func(n, i int) bool {
		switch {
		case i < 16:
			return i < n-1
		case i < 24:
			return true
		}
		return i-8 < n-1
	})
}

// keepWhole has for the digits in front of the point the bytes that they take. The others stay.
func keepWhole() Mem {
	return masks("keepWhole", mostWhole+1, func(n, i int) bool { return i < 24-mostWhole || i >= 24-n })
}

func masks(name string, count int, keep func(n, i int) bool) Mem {
	data := GLOBL(name, RODATA|NOPTR)
	for n := range count {
		for i := range 32 {
			b := byte(0)
			if keep(n, i) {
				b = 0xff
			}
			DATA(32*n+i, U8(b))
		}
	}
	return data
}
