package server

import (
	"encoding/json"

	"tossline/datasets/particulars"
	"tossline/datasets/recording"
	"tossline/datasets/season"
	"tossline/datasets/sheet"
	"tossline/kernel/interp"
	"tossline/kernel/motion"
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
	Recipe string `json:"recipe,omitempty"` // open, values, edit, run, stop, allow, versions, and the editor's questions

	Values   map[string]json.RawMessage `json:"values,omitempty"`   // values: changed ones; null goes back to the default
	Source   string                     `json:"source,omitempty"`   // edit, add, and the editor's questions
	Revision string                     `json:"revision,omitempty"` // edit: what was edited; allow, version: what is meant
	Run      bool                       `json:"run,omitempty"`      // edit: run what is new, too
	Name     string                     `json:"name,omitempty"`     // add: file name; rename: player; group, ungroup, keep, table: name
	Offset   int                        `json:"offset,omitempty"`   // the editor's questions: byte offset; rows: first row

	Ref    string   `json:"ref,omitempty"`    // rows: the table
	Limit  int      `json:"limit,omitempty"`  // rows: at most so many, at most maxWindow; history: changes
	Order  string   `json:"order,omitempty"`  // rows: column, "-column" for descending, "" as they come
	Filter []Filter `json:"filter,omitempty"` // rows: all must hold

	Serve string   `json:"serve,omitempty"`  // clip, correct, split
	Event string   `json:"event,omitempty"`  // correct
	TimeS *float64 `json:"time_s,omitempty"` // correct: null takes the correction back; split: where the second begins

	Edits     []season.Edit `json:"edits,omitempty"`     // change: all of them or none
	Serves    []string      `json:"serves,omitempty"`    // merge, group
	Recording string        `json:"recording,omitempty"` // recut, remove
	Hand      motion.Hand   `json:"hand,omitempty"`      // recut: the hitting hand, "" as it is
	Player    string        `json:"player,omitempty"`    // serves: "" for all; rename
	Session   string        `json:"session,omitempty"`   // serves: ISO date, "" for all
	Batch     int64         `json:"batch,omitempty"`     // undo, redo
	Subjects  []string      `json:"subjects,omitempty"`  // history: serves, recordings and players, none for all

	Upload  string            `json:"upload,omitempty"` // preview, import, bring, keep, discard: from the upload
	Choices recording.Options `json:"choices,omitzero"` // preview, import: what the user corrected
}

// Filter keeps the rows whose column contains Text (any case), or is one of OneOf, or lies between Min and Max.
type Filter struct {
	Column string   `json:"column"`
	Text   string   `json:"text,omitempty"`
	OneOf  []string `json:"one_of,omitempty"` // such as the serves that are selected
	Min    *float64 `json:"min,omitempty"`
	Max    *float64 `json:"max,omitempty"`
}

// Welcome answers hello.
type Welcome struct {
	Version string       `json:"version"`
	Season  Overview     `json:"season"`
	Shelf   []ShelfEntry `json:"shelf"`
	Engine  EngineState  `json:"engine"`
	Formats []string     `json:"formats"` // what can be imported, as file name endings
	Limits  UploadLimits `json:"limits"`
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

	Tables []KeptTable `json:"tables"` // by name
}

// KeptTable is a table that came from elsewhere and that the season keeps.
type KeptTable struct {
	Name string `json:"name"`
	Rows int    `json:"rows"`
	File string `json:"file"` // that it was read from
	At   string `json:"at"`   // RFC 3339
}

