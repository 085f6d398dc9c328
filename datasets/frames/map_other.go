//go:build !unix

package frames

import (
	"io"
	"os"
)

// mapFile reads the file: the systems without mmap get a copy.
func mapFile(f *os.File, size int64) ([]byte, error) {
	data := make([]byte, size)
	_, err := io.ReadFull(f, data)
	return data, err
}

func unmapFile([]byte) error { return nil }
