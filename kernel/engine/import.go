package engine

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"sync/atomic"
	"unsafe"

	_ "tossline/datasets/formats" // registers every format
	"tossline/datasets/recording"
	"tossline/kernel/engine/fence"
)

// From these sizes on, in bytes, the frames of a file are built where they are put down, and its own numbers are kept
// in a file instead of memory.
const (
	longFile  = 1 << 20
	largeFile = 32 << 20
)

// importer reads one foreign file. It was opened, and the file for the frames too, before the fence went up.
type importer struct {
	w       *Writer
	input   recording.Input
	options recording.Options
	frames  *os.File
	cancel  atomic.Pointer[context.CancelFunc]
}

// openImport opens the file and the place for its frames. An error is for the reader.
func openImport(first Frame, w *Writer) (service, Ready, fence.Limits, error) {
	var ask Import
	if err := json.Unmarshal(first.Body, &ask); err != nil {
		return nil, Ready{}, fence.Limits{}, err
	}
	input, err := openInput(ask.Path, ask.Name)
	if err != nil {
		return nil, Ready{}, fence.Limits{}, err
	}
	frames, err := os.OpenFile(ask.Frames, os.O_RDWR, 0)
	if err != nil {
		return nil, Ready{}, fence.Limits{}, fmt.Errorf("no place to put the frames: %w", err)
	}
	if input.Size >= longFile {
		input.FrameRoom = room(frames, ask.Limits.Write)
		flush(frames)
	}
	if input.Size >= largeFile {
		if raw, err := os.CreateTemp(filepath.Dir(ask.Frames), "incoming-*"); err == nil {
			os.Remove(raw.Name()) // it goes with this process
			input.RawRoom = room(raw, ask.Limits.Write)
			flush(raw)
		}
	}
	return &importer{w: w, input: input, options: ask.Options, frames: frames}, Ready{}, ask.Limits, nil
}

// openInput opens a foreign file; name is what it is called in messages, "" for its own name.
func openInput(path, name string) (recording.Input, error) {
	input, _, err := recording.OpenFile(path)
	if name != "" {
		input.Name = name
	}
	return input, err
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
	i.input.Progress = sometimes(func(done, total int64) {
		say(i.w, KindProgress, id, Progress{Done: int(done), Total: int(total)})
	})
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
	w := &numbers{file: i.frames, room: i.input.FrameRoom}
	for _, one := range p.All() {
		found := Imported{
			Understanding: one.Understanding, Serves: one.Serves, Rate: one.Take.Rate, Hand: one.Take.Hand,
			Landmarks: one.Take.Layout.Names(), Cutoffs: one.Take.Cutoffs, At: w.n, Values: len(one.Take.Frames),
		}
		if err := w.put(one.Take.Frames); err != nil {
			return err
		}
		for _, s := range one.Understanding.Signals {
			found.Signals = append(found.Signals, len(s.Values))
			if err := w.put(s.Values); err != nil {
				return err
			}
		}
		if err := say(i.w, KindImported, id, found); err != nil {
			return err
		}
	}
	return nil
}

// numbers puts float32 into a file one after the other, as this machine has them: little-endian. What lies in the
// file's room at its place already stays.
type numbers struct {
	file *os.File
	room []float32
	n    int
}

func (w *numbers) put(values []float32) error {
	n := len(values)
	if n == 0 {
		return nil
	}
	if cap(w.room) < w.n+n || &w.room[:w.n+1][w.n] != &values[0] {
		bytes := unsafe.Slice((*byte)(unsafe.Pointer(&values[0])), 4*n)
		if _, err := w.file.WriteAt(bytes, 4*int64(w.n)); err != nil {
			return fmt.Errorf("the frames could not be put down: %w", err)
		}
	}
	w.n += n
	return nil
}
