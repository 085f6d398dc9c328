package supervisor

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"tossline/datasets/catalogue"
	"tossline/kernel/engine"
	"tossline/kernel/interp"
	"tossline/kernel/result"
)

// Job asks for a run of a recipe.
type Job struct {
	File     string // names the recipe
	Source   string
	Settings map[string]json.RawMessage // those that differ from their defaults
}

// Event tells of a run as it goes on. One field is set.
type Event struct {
	Plan        *interp.Plan        // what the source says it does
	Diagnostics []interp.Diagnostic // empty but not nil where there is nothing to remark
	Step        *interp.Step        // with results where it is done, those held from an earlier run where it is Kept
	Progress    *engine.Progress    // of a long step
	Log         *string             // a line that the recipe printed
}

// ErrSuperseded ends a run whose recipe was run again.
var ErrSuperseded = errors.New("a newer run of the recipe took over")

// desk is an open recipe: its engine and what its steps gave.
type desk struct {
	running sync.Mutex // held by the run under way
	engine  *process   // nil where there is none; guarded by running
	reloads int        // of the supervisor, when the engine was started; guarded by running
	held    holding    // guarded by running

	mu     sync.Mutex // guards what follows
	cancel context.CancelCauseFunc
	used   time.Time
}

// begin makes cancel the way to stop the desk's run, and stops the one before.
func (d *desk) begin(cancel context.CancelCauseFunc) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.cancel != nil {
		d.cancel(ErrSuperseded)
	}
	d.cancel, d.used = cancel, time.Now()
}

// stop stops the run under way, if any.
func (d *desk) stop(why error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.cancel != nil {
		d.cancel(why)
	}
}

// release ends the engine, once its run is over, and waits for its end.
func (d *desk) release() {
	d.running.Lock()
	defer d.running.Unlock()
	d.dismiss()
}

// dismiss ends the engine. The caller holds running.
func (d *desk) dismiss() {
	if d.engine != nil {
		d.engine.dismiss()
		<-d.engine.gone
		d.engine = nil
	}
}

// Run runs a recipe and tells observe of it, one event at a time, until it returns. A newer Run of the same File stops
// the older one. The error is nil where the recipe was run, whatever became of its steps; ErrSuperseded, ErrClosed or
// the cause of ctx where it was stopped; an *Ending where the engine ended; or else says why it could not be run.
func (s *Supervisor) Run(ctx context.Context, job Job, observe func(Event)) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	d, err := s.desk(job.File)
	if err != nil {
		return err
	}
	d.begin(cancel)
	d.running.Lock()
	defer d.running.Unlock()
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	if err := s.seat(ctx, d); err != nil {
		return err
	}
	d.held.trim(s.limits.Held)
	r := &run{supervisor: s, desk: d, observe: observe, place: "while reading the recipe"}
	request := engine.Run{File: job.File, Source: job.Source, Settings: job.Settings, Known: d.held.keys()}
	err = d.engine.ask(ctx, engine.KindRun, request, s.limits.Read, r.hear)
	r.refresh()
	if ending, ok := errors.AsType[*Ending](err); ok {
		return s.ended(ending.at(r.place, "was started anew; the last results stay"))
	}
	return err
}

// desk gives the desk of a recipe.
func (s *Supervisor) desk(file string) (*desk, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return nil, ErrClosed
	}
	d := s.desks[file]
	if d == nil {
		d = &desk{}
		s.desks[file] = d
	}
	return d, nil
}

// seat gives the desk a live engine that sees the newest season. The caller holds running.
func (s *Supervisor) seat(ctx context.Context, d *desk) error {
	s.mu.Lock()
	if s.closed {
		s.mu.Unlock()
		return ErrClosed
	}
	if d.engine != nil && d.engine.alive() && d.reloads == s.reloads {
		s.mu.Unlock()
		return nil
	}
	w := s.next()
	s.mu.Unlock()
	d.dismiss()
	p, err := w.get(ctx)
	if err != nil {
		w.drop()
		return err
	}
	d.engine, d.reloads = p, w.reloads
	go s.thin()
	return nil
}

// run is one run as its events come in.
type run struct {
	supervisor *Supervisor
	desk       *desk
	observe    func(Event)
	place      string // for the sentence, should the engine end now
	said       int64  // bytes
	computed   bool   // measures that the spare doesn't know
}

