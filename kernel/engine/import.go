package engine

import (
	"bufio"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"sync/atomic"
	"time"

	_ "tossline/datasets/formats" // registers every format
	"tossline/datasets/recording"
	"tossline/kernel/engine/fence"
)

// importer reads one foreign file. It was opened, and the file for the frames too, before the fence went up.
type importer struct {
	w       *Writer
	input   recording.Input
	options recording.Options
	frames  io.Writer
	cancel  atomic.Pointer[context.CancelFunc]
}

// openImport opens the file and the place for its frames. An error is for the reader.
func openImport(first Frame, w *Writer) (service, Ready, fence.Limits, error) {
	var ask Import
	if err := json.Unmarshal(first.Body, &ask); err != nil {
		return nil, Ready{}, fence.Limits{}, err
	}
	input, _, err := recording.OpenFile(ask.Path)
	if err != nil {
		return nil, Ready{}, fence.Limits{}, err
	}
	if ask.Name != "" {
		input.Name = ask.Name
	}
	frames, err := os.OpenFile(ask.Frames, os.O_WRONLY, 0)
	if err != nil {
		return nil, Ready{}, fence.Limits{}, fmt.Errorf("no place to put the frames: %w", err)
	}
	return &importer{w: w, input: input, options: ask.Options, frames: frames}, Ready{}, ask.Limits, nil
}

func (i *importer) answer(f Frame) error {
	switch f.Kind {
	case KindRun:
		ctx, cancel := context.WithCancel(context.Background())
		i.cancel.Store(&cancel)
		go i.run(ctx, f.ID)
	case KindCancel:
		if cancel := i.cancel.Load(); cancel != nil {
			(*cancel)()
		}
	default:
		return fmt.Errorf("%q asked of an import", f.Kind)
	}
	return nil
}

// run reads the file and tells what it found.
func (i *importer) run(ctx context.Context, id uint64) {
	var last atomic.Int64
	i.input.Progress = func(done, total int64) {
		if now := time.Now().UnixMilli(); now-last.Load() >= progressEvery.Milliseconds() {
			last.Store(now)
			say(i.w, KindProgress, id, Progress{Done: int(done), Total: int(total)})
		}
	}
	var done Done
	if err := i.prepare(ctx, id); err != nil {
		done.Error = sentence(err.Error())
	}
	say(i.w, KindDone, id, done)
}

func (i *importer) prepare(ctx context.Context, id uint64) error {
	p, err := recording.PrepareInput(ctx, i.input, i.options)
	if err != nil {
		return err
	}
	w := &numbers{Writer: bufio.NewWriterSize(i.frames, 1<<20)}
	for _, one := range p.All() {
		found := Imported{
			Understanding: one.Understanding, Serves: one.Serves, Rate: one.Take.Rate, Hand: one.Take.Hand,
			Landmarks: one.Take.Layout.Names(), At: w.n, Values: len(one.Take.Frames),
		}
		w.write(one.Take.Frames)
		for _, s := range one.Understanding.Signals {
			found.Signals = append(found.Signals, len(s.Values))
			w.write(s.Values)
		}
		if err := say(i.w, KindImported, id, found); err != nil {
			return err
		}
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("the frames could not be put down: %w", err)
	}
	return nil
}

// numbers writes little-endian float32. An error stays until Flush.
type numbers struct {
	*bufio.Writer
	n int
}

func (w *numbers) write(values []float32) {
	var four [4]byte
	for _, x := range values {
		binary.LittleEndian.PutUint32(four[:], math.Float32bits(x))
		w.Write(four[:])
	}
	w.n += len(values)
}
