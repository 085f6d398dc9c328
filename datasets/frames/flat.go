package frames

import (
	"encoding/binary"
	"fmt"
)

// A flat reads the few FlatBuffers tables of an Arrow IPC file, checking every offset against the buffer. The first
// thing that does not fit is kept in err, and everything read after it is zero: a caller reads what it wants and asks
// once. (FlatBuffers internals, google.github.io/flatbuffers: a table starts with a signed offset back to its vtable;
// the vtable holds its own size, the table's size, and a 16-bit offset for each field, 0 where the field is absent.)
type flat struct {
	buf []byte
	err error
}

// A place is an offset of a table or vector in a flat; 0 stands for one that is absent.
type place int

func (f *flat) fail(what string) {
	if f.err == nil {
		f.err = fmt.Errorf("%s lies outside the file's description", what)
	}
}

func (f *flat) holds(at, n int) bool { return at >= 0 && n >= 0 && at <= len(f.buf)-n }

func (f *flat) u16(at int) uint16 {
	if f.err != nil || !f.holds(at, 2) {
		f.fail("a short number")
		return 0
	}
	return binary.LittleEndian.Uint16(f.buf[at:])
}

func (f *flat) u32(at int) uint32 {
	if f.err != nil || !f.holds(at, 4) {
		f.fail("a number")
		return 0
	}
	return binary.LittleEndian.Uint32(f.buf[at:])
}

func (f *flat) i64(at int) int64 {
	if f.err != nil || !f.holds(at, 8) {
		f.fail("a long number")
		return 0
	}
	return int64(binary.LittleEndian.Uint64(f.buf[at:]))
}

// follow reads the unsigned relative offset that is kept at a position.
func (f *flat) follow(at int) place {
	to := at + int(f.u32(at))
	if f.err != nil || !f.holds(to, 4) || to == at {
		f.fail("a reference")
		return 0
	}
	return place(to)
}

// root is the table that a buffer starts with.
func (f *flat) root() place { return f.follow(0) }

// field gives the position of a table's field, 0 where the table leaves it at its default.
func (f *flat) field(table place, number int) int {
	if table == 0 {
		return 0
	}
	vtable := int(table) - int(int32(f.u32(int(table))))
	slot := 4 + 2*number
	if slot+2 > int(f.u16(vtable)) {
		return 0
	}
	offset := int(f.u16(vtable + slot))
	if f.err != nil || offset == 0 {
		return 0
	}
	return int(table) + offset
}

func (f *flat) byteField(table place, number int) byte {
	at := f.field(table, number)
	if at == 0 {
		return 0
	}
	if !f.holds(at, 1) {
		f.fail("a byte")
		return 0
	}
	return f.buf[at]
}

func (f *flat) shortField(table place, number int) int16 {
	if at := f.field(table, number); at != 0 {
		return int16(f.u16(at))
	}
	return 0
}

func (f *flat) intField(table place, number int) int32 {
	if at := f.field(table, number); at != 0 {
		return int32(f.u32(at))
	}
	return 0
}

func (f *flat) longField(table place, number int) int64 {
	if at := f.field(table, number); at != 0 {
		return f.i64(at)
	}
	return 0
}

func (f *flat) tableField(table place, number int) place {
	if at := f.field(table, number); at != 0 {
		return f.follow(at)
	}
	return 0
}

// vectorField gives the position of the first element of a vector and their number.
func (f *flat) vectorField(table place, number, elementSize int) (first, n int) {
	at := f.tableField(table, number)
	if at == 0 {
		return 0, 0
	}
	count := int64(f.u32(int(at)))
	first = int(at) + 4
	if f.err != nil || count*int64(elementSize) > int64(len(f.buf)-first) {
		f.fail("a list")
		return 0, 0
	}
	return first, int(count)
}

func (f *flat) stringField(table place, number int) string {
	first, n := f.vectorField(table, number, 1)
	if f.err != nil || n == 0 {
		return ""
	}
	return string(f.buf[first : first+n])
}
