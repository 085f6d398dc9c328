package recording

import (
	"fmt"
	"strconv"
	"strings"
)

// Error says why a file could not be read: what was found, where, what was wanted. Its text is for the user.
// Line and Column count from 1 and Column counts bytes; Offset is a byte offset for binary formats. Zero means
// unknown. File is filled in by Prepare, so that format packages need not know it.
type Error struct {
	File   string
	Line   int
	Column int
	Row    int // of a table without lines, from 1
	Offset int64
	Text   string // "expected 69 values, found 68"
	Remedy string // what to do, or ""
	Cause  error  // or nil
}

// Error gives the whole message in one line: "serves.bvh, line 12, column 3: expected ... (do ...)".
func (e *Error) Error() string {
	var b strings.Builder
	where := e.Where()
	switch {
	case e.File != "" && where != "":
		b.WriteString(e.File + ", " + where + ": ")
	case e.File != "" || where != "":
		b.WriteString(e.File + where + ": ")
	}
	b.WriteString(e.Text)
	if e.Remedy != "" {
		b.WriteString("; " + e.Remedy)
	}
	return b.String()
}

// Where is the place in the file: "line 12, column 3", "byte 512", or "".
func (e *Error) Where() string {
	switch {
	case e.Line > 0 && e.Column > 0:
		return fmt.Sprintf("line %d, column %d", e.Line, e.Column)
	case e.Line > 0:
		return "line " + strconv.Itoa(e.Line)
	case e.Row > 0:
		return "row " + strconv.Itoa(e.Row)
	case e.Offset > 0:
		return "byte " + strconv.FormatInt(e.Offset, 10)
	}
	return ""
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Cause }

// Refuse makes an Error without a place.
func Refuse(remedy, format string, args ...any) *Error {
	return &Error{Text: fmt.Sprintf(format, args...), Remedy: remedy}
}

// At makes an Error at a line and column; column 0 means the whole line.
func At(line, column int, format string, args ...any) *Error {
	return &Error{Line: line, Column: column, Text: fmt.Sprintf(format, args...)}
}

// Quote shows a piece of a foreign file in a message: printable, and no longer than a message can bear.
func Quote(text string) string {
	const most = 40
	if len(text) > most {
		text = text[:most] + "..."
	}
	return strconv.QuoteToASCII(text)
}
