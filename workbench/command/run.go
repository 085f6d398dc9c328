package command

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"tossline/datasets/catalogue"
	"tossline/datasets/export"
	"tossline/datasets/season"
	"tossline/kernel/engine"
	"tossline/kernel/interp"
	"tossline/kernel/motion"
	"tossline/kernel/table"
	"tossline/recipes"
	"tossline/workbench/document"
	"tossline/workbench/supervisor"
)

func newRun() *cobra.Command {
	job := running{}
	var sets []string
	c := &cobra.Command{
		Use:   "run RECIPE.go --season DIR",
		Short: "Run a recipe over a season",
		Long: `Run runs a recipe over a season, fenced in as on the page, and prints its results. RECIPE.go is a file, or the name
of a recipe on the season's shelf, or of one that comes with Tossline.

--set changes a setting of the recipe; lists are joined with commas. --out writes one HTML file with charts, tables and
figures that needs no network. --json prints all results as JSON, tables included.`,
		Example: `  tossline run contact_offset.go --season club --set Player="Tuva Brandt" --out contact.html
  tossline run my_recipe.go --season club --json`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			job.sets, job.out, job.errOut = sets, c.OutOrStdout(), c.ErrOrStderr()
			return job.run(c.Context(), args[0])
		},
	}
	c.Flags().StringVar(&job.dir, "season", "", "the season folder")
	c.Flags().StringArrayVar(&sets, "set", nil, "Name=value of a setting; may be given again")
	c.Flags().StringVar(&job.path, "out", "", "HTML file to write")
	c.Flags().BoolVar(&job.asJSON, "json", false, "print the results as JSON")
	required(c, "season")
	return c
}

// running is one call of the run command.
type running struct {
	dir, path   string
	sets        []string
	asJSON      bool
	out, errOut io.Writer

	file, source string
	season       string
	plan         interp.Plan
	settings     map[string]json.RawMessage
	steps        map[string]*interp.Step
	tables       map[string][]byte // Arrow IPC streams by Ref
	mistakes     []interp.Diagnostic
}

func (j *running) run(ctx context.Context, name string) error {
	return j.over(ctx, name, func(motion.Source) error { return j.deliver() })
}

// over runs the recipe over the season, and then does what is to be done with its results while the season is open.
func (j *running) over(ctx context.Context, name string, then func(motion.Source) error) error {
	var err error
	if j.file, j.source, err = recipeNamed(name, j.dir); err != nil {
		return err
	}
	s, err := season.Open(j.dir)
	if err != nil {
		return err
	}
	defer s.Close()
	snapshot, err := s.Snapshot(ctx)
	if err != nil {
		return err
	}
	if j.season, err = s.Name(ctx); err != nil {
		return err
	}
	options := supervisor.Options{
		Season: func(context.Context) (supervisor.Snapshot, error) {
			return supervisor.Snapshot{Folder: s.Dir(), Catalogue: snapshot}, nil
		},
		Keep: func(all []catalogue.Measured) { s.KeepMeasured(ctx, all...) },
	}
	if j.settings, err = j.parseSets(ctx, options); err != nil {
		return err
	}
	if err := j.observe(ctx, options); err != nil {
		return err
	}
	return then(snapshot)
}

// recipeNamed reads a recipe file, or takes the one of that name from the season's shelf, or else a shipped one, where
// there is no such file.
func recipeNamed(name, season string) (file, source string, err error) {
	source, err = readRecipe(name)
	if err == nil {
		return filepath.Base(name), source, nil
	}
	own := filepath.Join(season, "recipes", strings.TrimSuffix(filepath.Base(name), ".go")+".go")
	if source, shelfErr := readRecipe(own); shelfErr == nil && filepath.Base(name) == name {
		return filepath.Base(own), source, nil
	}
	for _, r := range recipes.Shipped() {
		if r.File == name || r.File == name+".go" {
			return r.File, r.Source, nil
		}
	}
	return "", "", err
}

// parseSets turns the --set flags into values of the kinds that the recipe's settings have.
func (j *running) parseSets(ctx context.Context, o supervisor.Options) (map[string]json.RawMessage, error) {
	if len(j.sets) == 0 {
		return nil, nil
	}
	kinds := map[string]string{}
	var names []string
	var checked engine.Checked
	ask := engine.Ask{Question: engine.Check, File: j.file, Source: j.source}
	if err := supervisor.AskOnce(ctx, o, ask, &checked); err != nil {
		return nil, fmt.Errorf("%s: %w", j.file, err)
	}
	for _, s := range checked.Plan.Settings {
		kinds[s.Name] = s.Kind
		names = append(names, s.Name)
	}
	values := map[string]json.RawMessage{}
	var err error
	for _, set := range j.sets {
		name, text, ok := strings.Cut(set, "=")
		if !ok {
			return nil, misuse("--set %s: expected Name=value", set)
		}
		kind, ok := kinds[name]
		if !ok {
			return nil, misuse("--set %s: %s has no such setting; it has %s", set, j.file, orNone(names))
		}
		if values[name], err = settingValue(kind, text); err != nil {
			return nil, misuse("--set %s: %v", set, err)
		}
	}
	return values, nil
}

