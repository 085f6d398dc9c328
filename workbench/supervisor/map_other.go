//go:build !unix

package supervisor

import (
	"encoding/binary"
	"fmt"
	"math"
	"os"
)

// mapFloats reads n float32 of a file that nobody writes any more.
func mapFloats(f *os.File, n int) (values []float32, unmap func() error, err error) {
	data, err := os.ReadFile(f.Name())
	if err != nil {
		return nil, nil, err
	}
	if len(data) != n*4 {
		return nil, nil, fmt.Errorf("%d bytes where %d are expected", len(data), n*4)
	}
	values = make([]float32, n)
	for i := range values {
		values[i] = math.Float32frombits(binary.LittleEndian.Uint32(data[4*i:]))
	}
	return values, func() error { return nil }, nil
}
