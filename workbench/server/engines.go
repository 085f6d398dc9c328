package server

import (
	"context"
	"encoding/json"
	"sync"

	"tossline/kernel/engine"
	"tossline/kernel/interp"
	"tossline/workbench/supervisor"
)

// engines is a supervisor as an Engine.
type engines struct {
	supervisor *supervisor.Supervisor

	mu    sync.Mutex
	watch func(EngineState)
}

// Run passes a run on, with results as the page wants them.
func (e *engines) Run(ctx context.Context, job Job, tell Listener) error {
	return e.supervisor.Run(ctx, supervisor.Job{File: job.File, Source: job.Source, Settings: job.Values},
		func(event supervisor.Event) {
			switch {
			case event.Plan != nil:
				tell.Plan(*event.Plan)
			case event.Diagnostics != nil:
				tell.Diagnostics(event.Diagnostics)
			case event.Step != nil:
				step, tables := stepOf(event.Step)
				tell.Step(step, tables)
			case event.Progress != nil:
				tell.Progress(event.Progress.Step, event.Progress.Done, event.Progress.Total)
			}
		})
}

func stepOf(s *interp.Step) (Step, map[string][]byte) {
	tables := map[string][]byte{}
	for _, a := range s.Attachments {
		tables[a.Ref] = a.Bytes
	}
	return Step{
		Name: s.Name, State: string(s.State), TookMS: s.TookMS, Kept: s.Kept, Results: s.Results, Error: s.Error,
	}, tables
}

// Ask has the editor's questions answered.
func (e *engines) Ask(ctx context.Context, ask engine.Ask) (json.RawMessage, error) {
	var answer json.RawMessage
	err := e.supervisor.Ask(ctx, ask, &answer)
	return answer, err
}

// Watch tells the state now and at every change.
func (e *engines) Watch(tell func(EngineState)) {
	e.mu.Lock()
	e.watch = tell
	e.mu.Unlock()
	tell(stateOf(e.supervisor.State()))
}

// changed hears from the supervisor.
func (e *engines) changed(s supervisor.State) {
	e.mu.Lock()
	watch := e.watch
	e.mu.Unlock()
	if watch != nil {
		watch(stateOf(s))
	}
}

func stateOf(s supervisor.State) EngineState {
	return EngineState{State: s.State, Message: s.Message, Fence: s.Fence.Sentence()}
}

// Renew makes later runs see the season as it is now.
func (e *engines) Renew() { e.supervisor.Reload() }
