package server

import (
	"context"
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"tossline/kernel/interp"
	"tossline/kernel/result"
)

// desk is one open recipe: its text, its settings, and what its steps last gave. It runs the recipe whenever one of
// them changes. What it changes it tells to every page that looks at it.
type desk struct {
	engine Engine
	season Season
	tables *tables
	tell   func(kind string, body any)

	mu     sync.Mutex // guards all below
	state  Desk
	run    int // counts runs: what an older run still tells is dropped
	cancel context.CancelFunc
	runs   sync.WaitGroup
	began  map[string]time.Time // when each step first told its progress
}

// show gives the whole desk to use, which must not keep it. No change is told meanwhile, so that a page that comes to
// the desk sees this first and every later change after it.
func (d *desk) show(use func(Desk)) {
	d.mu.Lock()
	defer d.mu.Unlock()
	use(d.state)
}

// ran reports whether the desk ever ran.
func (d *desk) ran() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.run > 0
}

// setText puts another text on the desk.
func (d *desk) setText(source string, saved time.Time, unread bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.state.Source, d.state.Revision = source, sha(source)
	d.state.Unread, d.state.Imports = unread, nil
	if unread {
		_, _, d.state.Imports = headOf(source)
		d.state.By = author(source)
	}
	if !saved.IsZero() {
		d.state.Saved = saved.UTC().Format(time.RFC3339)
	}
	d.tell("desk", d.state)
}

// author is what a recipe says of who made it: a comment line "By ..." or "Author: ...".
func author(source string) string {
	for line := range strings.Lines(source) {
		text, ok := strings.CutPrefix(strings.TrimSpace(line), "//")
		if !ok {
			return ""
		}
		for _, mark := range []string{"By ", "Author: ", "From "} {
			if name, ok := strings.CutPrefix(strings.TrimSpace(text), mark); ok {
				return strings.TrimSuffix(name, ".")
			}
		}
	}
	return ""
}

// setValues changes settings; null takes one back to its default.
func (d *desk) setValues(changes map[string]json.RawMessage) error {
	d.mu.Lock()
	values := maps.Clone(d.state.Values)
	if values == nil {
		values = map[string]json.RawMessage{}
	}
	for name, v := range changes {
		if len(v) == 0 || string(v) == "null" {
			delete(values, name)
		} else {
			values[name] = v
		}
	}
	d.state.Values = values
	recipe := d.state.Recipe
	d.tell("values", values)
	d.mu.Unlock()
	return d.season.KeepValues(context.Background(), recipe, values)
}

// start runs the recipe as it lies there, in place of any run that still goes on.
func (d *desk) start() {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.state.Unread {
		return
	}
	if d.cancel != nil {
		d.cancel()
	}
	ctx, cancel := context.WithCancel(context.Background())
	d.run++
	d.cancel = cancel
	d.began = map[string]time.Time{}
	d.state.Running, d.state.Error, d.state.Progress = true, "", nil
	for i := range d.state.Steps {
		d.state.Steps[i].Old = len(d.state.Steps[i].Results) > 0
	}
	d.tell("running", true)
	job := Job{
		Recipe: d.state.Recipe, File: d.state.File, Source: d.state.Source, Values: maps.Clone(d.state.Values),
	}
	run := &deskRun{desk: d, number: d.run}
	d.runs.Go(func() {
		defer cancel()
		run.end(ctx, d.engine.Run(ctx, job, run))
	})
}

// stop ends the run that goes on, if any.
func (d *desk) stop() {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.cancel != nil {
		d.cancel()
	}
}

// wait waits until no run goes on.
func (d *desk) wait() { d.runs.Wait() }

// deskRun is one run of a desk; it hears from the engine. What it hears after a newer run began it drops.
type deskRun struct {
	desk   *desk
	number int
}

// current locks the desk and reports whether this is still its newest run; where it is not, nothing is locked.
func (r *deskRun) current() bool {
	r.desk.mu.Lock()
	if r.desk.run == r.number {
		return true
	}
	r.desk.mu.Unlock()
	return false
}

// Plan takes the steps of the text that runs; what is known of steps that are still there stays, out of date. Settings
// that choose what is no longer offered, such as a player who was renamed, go back to their defaults, and it runs anew.
func (r *deskRun) Plan(p Plan) {
	if stale := r.planned(p); len(stale) > 0 {
		_ = r.desk.setValues(stale) // where the season can't keep them, the desk does
		r.desk.start()
	}
}

// stale takes back to their defaults the settings whose value is none of the choices that they offer.
func stale(settings []interp.Setting, values map[string]json.RawMessage) map[string]json.RawMessage {
	changes := map[string]json.RawMessage{}
	for _, s := range settings {
		var chosen string
		if s.Kind != "choice" || json.Unmarshal(values[s.Name], &chosen) != nil {
			continue
		}
		if !slices.ContainsFunc(s.Choices, func(c interp.Choice) bool { return c.Value == chosen }) {
			changes[s.Name] = nil
		}
	}
	return changes
}

