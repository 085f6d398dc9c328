// Package arrowstream checks Arrow IPC streams before the library reads them.
//
// Arrow 17 allocates for what a message claims without looking whether it is there. What passes these checks may still
// make it panic, but not take all memory.
package arrowstream

import (
	"encoding/binary"
	"errors"
	"fmt"
	"strconv"
	"strings"

	flatbuffers "github.com/google/flatbuffers/go"
)

// The places of fields in the tables of Arrow's flatbuffer schemas that are read here (Message.fbs and Schema.fbs of
// Arrow 17), counted from 0 in the order in which the schemas list them; a union counts for two.
const (
	messageHeaderType = 1
	messageHeader     = 2
	messageBodyLength = 3
	messageMetadata   = 4

	schemaFields   = 1
	schemaMetadata = 2
	schemaFeatures = 3

	fieldName     = 0
	fieldChildren = 5
	fieldMetadata = 6

	batchNodes    = 1
	batchBuffers  = 2
	batchVariadic = 4

	dictionaryData = 1

	headerSchema, headerDictionary, headerBatch = 1, 2, 3
)

const continuation = 0xFFFFFFFF

// MaxColumns is how many columns a table has at most.
const MaxColumns = 10_000

var errCutOff = errors.New("it is damaged or cut off")

// ErrUnheld is the cause where a stream is sound, but a table doesn't hold what it has.
var ErrUnheld = errors.New("which a table doesn't hold")

// Nesting says how deep columns may be nested. Depth without end can be made to take for ever to read.
type Nesting int

// The nestings: no lists and structs, or those of plain values.
const (
	Flat Nesting = iota
	OneDeep
)

// Check walks over the messages of a stream and refuses what Arrow 17 would allocate for without looking: a message, or
// a list in it, that claims to be longer than the bytes that are there. It refuses nested columns as well, which a
// table doesn't hold.
func Check(data []byte) (err error) {
	defer func() {
		if problem := recover(); problem != nil {
			err = errCutOff
		}
	}()
	for len(data) >= 8 {
		length := binary.LittleEndian.Uint32(data)
		data = data[4:]
		if length == continuation {
			length = binary.LittleEndian.Uint32(data)
			data = data[4:]
		}
		if length == 0 {
			return nil // the end of the stream
		}
		if uint64(length) > uint64(len(data)) || length < 8 {
			return errCutOff
		}
		body, err := checkMessage(data[:length], Flat)
		if err != nil {
			return err
		}
		data = data[length:]
		if body < 0 || body > int64(len(data)) {
			return errCutOff
		}
		data = data[body:]
	}
	for _, b := range data {
		if b != 0 {
			return errCutOff
		}
	}
	return nil
}

// checkMessage gives the length of the body that follows a message.
func checkMessage(meta []byte, nesting Nesting) (int64, error) {
	m := flat{flatbuffers.Table{Bytes: meta, Pos: flatbuffers.GetUOffsetT(meta)}}
	if _, err := m.list(messageMetadata, 4); err != nil {
		return 0, err
	}
	body := int64(0)
	if at := m.at(messageBodyLength); at != 0 {
		body = m.GetInt64(at)
	}
	kind, header := m.at(messageHeaderType), m.at(messageHeader)
	if kind == 0 || header == 0 {
		return 0, errCutOff
	}
	inner := m.table(header)
	switch m.GetByte(kind) {
	case headerSchema:
		return body, inner.checkSchema(nesting)
	case headerDictionary:
		if at := inner.at(dictionaryData); at != 0 {
			return body, inner.table(at).checkBatch()
		}
		return body, errCutOff
	case headerBatch:
		return body, inner.checkBatch()
	}
	return body, errors.New("it holds something other than a table")
}

// flat is a flatbuffer table.
type flat struct{ flatbuffers.Table }

// at is the position of a field's value, or 0 where the table doesn't have it.
func (f flat) at(field int) flatbuffers.UOffsetT {
	offset := f.Offset(flatbuffers.VOffsetT(4 + 2*field))
	if offset == 0 {
		return 0
	}
	return f.Pos + flatbuffers.UOffsetT(offset)
}

// table follows the offset at a position.
func (f flat) table(at flatbuffers.UOffsetT) flat {
	return flat{flatbuffers.Table{Bytes: f.Bytes, Pos: f.Indirect(at)}}
}

// list gives the positions of the elements of a field that is a list; nil where it is absent.
func (f flat) list(field, elementSize int) ([]flatbuffers.UOffsetT, error) {
	at := f.at(field)
	if at == 0 {
		return nil, nil
	}
	start := f.Indirect(at)
	n := int64(f.GetUint32(start))
	first := int64(start) + 4
	if first+n*int64(elementSize) > int64(len(f.Bytes)) {
		return nil, errCutOff
	}
	elements := make([]flatbuffers.UOffsetT, n)
	for i := range elements {
		elements[i] = flatbuffers.UOffsetT(first + int64(i*elementSize))
	}
	return elements, nil
}

func (f flat) checkLists(elementSizes map[int]int) error {
	for field, size := range elementSizes {
		if _, err := f.list(field, size); err != nil {
			return err
		}
	}
	return nil
}

func (f flat) checkBatch() error {
	return f.checkLists(map[int]int{batchNodes: 16, batchBuffers: 16, batchVariadic: 8})
}

func (f flat) checkSchema(nesting Nesting) error {
	if err := f.checkLists(map[int]int{schemaMetadata: 4, schemaFeatures: 8}); err != nil {
		return err
	}
	fields, err := f.list(schemaFields, 4)
	if err != nil {
		return err
	}
	all := len(fields)
	for _, at := range fields {
		children, err := f.table(at).children()
		if err != nil {
			return err
		}
		if all += len(children); all > MaxColumns {
			return fmt.Errorf("it has %d columns, more than the %d of the widest table, %w", all, MaxColumns, ErrUnheld)
		}
		if len(children) > 0 && nesting == Flat {
			return f.table(at).unheld()
		}
		for _, child := range children {
			below, err := f.table(child).children()
			if err != nil {
				return err
			}
			if len(below) > 0 {
				return f.table(at).unheld()
			}
		}
	}
	return nil
}

// children gives the positions of the fields of a field of a schema.
func (f flat) children() ([]flatbuffers.UOffsetT, error) {
	if _, err := f.list(fieldMetadata, 4); err != nil {
		return nil, err
	}
	return f.list(fieldChildren, 4)
}

func (f flat) unheld() error {
	return fmt.Errorf("column %s holds lists or structs, %w", strconv.QuoteToGraphic(f.name()), ErrUnheld)
}

// name is the name of a field of a schema, as far as it is one that can be shown.
func (f flat) name() string {
	at := f.at(fieldName)
	if at == 0 {
		return ""
	}
	name := f.String(at)
	return strings.ToValidUTF8(name[:min(len(name), 100)], "")
}

// CheckMessage does the same with the metadata of one message, for those who read streams too long for memory, and
// gives the length of the body that follows it.
func CheckMessage(meta []byte, nesting Nesting) (body int64, err error) {
	defer func() {
		if problem := recover(); problem != nil {
			body, err = 0, errCutOff
		}
	}()
	return checkMessage(meta, nesting)
}
