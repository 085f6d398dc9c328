package server

import (
	"context"
	"encoding/json"
	"io"
)

// Season is the season folder as the server needs it. All methods may be called from several goroutines.
type Season interface {
	// Overview is what the rail shows.
	Overview() (Overview, error)
	// Clip gives one serve as an Arrow IPC stream: a row a frame, columns time_s and xyz (three values a landmark),
	// with the ClipInfo as JSON under the schema metadata key "clip".
	Clip(serve string) ([]byte, error)
	// Correct sets an event of a serve by hand; nil takes the last correction of that event back.
	Correct(serve, event string, timeS *float64) error

	// Values are the kept settings of a recipe, nil where there are none.
	Values(recipe string) (map[string]json.RawMessage, error)
	KeepValues(recipe string, values map[string]json.RawMessage) error
	// Allowed reports whether a recipe of exactly this content was allowed to run.
	Allowed(sha256 string) (bool, error)
	Allow(sha256, recipe string) error
	// KeepVersion remembers the text of a recipe that was run.
	KeepVersion(recipe, source string) error
	Versions(recipe string) ([]Version, error)
	Version(recipe, sha256 string) (string, error)

	// Preview understands a file without storing anything. The answer is shown by the page: Understanding.
	Preview(ctx context.Context, file Upload, choices json.RawMessage, progress func(done, total int64)) (
		json.RawMessage, error)
	// Import stores a file that was previewed. Importing the same file again changes nothing.
	Import(ctx context.Context, file Upload, choices json.RawMessage, progress func(done, total int64)) (
		json.RawMessage, error)
	// Formats lists the file name endings that can be imported, such as ".bvh".
	Formats() []string
}

// Upload is a file that the page sent, kept aside until it is imported or discarded.
type Upload struct {
	Name string // base name as the user has it
	Size int64
	Data io.ReaderAt
}

// Version is one text of a recipe that was run.
type Version struct {
	SHA256 string `json:"sha256"`
	At     string `json:"at"` // RFC 3339
	Lines  int    `json:"lines"`
}

// Engine runs recipes in another process. All methods may be called from several goroutines.
type Engine interface {
	// Run checks and runs a recipe, and tells what happens, in order and from one goroutine at a time. It returns
	// once everything is told. Ending ctx stops it at once. The error, if any, is a sentence for the reader.
	Run(ctx context.Context, job Job, tell Listener) error
	Complete(ctx context.Context, file, source string, offset int) (Completions, error)
	Hover(ctx context.Context, file, source string, offset int) (Hover, error)
	Format(ctx context.Context, file, source string) (string, error)
	// Watch calls tell with the state of the engine, now and at every change.
	Watch(tell func(EngineState))
	// Renew makes later runs see the season as it is now.
	Renew()
}

// Job is one run of a recipe.
type Job struct {
	Recipe string // its name: steps are kept between runs of the same recipe
	File   string
	Source string
	Values map[string]json.RawMessage
}

// Listener hears how a run goes.
type Listener interface {
	Plan(Plan)
	Diagnostics([]Diagnostic)
	// Step tells a step's state; tables holds the Arrow IPC stream of each table its results refer to.
	Step(step Step, tables map[string][]byte)
	Progress(step string, done, total int)
}
