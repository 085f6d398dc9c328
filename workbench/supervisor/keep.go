package supervisor

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/apache/arrow/go/v17/arrow"

	"tossline/datasets/frames"
	"tossline/datasets/sheet"
	"tossline/datasets/tablefile"
	"tossline/kernel/engine"
	"tossline/kernel/engine/fence"
)

// tableWrite is the size to which the file of a table may grow: that of its values and of what is said of them.
const tableWrite = tablefile.Largest + 64<<20

// Kept is a table that was read.
type Kept struct {
	Record     arrow.Record
	Understood sheet.Understood
}

// Keep reads a foreign table whole, as Prepare reads recordings. Of ask it takes the file, its name, the scratch
// folder, the progress, the log, the command and the limits.
func Keep(ctx context.Context, ask Import) (*Kept, error) {
	if err := ask.complete(); err != nil {
		return nil, err
	}
	place, err := os.CreateTemp(ask.Scratch, "incoming-*") // a name that the season sweeps after a crash
	if err != nil {
		return nil, fmt.Errorf("there is no place for the table: %w", err)
	}
	defer os.Remove(place.Name())
	defer place.Close()
	opening, err := engine.NewFrame(engine.KindKeep, 0, engine.Keep{
		Path: ask.Path, Name: ask.Name, Place: place.Name(),
		Limits: fence.Limits{Data: ask.Limits.Memory, Write: tableWrite},
	})
	if err != nil {
		return nil, err
	}
	k, heard := &Kept{}, false
	err = ask.run(ctx, opening, func(f engine.Frame) (time.Duration, error) {
		switch f.Kind {
		case engine.KindProgress:
			return 0, ask.tell(f)
		case engine.KindKept:
			heard = true
			return 0, json.Unmarshal(f.Body, &k.Understood)
		}
		return 0, fmt.Errorf("%q does not answer a table", f.Kind)
	})
	if err != nil {
		return nil, err
	}
	if !heard {
		return nil, errors.New("the engine read nothing")
	}
	return k, k.read(place)
}

// read reads what the engine put down, and checks it: the file that the engine read may have taken it over.
func (k *Kept) read(place *os.File) error {
	mapping, err := frames.Map(place)
	if err != nil {
		return fmt.Errorf("the table can't be read back: %w", err)
	}
	defer frames.Unmap(mapping)
	err = frames.Guard(func() (err error) {
		k.Record, err = tablefile.Decode(mapping)
		return err
	})
	if err == nil && int64(len(k.Understood.Columns)) != k.Record.NumCols() {
		err = fmt.Errorf("the engine told of %d columns of %d", len(k.Understood.Columns), k.Record.NumCols())
	}
	if err != nil {
		return fmt.Errorf("the table can't be read back: %w", err)
	}
	return nil
}