// hear takes one answer of the engine.
func (r *run) hear(f engine.Frame) (patience time.Duration, err error) {
	limits := r.supervisor.limits
	if r.said += f.Size(); r.said > limits.Said {
		return 0, fmt.Errorf("more than %d MB of results", limits.Said>>20)
	}
	switch f.Kind {
	case engine.KindPlan:
		plan := new(interp.Plan)
		return limits.Silence, r.pass(f, plan, func() { r.observe(Event{Plan: plan}) })
	case engine.KindDiagnostics:
		remarks := []interp.Diagnostic{}
		return 0, r.pass(f, &remarks, func() { r.observe(Event{Diagnostics: remarks}) })
	case engine.KindStep:
		step := new(interp.Step)
		if err := r.pass(f, step, func() {}); err != nil {
			return 0, err
		}
		return limits.Silence, r.step(step, f.Parts)
	case engine.KindProgress:
		progress := new(engine.Progress)
		return 0, r.pass(f, progress, func() { r.observe(Event{Progress: progress}) })
	case engine.KindLog:
		line := ""
		return 0, r.pass(f, &line, func() { r.observe(Event{Log: &line}) })
	case engine.KindMeasured:
		return 0, r.measured(f.Parts)
	}
	return 0, fmt.Errorf("%q does not answer a run", f.Kind)
}

// pass decodes the body of a frame into what it holds, and then does what is to be done with it.
func (r *run) pass(f engine.Frame, into any, then func()) error {
	if err := json.Unmarshal(f.Body, into); err != nil {
		return fmt.Errorf("%s: %w", f.Kind, err)
	}
	then()
	return nil
}

// step holds the results of a step that is done, or adds those that are held to one that was Kept.
func (r *run) step(step *interp.Step, parts []engine.Part) error {
	for _, p := range parts {
		sum := sha256.Sum256(p.Bytes)
		if hex.EncodeToString(sum[:]) != p.Name {
			return errors.New("an attachment that is not what its name says")
		}
		step.Attachments = append(step.Attachments, result.Attachment{Ref: p.Name, Bytes: p.Bytes})
	}
	switch step.State {
	case interp.Running:
		r.place = "at step " + step.Name
	case interp.Done:
		r.refresh()
		if held, ok := r.desk.held.get(step.Key); ok && step.Kept && step.Results == nil {
			step.Results, step.Attachments = held.Results, held.Attachments
		}
		r.desk.held.put(*step)
	}
	r.observe(Event{Step: step})
	return nil
}

// measured hands over what the engine computed.
func (r *run) measured(parts []engine.Part) error {
	var all []catalogue.Measured
	for _, p := range parts {
		m, err := catalogue.DecodeMeasured(p.Bytes)
		if err != nil {
			return err
		}
		if !plain(m.Measure) {
			return fmt.Errorf("%.40q is no measure", m.Measure)
		}
		all = append(all, m)
	}
	if keep := r.supervisor.options.Keep; keep != nil && len(all) > 0 {
		keep(all)
		r.computed = true
	}
	return nil
}

// refresh replaces the spare by one that knows what was computed meanwhile.
func (r *run) refresh() {
	if !r.computed {
		return
	}
	r.computed = false
	r.supervisor.mu.Lock()
	defer r.supervisor.mu.Unlock()
	r.supervisor.renew()
}

// plain tells whether a measure's name is one that can stand in a file name.
func plain(name string) bool {
	return name != "" && strings.Trim(name, "abcdefghijklmnopqrstuvwxyz0123456789_") == ""
}

// thin ends the engines of the recipes that were not run for longest, beyond those that may stay.
func (s *Supervisor) thin() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.desks) <= s.limits.Engines {
		return
	}
	var oldest *desk
	alive := 0
	for _, d := range s.desks {
		if !d.running.TryLock() {
			alive++
			continue
		}
		if d.engine != nil {
			alive++
			if oldest == nil || d.lastUsed().Before(oldest.lastUsed()) {
				oldest = d
			}
		}
		d.running.Unlock()
	}
	if alive > s.limits.Engines && oldest != nil {
		go oldest.releaseIfIdle()
	}
}

func (d *desk) lastUsed() time.Time {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.used
}

func (d *desk) releaseIfIdle() {
	if d.running.TryLock() {
		defer d.running.Unlock()
		d.dismiss()
	}
}

// Release forgets a recipe that is no longer open: its run is stopped, its engine ended, its results dropped.
func (s *Supervisor) Release(file string) {
	s.mu.Lock()
	d := s.desks[file]
	delete(s.desks, file)
	s.mu.Unlock()
	if d != nil {
		d.stop(context.Canceled)
		d.release()
	}
}
