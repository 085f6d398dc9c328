package supervisor

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"sync"
	"time"

	"tossline/datasets/landmark"
	"tossline/datasets/recording"
	"tossline/datasets/sheet"
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
	Progress func(done, total int) // how much of the work is done; may be nil

	Log     *slog.Logger
	Command []string // what starts an engine; this program's hidden command where nil
	Limits  Limits
}

// importMemory is what reading one file may take. The numbers of large files lie in files.
const importMemory = 1 << 30

// importSilence is how long reading may give no sign of life: a slow disk, with little memory, keeps it waiting.
const importSilence = 3 * time.Minute

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
	if err := ask.complete(); err != nil {
		return nil, err
	}
	frames, err := os.CreateTemp(ask.Scratch, "incoming-*") // a name that the season sweeps after a crash
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

// complete fills in what was left to be chosen.
func (ask *Import) complete() (err error) {
	if ask.Log == nil {
		ask.Log = slog.New(slog.DiscardHandler)
	}
	if ask.Command == nil {
		ask.Command = ownCommand()
	}
	ask.Limits.Memory = cmp.Or(ask.Limits.Memory, importMemory)
	ask.Limits.Silence = cmp.Or(ask.Limits.Silence, importSilence)
	ask.Limits = ask.Limits.orDefaults()
	ask.Path, err = filepath.Abs(ask.Path)
	return err
}

// read has an engine read the file and put the frames where it is told.
func (ask Import) read(ctx context.Context, frames string) (*found, error) {
	opening, err := engine.NewFrame(engine.KindImport, 0, engine.Import{
		Path: ask.Path, Name: ask.Name, Frames: frames, Options: ask.Options,
		Limits: fence.Limits{Data: ask.Limits.Memory, Write: importWrite},
	})
	if err != nil {
		return nil, err
	}
	var f found
	if err := ask.run(ctx, opening, f.hearing(ask)); err != nil {
		return nil, err
	}
	if len(f.all) == 0 {
		return nil, errors.New("the engine read nothing")
	}
	return &f, nil
}

// run starts an engine on the file and hears what it finds. When ctx ends, the engine is ended at once, and not waited
// for: what it has of a large file takes the system its time to clear away.
func (ask Import) run(ctx context.Context, opening engine.Frame, hear listener) error {
	launch := newLauncher()
	p, err := launch.start(ask.Command, opening, ask.Limits, ask.Log)
	if err != nil {
		launch.close()
		return err
	}
	var heard sync.Mutex // guards stopped: nothing is heard after the stop
	stopped := false
	listen := func(f engine.Frame) (time.Duration, error) {
		heard.Lock()
		defer heard.Unlock()
		if stopped {
			return 0, nil
		}
		return hear(f)
	}
	over := make(chan error, 1)
	go func() {
		defer launch.close()
		err := p.waitReady(ctx)
		if err == nil {
			err = p.ask(ctx, engine.KindRun, nil, ask.Limits.Silence, listen)
		}
		p.dismiss()
		over <- err
		<-p.gone
	}()
	select {
	case err := <-over:
		if ctx.Err() == nil {
			<-p.gone
		}
		return ask.told(err)
	case <-ctx.Done():
		p.dismiss()
		heard.Lock()
		stopped = true
		heard.Unlock()
		return context.Cause(ctx)
	}
}

// ReadTable reads a foreign table that stands beside recordings, as Prepare reads those. Of ask it takes the file, the
// log, the command and the limits. Each row is handed over once; an error of row ends the reading.
func ReadTable(ctx context.Context, ask Import, row func(sheet.Row) error) error {
	if err := ask.complete(); err != nil {
		return err
	}
	opening, err := engine.NewFrame(engine.KindSheet, 0, engine.Sheet{
		Path: ask.Path, Limits: fence.Limits{Data: ask.Limits.Memory},
	})
	if err != nil {
		return err
	}
	var refused error
	err = ask.run(ctx, opening, func(frame engine.Frame) (time.Duration, error) {
		if frame.Kind != engine.KindRows {
			return 0, fmt.Errorf("%q does not answer a table", frame.Kind)
		}
		var rows []sheet.Row
		if err := json.Unmarshal(frame.Body, &rows); err != nil {
			return 0, err
		}
		for _, r := range rows {
			if refused == nil {
				refused = row(r)
			}
		}
		return 0, nil
	})
	return cmp.Or(refused, err)
}

