package frames

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"runtime/debug"
	"unsafe"

	"tossline/datasets/landmark"
)

// File is an open frames file. It is immutable and safe for use by several goroutines.
type File struct {
	mapping []byte
	facts   Facts
	layout  *landmark.Layout
	xyz     []float32
}

// Open maps f, checks its structure and closes it: the mapping stays until Close. The error says what is wrong with
// the content; the caller knows the name.
func Open(f *os.File) (*File, error) {
	defer f.Close()
	size, err := sizeOf(f)
	if err != nil {
		return nil, err
	}
	facts, values, err := parse(f, size)
	if err != nil {
		return nil, err
	}
	mapping, err := Map(f)
	if err != nil {
		return nil, err
	}
	return &File{
		mapping: mapping,
		facts:   facts,
		layout:  landmark.NewLayout(facts.Landmarks),
		xyz:     asFloats(mapping[values.from:][:values.length]),
	}, nil
}

// sizeOf is the length of an ordinary file that is not empty.
func sizeOf(f *os.File) (int64, error) {
	info, err := f.Stat()
	if err != nil {
		return 0, err
	}
	if !info.Mode().IsRegular() {
		return 0, errors.New("not an ordinary file")
	}
	if info.Size() == 0 {
		return 0, errors.New("the file is empty")
	}
	return info.Size(), nil
}

// Map maps a file of the season, whatever it holds, and closes it. The bytes must not be written. They are to be read
// within Guard, and not after Unmap.
func Map(f *os.File) ([]byte, error) {
	defer f.Close()
	size, err := sizeOf(f)
	if err != nil {
		return nil, err
	}
	mapping, err := mapFile(f, size)
	if err != nil {
		return nil, fmt.Errorf("cannot be mapped into memory: %w", err)
	}
	return mapping, nil
}

// Unmap gives back what Map mapped.
func Unmap(mapping []byte) error { return unmapFile(mapping) }

// asFloats views the bytes as numbers: those of the file and of the machine are both little-endian.
func asFloats(raw []byte) []float32 {
	return unsafe.Slice((*float32)(unsafe.Pointer(unsafe.SliceData(raw))), len(raw)/4)
}

// Guard runs read, which reads values of mapped files, and turns the fault of a file that was cut short meanwhile
// into an error. Everything read within it must happen on the calling goroutine.
func Guard(read func() error) (err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		switch fault := recover().(type) {
		case nil:
		case interface{ Addr() uintptr }:
			err = errors.New("a file of the season was cut short while it was read")
		default:
			panic(fault)
		}
	}()
	return read()
}

// Facts says what the numbers are.
func (f *File) Facts() Facts { return f.facts }

// Layout is the order of the landmarks in a frame.
func (f *File) Layout() *landmark.Layout { return f.layout }

// XYZ is every frame of the recording, row by row, sharing the mapped pages: to be read, never written, and not after
// Close.
func (f *File) XYZ() []float32 { return f.xyz }

// Len is the number of frames.
func (f *File) Len() int { return len(f.xyz) / (3 * f.layout.Len()) }

// SHA256 reads the whole file and gives the hash of its bytes, in lower-case hex.
func (f *File) SHA256() (string, error) {
	hash := sha256.New()
	err := Guard(func() error {
		hash.Write(f.mapping)
		return nil
	})
	if err != nil {
		return "", err
	}
	return hex.EncodeToString(hash.Sum(nil)), nil
}

// Close unmaps the file. No view of it may be read afterwards.
func (f *File) Close() error {
	mapping := f.mapping
	f.mapping, f.xyz = nil, nil
	return unmapFile(mapping)
}
