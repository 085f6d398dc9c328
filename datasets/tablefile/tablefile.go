// Package tablefile reads and writes the file in which a season keeps a table that came from elsewhere: a colleague's
// measures, a reference group, force plates.
//
// It is an Arrow IPC file with one record batch, so that any general tool opens it. Its columns are float64, float32,
// int64, utf8, bool, date32 or timestamp[us, UTC], with nulls for what is missing, and say their unit, title and
// definition in the metadata of their fields, as package export writes them. Like a frames file it is named by the
// SHA-256 of its bytes and never changed.
//
// # Reading
//
// Open maps a file and reads nothing. What it holds is compared with its hash when it is first asked for, and is in
// memory from then on.
package tablefile

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"sync"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"tossline/datasets/frames"
	"tossline/kernel/arrowstream"
	"tossline/kernel/table"
)

// Largest is how many bytes the values of a table may take.
const Largest = 256 << 20

// Extension ends the name of every file.
const Extension = ".arrow"

// FileName is the name of the file whose bytes have the given SHA-256.
func FileName(sha256 string) string { return sha256 + Extension }

// Write writes a table, whose types must be those of this package. The same table always gives the same bytes.
func Write(w io.Writer, record arrow.Record) error {
	out, err := ipc.NewFileWriter(frames.Sequential(w), ipc.WithSchema(record.Schema()))
	if err != nil {
		return err
	}
	err = out.Write(record)
	return errors.Join(err, out.Close())
}

// File is an open file. It is immutable and safe for use by several goroutines.
type File struct {
	mapping []byte
	sha256  string
	record  func() (arrow.Record, error)
	table   func() (table.Table, error)
}

// Open maps f, whose bytes must have the given hash, and closes it: the mapping stays until Close.
func Open(f *os.File, sha256 string) (*File, error) {
	mapping, err := frames.Map(f)
	if err != nil {
		return nil, err
	}
	file := &File{mapping: mapping, sha256: sha256}
	file.record = sync.OnceValues(file.read)
	file.table = sync.OnceValues(func() (table.Table, error) {
		record, err := file.record()
		if err != nil {
			return table.Table{}, err
		}
		t := table.From(record)
		return t, t.Err()
	})
	return file, nil
}

// Record is the table as it is stored. It must not be changed.
func (f *File) Record() (arrow.Record, error) { return f.record() }

// Table is the table as recipes see it.
func (f *File) Table() (table.Table, error) { return f.table() }

// Size is the length of the file in bytes.
func (f *File) Size() int64 { return int64(len(f.mapping)) }

// Close unmaps the file. What was read stays; nothing can be read afterwards.
func (f *File) Close() error {
	mapping := f.mapping
	f.mapping = nil
	return frames.Unmap(mapping)
}

func (f *File) read() (record arrow.Record, err error) {
	err = frames.Guard(func() error {
		if sum := sha256.Sum256(f.mapping); hex.EncodeToString(sum[:]) != f.sha256 {
			return errors.New("the file was changed: its content is not what its hash says")
		}
		record, err = Decode(f.mapping)
		return err
	})
	return record, err
}

// magic begins every file, padded to eight bytes.
const magic = "ARROW1\x00\x00"

var errOther = errors.New("not a file of a kept table")

// Decode reads the bytes of a file. They may come from anywhere.
func Decode(data []byte) (record arrow.Record, err error) {
	defer func() {
		if problem := recover(); problem != nil { // the library panics on much that it didn't write
			if _, fault := problem.(interface{ Addr() uintptr }); fault {
				panic(problem) // a mapped file that was cut short
			}
			record, err = nil, errOther
		}
	}()
	if !strings.HasPrefix(string(data[:min(len(data), len(magic))]), magic) {
		return nil, errOther
	}
	r, err := ipc.NewReaderFromMessageReader(&messages{data[len(magic):]},
		ipc.WithAllocator(&arrowstream.Frugal{Left: int64(len(data)) + 1<<20}))
	if err != nil {
		return nil, fmt.Errorf("%w (%w)", errOther, err)
	}
	if !r.Next() {
		return nil, errOther
	}
	record = r.Record()
	record.Retain()
	if r.Next() {
		return nil, errOther
	}
	return record, check(record)
}

// check sees to it that reading a table can't fail later.
func check(record arrow.Record) error {
	seen := map[string]bool{}
	for i, f := range record.Schema().Fields() {
		values, err := arrowstream.Plain(record.Column(i))
		if err != nil {
			return fmt.Errorf("column %q %w", f.Name, err)
		}
		if !arrow.TypeEqual(values.DataType(), f.Type) || int64(values.Len()) != record.NumRows() || seen[f.Name] {
			return errOther
		}
		seen[f.Name] = true
	}
	if len(seen) == 0 {
		return errOther
	}
	return nil
}

// messages hands out the messages of a stream that lies in memory, checked.
type messages struct{ rest []byte }

func (m *messages) Retain()  {}
func (m *messages) Release() {}

// Message gives the next message, io.EOF at the end.
func (m *messages) Message() (*ipc.Message, error) {
	const continuation = 0xFFFFFFFF
	if len(m.rest) < 8 || binary.LittleEndian.Uint32(m.rest) != continuation {
		return nil, errOther
	}
	n := binary.LittleEndian.Uint32(m.rest[4:])
	if n == 0 {
		return nil, io.EOF // the index of the file follows
	}
	if uint64(n) > uint64(len(m.rest)-8) {
		return nil, errOther
	}
	head, rest := m.rest[8:8+n], m.rest[8+n:]
	length, err := arrowstream.CheckMessage(head, arrowstream.Flat)
	if err != nil || length < 0 || length > int64(len(rest)) {
		return nil, errOther
	}
	m.rest = rest[length:]
	return ipc.NewMessage(memory.NewBufferBytes(head), memory.NewBufferBytes(rest[:length:length])), nil
}
