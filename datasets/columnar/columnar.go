// Package columnar reads recordings from the files of tables by column: Arrow IPC files and streams, with the ending
// .arrow, .arrows or .feather, and Parquet.
//
// The tables are those of package tabular, known by the names of their columns. A column may hold x, y and z of a
// landmark together, as a list or a struct. Columns of other types than these, numbers, texts, dates and times are left
// out with a note.
//
// The library panics on many damaged files, and allocates for what they claim: messages are checked before they are
// handed to it, memory is bounded by the size of the file, its panics become errors, and the buffers of every column
// are compared with its length before a value is read. What gets past all that ends the process, which is why foreign
// files are read in one of their own.
package columnar

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"tossline/datasets/recording"
	"tossline/datasets/tabular"
)

// The names of the formats.
const (
	ArrowName   = "arrow"
	ParquetName = "parquet"
)

func init() {
	recording.Register(recording.Format{Name: ArrowName, Title: "Arrow IPC", Rank: 11, Probe: probeArrow, Read: ReadArrow})
	recording.Register(recording.Format{Name: ParquetName, Title: "Parquet", Rank: 11, Probe: probeParquet,
		ReadAt: ReadParquet})
}

// formatOf tells by its content whether a file is an Arrow file or a Parquet file; "" for others.
func formatOf(r io.ReaderAt, size int64) (string, error) {
	head := make([]byte, min(size, recording.ProbeLen))
	if _, err := r.ReadAt(head, 0); err != nil && err != io.EOF {
		return "", err
	}
	switch {
	case probeArrow(head):
		return ArrowName, nil
	case probeParquet(head):
		return ParquetName, nil
	}
	return "", nil
}

// mostRows is how many rows are taken at a time.
const mostRows = 1 << 14

// expansion is how many times larger than its file a table may be.
const expansion = recording.MaxRatio

// damaged refuses a file of which the library makes no sense. What it says of that is for those who know it.
func damaged(kind string, cause error) error {
	if own := new(recording.Error); errors.As(cause, &own) {
		return cause
	}
	err := recording.Refuse("copy it again, or write it again with another program", "%s is damaged", kind)
	err.Cause = cause
	return err
}

// guard turns a panic of the library into an error. The fault of a file of ours that is mapped goes on: it says that
// the disk is full.
func guard(read func() error) (err error) {
	defer func() {
		if problem := recover(); problem != nil {
			if _, fault := problem.(interface{ Addr() uintptr }); fault {
				panic(problem)
			}
			err = damaged("the file", fmt.Errorf("%v", problem))
		}
	}()
	return read()
}

// table is where the columns of a file go.
type table struct {
	add  func(b tabular.Batch, firstRow int) error // rows count from 1
	rows int                                       // that were taken
}

func (t *table) take(b tabular.Batch) error {
	err := t.add(b, t.rows+1)
	t.rows += b.Rows
	return err
}

// opener makes a place for a table, once its columns are known; unread are those of other types.
type opener func(h tabular.Header, unread []string) (*table, error)

// collecting opens a table of a recording, which is read from r.
func collecting(to **tabular.Collector, format string, r any) opener {
	return func(h tabular.Header, unread []string) (*table, error) {
		l, err := tabular.Understand(h)
		if err != nil {
			return nil, err
		}
		if len(unread) > 0 {
			l.Note(recording.Info, "columns of types that are not read: "+strings.Join(unread, ", "))
		}
		*to = &tabular.Collector{Layout: l, Format: format, ByRow: true, Room: recording.RoomOf(r),
			Alive: recording.AliveOf(r)}
		return &table{add: (*to).AddBatch}, nil
	}
}

// readFull is io.ReadFull for a length that a file claims: memory grows with what is there.
func readFull(r io.Reader, n int64) ([]byte, error) {
	const step = 64 << 20
	if n <= step {
		b := make([]byte, n)
		_, err := io.ReadFull(r, b)
		return b, err
	}
	b, err := io.ReadAll(io.LimitReader(r, n))
	if err == nil && int64(len(b)) < n {
		err = io.ErrUnexpectedEOF
	}
	return b, err
}
