// Package document writes a recipe with its results as one HTML file that needs no network: charts, tables and figures
// stay alive where scripts run, and where they don't the prose, the numbers and the tables are there all the same.
package document

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"go/doc/comment"
	"html/template"
	"io"
	"io/fs"
	"slices"
	"strings"
	"time"

	_ "embed"

	"tossline/kernel/interp"
	"tossline/kernel/result"
	"tossline/kernel/table"
	"tossline/web"
)

// maxRows is how many rows of a table a document carries.
const maxRows = 20000

// Document is a recipe with its results.
type Document struct {
	Recipe   string
	Title    string
	Prose    string // Go doc comment text
	Season   string
	Source   string
	Settings []Setting
	Steps    []Step
	Made     time.Time // now where it is zero

	// Table gives the table that a result refers to. A document without it has no tables.
	Table func(ref string) (table.Table, error)
}

// Setting is one setting as it was when the recipe ran.
type Setting struct {
	Label string          `json:"label"`
	Value json.RawMessage `json:"value"`
	Unit  string          `json:"unit,omitempty"`
}

// SettingsOf lists the settings of a recipe by what the reader saw: the value that was chosen, or else the default, and
// the title of a choice in place of its value.
func SettingsOf(plan interp.Plan, chosen map[string]json.RawMessage) []Setting {
	var all []Setting
	for _, s := range plan.Settings {
		value := chosen[s.Name]
		if len(value) == 0 {
			value = s.Default
		}
		all = append(all, Setting{Label: s.Label, Value: titled(value, s.Choices), Unit: s.Unit})
	}
	return all
}

// titled puts the titles of choices in place of their values.
func titled(value json.RawMessage, choices []interp.Choice) json.RawMessage {
	titles := map[string]string{}
	for _, c := range choices {
		titles[c.Value] = c.Title
	}
	var one string
	var several []string
	var titled any
	switch {
	case len(choices) == 0:
		return value
	case json.Unmarshal(value, &one) == nil:
		titled = cmp.Or(titles[one], one)
	case json.Unmarshal(value, &several) == nil:
		for i, v := range several {
			several[i] = cmp.Or(titles[v], v)
		}
		titled = several
	default:
		return value
	}
	text, err := json.Marshal(titled)
	if err != nil {
		return value
	}
	return text
}

// Step is one step with what it gave.
type Step struct {
	Name    string          `json:"name"`
	Title   string          `json:"title"`
	Prose   string          `json:"prose,omitempty"`
	TookMS  float64         `json:"took_ms"`
	Results []result.Result `json:"results,omitempty"`
	Error   string          `json:"error,omitempty"`
}

//go:embed document.html
var pageText string

var page = template.Must(template.New("document").Funcs(template.FuncMap{
	"prose": prose, "value": value, "count": count, "plain": plainResult,
}).Parse(pageText))

// Write writes the document. Only a failing writer and a table that cannot be had are errors.
func Write(w io.Writer, d Document) error {
	if d.Made.IsZero() {
		d.Made = time.Now()
	}
	tables, err := d.tables()
	if err != nil {
		return err
	}
	data, err := json.Marshal(struct {
		Steps  []Step           `json:"steps"`
		Tables map[string]*rows `json:"tables"`
	}{d.Steps, tables})
	if err != nil {
		return fmt.Errorf("writing the results: %w", err)
	}
	script, style := viewer()
	var out bytes.Buffer
	err = page.Execute(&out, struct {
		Document
		Tables map[string]*rows
		Data   template.JS // JSON in a script element of type application/json; json.Marshal escapes < > and &
		Script template.JS
		Style  template.CSS
		Alive  bool
	}{d, tables, template.JS(data), script, style, script != ""})
	if err != nil {
		return fmt.Errorf("writing the document: %w", err)
	}
	_, err = out.WriteTo(w)
	return err
}

// viewer is the script and the style that make a document alive; both are empty where the page was not built.
func viewer() (template.JS, template.CSS) {
	script, err := fs.ReadFile(web.Files(), "viewer/viewer.js")
	if err != nil {
		return "", ""
	}
	style, err := fs.ReadFile(web.Files(), "viewer/viewer.css")
	if err != nil {
		return "", ""
	}
	return template.JS(strings.ReplaceAll(string(script), "</script", `<\/script`)), template.CSS(style)
}

// rows is a table as a document carries it: whole columns of JSON values.
type rows struct {
	Rows    int      `json:"rows"`    // in the season
	Columns [][]any  `json:"columns"` // at most maxRows of them
	Names   []string `json:"names"`
	Titles  []string `json:"titles"`
	Units   []string `json:"units"`
}

