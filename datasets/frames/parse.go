package frames

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

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

var (
	errNotFrames = errors.New("not a frames file of a season")
	errDamaged   = errors.New("the description of the frames is damaged")
)

// A span is a stretch of a file, in bytes.
type span struct{ from, length int64 }

// parse checks the structure of a file of the given size and gives its facts and where its values lie. It reads the
// two ends of the file, never the values: by reading and not through a mapping, since the first touch of a mapped page
// costs more than all the rest.
func parse(r io.ReaderAt, size int64) (Facts, span, error) {
	footer, err := readFooter(r, size)
	if err != nil {
		return Facts{}, span{}, err
	}
	f := &flat{buf: footer}
	root := f.root()
	facts, err := readSchema(f, f.tableField(root, 1))
	if err != nil {
		return Facts{}, span{}, err
	}
	at, n := f.vectorField(root, 3, blockSize)
	if f.err != nil {
		return Facts{}, span{}, f.err
	}
	if n != 1 {
		return Facts{}, span{}, fmt.Errorf("%d batches of frames where one was expected", n)
	}
	block := block{offset: f.i64(at), meta: int64(int32(f.u32(at + 8))), body: f.i64(at + 16)}
	values, err := block.locate(r, size, 3*len(facts.Landmarks))
	if err != nil {
		return Facts{}, span{}, err
	}
	return facts, values, facts.check(int(values.length / 4))
}

// readFooter gives the FlatBuffers footer of a file. Most fit into the first read.
func readFooter(r io.ReaderAt, size int64) ([]byte, error) {
	const framing = 4 + len(magic)
	end := make([]byte, min(size, 4096))
	if size < 8+int64(framing) {
		return nil, errNotFrames
	}
	if _, err := r.ReadAt(end, size-int64(len(end))); err != nil {
		return nil, err
	}
	if !bytes.HasSuffix(end, []byte(magic)) {
		return nil, refuseEnd(r)
	}
	end = end[:len(end)-framing]
	length := int64(int32(binary.LittleEndian.Uint32(end[len(end):][:4])))
	if length <= 0 || length > maxDescription || length > size-int64(framing)-8 {
		return nil, fmt.Errorf("a footer of %d bytes does not fit into the file", length)
	}
	if length <= int64(len(end)) {
		return end[int64(len(end))-length:], nil
	}
	footer := make([]byte, length)
	_, err := r.ReadAt(footer, size-int64(framing)-length)
	return footer, err
}

// refuseEnd tells a file that lost its end from one that never was Arrow.
func refuseEnd(r io.ReaderAt) error {
	var start [len(magic)]byte
	if _, err := r.ReadAt(start[:], 0); err != nil || string(start[:]) != magic {
		return errNotFrames
	}
	return errors.New("the end is missing: the file was cut short or overwritten")
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

// locate gives where the body's numbers lie, width of them a row.
func (b block) locate(r io.ReaderAt, size int64, width int) (span, error) {
	if b.offset < 8 || b.meta < 8 || b.meta > maxDescription || b.body < 0 ||
		b.offset > size-b.meta || b.body > size-b.offset-b.meta {
		return span{}, errors.New("the frames lie outside the file: it was cut short or overwritten")
	}
	message := make([]byte, b.meta)
	if _, err := r.ReadAt(message, b.offset); err != nil {
		return span{}, err
	}
	if binary.LittleEndian.Uint32(message) != continuation {
		return span{}, errDamaged
	}
	f := &flat{buf: message[8:]}
	root := f.root()
	batch := f.tableField(root, 2)
	kind, body := f.byteField(root, 1), f.longField(root, 3)
	compression := f.tableField(batch, 3)
	if f.err != nil {
		return span{}, f.err
	}
	if kind != headerRecordBatch || compression != 0 || body != b.body {
		return span{}, errDamaged
	}
	values, err := readBatch(f, batch, int64(width))
	if err != nil {
		return span{}, err
	}
	if values.from < 0 || values.length > b.body || values.from > b.body-values.length {
		return span{}, errors.New("the frames lie outside the file: it was cut short or overwritten")
	}
	values.from += b.offset + b.meta
	if values.from%4 != 0 {
		return span{}, errors.New("the frames do not start at a multiple of four bytes")
	}
	return values, nil
}

// readBatch gives where in the body the values lie.
func readBatch(f *flat, batch place, width int64) (span, error) {
	rows := f.longField(batch, 0)
	nodes, nNodes := f.vectorField(batch, 1, fieldNodeSize)
	buffers, nBuffers := f.vectorField(batch, 2, bufferSize)
	if f.err != nil {
		return span{}, f.err
	}
	if nNodes != 2 || nBuffers != 3 || rows <= 0 || rows > math.MaxInt64/4/width {
		return span{}, errDamaged
	}
	list, values := f.i64(nodes), f.i64(nodes+fieldNodeSize)
	nulls := f.i64(nodes+8) | f.i64(nodes+fieldNodeSize+8)
	from, length := f.i64(buffers+2*bufferSize), f.i64(buffers+2*bufferSize+8)
	if list != rows || values != rows*width || nulls != 0 || length < 4*values {
		return span{}, errDamaged
	}
	return span{from, 4 * values}, f.err
}
