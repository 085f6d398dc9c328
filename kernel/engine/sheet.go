package engine

import (
	"encoding/json"
	"fmt"
	"slices"

	"tossline/datasets/recording"
	"tossline/datasets/sheet"
	"tossline/kernel/engine/fence"
)

// rowsAtOnce is how many rows of a table one message has.
const rowsAtOnce = 500

// tableInput is a foreign table. It was opened before the fence went up.
type tableInput struct {
	w     *Writer
	input recording.Input
}

// tableReader reads the cells of one foreign table.
type tableReader struct{ tableInput }

func openSheet(first Frame, w *Writer) (service, Ready, fence.Limits, error) {
	var ask Sheet
	if err := json.Unmarshal(first.Body, &ask); err != nil {
		return nil, Ready{}, fence.Limits{}, err
	}
	input, err := openInput(ask.Path, "")
	return &tableReader{tableInput{w, input}}, Ready{}, ask.Limits, err
}

func (t *tableReader) answer(f Frame) error { return t.once(f, t.read) }

// once does the work that an engine on a table is for when it is asked to run, and says when it is done.
func (t *tableInput) once(f Frame, work func(id uint64) error) error {
	switch f.Kind {
	case KindRun:
		go func() {
			var done Done
			if err := work(f.ID); err != nil {
				done.Error = sentence(err.Error())
			}
			say(t.w, KindDone, f.ID, done)
		}()
	case KindCancel: // the workbench ends an engine that goes on
	default:
		return fmt.Errorf("%q asked of a table", f.Kind)
	}
	return nil
}

func (t *tableReader) read(id uint64) error {
	var rows []sheet.Row
	tell := func() error {
		err := say(t.w, KindRows, id, rows)
		rows = rows[:0]
		return err
	}
	err := sheet.Read(t.input, func(r sheet.Row) error {
		r.Cells = slices.Clone(r.Cells)
		if rows = append(rows, r); len(rows) == rowsAtOnce {
			return tell()
		}
		return nil
	})
	if err == nil && len(rows) > 0 {
		err = tell()
	}
	return err
}
