package columnar

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"tossline/datasets/recording"
	"tossline/datasets/tabular"
	"tossline/kernel/arrowstream"
)

const (
	magic        = "ARROW1"
	continuation = 0xFFFFFFFF

	mostMetadata = 64 << 20 // bytes of one message's description
)

// probeArrow knows files by their magic word, and streams by the message that they begin with.
func probeArrow(head []byte) bool {
	if bytes.HasPrefix(head, []byte(magic)) {
		return true
	}
	if len(head) < 16 || binary.LittleEndian.Uint32(head) != continuation {
		return false
	}
	length := binary.LittleEndian.Uint32(head[4:])
	return length >= 8 && length < mostMetadata && length%8 == 0
}

// ReadArrow reads an IPC stream, or a file, which is a stream between a magic word and an index that is not needed.
func ReadArrow(r io.Reader) (raw *recording.Raw, err error) {
	err = guard(func() error {
		var to *tabular.Collector
		t, broken, err := readArrow(r, collecting(&to, ArrowName, r), arrowstream.OneDeep)
		if err != nil {
			return err
		}
		if broken != nil && t.rows == 0 {
			return broken
		}
		if raw, err = to.Finish(); err != nil || broken == nil {
			return err
		}
		text := broken.Error() + ": what comes after is missing"
		if broken == errUnended {
			text = broken.Error()
		}
		raw.Notes = append(raw.Notes, recording.Note{Severity: recording.Warn, Where: fmt.Sprintf("row %d", t.rows),
			Text: text})
		return nil
	})
	return raw, err
}

// errUnended is the end of a stream that does not say so, which some writers leave out.
var errUnended = recording.Refuse("", "the stream does not say that it ends here: where more was written, it was "+
	"cut off")

// readArrow puts the rows of a file into a table. Broken is what ended it before its end.
func readArrow(r io.Reader, open opener, nesting arrowstream.Nesting) (t *table, broken, err error) {
	messages := newMessages(r)
	messages.nesting = nesting
	stream, err := ipc.NewReaderFromMessageReader(messages, ipc.WithAllocator(messages.memory))
	if err != nil {
		return nil, nil, messages.refusal(err)
	}
	columns := arrowColumns(stream.Schema())
	t, err = open(columns.header, columns.unread)
	if err != nil {
		return nil, nil, err
	}
	for stream.Next() {
		if err := columns.take(stream.Record(), t); err != nil {
			return nil, nil, err
		}
	}
	return t, messages.broken(stream.Err()), nil
}

// messages hands out the messages of a stream, checked.
type messages struct {
	r       *bufio.Reader
	file    bool // the index of a file stands behind the stream
	ended   bool // there are no more messages
	unended bool // and the stream does not say so
	nesting arrowstream.Nesting
	memory  *arrowstream.Frugal
	err     error
}

// newMessages begins a stream, behind the magic word of a file.
func newMessages(r io.Reader) *messages {
	m := &messages{r: bufio.NewReaderSize(r, 1<<20), memory: &arrowstream.Frugal{}}
	if start, err := m.r.Peek(8); err == nil && bytes.HasPrefix(start, []byte(magic)) {
		m.r.Discard(8)
		m.file = true
	}
	return m
}

func (m *messages) Retain()  {}
func (m *messages) Release() {}

// refusal prefers our own error to what the library made of it.
func (m *messages) refusal(err error) error {
	if m.err != nil {
		return m.err
	}
	return damaged("the Arrow file", err)
}

// broken is what ended a stream before its end, or left its end unsaid: an end that the library makes of a message is
// none of the stream.
func (m *messages) broken(err error) error {
	switch {
	case m.err == nil && m.ended && m.unended:
		return errUnended
	case m.err == nil && m.ended:
		return nil
	case err == nil || errors.Is(err, io.EOF):
		err = errors.New("a message does not fit what describes it")
	}
	return m.refusal(err)
}

// Message gives the next message, io.EOF at the end.
func (m *messages) Message() (*ipc.Message, error) {
	meta, err := m.metadata()
	if err == nil {
		var size int64
		if size, err = arrowstream.CheckMessage(meta, m.nesting); err == nil {
			return m.withBody(meta, size)
		}
	}
	if errors.Is(err, arrowstream.ErrUnheld) {
		m.err = recording.Refuse("", "%v", err)
	} else if errors.Is(err, io.ErrUnexpectedEOF) {
		m.err = recording.Refuse("copy it again", "the Arrow file is cut short")
	} else if !errors.Is(err, io.EOF) {
		m.err = recording.Refuse("copy it again", "the Arrow file is damaged (%v)", err)
	} else if m.ended = true; m.file {
		m.checkEnd()
	}
	return nil, err
}

