package engine

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"sync"
)

// Frame is one message on a pipe: a JSON head, then Parts as they are.
//
// On the wire, integers little-endian: length of the head, uint32; length of everything after the head, uint64; the
// head; the parts, one after the other, their lengths in the head.
type Frame struct {
	Kind  Kind
	ID    uint64 // the request that this is, or answers; 0 where there is none
	Body  json.RawMessage
	Parts []Part
}

// Part is a run of bytes that travels beside the JSON, such as an Arrow stream.
type Part struct {
	Name  string
	Bytes []byte
}

// head is the JSON of a Frame.
type head struct {
	Kind  Kind            `json:"kind"`
	ID    uint64          `json:"id,omitempty"`
	Body  json.RawMessage `json:"body,omitempty"`
	Parts []partHead      `json:"parts,omitempty"`
}

type partHead struct {
	Name string `json:"name"`
	Size int64  `json:"size"`
}

// Limits of one frame. What a season needs to be opened may be larger than anything that an engine has to say.
const (
	MaxHead     = 32 << 20
	MaxAnswer   = 96 << 20 // parts of a frame from the engine
	MaxQuestion = 1 << 30  // parts of a frame to the engine
	maxParts    = 4096
)

// NewFrame makes a frame with body as its JSON.
func NewFrame(kind Kind, id uint64, body any, parts ...Part) (Frame, error) {
	f := Frame{Kind: kind, ID: id, Parts: parts}
	if body == nil {
		return f, nil
	}
	text, err := json.Marshal(body)
	if err != nil {
		return Frame{}, fmt.Errorf("%s: %w", kind, err)
	}
	f.Body = text
	return f, nil
}

// Size is about the number of bytes that the frame takes on the wire; none takes 0.
func (f Frame) Size() int64 {
	const around = 50 // the JSON around the body, or around a part's name
	n := prefix + around + int64(len(f.Body))
	for _, p := range f.Parts {
		n += around + int64(len(p.Name)+len(p.Bytes))
	}
	return n
}

// Writer writes frames to a pipe, whole ones only, from any goroutine.
type Writer struct {
	mu sync.Mutex // holds frames apart
	w  io.Writer
}

// NewWriter returns a Writer on w.
func NewWriter(w io.Writer) *Writer { return &Writer{w: w} }

// Write writes one frame. After an error the pipe is of no further use.
func (w *Writer) Write(f Frame) error {
	h := head{Kind: f.Kind, ID: f.ID, Body: f.Body}
	total := int64(0)
	for _, p := range f.Parts {
		h.Parts = append(h.Parts, partHead{p.Name, int64(len(p.Bytes))})
		total += int64(len(p.Bytes))
	}
	text, err := json.Marshal(h)
	if err != nil {
		return fmt.Errorf("%s: %w", f.Kind, err)
	}
	if len(text) > MaxHead {
		return fmt.Errorf("%s: a head of %d bytes; the most is %d", f.Kind, len(text), MaxHead)
	}
	start := make([]byte, prefix, prefix+len(text))
	binary.LittleEndian.PutUint32(start, uint32(len(text)))
	binary.LittleEndian.PutUint64(start[4:], uint64(total))
	w.mu.Lock()
	defer w.mu.Unlock()
	if _, err := w.w.Write(append(start, text...)); err != nil {
		return err
	}
	for _, p := range f.Parts {
		if _, err := w.w.Write(p.Bytes); err != nil {
			return err
		}
	}
	return nil
}

const prefix = 4 + 8

// Reader reads frames from a pipe whose other end may be hostile.
type Reader struct {
	r        io.Reader
	maxParts int64
}

// NewReader returns a Reader on r that accepts parts of maxParts bytes a frame.
func NewReader(r io.Reader, maxParts int64) *Reader { return &Reader{r, maxParts} }

// Read reads the next frame. The error is io.EOF where the pipe ended between frames; any other says what was wrong,
// and the pipe is of no further use.
func (r *Reader) Read() (Frame, error) {
	var start [prefix]byte
	if _, err := io.ReadFull(r.r, start[:]); err != nil {
		return Frame{}, err
	}
	textLen := int64(binary.LittleEndian.Uint32(start[:]))
	rest := binary.LittleEndian.Uint64(start[4:])
	if textLen > MaxHead || rest > uint64(r.maxParts) {
		return Frame{}, fmt.Errorf("a message of %d and %d bytes; the most is %d and %d", textLen, rest, MaxHead, r.maxParts)
	}
	text, err := r.take(textLen)
	if err != nil {
		return Frame{}, err
	}
	var h head
	if err := json.Unmarshal(text, &h); err != nil {
		return Frame{}, fmt.Errorf("the head of a message: %w", err)
	}
	if err := h.check(int64(rest)); err != nil {
		return Frame{}, err
	}
	f := Frame{Kind: h.Kind, ID: h.ID, Body: h.Body}
	for _, p := range h.Parts {
		b, err := r.take(p.Size)
		if err != nil {
			return Frame{}, err
		}
		f.Parts = append(f.Parts, Part{p.Name, b})
	}
	return f, nil
}

// check compares the parts that the head names with the number of bytes that follow it.
func (h head) check(rest int64) error {
	if h.Kind == "" {
		return fmt.Errorf("a message without a kind")
	}
	if len(h.Parts) > maxParts {
		return fmt.Errorf("a message of %d parts; the most is %d", len(h.Parts), maxParts)
	}
	for _, p := range h.Parts {
		if p.Size < 0 || p.Size > rest {
			return fmt.Errorf("a part of %d bytes where %d are left", p.Size, rest)
		}
		rest -= p.Size
	}
	if rest != 0 {
		return fmt.Errorf("%d bytes belong to no part", rest)
	}
	return nil
}

// take reads n bytes. It doesn't trust n: memory grows with what arrives.
func (r *Reader) take(n int64) ([]byte, error) {
	const trusted = 1 << 20
	if n <= trusted {
		b := make([]byte, n)
		_, err := io.ReadFull(r.r, b)
		return b, whole(err)
	}
	var b bytes.Buffer
	b.Grow(trusted)
	_, err := io.CopyN(&b, r.r, n)
	return b.Bytes(), whole(err)
}

// whole turns an end in the middle of a frame into the error that it is.
func whole(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}