// tables collects every table that a result refers to.
func (d Document) tables() (map[string]*rows, error) {
	all := map[string]*rows{}
	var add func(r result.Result) error
	add = func(r result.Result) error {
		for _, t := range []*result.Table{r.Table, dataOf(r.Chart)} {
			if t == nil || d.Table == nil || all[t.Ref] != nil {
				continue
			}
			whole, err := d.Table(t.Ref)
			if err != nil {
				return err
			}
			all[t.Ref] = columnsOf(whole)
		}
		for _, inner := range r.List {
			if err := add(inner); err != nil {
				return err
			}
		}
		return nil
	}
	for _, s := range d.Steps {
		for _, r := range s.Results {
			if err := add(r); err != nil {
				return nil, err
			}
		}
	}
	return all, nil
}

func dataOf(c *result.Chart) *result.Table {
	if c == nil {
		return nil
	}
	return c.Data
}

// columnsOf takes the first maxRows rows of a table.
func columnsOf(t table.Table) *rows {
	out := &rows{Rows: t.Len()}
	t = t.First(maxRows)
	for _, name := range t.Names() {
		out.Columns = append(out.Columns, t.Values(name))
		out.Names = append(out.Names, name)
		out.Titles = append(out.Titles, t.Title(name))
		out.Units = append(out.Units, t.Unit(name))
	}
	return out
}

// prose turns Go doc comment text into HTML, with links to the steps that it names.
func prose(d Document, text string) template.HTML {
	parser, printer := comment.Parser{}, comment.Printer{HeadingLevel: 3}
	parser.LookupSym = func(of, name string) bool {
		return of == "" && slices.ContainsFunc(d.Steps, func(s Step) bool { return s.Name == name })
	}
	printer.DocLinkURL = func(l *comment.DocLink) string { return "#" + l.Name }
	return template.HTML(printer.HTML(parser.Parse(text))) // the printer escapes all text
}

// value writes one cell or setting for people.
func value(v any) string {
	if raw, ok := v.(json.RawMessage); ok {
		v = nil
		_ = json.Unmarshal(raw, &v)
	}
	switch v := v.(type) {
	case nil:
		return "–"
	case float64:
		return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.3f", v), "0"), ".")
	case bool:
		if v {
			return "yes"
		}
		return "no"
	case []any:
		var parts []string
		for _, p := range v {
			parts = append(parts, value(p))
		}
		return strings.Join(parts, ", ")
	}
	return fmt.Sprint(v)
}

// count writes a number of things: "1 serve", "1,012 serves".
func count(n int, one, many string) string {
	text := fmt.Sprint(n)
	for i := len(text) - 3; i > 0; i -= 3 {
		text = text[:i] + "," + text[i:]
	}
	if n == 1 {
		return text + " " + one
	}
	return text + " " + many
}

// plain is what a result says where no script runs.
type plain struct {
	Lines []string
	Table *rows
	First int // rows shown
}

// plainResult says what a result holds in sentences and at most fifty rows.
func plainResult(tables map[string]*rows, r result.Result) []plain {
	var out []plain
	switch {
	case r.Chart != nil:
		out = append(out, plain{Lines: []string{r.Chart.Summary}, Table: tables[refOf(r.Chart.Data)]})
	case r.Table != nil:
		out = append(out, plain{Table: tables[r.Table.Ref]})
	case r.Estimate != nil:
		out = append(out, plain{Lines: []string{r.Estimate.Sentence}})
	case r.Number != nil && r.Number.Value != nil:
		text := strings.TrimSpace(r.Number.Label + " " + value(*r.Number.Value) + " " + r.Number.Unit)
		out = append(out, plain{Lines: []string{text}})
	case r.Text != "":
		out = append(out, plain{Lines: []string{r.Text}})
	case r.Figure != nil:
		out = append(out, plain{Lines: []string{"A figure, drawn where scripts run."}})
	}
	for _, inner := range r.List {
		out = append(out, plainResult(tables, inner)...)
	}
	for i := range out {
		if out[i].Table != nil {
			out[i].First = min(50, len(out[i].Table.column(0)))
		}
	}
	return out
}

func (r *rows) column(i int) []any {
	if i >= len(r.Columns) {
		return nil
	}
	return r.Columns[i]
}

func refOf(t *result.Table) string {
	if t == nil {
		return ""
	}
	return t.Ref
}

// Lines are the first n rows of a table, for the template.
func (r *rows) Lines(n int) [][]any {
	lines := make([][]any, n)
	for i := range lines {
		for _, c := range r.Columns {
			lines[i] = append(lines[i], c[i])
		}
	}
	return lines
}
