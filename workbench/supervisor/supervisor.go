// Package supervisor starts engines, watches them, stops them and replaces them, so that the workbench outlives
// whatever a recipe does.
//
// Each open recipe has an engine of its own; one more answers the editor's questions, so that a check that never ends
// takes no run with it; and a warm spare stands by with the season open, so that the next run after a crash starts at
// once. The results of every step are held here under the step's key: what has not changed needs no engine to be
// shown again.
//
// An engine is ended, and the reader told in a sentence, when it does not stop when asked to, gives no sign of life,
// takes too much memory, sends what is no message, floods, or goes on computing after its run. Its end by itself, or
// by another's hand, is told the same way.
package supervisor

import (
	"cmp"
	"context"
	"errors"
	"log/slog"
	"os"
	"sync"
	"time"

	"tossline/datasets/catalogue"
	"tossline/kernel/engine"
	"tossline/kernel/engine/fence"
)

// Snapshot is the season as the engines see it: what they need to map its frames and know its serves.
type Snapshot struct {
	Folder    string // the season folder, to which the catalogue's file names are relative
	Catalogue *catalogue.Catalogue
}

// Options says what a Supervisor works with. All of it may be left out.
type Options struct {
	Season  func(context.Context) (Snapshot, error) // the newest state; from any goroutine; nil: no serves
	Keep    func([]catalogue.Measured)              // stores what an engine computed
	Changed func(State)                             // told of every change of State, one at a time
	Log     *slog.Logger
	Command []string // what starts an engine; this program's hidden command where nil
	Limits  Limits
}

// Limits of an engine. Zero values stand for the defaults.
type Limits struct {
	Memory  int64         // bytes; 1 GiB
	Grace   time.Duration // from being asked to stop to being ended; 500 ms
	Read    time.Duration // to read a recipe, or to answer the editor; 10 s
	Silence time.Duration // a step without progress; 60 s
	Said    int64         // bytes that one run may send; 512 MiB
	Held    int64         // bytes of results held for a recipe; 256 MiB
	Engines int           // recipes that keep their engine while idle; 4
}

func (l Limits) orDefaults() Limits {
	return Limits{
		Memory:  cmp.Or(l.Memory, 1<<30),
		Grace:   cmp.Or(l.Grace, 500*time.Millisecond),
		Read:    cmp.Or(l.Read, 10*time.Second),
		Silence: cmp.Or(l.Silence, time.Minute),
		Said:    cmp.Or(l.Said, 512<<20),
		Held:    cmp.Or(l.Held, 256<<20),
		Engines: cmp.Or(l.Engines, 4),
	}
}

// State is what a reader is told of the engines.
type State struct {
	State   string       // Starting, Ready or Ended
	Message string       // what happened, when one ended by itself
	Fence   fence.Report // what protection is in force
}

// The states.
const (
	Starting = "starting"
	Ready    = "ready"
	Ended    = "ended"
)

// Supervisor keeps the engines of one season. Its methods may be called from any goroutine.
type Supervisor struct {
	options Options
	limits  Limits
	launch  *launcher
	lone    bool // serves one run: nothing is started ahead of need

	mu      sync.Mutex // guards what follows
	desks   map[string]*desk
	spare   *warming // nil where it was not needed yet
	reader  *warming // answers questions; nil where it was not needed yet
	reloads int
	changes int           // reloads, and measures kept
	opening *engine.Frame // opens the season as of changes; nil where it must be made anew
	state   State
	closed  bool

	telling sync.Mutex // holds calls of Options.Changed apart
}

// New starts a supervisor and its first engines, in the background.
func New(o Options) *Supervisor {
	s := newSupervisor(o)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.spare = s.warm()
	s.reader = s.warm()
	return s
}

func newSupervisor(o Options) *Supervisor {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Command == nil {
		o.Command = ownCommand()
	}
	if o.Season == nil {
		o.Season = noSeason
	}
	return &Supervisor{
		options: o, limits: o.Limits.orDefaults(), launch: newLauncher(),
		desks: map[string]*desk{}, state: State{State: Starting},
	}
}

