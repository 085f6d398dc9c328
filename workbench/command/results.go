package command

import (
	"encoding/json"
	"fmt"
	"strings"
	"text/tabwriter"

	"tossline/kernel/interp"
	"tossline/kernel/result"
	"tossline/kernel/table"
	"tossline/kernel/words"
)

// runReport is the JSON of the run command. Fields may be added and are never renamed.
type runReport struct {
	Recipe   string                     `json:"recipe"`
	Title    string                     `json:"title"`
	Season   string                     `json:"season"`
	Settings map[string]json.RawMessage `json:"settings"`
	Steps    []stepReport               `json:"steps"`
	Tables   map[string][]columnReport  `json:"tables"` // by the ref of a result's table
}

type stepReport struct {
	Name    string            `json:"name"`
	Title   string            `json:"title"`
	State   interp.State      `json:"state"`
	TookMS  float64           `json:"took_ms"`
	Results []result.Result   `json:"results"`
	Error   *interp.StepError `json:"error,omitempty"`
}

// columnReport is one column of a table with its values, null where one is missing.
type columnReport struct {
	result.Column
	Values []any `json:"values"`
}

func (j *running) printJSON() error {
	report := runReport{
		Recipe: j.file, Title: j.plan.Title, Season: j.season, Settings: map[string]json.RawMessage{},
		Steps: []stepReport{}, Tables: map[string][]columnReport{},
	}
	for _, s := range j.plan.Settings {
		report.Settings[s.Name] = s.Default
		if value, ok := j.settings[s.Name]; ok {
			report.Settings[s.Name] = value
		}
	}
	for _, p := range j.plan.Steps {
		step := stepReport{Name: p.Name, Title: p.Title, State: interp.Skipped, Results: []result.Result{}}
		if s := j.steps[p.Name]; s != nil {
			step.State, step.TookMS, step.Error = s.State, s.TookMS, s.Error
			step.Results = append(step.Results, s.Results...)
		}
		report.Steps = append(report.Steps, step)
	}
	for ref := range j.tables {
		t, err := j.table(ref)
		if err != nil {
			return err
		}
		report.Tables[ref] = columnsOf(t)
	}
	enc := json.NewEncoder(j.out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	return enc.Encode(report)
}

func columnsOf(t table.Table) []columnReport {
	described := result.Columns(t)
	columns := make([]columnReport, len(described))
	for i, d := range described {
		columns[i] = columnReport{Column: d, Values: t.Values(d.Name)}
	}
	return columns
}

// printText prints the results for a person at a terminal: sentences whole, tables by their first rows, charts and
// figures by what they show.
func (j *running) printText() error {
	fmt.Fprintf(j.out, "%s\n%s\n", j.plan.Title, strings.Repeat("=", len([]rune(j.plan.Title))))
	for _, p := range j.plan.Steps {
		s := j.steps[p.Name]
		if s == nil || s.State != interp.Done {
			continue
		}
		fmt.Fprintf(j.out, "\n%s\n", p.Title)
		for _, r := range s.Results {
			if err := j.printResult(r); err != nil {
				return err
			}
		}
	}
	return nil
}

func (j *running) printResult(r result.Result) error {
	switch r.Kind {
	case result.KindChart:
		fmt.Fprintf(j.out, "  chart: %s\n", r.Chart.Summary)
	case result.KindTable:
		return j.printTable(r.Table)
	case result.KindFigure:
		fmt.Fprintln(j.out, "  figure: see it on the page, or with --out")
	case result.KindEstimate:
		fmt.Fprintf(j.out, "  %s\n", r.Estimate.Sentence)
	case result.KindNumber:
		fmt.Fprintf(j.out, "  %s%s %s\n", prefix(r.Number.Label), numberText(r.Number.Value), r.Number.Unit)
	case result.KindText:
		fmt.Fprintf(j.out, "  %s\n", r.Text)
	case result.KindList:
		for _, one := range r.List {
			if err := j.printResult(one); err != nil {
				return err
			}
		}
	}
	if r.Serves > 0 {
		fmt.Fprintf(j.out, "  %s%s\n", words.Count(r.Serves, "serve"), leftOut(r.LeftOut))
	}
	return nil
}

func prefix(label string) string {
	if label == "" {
		return ""
	}
	return label + ": "
}

func numberText(v *float64) string {
	if v == nil {
		return "missing"
	}
	return fmt.Sprintf("%.4g", *v)
}

func leftOut(all []result.LeftOut) string {
	total, reasons := 0, []string{}
	for _, l := range all {
		total += len(l.Serves)
		reasons = append(reasons, fmt.Sprintf("%s %d", l.Reason, len(l.Serves)))
	}
	if total == 0 {
		return ""
	}
	return fmt.Sprintf("; %d left out: %s", total, strings.Join(reasons, ", "))
}

// shownRows is how many rows of a table a terminal gets.
const shownRows = 10

func (j *running) printTable(described *result.Table) error {
	t, err := j.table(described.Ref)
	if err != nil {
		return err
	}
	first := t.First(shownRows)
	columns := columnsOf(first)
	w := tabwriter.NewWriter(j.out, 0, 0, 2, ' ', 0)
	for _, c := range columns {
		fmt.Fprintf(w, "  %s", c.Name)
		fmt.Fprint(w, "\t")
	}
	fmt.Fprintln(w)
	for row := range first.Len() {
		for _, c := range columns {
			fmt.Fprintf(w, "  %s\t", valueText(c.Values[row]))
		}
		fmt.Fprintln(w)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	if rest := t.Len() - first.Len(); rest > 0 {
		fmt.Fprintf(j.out, "  and %s more; --json has all\n", words.Count(rest, "row"))
	}
	return nil
}

func valueText(v any) string {
	switch v := v.(type) {
	case nil:
		return "-"
	case float64:
		return fmt.Sprintf("%.4g", v)
	}
	return fmt.Sprint(v)
}
