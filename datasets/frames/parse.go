package frames

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
	"unsafe"

	"tossline/datasets/landmark"
)

// The framing of an Arrow IPC file and the codes of its FlatBuffers schemas (File.fbs, Schema.fbs, Message.fbs of the
// Arrow columnar format 1.4).
const (
	magic        = "ARROW1"
	continuation = 0xFFFFFFFF

	typeFloatingPoint = 3
	typeFixedSizeList = 16
	precisionSingle   = 1
	headerRecordBatch = 3

	blockSize     = 24 // offset, metadata length (padded), body length
	fieldNodeSize = 16 // length, null count
	bufferSize    = 16 // offset, length

	maxDescription = 1 << 20 // bytes of footer or message; those that Write makes have a few thousand
)

var errNotFrames = errors.New("not a frames file of a season")

// parse checks the structure of a whole file and gives its facts and values, which share data's memory. It reads the
// two ends of data, never the values.
func parse(data []byte) (Facts, []float32, error) {
	footer, err := findFooter(data)
	if err != nil {
		return Facts{}, nil, err
	}
	f := &flat{buf: footer}
	root := f.root()
	facts, err := readSchema(f, f.tableField(root, 1))
	if err != nil {
		return Facts{}, nil, err
	}
	at, n := f.vectorField(root, 3, blockSize)
	if f.err != nil {
		return Facts{}, nil, f.err
	}
	if n != 1 {
		return Facts{}, nil, fmt.Errorf("%d batches of frames where one was expected", n)
	}
	block := block{offset: f.i64(at), meta: int64(int32(f.u32(at + 8))), body: f.i64(at + 16)}
	values, err := block.values(data, 3*len(facts.Landmarks))
	if err != nil {
		return Facts{}, nil, err
	}
	return facts, values, facts.check(len(values))
}

// findFooter gives the FlatBuffers footer of a file.
func findFooter(data []byte) ([]byte, error) {
	const tail = 4 + len(magic)
	if len(data) < 8+tail || !bytes.HasPrefix(data, []byte(magic)) {
		return nil, errNotFrames
	}
	if !bytes.HasSuffix(data, []byte(magic)) {
		return nil, errors.New("the end is missing: the file was cut short or overwritten")
	}
	end := len(data) - tail
	size := int64(int32(binary.LittleEndian.Uint32(data[end:])))
	if size <= 0 || size > maxDescription || size > int64(end-8) {
		return nil, fmt.Errorf("a footer of %d bytes does not fit into the file", size)
	}
	return data[end-int(size) : end], nil
}

// readSchema takes the facts out of a schema table, and refuses any other column than Write's.
func readSchema(f *flat, schema place) (Facts, error) {
	meta := readMetadata(f, schema, 2)
	endianness := f.shortField(schema, 0)
	at, n := f.vectorField(schema, 1, 4)
	if f.err != nil {
		return Facts{}, f.err
	}
	if meta[keyFormat] != formatVersion {
		return Facts{}, fmt.Errorf("%w: format %q, expected %q", errNotFrames, meta[keyFormat], formatVersion)
	}
	if endianness != 0 || n != 1 {
		return Facts{}, fmt.Errorf("%w: %d columns, expected xyz alone in little-endian order", errNotFrames, n)
	}
	width, err := readColumn(f, f.follow(at))
	if err != nil {
		return Facts{}, err
	}
	facts := Facts{SourceSHA256: meta[keySource]}
	if facts.RateHz, err = strconv.ParseFloat(meta[keyRate], 64); err != nil {
		return Facts{}, fmt.Errorf("frame rate %q is no number", meta[keyRate])
	}
	for name := range strings.SplitSeq(meta[keyLandmarks], ",") {
		if !utf8.ValidString(name) {
			return Facts{}, errors.New("a landmark's name is not UTF-8")
		}
		facts.Landmarks = append(facts.Landmarks, landmark.Name(name))
	}
	if 3*len(facts.Landmarks) != width {
		return Facts{}, fmt.Errorf("%d landmarks are named, but a frame has %d values", len(facts.Landmarks), width)
	}
	return facts, nil
}

