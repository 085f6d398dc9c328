package bvh

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"strconv"
	"strings"

	"tossline/datasets/decimal"
	"tossline/datasets/recording"
)

// maxLine is the longest line that is read: 4096 joints with six numbers of 40 bytes are just below.
const maxLine = 1 << 20

func itoa(n int) string { return strconv.Itoa(n) }

// lines hands out a file by lines and words, with their places, in bounded memory.
type lines struct {
	r     *bufio.Reader
	line  []byte // what is left of the current line
	taken int    // bytes of the current line before that
	num   int    // number of the current line, from 1
	more  bool   // the current line ended in a newline
}

func newLines(r io.Reader) *lines { return &lines{r: bufio.NewReaderSize(r, maxLine)} }

// token is a word with its place.
type token struct {
	text      string
	line, col int
}

func (t token) err(format string, args ...any) error {
	return recording.At(t.line, t.col, format, args...)
}

func (t token) where() string {
	return "line " + itoa(t.line) + ", column " + itoa(t.col)
}

// next moves to the next line. It gives io.EOF at the end of the file. The line is valid until the next call.
func (l *lines) next() error {
	line, err := l.r.ReadSlice('\n')
	switch {
	case errors.Is(err, bufio.ErrBufferFull):
		return &recording.Error{Line: l.num + 1, Text: "the line is longer than 1 MB, which no frame of motion is",
			Remedy: "the file is probably not BVH, or damaged"}
	case err != nil && (err != io.EOF || len(line) == 0):
		return err
	}
	l.num++
	l.more = err == nil
	l.taken = 0
	l.line = bytes.TrimRight(line, "\r\n")
	if l.num == 1 {
		l.line = bytes.TrimPrefix(l.line, []byte("\xef\xbb\xbf"))
	}
	return nil
}

// blank reports whether nothing but spaces is left of the line, and skips leading ones.
func (l *lines) blank() bool {
	i := 0
	for i < len(l.line) && isSpace(l.line[i]) {
		i++
	}
	l.line, l.taken = l.line[i:], l.taken+i
	return len(l.line) == 0
}

func isSpace(c byte) bool { return c == ' ' || c == '\t' || c == '\r' || c == '\v' || c == '\f' }

// word takes the next word, over line ends. want says in an error what the file should have gone on with.
func (l *lines) word(want string) (token, error) {
	for l.blank() {
		if err := l.next(); err == io.EOF {
			return token{}, recording.At(l.num, 0, "the file ends where %s should come: it is cut short", want)
		} else if err != nil {
			return token{}, err
		}
	}
	i := 0
	for i < len(l.line) && !isSpace(l.line[i]) {
		i++
	}
	if colon := bytes.IndexByte(l.line[:i], ':') + 1; colon > 0 {
		i = colon // "Frames:20"
	}
	if i > 1 && (l.line[0] == '{' || l.line[0] == '}') {
		i = 1
	}
	return l.take(i), nil
}

// unexpected is the error of a word that stands where something else should; the last of a file is one that was cut.
func (l *lines) unexpected(word token, want string) error {
	if !l.more && l.blank() {
		return recording.At(word.line, word.col, "the file ends where %s should come: it is cut short", want)
	}
	err := recording.At(word.line, word.col, "expected %s, found %s", want, recording.Quote(word.text))
	if v := strings.Replace(word.text, ",", ".", 1); v != word.text {
		if _, n := decimal.Scan([]byte(v)); n == len(v) {
			err.Remedy = "write decimal points, not commas"
		}
	}
	return err
}

// rest takes the rest of the line without a brace at its end: joint names may hold spaces.
func (l *lines) rest(want string) (token, error) {
	if l.blank() {
		return l.word(want)
	}
	i := len(l.line)
	if l.line[i-1] == '{' {
		i--
	}
	for i > 0 && isSpace(l.line[i-1]) {
		i--
	}
	if i == 0 {
		return token{}, recording.At(l.num, l.taken+1, "expected %s", want)
	}
	return l.take(i), nil
}

func (l *lines) take(n int) token {
	t := token{text: string(l.line[:n]), line: l.num, col: l.taken + 1}
	l.line, l.taken = l.line[n:], l.taken+n
	return t
}
