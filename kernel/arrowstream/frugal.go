package arrowstream

import "github.com/apache/arrow/go/v17/arrow/memory"

// Frugal is an allocator for reading what others wrote: it refuses, by a panic that the reader must catch, more than
// Left bytes at a time, which is what a stream of its size can need.
type Frugal struct {
	memory.GoAllocator
	Left int64
}

// Allocate gives room for size bytes.
func (f *Frugal) Allocate(size int) []byte {
	f.spend(size)
	return f.GoAllocator.Allocate(size)
}

// Reallocate gives room for size bytes that begins with what is in b.
func (f *Frugal) Reallocate(size int, b []byte) []byte {
	f.spend(size - len(b))
	return f.GoAllocator.Reallocate(size, b)
}

// Free takes back what b holds.
func (f *Frugal) Free(b []byte) { f.Left += int64(len(b)) }

func (f *Frugal) spend(n int) {
	if int64(n) > f.Left {
		panic("it asks for more memory than its size allows")
	}
	f.Left -= int64(n)
}