// noSeason has no serves; no file of its folder is opened.
func noSeason(context.Context) (Snapshot, error) {
	empty := catalogue.New(catalogue.Content{}, catalogue.Access{})
	return Snapshot{Folder: os.TempDir(), Catalogue: empty}, nil
}

// RunOnce runs one recipe over a season and leaves nothing behind. Its error is that of Supervisor.Run.
func RunOnce(ctx context.Context, o Options, job Job, observe func(Event)) error {
	s := newSupervisor(o)
	s.lone = true
	defer s.Close()
	return s.Run(ctx, job, observe)
}

// AskOnce answers one question about a source, as Supervisor.Ask does, and leaves nothing behind.
func AskOnce(ctx context.Context, o Options, ask engine.Ask, answer any) error {
	s := newSupervisor(o)
	s.lone = true
	defer s.Close()
	return s.Ask(ctx, ask, answer)
}

// ownCommand is this very program, also where its file was replaced meanwhile.
func ownCommand() []string {
	path, err := os.Executable()
	if err != nil {
		path = os.Args[0]
	}
	return []string{path, "engine"}
}

// State tells how the engines are.
func (s *Supervisor) State() State {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.state
}

// tell changes the state and lets the observer know.
func (s *Supervisor) tell(change func(*State)) {
	s.telling.Lock()
	defer s.telling.Unlock()
	s.mu.Lock()
	before := s.state.State + s.state.Message
	change(&s.state)
	now, closed := s.state, s.closed
	s.mu.Unlock()
	if s.options.Changed != nil && !closed && before != now.State+now.Message {
		s.options.Changed(now)
	}
}

// Reload makes the engines see the season as it is now. A run that is under way goes on with what it began with.
func (s *Supervisor) Reload() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.reloads++
	s.renew()
	s.reader.drop()
	s.reader = nil
	if !s.closed && !s.lone {
		s.reader = s.warm()
	}
}

// renew replaces the spare by one that sees the season as it is now. The caller holds mu.
func (s *Supervisor) renew() {
	s.changes++
	s.opening = nil
	s.spare.drop()
	s.spare = nil
	if !s.closed && !s.lone {
		s.spare = s.warm()
	}
}

// Close ends all engines and waits until they are gone. Runs under way return ErrClosed.
func (s *Supervisor) Close() {
	s.mu.Lock()
	if s.closed {
		s.mu.Unlock()
		return
	}
	s.closed = true
	desks, last := s.desks, []*warming{s.spare, s.reader}
	s.desks = nil
	s.mu.Unlock()
	for _, d := range desks {
		d.stop(ErrClosed)
		d.release()
	}
	for _, w := range last {
		w.drop()
		w.wait()
	}
	s.launch.close()
}

// ErrClosed ends what is under way when the supervisor is closed.
var ErrClosed = errors.New("Tossline is closing")

// next hands out an engine that nobody uses yet, the spare where there is one, and sees to it that there will be a
// spare again. The caller holds mu.
func (s *Supervisor) next() *warming {
	w := s.spare
	if !w.usable() {
		w = s.warm()
	}
	s.spare = nil
	if !s.lone {
		s.spare = s.warm()
	}
	return w
}

// ended tells of the end of an engine that nobody asked for, and then of the one that takes its place.
func (s *Supervisor) ended(e *Ending) *Ending {
	s.options.Log.Info("engine ended", "how", e.Error(), "said", e.Said)
	s.tell(func(state *State) { state.State, state.Message = Ended, e.Error() })
	s.mu.Lock()
	if !s.closed && !s.lone && !s.spare.usable() {
		s.spare = s.warm()
	}
	w := s.spare
	s.mu.Unlock()
	if w != nil {
		go s.started(w)
	}
	return e
}

// started tells of an engine when it is ready, or of why there is none.
func (s *Supervisor) started(w *warming) {
	<-w.done
	if w.err == nil {
		s.tell(func(state *State) { *state = State{State: Ready, Fence: w.engine.about.Fence} })
	} else if w.ctx.Err() == nil {
		s.options.Log.Warn("engine did not start", "error", w.err)
		s.tell(func(state *State) { state.State, state.Message = Ended, w.err.Error() })
	}
}
