package delimited

import (
	"bufio"
	"io"

	"golang.org/x/text/transform"
)

// UTF8 gives a text in UTF-16, which its byte order mark or its first letters tell, in UTF-8; another text as it is.
func UTF8(r io.Reader) io.Reader {
	buffered := bufio.NewReaderSize(r, 1<<16)
	if start, _ := buffered.Peek(wideLen); wide(start) != nil {
		return transform.NewReader(buffered, wide(start).NewDecoder())
	}
	return buffered
}
