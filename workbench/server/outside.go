package server

import (
	"context"
	"encoding/json"

	"tossline/datasets/particulars"
	"tossline/datasets/recording"
	"tossline/datasets/season"
	"tossline/kernel/engine"
	"tossline/kernel/motion"
	"tossline/kernel/table"
	"tossline/workbench/supervisor"
)

// Season is the season folder as the server needs it. All methods may be called from several goroutines.
type Season interface {
	// Overview is what the rail shows.
	Overview(ctx context.Context) (Overview, error)
	// Source gives the serves as they are now, to be measured.
	Source(ctx context.Context) (motion.Source, error)
	// Clip gives one serve as an Arrow IPC stream: a row a frame, in one column xyz three values a landmark, with the
	// ClipInfo as JSON under the schema metadata key "clip".
	Clip(ctx context.Context, serve string) ([]byte, error)

	// Correct sets an event of a serve by hand; nil takes the last correction of that event back.
	Correct(ctx context.Context, serve, event string, timeS *float64) error
	// Change makes edits, all or none.
	Change(ctx context.Context, edits []season.Edit) (Changed, error)
	// Split, Merge, Recut and Rename are those of package season, made at once.
	Split(ctx context.Context, serve string, atS float64) (Changed, error)
	Merge(ctx context.Context, serves []string) (Changed, error)
	Recut(ctx context.Context, recording string, hand motion.Hand) (Changed, error)
	Rename(ctx context.Context, player, name string) (Changed, error)
	// Remove deletes a recording with all that was said of it, for good.
	Remove(ctx context.Context, recording string) error
	// Undo takes a batch of edits back, Redo puts it in force again.
	Undo(ctx context.Context, batch int64) error
	Redo(ctx context.Context, batch int64) error
	// History lists the last changes of some subjects, or of all where none is given, the newest first.
	History(ctx context.Context, most int, subjects []string) ([]Change, error)
	// Serves lists the recordings and serves of a player and a session, or of all.
	Serves(ctx context.Context, player, session string) (Listing, error)
	// Groups lists the serves that people chose and named. SaveGroup keeps such a choice, in place of one of that name;
	// one without serves is forgotten.
	Groups(ctx context.Context) ([]Group, error)
	SaveGroup(ctx context.Context, g Group) error
	// Verify checks every file of the season.
	Verify(ctx context.Context, progress func(done, total int)) (season.Report, error)

	// Values are the kept settings of a recipe, nil where there are none.
	Values(ctx context.Context, recipe string) (map[string]json.RawMessage, error)
	KeepValues(ctx context.Context, recipe string, values map[string]json.RawMessage) error
	// Allowed reports whether a recipe of exactly this content was allowed to run.
	Allowed(ctx context.Context, sha256 string) (bool, error)
	Allow(ctx context.Context, sha256 string) error
	// KeepVersion remembers the text of a recipe that was run; Versions lists them, the newest first.
	KeepVersion(ctx context.Context, recipe, source string) error
	Versions(ctx context.Context, recipe string) ([]Version, error)
	Version(ctx context.Context, sha256 string) (string, error)

	// Prepare reads and understands a file without storing anything.
	Prepare(ctx context.Context, file Upload, said recording.Options, progress func(done, total int)) (
		*supervisor.Imported, error)
	// Store stores what was prepared as was said. Storing the same file again changes nothing.
	Store(ctx context.Context, p *recording.Prepared, said recording.Options) (Stored, error)
	// Known reads a file that may be a table of what is known beside recordings, or of changes or groups that were
	// exported, and gives what it brings; is tells whether it is one. Bring makes that so.
	Known(ctx context.Context, file Upload) (brought particulars.Brought, is bool, err error)
	Bring(ctx context.Context, brought particulars.Brought) error
	// ReadWhole reads a file as a table without storing anything, KeepTable keeps what was read under a name, in place of
	// what is kept under it. Kept gives what is kept.
	ReadWhole(ctx context.Context, file Upload, progress func(done, total int)) (*supervisor.Kept, error)
	KeepTable(ctx context.Context, name string, file Upload, k *supervisor.Kept) error
	Kept(ctx context.Context, name string) (table.Table, error)
	// Formats lists the file name endings that can be imported, such as ".bvh".
	Formats() []string
}

// Upload is a file that the page sent, kept aside until it is stored or discarded.
type Upload struct {
	Name string // base name as the user has it
	Path string // where it is kept; the base name is the same
	Size int64
}

// Engine runs recipes in another process. All methods may be called from several goroutines.
type Engine interface {
	// Run checks and runs a recipe, and tells what happens, in order and from one goroutine at a time. It returns
	// once everything is told. Ending ctx stops it at once. The error, if any, is a sentence for the reader.
	Run(ctx context.Context, job Job, tell Listener) error
	// Ask answers the editor: what may stand at an offset, counted in bytes, what stands there, where that is declared,
	// or how gofmt would write it. The answers are those that the kinds of engine.Question name.
	Ask(ctx context.Context, ask engine.Ask) (json.RawMessage, error)
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