// readColumn gives the number of values a row of the xyz column.
func readColumn(f *flat, field place) (int, error) {
	name, kind := f.stringField(field, 0), f.byteField(field, 2)
	size := f.intField(f.tableField(field, 3), 0)
	at, children := f.vectorField(field, 5, 4)
	if f.err != nil {
		return 0, f.err
	}
	if name != column || kind != typeFixedSizeList || children != 1 || size <= 0 {
		return 0, fmt.Errorf("%w: column %q is not a list of fixed size", errNotFrames, name)
	}
	child := f.follow(at)
	kind = f.byteField(child, 2)
	precision := f.shortField(f.tableField(child, 3), 0)
	if f.err == nil && (kind != typeFloatingPoint || precision != precisionSingle) {
		return 0, fmt.Errorf("%w: values are not 32-bit floating point", errNotFrames)
	}
	return int(size), f.err
}

func readMetadata(f *flat, table place, number int) map[string]string {
	at, n := f.vectorField(table, number, 4)
	meta := make(map[string]string, 4)
	for i := range n {
		entry := f.follow(at + 4*i)
		key, value := f.stringField(entry, 0), f.stringField(entry, 1)
		if f.err != nil {
			return nil
		}
		meta[key] = value
	}
	return meta
}

// A block is where a record batch lies in a file: the message that describes it, then its body.
type block struct{ offset, meta, body int64 }

// values gives the body's numbers, width of them a row.
func (b block) values(data []byte, width int) ([]float32, error) {
	size := int64(len(data))
	if b.offset < 8 || b.meta < 8 || b.meta > maxDescription || b.body < 0 ||
		b.offset > size-b.meta || b.body > size-b.offset-b.meta {
		return nil, errors.New("the frames lie outside the file: it was cut short or overwritten")
	}
	message := data[b.offset : b.offset+b.meta]
	if binary.LittleEndian.Uint32(message) != continuation {
		return nil, errors.New("the description of the frames is damaged")
	}
	f := &flat{buf: message[8:]}
	root := f.root()
	batch := f.tableField(root, 2)
	kind, body := f.byteField(root, 1), f.longField(root, 3)
	compression := f.tableField(batch, 3)
	if f.err != nil {
		return nil, f.err
	}
	if kind != headerRecordBatch || compression != 0 || body != b.body {
		return nil, errors.New("the description of the frames is damaged")
	}
	start, length, err := readBatch(f, batch, int64(width))
	if err != nil {
		return nil, err
	}
	if start < 0 || start > b.body-length {
		return nil, errors.New("the frames lie outside the file: it was cut short or overwritten")
	}
	from := b.offset + b.meta + start
	return asFloats(data[from : from+length])
}

// readBatch gives where in the body the values lie, in bytes.
func readBatch(f *flat, batch place, width int64) (start, length int64, err error) {
	rows := f.longField(batch, 0)
	nodes, nNodes := f.vectorField(batch, 1, fieldNodeSize)
	buffers, nBuffers := f.vectorField(batch, 2, bufferSize)
	if f.err != nil {
		return 0, 0, f.err
	}
	if nNodes != 2 || nBuffers != 3 || rows <= 0 || rows > math.MaxInt64/4/width {
		return 0, 0, errors.New("the description of the frames is damaged")
	}
	list, values := f.i64(nodes), f.i64(nodes+fieldNodeSize)
	nulls := f.i64(nodes+8) | f.i64(nodes+fieldNodeSize+8)
	start, length = f.i64(buffers+2*bufferSize), f.i64(buffers+2*bufferSize+8)
	if list != rows || values != rows*width || nulls != 0 || length < 4*values {
		return 0, 0, errors.New("the description of the frames does not match their number")
	}
	return start, 4 * values, f.err
}

// asFloats views bytes as the little-endian machine's own numbers.
func asFloats(raw []byte) ([]float32, error) {
	if uintptr(unsafe.Pointer(unsafe.SliceData(raw)))%unsafe.Alignof(float32(0)) != 0 {
		return nil, errors.New("the frames do not start at a multiple of four bytes")
	}
	return unsafe.Slice((*float32)(unsafe.Pointer(unsafe.SliceData(raw))), len(raw)/4), nil
}
