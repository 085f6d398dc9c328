// Package delimited reads recordings from delimited text, such as CSV.
//
// The tables are those of package tabular. The delimiter (comma, semicolon, tab, | or
// blanks), a decimal comma, a byte order
// mark, comment lines (#), lines in front of the header and a row of units are found out by looking.
//
// Empty fields, NaN, NA and null are missing values. Whatever is wrong is refused with its line and column, except for
// an incomplete last line, which is left out with a note.
package delimited

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"slices"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"

	"tossline/datasets/recording"
	"tossline/datasets/tabular"
)

// Name is the name of the format.
const Name = "csv"

func init() {
	recording.Register(recording.Format{Name: Name, Title: "CSV or other delimited text", Rank: 90,
		Probe: Probe, Read: Read})
}

// headLen is how much of a file is looked at for its dialect.
const headLen = 1 << 20

// Probe reports whether the file is text with a delimiter in its first lines. What it then lacks for a recording,
// Read says better than a refusal to recognise it.
func Probe(head []byte) bool {
	if wide(head) != nil {
		return true
	}
	if bytes.IndexByte(head, 0) >= 0 {
		return false
	}
	if !bytes.ContainsAny(head, ",;\t|") {
		_, err := sniff(head)
		return err == nil // words and blanks alone are no sign of a table
	}
	control := 0
	for _, c := range head {
		if c < ' ' && c != '\n' && c != '\r' && c != '\t' && c != '\f' {
			control++
		}
	}
	first, _, _ := bytes.Cut(head, []byte{'\n'})
	return control == 0 && (utf8.Valid(first) || len(first) < 4096)
}

// wide gives the encoding of a text in UTF-16, as its byte order mark or the zeros of its first letters tell it; nil
// for other texts.
func wide(head []byte) encoding.Encoding {
	switch {
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}):
		return unicode.UTF16(unicode.LittleEndian, unicode.UseBOM)
	case bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		return unicode.UTF16(unicode.BigEndian, unicode.UseBOM)
	case len(head) < wideLen:
		return nil
	}
	zeros := [2]int{}
	for i, c := range head[:wideLen] {
		if c == 0 {
			zeros[i%2]++
		}
	}
	switch zeros {
	case [2]int{0, wideLen / 2}:
		return unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM)
	case [2]int{wideLen / 2, 0}:
		return unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM)
	}
	return nil
}

// wideLen is how many bytes without a byte order mark are looked at.
const wideLen = 16

// Read reads a whole file.
func Read(r io.Reader) (*recording.Raw, error) {
	buffered := bufio.NewReader(r)
	c := &collector{Collector: tabular.Collector{Format: Name, Room: recording.RoomOf(r), Alive: recording.AliveOf(r)}}
	if start, _ := buffered.Peek(wideLen); wide(start) != nil {
		return c.read(transform.NewReader(buffered, wide(start).NewDecoder()))
	}
	if sized, ok := r.(interface{ Size() int64 }); ok {
		c.size = sized.Size()
	}
	return c.read(buffered)
}

// read reads a text in UTF-8.
func (c *collector) read(r io.Reader) (*recording.Raw, error) {
	head := make([]byte, headLen)
	n, err := io.ReadFull(r, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, err
	}
	head = head[:n]
	if bytes.IndexByte(head, '\n') < 0 && bytes.IndexByte(head, '\r') >= 0 {
		r = oldLines{r}
		toNewlines(head)
	}
	if len(head) == headLen && bytes.IndexByte(head, '\n') < 0 {
		return nil, longLine(0)
	}
	d, err := sniff(head)
	if err != nil {
		return nil, err
	}
	titles, units := mergeHeader(d.header)
	l, err := tabular.Understand(tabular.Header{Titles: titles, Units: units, Said: d.said, Line: d.lines})
	if err != nil {
		for line := range bytes.Lines(head[:d.bytes]) {
			if bad := new(recording.Error); openQuote(line) && errors.As(err, &bad) {
				bad.Remedy = closeQuote
			}
		}
		return nil, err
	}
	if d.rateAlone != "" && !slices.ContainsFunc(l.Columns, tabular.Column.IsClock) {
		l.Note(recording.Info, "the line "+recording.Quote(d.rateAlone)+" in front of the table is taken for frames a second")
	}
	c.parser, c.Collector.Layout, c.lines = newParser(d, l), l, d.lines
	err = inBlocks(io.MultiReader(bytes.NewReader(head[d.bytes:]), r), c.parse, c.take)
	if errors.Is(err, errLongLine) {
		return nil, longLine(c.lines)
	}
	if err != nil {
		return nil, err
	}
	return c.finish()
}

// oldLines is a text whose lines end in carriage returns alone, with newlines in their place.
type oldLines struct{ io.Reader }

func (o oldLines) Read(p []byte) (int, error) {
	n, err := o.Reader.Read(p)
	toNewlines(p[:n])
	return n, err
}

func toNewlines(text []byte) {
	for i, c := range text {
		if c == '\r' {
			text[i] = '\n'
		}
	}
}
