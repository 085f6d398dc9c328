package recording

import (
	"bufio"
	"bytes"
	"compress/flate"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"sync"

	"github.com/klauspost/compress/gzip"
)

// Format is one kind of file. A format has Read or ReadAt: Read takes a stream, which may come out of a gzip
// file; ReadAt wants to seek.
type Format struct {
	Name  string // "bvh", as in Raw.Format
	Title string // "BVH motion capture", for people

	// Probe reports whether a file that starts with head is of this format. Head holds the first ProbeLen bytes,
	// or the whole file where it is shorter. It looks at content, never at names.
	Probe func(head []byte) bool
	// Rank orders the probing: binary formats with a signature first, fuzzy text last.
	Rank int

	Read   func(r io.Reader) (*Raw, error)
	ReadAt func(r io.ReaderAt, size int64) (*Raw, error)
}

// ProbeLen is how much of a file a Probe sees.
const ProbeLen = 64 << 10

// Expansion limits: a gzip file may grow to MaxExpanded bytes, and by no more than MaxRatio.
const (
	MaxExpanded = 16 << 30
	MaxRatio    = 200
)

var registry struct {
	sync.Mutex // protects formats
	formats    []Format
}

// Register makes a format known to Prepare. Format packages call it from init; package formats imports them all.
func Register(f Format) {
	registry.Lock()
	defer registry.Unlock()
	registry.formats = append(registry.formats, f)
	sort.SliceStable(registry.formats, func(i, j int) bool {
		a, b := registry.formats[i], registry.formats[j]
		return a.Rank < b.Rank || a.Rank == b.Rank && a.Name < b.Name
	})
}

// Formats lists the known formats in the order of probing.
func Formats() []Format {
	registry.Lock()
	defer registry.Unlock()
	return append([]Format(nil), registry.formats...)
}

// Input is a file to be read. Progress may be nil; it hears how much of the work is done. Reading is half of it. It is
// called from one goroutine at a time.
type Input struct {
	Name     string // for messages, and for what file names say of players and sessions
	Data     io.ReaderAt
	Size     int64
	Progress func(done, total int64)

	// RawRoom and FrameRoom are empty and have room for numbers: those of the file, and those of the takes with their
	// signals, one after the other. They may lie in mapped files, so that a recording need not fit into memory. What
	// does not fit into them, or all where they are nil, is kept in memory.
	RawRoom, FrameRoom []float32
}

// RoomOf gives the room for the numbers of a file, nil where there is none. r is what a Format's Read or ReadAt gets.
func RoomOf(r any) []float32 {
	if in, ok := r.(interface{ room() []float32 }); ok {
		return in.room()
	}
	return nil
}

// AliveOf gives what a format calls now and then while it works without reading on, so that it is not taken for stuck.
// r is what its Read or ReadAt gets.
func AliveOf(r any) func() {
	if in, ok := r.(interface{ alive() }); ok {
		return in.alive
	}
	return func() {}
}

// stream is a file that is read from its start to its end.
type stream struct {
	io.Reader
	size    int64 // 0 where unknown
	numbers []float32
	file    *watched
}

// Size is the length of the stream in bytes, 0 where it is unknown.
func (s *stream) Size() int64     { return s.size }
func (s *stream) room() []float32 { return s.numbers }
func (s *stream) alive()          { s.file.alive() }

// OpenFile opens the file at path as an Input. It refuses what is no file with a sentence.
func OpenFile(path string) (Input, io.Closer, error) {
	name := filepath.Base(path)
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return Input{}, nil, &Error{File: path, Text: "there is no such file", Cause: err}
	case errors.Is(err, fs.ErrPermission):
		return Input{}, nil, noPermission(path, err)
	case err != nil:
		return Input{}, nil, &Error{File: path, Text: "the file cannot be opened: " + plain(err), Cause: err}
	case info.IsDir():
		return Input{}, nil, &Error{File: path, Text: "this is a folder, not a recording",
			Remedy: "give the files in it, such as " + filepath.Join(path, "*.bvh")}
	case !info.Mode().IsRegular():
		return Input{}, nil, &Error{File: path, Text: "this is not an ordinary file (a pipe or a device)",
			Remedy: "save it to a file first"}
	}
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrPermission) {
		return Input{}, nil, noPermission(path, err)
	}
	if err != nil {
		return Input{}, nil, &Error{File: path, Text: "the file cannot be opened: " + plain(err), Cause: err}
	}
	return Input{Name: name, Data: f, Size: info.Size()}, f, nil
}

func noPermission(path string, err error) *Error {
	return &Error{File: path, Text: "you have no permission to read this file", Cause: err,
		Remedy: "change its permissions or copy it to a folder of yours"}
}

// plain is the innermost message of a system error, without the operation and path in front of it.
func plain(err error) string {
	for {
		next := errors.Unwrap(err)
		if next == nil {
			return err.Error()
		}
		err = next
	}
}

