package supervisor

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"time"

	"tossline/datasets/landmark"
	"tossline/datasets/recording"
	"tossline/kernel/engine"
	"tossline/kernel/engine/fence"
	"tossline/kernel/motion"
)

// Import asks for a foreign file to be read.
type Import struct {
	Path     string
	Name     string // for messages and for what file names say, where it isn't that of Path
	Scratch  string // folder for the frames until they are stored; the system's where ""
	Options  recording.Options
	Progress func(done, total int) // bytes; may be nil

	Log     *slog.Logger
	Command []string // what starts an engine; this program's hidden command where nil
	Limits  Limits
}

// importMemory is what reading one file may take: the frames are in memory once.
const importMemory = 2 << 30

// importWrite is the size to which the frames of one file may grow.
const importWrite = 16 << 30

// Imported is a recording that was read, with its frames mapped until Close.
type Imported struct {
	recording.Prepared
	unmap func() error
}

// Close gives the frames back; the take must not be read afterwards.
func (i *Imported) Close() error {
	if i.unmap == nil {
		return nil
	}
	return i.unmap()
}

// Prepare reads a foreign file in a fenced process of its own: what a damaged or hostile file does there harms
// nothing. Its errors are sentences for the reader, or the cause of ctx.
func Prepare(ctx context.Context, ask Import) (*Imported, error) {
	if ask.Log == nil {
		ask.Log = slog.New(slog.DiscardHandler)
	}
	if ask.Command == nil {
		ask.Command = ownCommand()
	}
	if ask.Limits.Memory == 0 {
		ask.Limits.Memory = importMemory
	}
	ask.Limits = ask.Limits.orDefaults()
	path, err := filepath.Abs(ask.Path)
	if err != nil {
		return nil, err
	}
	ask.Path = path
	frames, err := os.CreateTemp(ask.Scratch, "frames-*")
	if err != nil {
		return nil, fmt.Errorf("there is no place for the frames: %w", err)
	}
	defer os.Remove(frames.Name())
	defer frames.Close()
	found, err := ask.read(ctx, frames.Name())
	if err != nil {
		return nil, err
	}
	return found.assemble(frames)
}

// read has an engine read the file and put the frames where it is told.
func (ask Import) read(ctx context.Context, frames string) (*found, error) {
	launch := newLauncher()
	defer launch.close()
	opening, err := engine.NewFrame(engine.KindImport, 0, engine.Import{
		Path: ask.Path, Name: ask.Name, Frames: frames, Options: ask.Options,
		Limits: fence.Limits{Data: ask.Limits.Memory, Write: importWrite},
	})
	if err != nil {
		return nil, err
	}
	p, err := launch.start(ask.Command, opening, ask.Limits, ask.Log)
	if err != nil {
		return nil, err
	}
	defer func() {
		p.dismiss()
		<-p.gone
	}()
	if err := p.waitReady(ctx); err != nil {
		return nil, ask.told(err)
	}
	var f found
	if err := p.ask(ctx, engine.KindRun, nil, ask.Limits.Silence, f.hearing(ask.Progress)); err != nil {
		return nil, ask.told(err)
	}
	if f.Rate == 0 {
		return nil, errors.New("the engine read nothing")
	}
	return &f, nil
}

// told makes the end of an engine a sentence about the file.
func (ask Import) told(err error) error {
	ending, ok := errors.AsType[*Ending](err)
	if !ok {
		return err
	}
	if ending.refusal != "" {
		return errors.New(ending.refusal)
	}
	name := ask.Name
	if name == "" {
		name = filepath.Base(ask.Path)
	}
	return ending.at("while reading "+name, "nothing was stored")
}

// found is what the engine says of the file.
type found struct{ engine.Imported }

func (f *found) hearing(progress func(done, total int)) listener {
	return func(frame engine.Frame) (time.Duration, error) {
		switch frame.Kind {
		case engine.KindProgress:
			var p engine.Progress
			if err := json.Unmarshal(frame.Body, &p); err != nil {
				return 0, err
			}
			if progress != nil {
				progress(p.Done, p.Total)
			}
			return 0, nil
		case engine.KindImported:
			return 0, json.Unmarshal(frame.Body, &f.Imported)
		}
		return 0, fmt.Errorf("%q does not answer an import", frame.Kind)
	}
}

// assemble checks what the engine said against the frames that it put down, and maps those.
func (f *found) assemble(frames *os.File) (*Imported, error) {
	width := 3 * len(f.Landmarks)
	if width == 0 || f.Values <= 0 || f.Values%width != 0 || !(f.Rate > 0) || math.IsInf(f.Rate, 0) {
		return nil, fmt.Errorf("the engine told of %d values of %d landmarks at %g Hz", f.Values, len(f.Landmarks), f.Rate)
	}
	for _, s := range f.Serves {
		if s.First < 0 || s.Last < s.First || s.Last >= f.Values/width {
			return nil, fmt.Errorf("the engine told of a serve from frame %d to %d of %d", s.First, s.Last, f.Values/width)
		}
	}
	values, unmap, err := mapFloats(frames, f.Values)
	if err != nil {
		return nil, fmt.Errorf("the frames can't be read back: %w", err)
	}
	take := motion.Take{Rate: f.Rate, Layout: landmark.NewLayout(f.Landmarks), Frames: values, Hand: f.Hand}
	prepared := recording.Prepared{Understanding: f.Understanding, Take: take, Serves: f.Serves}
	return &Imported{Prepared: prepared, unmap: unmap}, nil
}
