package server

import (
	"encoding/json"

	"tossline/kernel/result"
)

// The page and the server talk over one websocket. Text frames are JSON objects with a type; binary frames are
// Arrow. The TypeScript twin of this file is web/src/protocol.ts: change both together.
//
// The page asks: {"id": 7, "type": "open", ...}. The server answers each id once, with
// {"id": 7, "type": "reply", "body": ...}, or {"id": 7, "type": "failed", "error": "a sentence for the reader"}, or a
// binary frame: id uint32, rows uint32 (both little-endian), then an Arrow IPC stream, which those eight bytes keep
// aligned. What changes by itself is told unasked, to every page that it concerns: {"type": "step", ...} without id.

// request is any question of the page; each type uses the fields that its comment names.
type request struct {
	ID   uint32 `json:"id"`
	Type string `json:"type"`

	Page   string `json:"page,omitempty"`   // hello: the nonce of the page's own HTML
	Recipe string `json:"recipe,omitempty"` // open, settings, edit, run, stop, allow, complete, hover, format, versions

	Values   map[string]json.RawMessage `json:"values,omitempty"`   // settings: changed ones; null goes back to the default
	Source   string                     `json:"source,omitempty"`   // edit, add, complete, hover, format
	Revision string                     `json:"revision,omitempty"` // edit: what was edited; allow, version: what is meant
	Run      bool                       `json:"run,omitempty"`      // edit: run what is new, too
	Name     string                     `json:"name,omitempty"`     // add: file name; group: name
	Offset   int                        `json:"offset,omitempty"`   // complete, hover: byte offset; rows: first row

	Ref    string   `json:"ref,omitempty"`    // rows: the table
	Limit  int      `json:"limit,omitempty"`  // rows: at most so many, at most maxWindow
	Order  string   `json:"order,omitempty"`  // rows: column, "-column" for descending, "" as they come
	Filter []Filter `json:"filter,omitempty"` // rows: all must hold

	Serve string   `json:"serve,omitempty"`  // clip, correct, undo
	Event string   `json:"event,omitempty"`  // correct
	TimeS *float64 `json:"time_s,omitempty"` // correct: null takes the correction back

	Upload  string          `json:"upload,omitempty"`  // preview, import, discard: from the reply to the upload
	Choices json.RawMessage `json:"choices,omitempty"` // preview, import: what the user corrected
}

// Filter keeps the rows whose column contains Text (any case), or lies between Min and Max.
type Filter struct {
	Column string   `json:"column"`
	Text   string   `json:"text,omitempty"`
	Min    *float64 `json:"min,omitempty"`
	Max    *float64 `json:"max,omitempty"`
}

// Welcome answers hello.
type Welcome struct {
	Version string        `json:"version"`
	Season  Overview      `json:"season"`
	Shelf   []ShelfEntry  `json:"shelf"`
	Engine  EngineState   `json:"engine"`
	Formats []string      `json:"formats"` // what can be imported, as file name endings
	Events  []string      `json:"events"`  // the kinds of events in the order of time
	Units   []string      `json:"units"`   // the units a file's lengths may have
	Limits  UploadLimits  `json:"limits"`
	Groups  []NamedServes `json:"groups,omitempty"`
}

// UploadLimits are what the page checks before it sends.
type UploadLimits struct {
	FileBytes   int64 `json:"file_bytes"`
	RecipeBytes int64 `json:"recipe_bytes"`
}

// Overview is the season in the rail. Push type "season".
type Overview struct {
	Name     string   `json:"name"`
	Folder   string   `json:"folder"`
	Serves   int      `json:"serves"`
	From     string   `json:"from,omitempty"` // ISO dates of the first and last session
	To       string   `json:"to,omitempty"`
	Demo     bool     `json:"demo,omitempty"`
	ReadOnly string   `json:"read_only,omitempty"` // why nothing can be stored, in a sentence
	Players  []Player `json:"players"`
	Measures []Choice `json:"measures"` // what the sparklines can show: column and title
}

// Choice is one entry of a list: its value and what the reader sees.
type Choice struct {
	Value string `json:"value"`
	Title string `json:"title"`
	Unit  string `json:"unit,omitempty"`
}

// Player is a line of the roster.
type Player struct {
	Name      string    `json:"name"`
	Hand      string    `json:"hand,omitempty"`
	BirthYear int       `json:"birth_year,omitempty"`
	Level     string    `json:"level,omitempty"`
	Serves    int       `json:"serves"`
	Sessions  []Session `json:"sessions"`
}