// checkEnd reads the index of a file, which ends in the magic word unless it was cut off.
func (m *messages) checkEnd() {
	end := make([]byte, 0, len(magic))
	for {
		b, err := m.r.ReadByte()
		if err != nil {
			break
		}
		if len(end) == len(magic) {
			end = append(end[:0], end[1:]...)
		}
		end = append(end, b)
	}
	if string(end) != magic {
		m.err = recording.Refuse("copy it again", "the end of the Arrow file is missing")
	}
}

func (m *messages) metadata() ([]byte, error) {
	var word [4]byte
	if _, err := io.ReadFull(m.r, word[:]); err != nil {
		m.unended = true
		return nil, err
	}
	length := binary.LittleEndian.Uint32(word[:])
	switch {
	case length == continuation:
		if _, err := io.ReadFull(m.r, word[:]); err != nil {
			return nil, io.ErrUnexpectedEOF
		}
		length = binary.LittleEndian.Uint32(word[:])
	case m.file:
		return nil, io.EOF // the index: some writers leave the end of the stream out
	}
	if length == 0 {
		return nil, io.EOF
	}
	if length < 8 || length > mostMetadata {
		return nil, errors.New("a message has an impossible length")
	}
	return readFull(m.r, int64(length))
}

func (m *messages) withBody(meta []byte, size int64) (*ipc.Message, error) {
	if size < 0 || size > recording.MaxExpanded {
		m.err = recording.Refuse("copy it again", "the Arrow file is damaged: a message claims %d bytes", size)
		return nil, m.err
	}
	body, err := readFull(m.r, size)
	if err != nil {
		m.err = recording.Refuse("copy it again", "the Arrow file is cut short")
		return nil, m.err
	}
	m.memory.Left = size*expansion + 1<<20
	return ipc.NewMessage(memory.NewBufferBytes(meta), memory.NewBufferBytes(body)), nil
}

// arrowTable is a schema, understood.
type arrowTable struct {
	header  tabular.Header
	unread  []string
	columns []arrowColumn
}

// arrowColumn is a column of the table: a field of the schema, or of one that holds the coordinates of a point
// together, x, y or z.
type arrowColumn struct {
	field int
	part  int // -1 where it is a whole field
}

func arrowColumns(s *arrow.Schema) arrowTable {
	t := arrowTable{header: tabular.Header{Said: map[string]string{}}}
	add := func(title, unit string, field, part int) {
		t.header.Titles, t.header.Units = append(t.header.Titles, title), append(t.header.Units, unit)
		t.columns = append(t.columns, arrowColumn{field, part})
	}
	for i, f := range s.Fields() {
		unit, _ := f.Metadata.GetValue("unit")
		switch titles := partTitles(f); {
		case titles != nil:
			for k, title := range titles {
				add(title, unit, i, k)
			}
		case canRead(f.Type):
			add(f.Name, unit, i, -1)
		default:
			t.unread = append(t.unread, f.Name)
		}
	}
	for i, key := range s.Metadata().Keys() {
		t.header.Said[key] = s.Metadata().Values()[i]
	}
	return t
}

// take takes the rows of a record, some at a time.
func (t *arrowTable) take(r arrow.Record, to *table) error {
	for from := int64(0); from < r.NumRows(); from += mostRows {
		piece := r.NewSlice(from, min(from+mostRows, r.NumRows()))
		b, err := t.batch(piece)
		piece.Release()
		if err == nil {
			err = to.take(b)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (t *arrowTable) batch(r arrow.Record) (tabular.Batch, error) {
	n := len(t.columns)
	b := tabular.Batch{Rows: int(r.NumRows()), Numbers: make([][]float64, n), Texts: make([][]string, n)}
	var places [][]float64 // of the last list
	for i, c := range t.columns {
		var err error
		switch values := r.Column(c.field).(type) {
		case *array.Struct:
			b.Numbers[i], b.Texts[i], err = fieldOf(values, c.part)
		case array.ListLike:
			if c.part == 0 {
				places, err = placesOf(values)
			}
			if err == nil {
				b.Numbers[i] = places[c.part]
			}
		default:
			b.Numbers[i], b.Texts[i], err = valuesOf(values)
		}
		if own := new(recording.Error); errors.As(err, &own) {
			return b, inColumn(r.ColumnName(c.field), err)
		}
		if err != nil {
			return b, recording.Refuse("copy it again", "column %s is damaged: %v", r.ColumnName(c.field), err)
		}
		if got := len(b.Numbers[i]) + len(b.Texts[i]); got != b.Rows {
			return b, recording.Refuse("copy it again", "column %s has %d values in %d rows", t.header.Titles[i], got, b.Rows)
		}
	}
	return b, nil
}
