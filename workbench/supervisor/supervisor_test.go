package supervisor

import (
	"context"
	"errors"
	"os"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"tossline/datasets/catalogue"
	"tossline/kernel/engine"
	"tossline/kernel/interp"
)

// patience is more than anything here should ever take.
const patience = 20 * time.Second

// empty is a season without serves.
func empty(t testing.TB) func(context.Context) (Snapshot, error) { return emptyIn(t.TempDir()) }

func emptyIn(folder string) func(context.Context) (Snapshot, error) {
	return func(context.Context) (Snapshot, error) {
		return Snapshot{Folder: folder, Catalogue: catalogue.New(catalogue.Content{}, catalogue.Access{})}, nil
	}
}

// withRogues starts a supervisor whose engines misbehave as their source says.
func withRogues(t testing.TB, limits Limits) *Supervisor {
	return start(t, Options{Command: []string{os.Args[0], "rogue"}, Limits: limits})
}

func start(t testing.TB, o Options) *Supervisor {
	t.Helper()
	if o.Season == nil {
		o.Season = empty(t)
	}
	if o.Command == nil {
		o.Command = []string{os.Args[0], "engine"}
	}
	s := New(o)
	t.Cleanup(s.Close)
	return s
}

// seen collects the events of runs.
type seen struct {
	mu     sync.Mutex
	events []Event
}

func (s *seen) observe(e Event) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.events = append(s.events, e)
}

// steps are the last words on each step.
func (s *seen) steps() map[string]interp.Step {
	s.mu.Lock()
	defer s.mu.Unlock()
	last := map[string]interp.Step{}
	for _, e := range s.events {
		if e.Step != nil {
			last[e.Step.Name] = *e.Step
		}
	}
	return last
}

func (s *Supervisor) run(t testing.TB, source string) (*seen, error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	var got seen
	err := s.Run(ctx, Job{File: "rogue.go", Source: source}, got.observe)
	if ctx.Err() != nil {
		t.Fatalf("%s: not over within %v", source, patience)
	}
	return &got, err
}

// Whatever an engine does, the run returns with a sentence that says what happened, and the next run works, with the
// results of before still there.
func TestRogueEngines(t *testing.T) {
	limits := Limits{Memory: 64 << 20, Read: time.Second, Silence: patience, Said: 8 << 20}
	for _, c := range []struct{ source, says string }{
		{"obey", ""},
		{"refuse", "the recipe has errors"},
		{"hang", "The engine gave no sign of life for 1s at step Spread and was started anew; the last results stay."},
		{"hang early", "The engine gave no sign of life for 1s while reading the recipe and was started anew"},
		{"stop the process", "gave no sign of life for 1s at step Spread"},
		{"panic", "The engine failed at step Spread and was started anew; the last results stay."},
		{"leave", "The engine stopped at step Spread"},
		{"killed", "The engine was ended from outside at step Spread"},
		{"memory watched", "The engine ran out of memory at step Spread"},
		{"eat", "The engine took too much memory at step Spread"},
		{"garbage", "sent something that is no message"},
		{"half a frame", "sent something that is no message"},
		{"giant frame", "sent something that is no message"},
		{"wrong kind", "sent an answer that makes no sense"},
		{"wrong body", "sent an answer that makes no sense"},
		{"false attachment", "sent an answer that makes no sense"},
		{"false measures", "sent an answer that makes no sense"},
		{"other calls", ""},
		{"flood", "more than 8 MB of results"},
		{"flood of errors", "The engine was ended from outside at step Spread"},
		{"close the pipe", "The engine stopped at step Spread"},
	} {
		t.Run(c.source, func(t *testing.T) {
			t.Parallel()
			limits := limits
			if strings.Contains(c.says, "gave no sign of life") {
				limits.Silence = time.Second
			}
			s := withRogues(t, limits)
			if first, err := s.run(t, "obey"); err != nil || first.steps()["Spread"].Results[0].Text != "fresh" {
				t.Fatalf("before: %v, %v", err, first.events)
			}
			_, err := s.run(t, c.source)
			if c.says == "" && err != nil || c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)) {
				t.Errorf("said %v, want %q", err, c.says)
			}
			began := time.Now()
			after, err := s.run(t, "obey")
			step := after.steps()["Spread"]
			if err != nil || !step.Kept || len(step.Results) != 1 || step.Results[0].Text != "fresh" {
				t.Errorf("afterwards: %v, %+v", err, step)
			}
			t.Logf("%-18s recovered in %v", c.source, time.Since(began).Round(time.Millisecond))
		})
	}
}

func TestAnEngineThatGoesOnComputingIsEnded(t *testing.T) {
	s := withRogues(t, Limits{})
	if _, err := s.run(t, "go on computing"); err != nil {
		t.Fatal(err)
	}
	p := s.desks["rogue.go"].engine
	select {
	case <-p.gone:
	case <-time.After(patience):
		t.Fatal("it was not ended")
	}
	if !strings.Contains(p.ending.Error(), "went on computing after its work was done") {
		t.Error(p.ending)
	}
}

func TestStopping(t *testing.T) {
	s := withRogues(t, Limits{})
	for _, source := range []string{"hang", "hang early", "stop the process", "flood"} {
		t.Run(source, func(t *testing.T) {
			ctx, cancel := context.WithCancel(context.Background())
			time.AfterFunc(200*time.Millisecond, cancel)
			began := time.Now()
			err := s.Run(ctx, Job{File: "rogue.go", Source: source}, func(Event) {})
			if took := time.Since(began) - 200*time.Millisecond; !errors.Is(err, context.Canceled) || took > 2*time.Second {
				t.Errorf("returned %v, %v after being stopped", err, took)
			}
			began = time.Now()
			if _, err := s.run(t, "obey"); err != nil {
				t.Error(err)
			}
			t.Logf("the next run took %v", time.Since(began))
		})
	}
}

