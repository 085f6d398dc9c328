package engine

import (
	"encoding/json"

	"tossline/datasets/landmark"
	"tossline/datasets/recording"
	"tossline/kernel/engine/fence"
	"tossline/kernel/motion"
)

// Kind says what a frame is. The workbench starts an engine, sends KindOpen, KindImport, KindSheet or KindKeep once,
// waits for KindReady, and then asks at will; each question carries an ID, which its answers repeat.
//
//	kind        direction   body                 parts
//	open        to engine   Open                 the catalogue
//	import      to engine   Import               -
//	sheet       to engine   Sheet                -
//	keep        to engine   Keep                 -
//	run         to engine   Run; of a file, -    -
//	ask         to engine   Ask                  -
//	cancel      to engine   -                    -            the ID is that of the request to stop
//	ready       from engine Ready                -            the season is open and the fence is up
//	refused     from engine string               -            why there will be no ready; the engine ends
//	plan        from engine interp.Plan          -            of a run, as soon as the recipe is read
//	diagnostics from engine []interp.Diagnostic  -            of a run: what keeps it from running, and warnings
//	step        from engine interp.Step          the attachments of its results, named by their Ref
//	progress    from engine Progress             -            of a run or of reading, at most one in 50 ms a step
//	log         from engine string               -            one line that the recipe printed
//	measured    from engine []catalogue.Measured -            measures that were computed, to be kept in the season
//	answer      from engine as Ask says          -            answers ask
//	imported    from engine Imported             -            of a run of an import
//	rows        from engine []sheet.Row          -            of a run of a sheet
//	kept        from engine sheet.Understood     -            of a run of a keep: the table lies in its place
//	done        from engine Done                 -            ends a run and an ask; nothing of this ID follows
//
// # Limits
//
// A head has at most MaxHead bytes, the parts of a frame at most MaxAnswer (MaxQuestion to the engine). A run prints
// at most MaxLogLines lines of MaxLogLine bytes; what is beyond is dropped, which the last line says. A message to the
// reader has at most MaxMessage bytes, and of the remarks on a recipe the first MaxRemarks are sent. What a result may
// hold, package result says.
type Kind string

// The kinds.
const (
	KindOpen   Kind = "open"
	KindImport Kind = "import"
	KindSheet  Kind = "sheet"
	KindKeep   Kind = "keep"
	KindRun    Kind = "run"
	KindAsk    Kind = "ask"
	KindCancel Kind = "cancel"

	KindReady       Kind = "ready"
	KindRefused     Kind = "refused"
	KindPlan        Kind = "plan"
	KindDiagnostics Kind = "diagnostics"
	KindStep        Kind = "step"
	KindProgress    Kind = "progress"
	KindLog         Kind = "log"
	KindMeasured    Kind = "measured"
	KindAnswer      Kind = "answer"
	KindImported    Kind = "imported"
	KindRows        Kind = "rows"
	KindKept        Kind = "kept"
	KindDone        Kind = "done"
)

// Limits of what a run says.
const (
	MaxLogLines = 1000
	MaxLogLine  = 2000
	MaxMessage  = 2000
	MaxRemarks  = 200
)

// Open names the season: the folder that the catalogue's file names are relative to. The catalogue is the only part.
type Open struct {
	Folder string       `json:"folder"`
	Limits fence.Limits `json:"limits"`
}

// Import names a foreign file. A run of it, with an empty body, is the one request that follows.
type Import struct {
	Path    string            `json:"path"`
	Name    string            `json:"name,omitempty"` // for messages, where it isn't that of the path
	Frames  string            `json:"frames"`         // path of an existing file that takes the frames
	Options recording.Options `json:"options"`
	Limits  fence.Limits      `json:"limits"`
}

// Sheet names a foreign table, whose cells are wanted. A run of it, with an empty body, is the one request that
// follows.
type Sheet struct {
	Path   string       `json:"path"`
	Limits fence.Limits `json:"limits"`
}

// Keep names a foreign table, which is wanted whole, as a file of package tablefile. A run of it, with an empty body,
// is the one request that follows.
type Keep struct {
	Path   string       `json:"path"`
	Name   string       `json:"name,omitempty"` // for messages, where it isn't that of the path
	Place  string       `json:"place"`          // path of an existing file that takes the table
	Limits fence.Limits `json:"limits"`
}

// Imported is a recording that the file was found to hold; a file may hold several. From value At on, the file for the
// frames then has Values little-endian float32, three for each landmark, frame by frame, and behind them the values of
// the signals, as many of each as Signals says.
type Imported struct {
	Understanding recording.Understanding `json:"understanding"`
	Serves        []motion.Serve          `json:"serves"`
	Rate          float64                 `json:"rate"`
	Hand          motion.Hand             `json:"hand"`
	Landmarks     []landmark.Name         `json:"landmarks"`
	Cutoffs       []float64               `json:"cutoffs,omitempty"` // Hz, by landmark
	At            int                     `json:"at"`
	Values        int                     `json:"values"`
	Signals       []int                   `json:"signals,omitempty"`
}

// Run asks for a recipe to be run.
type Run struct {
	File     string                     `json:"file"` // its name in messages
	Source   string                     `json:"source"`
	Settings map[string]json.RawMessage `json:"settings,omitempty"`
	Known    []string                   `json:"known,omitempty"` // keys of steps whose results the workbench has
}

// Ask is a question of the editor about a source. Offset counts bytes.
type Ask struct {
	Question Question `json:"question"`
	File     string   `json:"file"`
	Source   string   `json:"source"`
	Offset   int      `json:"offset,omitempty"`
}

// Question says what Ask wants to know.
type Question string

// The questions.
const (
	Check      Question = "check"      // Checked
	Complete   Question = "complete"   // language.Completions
	Hover      Question = "hover"      // language.Hover
	Signature  Question = "signature"  // language.Signature
	Definition Question = "definition" // language.Definition
	Format     Question = "format"     // string, the formatted source
)

// Ready says that the engine waits for requests.
type Ready struct {
	Fence  fence.Report `json:"fence"`
	Serves int          `json:"serves"`
}

// Progress says how far a long step, or the reading of a file, is.
type Progress struct {
	Step  string `json:"step,omitempty"`
	Done  int    `json:"done"`
	Total int    `json:"total"`
}

// Done ends a request. Error is a sentence for the reader, empty where all went well.
type Done struct {
	Error string `json:"error,omitempty"`
}
