package supervisor

import (
	"context"
	"time"

	"tossline/kernel/engine"
	"tossline/kernel/engine/fence"
)

// warming is an engine on its way to being ready. Its methods accept nil, which is an engine that there never was.
type warming struct {
	ctx     context.Context
	cancel  context.CancelFunc
	reloads int           // of the supervisor, when it was started
	done    chan struct{} // closed when engine or err is set
	engine  *process
	err     error
}

// warm starts an engine for the season of now. The caller holds mu.
func (s *Supervisor) warm() *warming {
	w := &warming{reloads: s.reloads, done: make(chan struct{})}
	w.ctx, w.cancel = context.WithCancel(context.Background())
	changes := s.changes
	go func() {
		w.engine, w.err = s.start(w.ctx, changes)
		close(w.done)
		s.started(w)
		if w.err == nil {
			s.mourn(w.engine)
		}
	}()
	return w
}

// mourn tells of the end of an engine that had nothing to do; the others' is told by those who asked them. One that
// ends as soon as it is ready is not replaced ahead of need: its successor would fare no better.
func (s *Supervisor) mourn(p *process) {
	born := time.Now()
	<-p.gone
	if p.endedIdle && time.Since(born) > time.Second {
		s.ended(p.ending.at("", "was started anew; the last results stay"))
	}
}

// start starts an engine with the season and waits until it is ready.
func (s *Supervisor) start(ctx context.Context, changes int) (*process, error) {
	opening, err := s.openingFrame(ctx, changes)
	if err != nil {
		return nil, err
	}
	p, err := s.launch.start(s.options.Command, opening, s.limits, s.options.Log)
	if err != nil {
		return nil, err
	}
	if err := p.waitReady(ctx); err != nil {
		return nil, err
	}
	return p, nil
}

// openingFrame is the first thing that an engine is told, made once for all engines that are started while nothing
// changes.
func (s *Supervisor) openingFrame(ctx context.Context, changes int) (engine.Frame, error) {
	s.mu.Lock()
	known := s.opening
	s.mu.Unlock()
	if known != nil {
		return *known, nil
	}
	taken, err := s.options.Season(ctx)
	if err != nil {
		return engine.Frame{}, err
	}
	list, _, err := taken.Catalogue.Encode()
	if err != nil {
		return engine.Frame{}, err
	}
	open := engine.Open{Folder: taken.Folder, Limits: fence.Limits{Data: s.limits.Memory}}
	opening, err := engine.NewFrame(engine.KindOpen, 0, open, engine.Part{Name: "catalogue", Bytes: list})
	if err != nil {
		return engine.Frame{}, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.changes == changes {
		s.opening = &opening
	}
	return opening, nil
}

// get waits for the engine. It was ready, though it may have ended since.
func (w *warming) get(ctx context.Context) (*process, error) {
	select {
	case <-w.done:
		return w.engine, w.err
	case <-ctx.Done():
		return nil, context.Cause(ctx)
	}
}

// usable tells whether the engine may still come, or is there and alive.
func (w *warming) usable() bool {
	if w == nil {
		return false
	}
	select {
	case <-w.done:
		return w.err == nil && w.engine.alive()
	default:
		return true
	}
}

// drop ends the engine, now or as soon as it is there.
func (w *warming) drop() {
	if w == nil {
		return
	}
	w.cancel()
	go func() {
		<-w.done
		if w.engine != nil {
			w.engine.dismiss()
		}
	}()
}

// wait waits until a dropped engine is gone.
func (w *warming) wait() {
	if w == nil {
		return
	}
	<-w.done
	if w.engine != nil {
		<-w.engine.gone
	}
}