func TestANewerRunTakesOver(t *testing.T) {
	s := withRogues(t, Limits{})
	older := make(chan error)
	running := make(chan struct{})
	go func() {
		older <- s.Run(context.Background(), Job{File: "rogue.go", Source: "hang"}, func(e Event) {
			if e.Step != nil {
				close(running)
			}
		})
	}()
	<-running
	if _, err := s.run(t, "obey"); err != nil {
		t.Error(err)
	}
	if err := <-older; err != ErrSuperseded {
		t.Errorf("the older run returned %v", err)
	}
}

func TestAQuestionThatHangsTakesNoRunWithIt(t *testing.T) {
	s := withRogues(t, Limits{Read: 500 * time.Millisecond})
	ran := make(chan error)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	go func() {
		ran <- s.Run(ctx, Job{File: "rogue.go", Source: "hang"}, func(Event) {})
	}()
	var answer string
	err := s.Ask(ctx, engine.Ask{Question: engine.Check, Source: "hang"}, &answer)
	if err == nil || !strings.Contains(err.Error(), "no sign of life for 500ms while reading the recipe") {
		t.Errorf("said %v", err)
	}
	if err := s.Ask(ctx, engine.Ask{Question: engine.Check}, &answer); err != nil || answer != "an answer" {
		t.Errorf("the next question: %q, %v", answer, err)
	}
	select {
	case err := <-ran:
		t.Errorf("the run ended: %v", err)
	default:
	}
	cancel()
	<-ran
}

// An engine that is killed while it has nothing to do is replaced, and the reader told.
func TestIdleEnginesThatAreKilledAreReplaced(t *testing.T) {
	told := make(chan State, 100)
	s := start(t, Options{Command: []string{os.Args[0], "rogue"}, Changed: func(state State) { told <- state }})
	if _, err := s.run(t, "obey"); err != nil {
		t.Fatal(err)
	}
	time.Sleep(1200 * time.Millisecond)
	syscall.Kill(s.desks["rogue.go"].engine.cmd.Process.Pid, syscall.SIGKILL)
	var last State
	for last.Message != "The engine was ended from outside and was started anew; the last results stay." {
		select {
		case last = <-told:
		case <-time.After(patience):
			t.Fatalf("last told %+v", last)
		}
	}
	for last.State != Ready {
		last = <-told
	}
	if after, err := s.run(t, "obey"); err != nil || !after.steps()["Spread"].Kept {
		t.Error(err)
	}
}

func TestReload(t *testing.T) {
	s := withRogues(t, Limits{})
	if _, err := s.run(t, "obey"); err != nil {
		t.Fatal(err)
	}
	before := s.desks["rogue.go"].engine
	s.Reload()
	if _, err := s.run(t, "obey"); err != nil {
		t.Fatal(err)
	}
	if s.desks["rogue.go"].engine == before || before.alive() {
		t.Error("the engine that sees the old season is still there")
	}
}

func TestIdleEnginesAreFew(t *testing.T) {
	s := withRogues(t, Limits{Engines: 2})
	for _, file := range []string{"a.go", "b.go", "c.go", "d.go", "a.go"} {
		if err := s.Run(t.Context(), Job{File: file, Source: "obey"}, func(Event) {}); err != nil {
			t.Fatal(err)
		}
		time.Sleep(50 * time.Millisecond)
	}
	alive := 0
	for _, d := range s.desks {
		d.running.Lock()
		defer d.running.Unlock()
		if d.engine != nil {
			alive++
		}
	}
	if alive != 2 || s.desks["a.go"].engine == nil {
		t.Errorf("%d engines are left", alive)
	}
}

func TestCloseEndsEverything(t *testing.T) {
	s := withRogues(t, Limits{})
	running := make(chan struct{})
	ran := make(chan error)
	go func() {
		ran <- s.Run(context.Background(), Job{File: "rogue.go", Source: "hang"}, func(e Event) {
			if e.Step != nil {
				close(running)
			}
		})
	}()
	<-running
	p := s.desks["rogue.go"].engine
	s.Close()
	if err := <-ran; err != ErrClosed {
		t.Errorf("the run returned %v", err)
	}
	if p.alive() {
		t.Error("its engine lives on")
	}
	if err := s.Run(context.Background(), Job{}, nil); err != ErrClosed {
		t.Errorf("a run afterwards returned %v", err)
	}
}

func TestASeasonThatCannotBeOpened(t *testing.T) {
	s := start(t, Options{Season: func(context.Context) (Snapshot, error) {
		return Snapshot{Folder: "/nowhere", Catalogue: catalogue.New(catalogue.Content{}, catalogue.Access{})}, nil
	}})
	err := s.Run(t.Context(), Job{File: "x.go"}, func(Event) {})
	if err == nil || !strings.Contains(err.Error(), "The engine could not open the season") {
		t.Errorf("said %v", err)
	}
	gone := start(t, Options{Command: []string{"/nowhere/tossline"}})
	err = gone.Run(t.Context(), Job{File: "x.go"}, nil)
	if err == nil || !strings.Contains(err.Error(), "cannot be started") {
		t.Errorf("said %v", err)
	}
}
