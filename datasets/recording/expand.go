package recording

import (
	"bufio"
	"bytes"
	"errors"
	"io"

	"github.com/klauspost/compress/gzip"
)

// Expanded gives what is inside of a gzip file, in memory and at most so many bytes; another file as it is.
func Expanded(in Input, most int64) (Input, error) {
	head := make([]byte, min(2, in.Size))
	if _, err := in.Data.ReadAt(head, 0); err != nil && !errors.Is(err, io.EOF) {
		return in, err
	}
	if !bytes.Equal(head, []byte{0x1f, 0x8b}) {
		return in, nil
	}
	z, err := gzip.NewReader(bufio.NewReaderSize(io.NewSectionReader(in.Data, 0, in.Size), 1<<20))
	if err != nil {
		return in, Refuse("copy it again", "the file starts like a gzip file but is damaged")
	}
	limit := min(most, max(in.Size*MaxRatio, 64<<20))
	var inside bytes.Buffer
	if _, err := inside.ReadFrom(&capped{r: z, left: limit, limit: limit}); err != nil {
		return in, err
	}
	in.Data, in.Size = bytes.NewReader(inside.Bytes()), int64(inside.Len())
	return in, nil
}
