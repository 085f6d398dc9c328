package delimited

import (
	"bytes"
	"errors"
	"io"
	"runtime"
	"slices"

	"tossline/datasets/decimal"
	"tossline/datasets/recording"
)

// A file is read in blocks of whole lines. Blocks are parsed by as many goroutines as there are processors and come
// back in order, so that memory is bounded by a few blocks whatever the file's size.
const (
	blockLen = 1 << 18 // what is parsed stays in the processor's cache until it is put together
	lineLen  = 1 << 20 // the longest line
	// padding is zero bytes behind a block, so that its numbers may be read ahead of the last line.
	padding = decimal.Around
)

// block is a piece of the file that ends in a newline, with padding behind it.
type block struct {
	text []byte // len includes the newline and not the padding; cap covers the padding
	last bool   // the file ends with this block
	cut  bool   // the file's last line had no newline of its own
}

// padded is the text with the padding.
func (b block) padded() []byte { return b.text[:len(b.text)+padding] }

// inBlocks hands blocks of r to parse in parallel and the results to take in order. It stops at the first error of
// take or of reading.
func inBlocks[T any](r io.Reader, parse func(block) T, take func(T) error) error {
	workers := runtime.GOMAXPROCS(0)
	pending := make(chan chan T, workers+1)
	free := make(chan []byte, 2*workers+4)
	stop := make(chan struct{})
	var readErr error
	go func() {
		defer close(pending)
		slots := make(chan struct{}, workers)
		readErr = readBlocks(r, free, func(b block) bool {
			result := make(chan T, 1)
			select {
			case pending <- result:
			case <-stop:
				return false
			}
			slots <- struct{}{}
			go func() {
				result <- parse(b)
				select {
				case free <- b.text[:0]:
				default:
				}
				<-slots
			}()
			return true
		})
	}()
	var err error
	for result := range pending {
		t := <-result
		if err == nil {
			if err = take(t); err != nil {
				close(stop)
			}
		}
	}
	if err == nil {
		err = readErr
	}
	return err
}

// readBlocks cuts r into blocks of whole lines. It gives nil when emit wants no more.
func readBlocks(r io.Reader, free <-chan []byte, emit func(block) bool) error {
	var rest []byte // the start of a line whose end is not read yet
	for {
		text := newBlock(free)
		text = append(text, rest...)
		room := blockLen - len(text)
		if room <= 0 { // a long line
			room = blockLen
			text = slices.Grow(text, room+1+padding)
		}
		n, err := io.ReadFull(r, text[len(text):len(text)+room])
		text = text[:len(text)+n]
		if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
			return err
		}
		if err != nil { // the end of the file
			b := block{text: text, last: true}
			if len(text) > 0 && text[len(text)-1] != '\n' {
				b.text, b.cut = append(text, '\n'), true
			}
			clearPadding(b)
			emit(b)
			return nil
		}
		end := bytes.LastIndexByte(text, '\n') + 1
		if end == 0 && len(text) >= lineLen {
			return errLongLine
		}
		rest = append(rest[:0], text[end:]...)
		if end == 0 {
			continue
		}
		b := block{text: text[:end]}
		clearPadding(b)
		if !emit(b) {
			return nil
		}
	}
}

var errLongLine = errors.New("long line")

// longLine is the message for errLongLine, after so many whole lines.
func longLine(lines int) error {
	return &recording.Error{Line: lines + 1, Text: "the line is longer than 1 MB",
		Remedy: "a recording has a line for each frame: the file is damaged or something else"}
}

func newBlock(free <-chan []byte) []byte {
	select {
	case text := <-free:
		return text
	default:
		return make([]byte, 0, blockLen+1+padding)
	}
}

func clearPadding(b block) { clear(b.text[len(b.text) : len(b.text)+padding]) }