// Session is one day's serves of a player, with the mean of each known measure for the sparkline.
type Session struct {
	Date   string             `json:"date"`
	Serves int                `json:"serves"`
	CutOff int                `json:"cut_off,omitempty"`
	First  string             `json:"first,omitempty"` // its first serve
	Means  map[string]float64 `json:"means,omitempty"` // by measure column
}

// ShelfEntry is a recipe that can be opened. Push type "shelf" carries all of them.
type ShelfEntry struct {
	Recipe  string `json:"recipe"` // file name without .go
	Title   string `json:"title"`
	Line    string `json:"line,omitempty"` // first sentence of its prose
	Shipped bool   `json:"shipped,omitempty"`
	Unread  bool   `json:"unread,omitempty"` // not allowed to run on this season yet
}

// Desk is a recipe lying open, the same for every page that looks at it. Push type "desk".
type Desk struct {
	Recipe   string   `json:"recipe"`
	File     string   `json:"file"`
	Source   string   `json:"source"`
	Revision string   `json:"revision"`          // sha256 of the source
	Saved    string   `json:"saved,omitempty"`   // RFC 3339
	Unread   bool     `json:"unread,omitempty"`  // shown as text until it is allowed
	Imports  []string `json:"imports,omitempty"` // of an unread recipe
	By       string   `json:"by,omitempty"`      // who an unread recipe says it is from

	Plan        Plan                       `json:"plan"`
	Values      map[string]json.RawMessage `json:"values"`
	Diagnostics []Diagnostic               `json:"diagnostics"`
	Steps       []Step                     `json:"steps"`
	Running     bool                       `json:"running"`
	Progress    *Progress                  `json:"progress,omitempty"`
	Error       string                     `json:"error,omitempty"` // why the last run ended early, in a sentence
}

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
	Inputs []string `json:"inputs,omitempty"`
}

// Setting is one control.
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

// Diagnostic is one remark of the checker. Lines and columns count from 1, columns in bytes.
type Diagnostic struct {
	Severity  string `json:"severity"` // "error", "warning"
	Line      int    `json:"line"`
	Column    int    `json:"column"`
	EndLine   int    `json:"end_line,omitempty"`
	EndColumn int    `json:"end_column,omitempty"`
	Message   string `json:"message"`
	Step      string `json:"step,omitempty"`
}

// Step is how far one step has come. Push type "step".
type Step struct {
	Name    string          `json:"name"`
	State   string          `json:"state"`         // "waiting", "running", "done", "failed", "skipped"
	Old     bool            `json:"old,omitempty"` // the result shown is of an earlier run
	TookMS  float64         `json:"took_ms"`
	Kept    bool            `json:"kept,omitempty"` // nothing it depends on changed: not run again
	Results []result.Result `json:"results,omitempty"`
	Error   *StepError      `json:"error,omitempty"`
}

// StepError is why a step gave no result.
type StepError struct {
	Message string `json:"message"`
	Line    int    `json:"line,omitempty"`
	Column  int    `json:"column,omitempty"`
}

// Progress is how far a long step is. Push type "progress".
type Progress struct {
	Step  string  `json:"step"`
	Done  int     `json:"done"`
	Total int     `json:"total"`
	LeftS float64 `json:"left_s,omitempty"` // estimated, 0 where not known
}

// EngineState is what the page says of the engine. Push type "engine".
type EngineState struct {
	State   string `json:"state"`             // "starting", "ready", "ended"
	Message string `json:"message,omitempty"` // what happened, when it ended
	Fence   string `json:"fence,omitempty"`   // what holds it in
}

// NamedServes is a selection kept under a name.
type NamedServes struct {
	Name   string   `json:"name"`
	Serves []string `json:"serves"`
}

// Completion is one thing that may stand at the cursor.
type Completion struct {
	Label  string `json:"label"`
	Kind   string `json:"kind"`
	Detail string `json:"detail,omitempty"`
	Doc    string `json:"doc,omitempty"`
}

// Completions answers complete: items replace the source from byte From to the cursor.
type Completions struct {
	From  int          `json:"from"`
	Items []Completion `json:"items"`
}

// Hover answers hover: what stands at bytes From to To.
type Hover struct {
	From int    `json:"from"`
	To   int    `json:"to"`
	Text string `json:"text"`
}
