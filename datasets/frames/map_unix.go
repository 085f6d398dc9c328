//go:build unix

package frames

import (
	"errors"
	"math"
	"os"

	"golang.org/x/sys/unix"
)

func mapFile(f *os.File, size int64) ([]byte, error) {
	if size > math.MaxInt {
		return nil, errors.New("the file is larger than this machine can address")
	}
	return unix.Mmap(int(f.Fd()), 0, int(size), unix.PROT_READ, unix.MAP_SHARED)
}

func unmapFile(mapping []byte) error {
	if mapping == nil {
		return nil
	}
	return unix.Munmap(mapping)
}
