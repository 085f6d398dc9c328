package c3d

import (
	"encoding/binary"
	"math"
)

// codec reads and writes the numbers of one processor.
type codec struct {
	order binary.ByteOrder
	dec   bool
}

func codecOf(p Processor) codec {
	if p == MIPS {
		return codec{order: binary.BigEndian}
	}
	return codec{order: binary.LittleEndian, dec: p == DEC}
}

func (c codec) word(b []byte) int     { return int(c.order.Uint16(b)) }
func (c codec) integer(b []byte) int  { return int(int16(c.order.Uint16(b))) }
func (c codec) put(b []byte, v int)   { c.order.PutUint16(b, uint16(v)) }
func (c codec) real(b []byte) float32 { return c.fromBits(c.order.Uint32(b)) }

// The reals of DEC are those of the VAX: the two words of a number are exchanged, its exponent is higher by two, and
// there is neither infinity nor a denormal number. (VAX Architecture Reference Manual, F_floating.)
func (c codec) fromBits(bits uint32) float32 {
	if !c.dec {
		return math.Float32frombits(bits)
	}
	bits = bits<<16 | bits>>16
	exponent, fraction := int(bits>>23&0xff), bits&(1<<23-1)
	switch {
	case exponent == 0 && bits>>31 == 1:
		return float32(math.NaN()) // the reserved operand
	case exponent == 0:
		return 0
	}
	v := math.Ldexp(float64(fraction|1<<23), exponent-129-23)
	if bits>>31 == 1 {
		v = -v
	}
	return float32(v)
}

func (c codec) putReal(b []byte, v float32) {
	c.order.PutUint32(b, c.toBits(v))
}

func (c codec) toBits(v float32) uint32 {
	if !c.dec {
		return math.Float32bits(v)
	}
	if v != v || math.IsInf(float64(v), 0) {
		return 1 << 15 // the reserved operand, its words exchanged
	}
	fraction, exponent := math.Frexp(math.Abs(float64(v))) // fraction in [0.5, 1)
	exponent += 128
	if v == 0 || exponent <= 0 {
		return 0
	}
	if exponent > 255 {
		return 1 << 15
	}
	bits := uint32(exponent)<<23 | uint32(math.Ldexp(fraction, 24))&(1<<23-1)
	if v < 0 {
		bits |= 1 << 31
	}
	return bits<<16 | bits>>16
}