// settingValue is the JSON of a setting's value as typed on a command line.
func settingValue(kind, text string) (json.RawMessage, error) {
	var value any = text
	var err error
	switch kind {
	case "number":
		value, err = strconv.ParseFloat(text, 64)
	case "integer":
		value, err = strconv.ParseInt(text, 10, 64)
	case "flag":
		value, err = strconv.ParseBool(text)
	case "choices":
		value = strings.Split(text, ",")
	}
	if err != nil {
		return nil, fmt.Errorf("%q is no %s", text, kind)
	}
	return json.Marshal(value)
}

// observe runs the recipe and collects what it gives.
func (j *running) observe(ctx context.Context, o supervisor.Options) error {
	j.steps, j.tables = map[string]*interp.Step{}, map[string][]byte{}
	line := newProgressLine(j.errOut, j.file)
	defer line.end()
	err := supervisor.RunOnce(ctx, o, supervisor.Job{File: j.file, Source: j.source, Settings: j.settings},
		func(e supervisor.Event) {
			switch {
			case e.Plan != nil:
				j.plan = *e.Plan
			case e.Diagnostics != nil:
				j.mistakes = e.Diagnostics
			case e.Step != nil:
				j.steps[e.Step.Name] = e.Step
				for _, a := range e.Step.Attachments {
					j.tables[a.Ref] = a.Bytes
				}
			case e.Progress != nil:
				line.show(e.Progress.Done, e.Progress.Total)
			case e.Log != nil:
				fmt.Fprintln(j.errOut, *e.Log)
			}
		})
	if err != nil && !j.wrong() {
		return fmt.Errorf("%s: %w", j.file, err)
	}
	return nil
}

// wrong reports whether the recipe has mistakes.
func (j *running) wrong() bool {
	for _, d := range j.mistakes {
		if d.Severity == "error" {
			return true
		}
	}
	return false
}

// complain prints what is wrong with the recipe, and tells whether any step gave no result. A recipe that can't run at
// all is an error.
func (j *running) complain() (failed bool, err error) {
	for _, d := range j.mistakes {
		fmt.Fprintf(j.errOut, "%s:%d:%d: %s\n", j.file, d.Line, d.Column, spoken(d.Severity, d.Message))
	}
	if j.wrong() {
		return true, errTold
	}
	for _, p := range j.plan.Steps {
		if s := j.steps[p.Name]; s == nil || s.State != interp.Done {
			failed = true
			if s != nil && s.Error != nil {
				fmt.Fprintf(j.errOut, "%s: %s: %s\n", placed(j.file, s.Error.Line), p.Name, s.Error.Message)
				for _, caller := range s.Error.Trace {
					fmt.Fprintf(j.errOut, "  %s\n", caller)
				}
			}
		}
	}
	return failed, nil
}

// placed is a place in a file; what concerns no line has none.
func placed(file string, line int) string {
	if line == 0 {
		return file
	}
	return fmt.Sprintf("%s:%d", file, line)
}

// deliver prints and writes the results. It is an error where any step gave none.
func (j *running) deliver() error {
	failed, err := j.complain()
	if err != nil {
		return err
	}
	if j.path != "" {
		if err := j.writeDocument(); err != nil {
			return err
		}
	}
	switch {
	case j.asJSON:
		err = j.printJSON()
	case j.path == "":
		err = j.printText()
	}
	if err == nil && failed {
		err = errTold
	}
	return err
}

// table reads a table that a result refers to.
func (j *running) table(ref string) (table.Table, error) {
	data, ok := j.tables[ref]
	if !ok {
		return table.Table{}, errors.New("a table is missing from the results")
	}
	return table.Decode(data)
}

func (j *running) writeDocument() error {
	d := document.Document{
		Recipe: strings.TrimSuffix(j.file, ".go"), Title: j.plan.Title, Prose: j.plan.Prose, Season: j.season,
		Source: j.source, Table: j.table, Settings: document.SettingsOf(j.plan, j.settings),
	}
	for _, p := range j.plan.Steps {
		step := document.Step{Name: p.Name, Title: p.Title, Prose: p.Prose}
		if s := j.steps[p.Name]; s != nil {
			step.TookMS, step.Results = s.TookMS, s.Results
			if s.Error != nil {
				step.Error = s.Error.Message
			}
		}
		d.Steps = append(d.Steps, step)
	}
	return export.SaveWith(j.path, func(w io.Writer) error { return document.Write(w, d) })
}