func (r *deskRun) planned(p Plan) map[string]json.RawMessage {
	if !r.current() {
		return nil
	}
	defer r.desk.mu.Unlock()
	before := map[string]Step{}
	for _, st := range r.desk.state.Steps {
		before[st.Name] = st
	}
	steps := make([]Step, len(p.Steps))
	for i, ps := range p.Steps {
		steps[i] = Step{Name: ps.Name, State: "waiting"}
		if old, ok := before[ps.Name]; ok && len(old.Results) > 0 {
			steps[i].Results, steps[i].Old, steps[i].TookMS = old.Results, true, old.TookMS
		}
	}
	r.desk.state.Plan, r.desk.state.Steps = p, steps
	r.desk.keepTables()
	r.desk.tell("plan", struct {
		Plan  Plan   `json:"plan"`
		Steps []Step `json:"steps"`
	}{p, steps})
	return stale(p.Settings, r.desk.state.Values)
}

// Diagnostics takes the checker's remarks.
func (r *deskRun) Diagnostics(list []Diagnostic) {
	if !r.current() {
		return
	}
	defer r.desk.mu.Unlock()
	for i := range list {
		list[i].Step = stepAt(r.desk.state.Plan, list[i].Line)
	}
	r.desk.state.Diagnostics = list
	r.desk.tell("diagnostics", list)
}

// stepAt names the step that holds a line, or "".
func stepAt(p Plan, line int) string {
	for _, s := range p.Steps {
		if s.First <= line && line <= s.Last {
			return s.Name
		}
	}
	return ""
}

// Step takes the state of a step. A step that runs or fails keeps its last result, out of date.
func (r *deskRun) Step(step Step, tables map[string][]byte) {
	if !r.current() {
		return
	}
	defer r.desk.mu.Unlock()
	d := r.desk
	i := slices.IndexFunc(d.state.Steps, func(s Step) bool { return s.Name == step.Name })
	if i < 0 {
		return
	}
	if step.State != "done" {
		step.Results, step.Old = d.state.Steps[i].Results, len(d.state.Steps[i].Results) > 0
	}
	for ref, stream := range tables {
		d.tables.put(ref, stream)
	}
	d.state.Steps[i] = step
	if d.state.Progress != nil && step.State != "running" && d.state.Progress.Step == step.Name {
		d.state.Progress = nil
	}
	if step.State == "done" {
		d.keepTables()
	}
	d.tell("step", step)
}

// keepTables tells the table store which tables the desk still shows.
func (d *desk) keepTables() {
	refs := map[string]bool{}
	for _, s := range d.state.Steps {
		for _, res := range s.Results {
			addRefs(refs, res)
		}
	}
	d.tables.hold(d.state.Recipe, refs)
}

func addRefs(refs map[string]bool, r result.Result) {
	if r.Table != nil {
		refs[r.Table.Ref] = true
	}
	if r.Chart != nil && r.Chart.Data != nil {
		refs[r.Chart.Data.Ref] = true
	}
	for _, inner := range r.List {
		addRefs(refs, inner)
	}
}

// Progress takes how far a step is, and estimates the time left from how long it took to come so far.
func (r *deskRun) Progress(step string, done, total int) {
	if !r.current() {
		return
	}
	defer r.desk.mu.Unlock()
	d := r.desk
	p := &Progress{Step: step, Done: done, Total: total}
	began, ok := d.began[step]
	if !ok {
		d.began[step] = time.Now()
	} else if took := time.Since(began).Seconds(); took > 0.5 && done > 0 {
		p.LeftS = took / float64(done) * float64(total-done)
	}
	d.state.Progress = p
	d.tell("progress", p)
}

// end takes how the run ended, and keeps the text as a version where all went well.
func (r *deskRun) end(ctx context.Context, err error) {
	if !r.current() {
		return
	}
	d := r.desk
	d.state.Running, d.state.Progress, d.cancel = false, nil, nil
	for i, s := range d.state.Steps {
		if s.State == "running" || s.State == "waiting" {
			d.state.Steps[i].State = "skipped"
			d.state.Steps[i].Old = len(s.Results) > 0
		}
	}
	switch {
	case ctx.Err() != nil:
		d.state.Error = "Stopped."
	case err != nil:
		d.state.Error = err.Error()
	}
	ok := err == nil && ctx.Err() == nil && !slices.ContainsFunc(d.state.Diagnostics, isError)
	recipe, source := d.state.Recipe, d.state.Source
	d.tell("ended", struct {
		Error string `json:"error,omitempty"`
		Steps []Step `json:"steps"`
	}{d.state.Error, d.state.Steps})
	d.mu.Unlock()
	if ok {
		_ = d.season.KeepVersion(context.Background(), recipe, source) // a season that may only be read keeps none
	}
}

func isError(d Diagnostic) bool { return d.Severity == "error" }