// Player is a line of the roster.
type Player struct {
	Name      string    `json:"name"`
	Hand      string    `json:"hand,omitempty"`
	BirthYear int       `json:"birth_year,omitempty"`
	Level     string    `json:"level,omitempty"`
	HeightM   float64   `json:"height_m,omitempty"`
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

// Plan, Diagnostic and Choice are the engine's: kernel/interp/words.go.
type (
	Plan       = interp.Plan
	Diagnostic = interp.Diagnostic
	Choice     = interp.Choice
)

// Step is how far one step has come. Push type "step".
type Step struct {
	Name    string            `json:"name"`
	State   string            `json:"state"`         // "waiting", "running", "done", "failed", "skipped"
	Old     bool              `json:"old,omitempty"` // the result shown is of an earlier run
	TookMS  float64           `json:"took_ms"`
	Kept    bool              `json:"kept,omitempty"` // nothing it depends on changed: not run again
	Results []result.Result   `json:"results,omitempty"`
	Error   *interp.StepError `json:"error,omitempty"`
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

// Version is one text of a recipe that was run.
type Version struct {
	SHA256 string `json:"sha256"`
	At     string `json:"at"` // RFC 3339
}

// Stored says what became of a file that was stored. Of a file that holds several recordings it names the first, and
// the serves of all.
type Stored struct {
	Recording string   `json:"recording"`
	Outcome   string   `json:"outcome"` // "new", "already there", "replaced", "repaired"
	Serves    []string `json:"serves"`
}

// Table answers preview where the file is a table of what is known beside recordings, or of changes or groups that were
// exported: what it brings.
type Table struct {
	Brought particulars.Brought `json:"brought"`
}

// Whole answers preview of a table of any other content, which can be kept as it is.
type Whole struct {
	Whole sheet.Understood `json:"whole"`
	Why   string           `json:"why"` // why it is no recording
}

// Changed answers change, split, merge, recut and rename.
type Changed struct {
	Batch  int64    `json:"batch"`            // by which undo takes it back, today or later
	Serves []string `json:"serves,omitempty"` // that split and merge made
}

// Change is one line of the history: edits that were made together.
type Change struct {
	Batch    int64  `json:"batch"`
	At       string `json:"at"`               // RFC 3339
	Undone   string `json:"undone,omitempty"` // RFC 3339
	Sentence string `json:"sentence"`
}

// Group is serves that somebody chose and named. The reply to groups, group and ungroup lists all; so does push type
// "groups".
type Group struct {
	Name   string   `json:"name"`
	Serves []string `json:"serves"`
}

// Listing answers serves: the serves of the recordings of a player or a session, those left out too.
type Listing struct {
	Recordings []RecordingLine `json:"recordings"`
	Serves     []ServeLine     `json:"serves"`
}

// RecordingLine is what is known of one recording.
type RecordingLine struct {
	Recording string  `json:"recording"`
	File      string  `json:"file"`
	Format    string  `json:"format"`
	Player    string  `json:"player"`
	Session   string  `json:"session"`
	Hand      string  `json:"hand"`
	RateHz    float64 `json:"rate_hz"`
	Seconds   float64 `json:"seconds"`
	Problem   string  `json:"problem,omitempty"` // why its frames can't be read
}

// ServeLine is what is known of one serve beside its frames.
type ServeLine struct {
	Serve       string   `json:"serve"`
	Recording   string   `json:"recording"`
	FromS       float64  `json:"from_s"` // from the start of the recording
	ToS         float64  `json:"to_s"`
	ContactS    *float64 `json:"contact_s"`
	LeftOut     string   `json:"left_out,omitempty"` // why it is not measured
	ByHand      []string `json:"by_hand,omitempty"`  // events that a person set
	ServeType   string   `json:"serve_type,omitempty"`
	StanceType  string   `json:"stance_type,omitempty"`
	CourtSide   string   `json:"court_side,omitempty"`
	Outcome     string   `json:"outcome,omitempty"`
	BallSpeedMS float64  `json:"ball_speed_m_s,omitempty"`
}

// ClipInfo is what stands beside the frames of one serve.
type ClipInfo struct {
	Serve     string      `json:"serve"`
	Player    string      `json:"player"`
	Session   string      `json:"session"`
	Number    int         `json:"number"` // place among the player's serves of the session, from 1
	Recording string      `json:"recording"`
	File      string      `json:"file"`
	Hand      string      `json:"hand"`
	RateHz    float64     `json:"rate_hz"`
	FirstS    float64     `json:"first_s"` // time of the first frame from the start of the recording
	Landmarks []string    `json:"landmarks"`
	Events    []ClipEvent `json:"events"`
	CutOff    string      `json:"cut_off,omitempty"`  // why it is not measured
	Previous  string      `json:"previous,omitempty"` // the player's serve before and after it
	Next      string      `json:"next,omitempty"`
	Measures  []ClipFact  `json:"measures"`
}

// ClipEvent is one event of a serve.
type ClipEvent struct {
	Kind string `json:"kind"`
	motion.Event
}

// ClipFact is one measure of a serve, or why there is none.
type ClipFact struct {
	Column  string   `json:"column"`
	Title   string   `json:"title"`
	Unit    string   `json:"unit,omitempty"`
	Value   *float64 `json:"value"`
	Missing string   `json:"missing,omitempty"`
	Basis   string   `json:"basis,omitempty"`
}