// tell passes on how far the reading is.
func (ask Import) tell(f engine.Frame) error {
	var p engine.Progress
	err := json.Unmarshal(f.Body, &p)
	if err == nil && ask.Progress != nil {
		ask.Progress(p.Done, p.Total)
	}
	return err
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

// found is what the engine says of the recordings of the file.
type found struct{ all []engine.Imported }

func (f *found) hearing(ask Import) listener {
	return func(frame engine.Frame) (time.Duration, error) {
		switch frame.Kind {
		case engine.KindProgress:
			return 0, ask.tell(frame)
		case engine.KindImported:
			var one engine.Imported
			err := json.Unmarshal(frame.Body, &one)
			f.all = append(f.all, one)
			return 0, err
		}
		return 0, fmt.Errorf("%q does not answer an import", frame.Kind)
	}
}

// assemble checks what the engine said against the numbers that it put down, and maps those.
func (f *found) assemble(frames *os.File) (*Imported, error) {
	total := 0
	for i := range f.all {
		n, err := checkImported(&f.all[i], total)
		if err != nil {
			return nil, err
		}
		total += n
	}
	if info, err := frames.Stat(); err == nil && info.Size() > 4*int64(total) {
		// The engine made room for more.
		if err := frames.Truncate(4 * int64(total)); err != nil {
			return nil, fmt.Errorf("the frames can't be read back: %w", err)
		}
	}
	values, unmap, err := mapFloats(frames, total)
	if err != nil {
		return nil, fmt.Errorf("the frames can't be read back: %w", err)
	}
	imported := &Imported{unmap: unmap}
	for i := range f.all {
		p := preparedOf(&f.all[i], values[f.all[i].At:])
		if i == 0 {
			imported.Prepared = *p
		} else {
			imported.More = append(imported.More, p)
		}
	}
	return imported, nil
}

// checkImported gives how many numbers a recording has, which must start with number at.
func checkImported(f *engine.Imported, at int) (int, error) {
	width := 3 * len(f.Landmarks)
	if width == 0 || f.Values <= 0 || f.Values%width != 0 || !(f.Rate > 0) || math.IsInf(f.Rate, 0) || f.At != at {
		return 0, fmt.Errorf("the engine told of %d values of %d landmarks at %g Hz", f.Values, len(f.Landmarks), f.Rate)
	}
	if f.Cutoffs != nil && len(f.Cutoffs) != len(f.Landmarks) {
		return 0, fmt.Errorf("the engine told of %d cutoffs for %d landmarks", len(f.Cutoffs), len(f.Landmarks))
	}
	for _, s := range f.Serves {
		if s.First < 0 || s.Last < s.First || s.Last >= f.Values/width {
			return 0, fmt.Errorf("the engine told of a serve from frame %d to %d of %d", s.First, s.Last, f.Values/width)
		}
	}
	n := f.Values
	for _, values := range f.Signals {
		if values < 0 || values > importWrite {
			return 0, fmt.Errorf("the engine told of a signal of %d values", values)
		}
		n += values
	}
	if len(f.Signals) != len(f.Understanding.Signals) || n > importWrite {
		return 0, fmt.Errorf("the engine told of %d signals and gave %d", len(f.Understanding.Signals), len(f.Signals))
	}
	return n, nil
}

func preparedOf(f *engine.Imported, values []float32) *recording.Prepared {
	frames, rest := values[:f.Values:f.Values], values[f.Values:]
	for i, n := range f.Signals {
		f.Understanding.Signals[i].Values, rest = rest[:n:n], rest[n:]
	}
	take := motion.Take{Rate: f.Rate, Layout: landmark.NewLayout(f.Landmarks), Frames: frames, Hand: f.Hand,
		Cutoffs: f.Cutoffs}
	return &recording.Prepared{Understanding: f.Understanding, Take: take, Serves: f.Serves}
}
