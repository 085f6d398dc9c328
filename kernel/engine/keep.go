package engine

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"sync/atomic"
	"time"

	"tossline/datasets/sheet"
	"tossline/datasets/tablefile"
	"tossline/kernel/engine/fence"
)

// tableKeeper reads one foreign table whole. It and the place for what it holds were opened before the fence went up.
type tableKeeper struct {
	tableInput
	place *os.File
}

func openKeep(first Frame, w *Writer) (service, Ready, fence.Limits, error) {
	var ask Keep
	if err := json.Unmarshal(first.Body, &ask); err != nil {
		return nil, Ready{}, fence.Limits{}, err
	}
	input, err := openInput(ask.Path, ask.Name)
	if err != nil {
		return nil, Ready{}, fence.Limits{}, err
	}
	place, err := os.OpenFile(ask.Place, os.O_WRONLY, 0)
	if err != nil {
		return nil, Ready{}, fence.Limits{}, fmt.Errorf("no place to put the table: %w", err)
	}
	return &tableKeeper{tableInput{w, input}, place}, Ready{}, ask.Limits, nil
}

func (t *tableKeeper) answer(f Frame) error { return t.once(f, t.keep) }

func (t *tableKeeper) keep(id uint64) error {
	t.input.Progress = sometimes(func(done, total int64) {
		say(t.w, KindProgress, id, Progress{Done: int(done), Total: int(total)})
	})
	record, understood, err := sheet.ReadWhole(t.input)
	if err != nil {
		return err
	}
	out := bufio.NewWriterSize(t.place, 1<<20)
	if err := errors.Join(tablefile.Write(out, record), out.Flush()); err != nil {
		return fmt.Errorf("the table could not be put down: %w", err)
	}
	return say(t.w, KindKept, id, understood)
}

// sometimes passes on what progress hears, at most once in progressEvery.
func sometimes(tell func(done, total int64)) func(done, total int64) {
	var last atomic.Int64
	return func(done, total int64) {
		if now := time.Now().UnixMilli(); now-last.Load() >= progressEvery.Milliseconds() {
			last.Store(now)
			tell(done, total)
		}
	}
}