// read finds the format of in by its content and reads it. Errors carry the file's name.
func read(ctx context.Context, in Input) (*Raw, error) {
	data := &watched{ctx: ctx, in: in, sum: sha256.New()}
	raw, err := readContent(data, in)
	if err == nil && raw.Frames() == 0 {
		err = Refuse("", "the file holds no frames")
	}
	if err == nil {
		raw.SHA256, err = data.hash()
	}
	if err != nil && ctx.Err() != nil {
		return nil, context.Cause(ctx) // whatever the format made of it
	}
	if err != nil {
		return nil, named(err, in.Name)
	}
	raw.File = in.Name
	return raw, nil
}

func readContent(data *watched, in Input) (*Raw, error) {
	if in.Size == 0 {
		return nil, Refuse("", "the file is empty")
	}
	head := make([]byte, min(ProbeLen, in.Size))
	if n, err := data.ReadAt(head, 0); n < len(head) {
		return nil, fmt.Errorf("the file cannot be read: %w", err)
	}
	whole := io.NewSectionReader(data, 0, in.Size)
	if bytes.HasPrefix(head, []byte{0x1f, 0x8b}) {
		return readGzip(whole, data)
	}
	f, err := probe(head)
	if err != nil {
		return nil, err
	}
	if f.ReadAt != nil {
		return f.ReadAt(data, in.Size)
	}
	return f.Read(&stream{whole, in.Size, in.RawRoom, data})
}

// readGzip reads a compressed file as it expands, without ever holding the whole.
func readGzip(packed *io.SectionReader, file *watched) (*Raw, error) {
	z, err := gzip.NewReader(bufio.NewReaderSize(packed, 1<<20))
	if err != nil {
		return nil, Refuse("copy it again", "the file starts like a gzip file but is damaged")
	}
	limit := min(int64(MaxExpanded), max(packed.Size()*MaxRatio, 64<<20))
	r := bufio.NewReaderSize(&capped{r: z, left: limit, limit: limit}, 1<<20)
	head, err := r.Peek(ProbeLen)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	if len(head) == 0 {
		return nil, Refuse("", "the gzip file is empty inside")
	}
	f, err := probe(head[:min(len(head), ProbeLen)])
	if err != nil {
		return nil, err
	}
	if f.Read == nil {
		return nil, Refuse("unpack it first", "a gzip file with %s inside cannot be read directly", f.Title)
	}
	return f.Read(&stream{r, 0, file.room(), file})
}

// unpackError turns what a damaged gzip stream gives into a sentence, and leaves other errors alone.
func unpackError(err error) error {
	var corrupt flate.CorruptInputError
	if errors.Is(err, gzip.ErrChecksum) || errors.Is(err, gzip.ErrHeader) || errors.Is(err, io.ErrUnexpectedEOF) ||
		errors.As(err, &corrupt) {
		return Refuse("copy it again", "the gzip file is damaged or cut short")
	}
	return err
}

func probe(head []byte) (Format, error) {
	var titles []string
	for _, f := range Formats() {
		if f.Probe(head) {
			return f, nil
		}
		titles = append(titles, f.Title)
	}
	return Format{}, Refuse("", "this is no recording that can be read here; its content was compared with: %s",
		strings.Join(titles, ", "))
}

// named puts the file's name on an error and makes every error an *Error.
func named(err error, name string) error {
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	var e *Error
	if errors.As(err, &e) {
		e.File = name
		return e
	}
	return &Error{File: name, Text: err.Error(), Cause: err}
}

// watched reads the input, stops when its context ends, reports progress, and hashes the bytes that come in order.
type watched struct {
	ctx context.Context
	in  Input

	mu     sync.Mutex
	sum    hash.Hash // of the bytes up to hashed
	hashed int64
}

func (w *watched) room() []float32 { return w.in.RawRoom }

func (w *watched) alive() {
	if w.in.Progress != nil {
		w.in.Progress(w.in.Size, 2*w.in.Size)
	}
}

func (w *watched) ReadAt(p []byte, off int64) (int, error) {
	if err := w.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := w.in.Data.ReadAt(p, off)
	if w.in.Progress != nil {
		w.in.Progress(min(off+int64(n), w.in.Size), 2*w.in.Size)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if end := off + int64(n); off <= w.hashed && w.hashed < end {
		w.sum.Write(p[w.hashed-off : n])
		w.hashed = end
	}
	return n, err
}

// hash reads what was not read, or out of order, and gives the hash of the whole file in lower-case hex.
func (w *watched) hash() (string, error) {
	rest := make([]byte, 1<<20)
	for w.hashed < w.in.Size {
		n, err := w.ReadAt(rest[:min(int64(len(rest)), w.in.Size-w.hashed)], w.hashed)
		if n == 0 {
			return "", fmt.Errorf("the file cannot be read to its end: %w", err)
		}
	}
	return hex.EncodeToString(w.sum.Sum(nil)), nil
}

// capped refuses a stream that expands beyond its limit, and says of a damaged one that it is. An end that comes too
// early must not look like that of the file to who reads.
type capped struct {
	r           io.Reader
	left, limit int64
}

func (c *capped) Read(p []byte) (int, error) {
	if c.left <= 0 {
		return 0, Refuse("unpack it yourself if you trust it",
			"the gzip file grows beyond %d MB as it is unpacked", c.limit>>20)
	}
	n, err := c.r.Read(p[:min(int64(len(p)), c.left)])
	c.left -= int64(n)
	return n, unpackError(err)
}
