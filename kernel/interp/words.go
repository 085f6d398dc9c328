// Package interp reads a recipe, binds its steps by name, and runs them over a season: each step after those that it
// takes results of, and only those whose results are not known yet.
//
// The source is parsed and type-checked as the compiler would (package check), written anew in the Go that the
// interpreter runs correctly (package lower), and run by yaegi with the values of package api. What a step gives
// depends on its code, on the settings that it reads, on the results that it takes and on the season; its key is a hash
// of these, under which results are kept.
package interp

import (
	"encoding/json"
	"io"

	"tossline/kernel/result"
)

// Plan is what a recipe's source says it does.
type Plan struct {
	Title    string     `json:"title"`
	Prose    string     `json:"prose,omitempty"` // Go doc comment text
	Steps    []PlanStep `json:"steps"`
	Settings []Setting  `json:"settings"`
}

// PlanStep is one step before it has run.
type PlanStep struct {
	Name   string   `json:"name"`
	Title  string   `json:"title"`
	Prose  string   `json:"prose,omitempty"`
	First  int      `json:"first"` // lines of its doc comment and body, from 1
	Last   int      `json:"last"`
	Inputs []string `json:"inputs,omitempty"` // names of the steps that it takes results of
}

// Setting is one field of the recipe's Settings.
type Setting struct {
	Name    string          `json:"name"`
	Label   string          `json:"label"`
	Kind    string          `json:"kind"` // "number", "integer", "flag", "choice", "choices", "date", "text"
	Unit    string          `json:"unit,omitempty"`
	Min     *float64        `json:"min,omitempty"`
	Max     *float64        `json:"max,omitempty"`
	Step    *float64        `json:"step,omitempty"`
	Default json.RawMessage `json:"default,omitempty"`
	Choices []Choice        `json:"choices,omitempty"`
}

// Choice is one entry of a list: its value and what the reader sees.
type Choice struct {
	Value string `json:"value"`
	Title string `json:"title"`
	Unit  string `json:"unit,omitempty"`
}

// Diagnostic is one remark of the checker. Lines and columns count from 1, columns in bytes.
type Diagnostic struct {
	Severity  string `json:"severity"` // "error", "warning"
	Line      int    `json:"line"`
	Column    int    `json:"column"`
	EndLine   int    `json:"end_line,omitempty"`
	EndColumn int    `json:"end_column,omitempty"`
	Message   string `json:"message"`
	Step      string `json:"step,omitempty"` // the step it lies in
}

// State is how far a step has come.
type State string

// The states.
const (
	Waiting State = "waiting"
	Running State = "running"
	Done    State = "done"
	Failed  State = "failed"
	Skipped State = "skipped" // an input failed
)

// Step tells how far one step of a run has come.
type Step struct {
	Name    string          `json:"name"`
	Key     string          `json:"key,omitempty"` // hash of all that the results depend on
	State   State           `json:"state"`
	TookMS  float64         `json:"took_ms"`
	Kept    bool            `json:"kept,omitempty"` // known already under Key: not run
	Results []result.Result `json:"results,omitempty"`
	Error   *StepError      `json:"error,omitempty"`

	Attachments []result.Attachment `json:"-"` // what the results refer to
}

// StepError is why a step gave no result, as a sentence, with the recipe's lines that led there, innermost first.
type StepError struct {
	Message string   `json:"message"`
	Line    int      `json:"line,omitempty"`
	Column  int      `json:"column,omitempty"`
	Trace   []string `json:"trace,omitempty"` // "Spread, line 42"
}

// Job asks for a run.
type Job struct {
	File     string // its name in messages
	Source   string
	Settings map[string]json.RawMessage
	Known    map[string]bool // keys of steps whose results are held elsewhere: announced as Kept, run only when needed
	Output   io.Writer       // receives what the recipe prints
}

// Observer is told of a run as it goes on, one call at a time.
type Observer interface {
	Plan(Plan)
	Diagnostics([]Diagnostic)
	Step(Step)
	Progress(step string, done, total int)
}
