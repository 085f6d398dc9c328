package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"sync"

	"tossline/kernel/engine"
	"tossline/kernel/interp"
	"tossline/kernel/result"
	"tossline/kernel/table"
)

// scripted is an engine that does what the script line of a recipe says, a word a step: "hello" gives a text, "table" a
// table, "choose" offers the setting Word with one choice, "serves" the measured serves of the season, "fail" an error,
// "wait" waits until it is stopped, "broken" is a mistake in the source, "crash" ends the engine.
type scripted struct {
	serves func() table.Table

	mu      sync.Mutex
	ran     []Job
	renewed int
	watch   func(EngineState)
}

func (e *scripted) jobs() []Job {
	e.mu.Lock()
	defer e.mu.Unlock()
	return append([]Job{}, e.ran...)
}

func (e *scripted) Run(ctx context.Context, job Job, tell Listener) error {
	e.mu.Lock()
	e.ran = append(e.ran, job)
	e.mu.Unlock()
	_, script, _ := strings.Cut(job.Source, "// script: ")
	words := strings.Fields(script)
	if len(words) > 0 && words[0] == "broken" {
		tell.Diagnostics([]Diagnostic{{Severity: "error", Line: 7, Column: 3, Message: "undefined: contcts"}})
		return errors.New("the recipe has errors")
	}
	plan := Plan{Title: "Scripted"}
	for i, word := range words {
		plan.Steps = append(plan.Steps, interp.PlanStep{Name: fmt.Sprintf("Step%d", i), Title: word})
		if word == "choose" {
			plan.Settings = []interp.Setting{{Name: "Word", Kind: "choice", Choices: []interp.Choice{{Value: "one"}}}}
		}
	}
	tell.Plan(plan)
	tell.Diagnostics([]Diagnostic{})
	for i, word := range words {
		step := Step{Name: fmt.Sprintf("Step%d", i), State: "running"}
		tell.Step(step, nil)
		var tables map[string][]byte
		step.State = "done"
		switch word {
		case "fail":
			step.State, step.Error = "failed", &interp.StepError{Message: "there is no column x", Line: 9}
		case "wait":
			tell.Progress(step.Name, 1, 10)
			<-ctx.Done()
			return context.Cause(ctx)
		case "crash":
			return errors.New("The engine failed at step " + step.Name + " and was started anew; the last results stay.")
		case "serves":
			stream, err := table.Encode(e.serves())
			if err != nil {
				return err
			}
			tables = map[string][]byte{"table-2": stream}
			step.Results = []result.Result{{Kind: result.KindTable, Table: &result.Table{Ref: "table-2"}}}
		case "table":
			stream, err := table.Encode(scriptedTable())
			if err != nil {
				return err
			}
			tables = map[string][]byte{"table-1": stream}
			step.Results = []result.Result{{Kind: result.KindTable, Table: &result.Table{Ref: "table-1", Rows: 5000}}}
		default:
			step.Results = []result.Result{{Kind: result.KindText, Text: word + string(job.Values["Word"])}}
		}
		tell.Step(step, tables)
	}
	return nil
}

// scriptedTable has 5,000 rows.
func scriptedTable() table.Table {
	serves, offsets := make([]string, 5000), make([]float64, 5000)
	for i := range serves {
		serves[i], offsets[i] = fmt.Sprintf("serve-%04d", i), float64(i%100)/100
	}
	return table.New(table.Text("serve", serves), table.Number("contact_offset_m", "m", offsets))
}

func (e *scripted) Ask(_ context.Context, ask engine.Ask) (json.RawMessage, error) {
	if ask.Question == engine.Format && strings.Contains(ask.Source, "broken") {
		return nil, errors.New("recipe.go:7:3: expected operand")
	}
	return json.Marshal(fmt.Sprintf("%s of %s at %d", ask.Question, ask.File, ask.Offset))
}

func (e *scripted) Watch(tell func(EngineState)) {
	e.mu.Lock()
	e.watch = tell
	e.mu.Unlock()
	tell(EngineState{State: "ready"})
}

func (e *scripted) Renew() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.renewed++
}
