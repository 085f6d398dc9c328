//go:build unix

package engine

import (
	"os"
	"unsafe"

	"golang.org/x/sys/unix"
)

// room gives an empty slice with room for so many bytes of numbers, which lie in a file: they take memory only as the
// system sees fit. The file is as long from now on, and has holes. It gives nil where that cannot be had.
func room(f *os.File, bytes int64) []float32 {
	if f.Truncate(bytes) != nil {
		return nil
	}
	mapped, err := unix.Mmap(int(f.Fd()), 0, int(bytes), unix.PROT_READ|unix.PROT_WRITE, unix.MAP_SHARED)
	if err != nil {
		f.Truncate(0)
		return nil
	}
	return unsafe.Slice((*float32)(unsafe.Pointer(&mapped[0])), bytes/4)[:0]
}
