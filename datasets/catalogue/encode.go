package catalogue

import (
	"bytes"
	"crypto/sha256"
	"encoding/gob"
	"errors"
	"fmt"
	"maps"
	"os"
	"slices"

	"tossline/datasets/frames"
	"tossline/datasets/tablefile"
)

// FramesName is the name, relative to the season folder, of the frames file with the given hash.
func FramesName(sha256 string) string { return "frames/" + frames.FileName(sha256) }

// TableName is the name, relative to the season folder, of the file of a table with the given hash.
func TableName(sha256 string) string { return "tables/" + tablefile.FileName(sha256) }

// Encode gives the catalogue's list as bytes, and the names, relative to the season folder, of the files that Open
// will ask for.
func (c *Catalogue) Encode() (data []byte, files []string, err error) {
	data, err = encode("catalogue", &c.list)
	if err != nil {
		return nil, nil, err
	}
	for i, r := range c.list.Recordings {
		if c.files[i] != nil {
			files = append(files, FramesName(r.FramesSHA256))
		}
	}
	for i, t := range c.list.Tables {
		if c.tables[i].file != nil {
			files = append(files, TableName(t.SHA256))
		}
	}
	return data, append(files, c.list.Measured...), nil
}

// Open makes a catalogue from the bytes of Encode. It opens and maps every file before it returns, by openFile, which
// gets names relative to the season folder and may be called from several goroutines; a file that can't be opened
// takes out its own serves. After Open the catalogue needs no file system.
func Open(data []byte, openFile func(name string) (*os.File, error)) (*Catalogue, error) {
	l, err := decodeList(data)
	if err != nil {
		return nil, err
	}
	measured := make(map[string][]byte, len(l.Measured))
	for _, name := range l.Measured {
		measured[name] = mapped(name, openFile)
	}
	open := func(r Recording) (*frames.File, error) {
		f, err := openFile(FramesName(r.FramesSHA256))
		if err != nil {
			return nil, reason(err)
		}
		return frames.Open(f)
	}
	openTable := func(t Table) (*tablefile.File, error) {
		f, err := openFile(TableName(t.SHA256))
		if err != nil {
			return nil, reason(err)
		}
		return tablefile.Open(f, t.SHA256)
	}
	c := assemble(l, Access{
		Frames:        open,
		Table:         openTable,
		Measured:      func(name string) []byte { return measured[name] },
		MeasuredFiles: l.Measured,
	})
	c.mappings = slices.Collect(maps.Values(measured))
	c.owned = true
	return c, nil
}

// mapped maps a file of measured values. One that can't be read is as good as none: the values are computed again.
func mapped(name string, openFile func(string) (*os.File, error)) []byte {
	f, err := openFile(name)
	if err != nil {
		return nil
	}
	mapping, err := frames.Map(f)
	if err != nil {
		return nil
	}
	return mapping
}

// reason is a file error without its path, which the reader knows already.
func reason(err error) error {
	if path, ok := errors.AsType[*os.PathError](err); ok {
		if errors.Is(err, os.ErrNotExist) {
			return errors.New("the file is missing")
		}
		return path.Err
	}
	return err
}

// Restore makes a catalogue from the bytes of Encode in the process of the season itself. Bytes that are damaged or
// show other content than the one of the stamp are an error.
func Restore(data []byte, stamp string, access Access) (*Catalogue, error) {
	l, err := decodeList(data)
	if err != nil {
		return nil, err
	}
	if l.Stamp != stamp {
		return nil, errors.New("the list of serves is of another revision")
	}
	return assemble(l, access), nil
}

func decodeList(data []byte) (list, error) {
	var l list
	if err := decode("catalogue", data, &l); err != nil {
		return list{}, err
	}
	if err := l.check(); err != nil {
		return list{}, fmt.Errorf("the list of serves is damaged: %w", err)
	}
	return l, nil
}

// The encoded form of a list or of measured values: a line that says what follows, the SHA-256 of the rest, and a gob.
// The hash is there because these bytes also lie in files that a crash may leave half written.

func heading(what string) []byte { return []byte("tossline " + what + " 1\n") }

func encode(what string, v any) ([]byte, error) {
	var body bytes.Buffer
	if err := gob.NewEncoder(&body).Encode(v); err != nil {
		return nil, err
	}
	sum := sha256.Sum256(body.Bytes())
	return append(append(heading(what), sum[:]...), body.Bytes()...), nil
}

func decode(what string, data []byte, v any) error {
	rest, ok := bytes.CutPrefix(data, heading(what))
	if !ok || len(rest) < sha256.Size {
		return fmt.Errorf("not a %s of this version of the program", what)
	}
	if sum := sha256.Sum256(rest[sha256.Size:]); !bytes.Equal(sum[:], rest[:sha256.Size]) {
		return fmt.Errorf("the %s is damaged", what)
	}
	if err := gob.NewDecoder(bytes.NewReader(rest[sha256.Size:])).Decode(v); err != nil {
		return fmt.Errorf("the %s is damaged: %w", what, err)
	}
	return nil
}
