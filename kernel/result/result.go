// Package result is the form in which what a step returned travels from the engine to the page: JSON, with Arrow
// tables beside it.
//
// A Result never holds NaN, infinities or HTML; numbers that are missing are null, and all text is plain text.
package result

import "encoding/json"

// Kind says what a result is shown as.
type Kind string

// The kinds.
const (
	KindChart    Kind = "chart"
	KindTable    Kind = "table"
	KindFigure   Kind = "figure"
	KindEstimate Kind = "estimate"
	KindNumber   Kind = "number"
	KindText     Kind = "text"
	KindList     Kind = "list"
)

// Result is one encoded result. Only the fields of its Kind are set.
type Result struct {
	Kind Kind `json:"kind"`

	// Counts, for the quiet line under the result: serves that went in, and those left out with the reason.
	Serves  int       `json:"serves,omitempty"`
	LeftOut []LeftOut `json:"left_out,omitempty"`

	Chart    *Chart          `json:"chart,omitempty"`
	Table    *Table          `json:"table,omitempty"`
	Figure   json.RawMessage `json:"figure,omitempty"` // schema: figure.Drawing
	Estimate *Estimate       `json:"estimate,omitempty"`
	Number   *Number         `json:"number,omitempty"`
	Text     string          `json:"text,omitempty"`
	List     []Result        `json:"list,omitempty"`
}

// LeftOut counts the serves that a result leaves out for one reason.
type LeftOut struct {
	Reason string   `json:"reason"`
	Serves []string `json:"serves"` // serve ids
}

// Chart is an ECharts option as JSON, with nothing executable in it. Colours are the page's role names ("court",
// "clay", "soft", "ink", "line", "in", "paper", "series-1" ... "series-8") wherever a chart of this project sets
// them; the page replaces them by its palette, light or dark. Only the values of the keys color, borderColor,
// backgroundColor and shadowColor, and the members of a list under color, are colours: elsewhere "line" is a word
// like any other.
type Chart struct {
	Option  json.RawMessage `json:"option"`
	HeightP int             `json:"height_px"` // at full column width
	Summary string          `json:"summary"`   // one sentence for those who cannot see it
	// Serves ties points to serves: Serves[s][i] is the serve of item i of series s, "" where the item stands for
	// no single serve; a series without ties is null.
	Serves [][]string `json:"serves,omitempty"`
	Data   *Table     `json:"data,omitempty"` // the numbers behind the chart
}

// Table is a table kept as an Arrow IPC stream under Ref; the page fetches windows of it.
type Table struct {
	Ref     string   `json:"ref"` // content hash; the bytes travel beside the JSON
	Rows    int      `json:"rows"`
	Caption string   `json:"caption,omitempty"`
	Columns []Column `json:"columns"`
}

// Column describes one column to a reader.
type Column struct {
	Name  string `json:"name"`
	Title string `json:"title"`
	Unit  string `json:"unit,omitempty"`
	Type  string `json:"type"` // "number", "integer", "text", "date", "time", "bool"

	Definition string `json:"definition,omitempty"`
}

// Estimate is a statistic with its interval.
type Estimate struct {
	Name     string   `json:"name"`
	Value    *float64 `json:"value"`
	Low      *float64 `json:"low"`
	High     *float64 `json:"high"`
	Level    float64  `json:"level"` // 0.95
	Unit     string   `json:"unit,omitempty"`
	N        int      `json:"n"`
	Sentence string   `json:"sentence"`
}

// Number is one number with its unit.
type Number struct {
	Value *float64 `json:"value"`
	Unit  string   `json:"unit,omitempty"`
	Label string   `json:"label,omitempty"`
}
