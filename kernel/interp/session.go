package interp

import (
	"context"
	"errors"
	"fmt"
	"io"
	"reflect"
	"slices"
	"strings"
	"sync"
	"time"

	"tossline/kernel/interp/check"
	"tossline/kernel/interp/lower"
	"tossline/kernel/motion"
	"tossline/kernel/present"
	"tossline/kernel/result"
)

// Session runs the versions of one recipe over one season. It keeps the interpreter of the last version, and the
// results of the last run.
type Session struct {
	source  motion.Source
	stamp   string
	choices func(from string) []Choice
	running sync.Mutex // held during a run
	program *program
	kept    map[string][]any // results of the last run's steps by key, those that any version understands
}

// NewSession makes a Session over the serves of a source. A source that has a Stamp gives the keys of results that
// hold beyond the session.
func NewSession(source motion.Source) *Session {
	s := &Session{source: source, choices: choicesOf(source), kept: map[string][]any{}}
	if stamped, ok := source.(interface{ Stamp() string }); ok {
		s.stamp = stamped.Stamp()
	}
	return s
}

// Check says what a source's steps and settings are, and what is wrong with it. The error says that the program itself
// is broken.
func (s *Session) Check(file, source string) (Plan, []Diagnostic, error) {
	return inspect(file, source, s.choices)
}

// Check does so without a season, for whose lists the settings then have no choices.
func Check(file, source string) (Plan, []Diagnostic, error) { return inspect(file, source, nil) }

func inspect(file, source string, choices func(string) []Choice) (Plan, []Diagnostic, error) {
	r, _, err := prepare(file, source)
	if err != nil {
		return Plan{}, nil, err
	}
	return r.plan(choices), r.diagnostics(), nil
}

// prepare reads a recipe and lowers it, if it is sound.
func prepare(file, source string) (*recipe, []byte, error) {
	r, err := read(file, source)
	if err != nil || !r.Sound() {
		return r, nil, err
	}
	lowered, refused := lower.File(r.Files, r.File, r.Package, r.Info)
	for _, refusal := range refused {
		r.Problems = append(r.Problems, check.Problem{Pos: refusal.Pos, End: refusal.End, Message: refusal.Message})
	}
	r.Sort()
	return r, lowered, nil
}

// ErrUnsound is what a run ends with when the recipe has mistakes, which Observer.Diagnostics then tells.
var ErrUnsound = errors.New("the recipe has mistakes")

// Run runs a recipe, each step after those that it takes results of, and tells the observer. A step that fails stops
// only those that need it. The error is the context's cause where the run was stopped, ErrUnsound, or says why the
// recipe as a whole could not run.
func (s *Session) Run(ctx context.Context, job Job, observe Observer) error {
	s.running.Lock()
	defer s.running.Unlock()
	p, err := s.ready(ctx, job, observe)
	if err != nil {
		return err
	}
	settings, err := p.recipe.values(job.Settings, s.choices)
	if err != nil {
		return err
	}
	run := &run{ctx: ctx, session: s, program: p, job: job, observe: observe, settings: settings,
		keys: p.recipe.keys(s.stamp, settings), outcomes: map[*step]*outcome{}, kept: map[string][]any{}}
	p.output.to(job.Output)
	err = run.all()
	s.program.output.to(nil)
	s.kept = run.kept
	if s.program.broken {
		s.program = nil
	}
	return err
}

// ready gives the interpreter for the job's source, and tells the observer what the source says.
func (s *Session) ready(ctx context.Context, job Job, observe Observer) (*program, error) {
	if p := s.program; p != nil && p.recipe.source == job.Source && p.recipe.name == job.File {
		observe.Plan(p.recipe.plan(s.choices))
		observe.Diagnostics(p.recipe.diagnostics())
		return p, nil
	}
	r, lowered, err := prepare(job.File, job.Source)
	if err != nil {
		return nil, err
	}
	observe.Plan(r.plan(s.choices))
	observe.Diagnostics(r.diagnostics())
	if !r.Sound() {
		return nil, ErrUnsound
	}
	s.program = nil
	p, failure, err := compile(ctx, r, lowered, nil, job.Output)
	if err != nil {
		return nil, err
	}
	if failure != nil {
		told := r.explain(ctx, failure, nil)
		return nil, fmt.Errorf("%s:%d: %s", r.name, told.Line, told.Message)
	}
	s.program = p
	return p, nil
}

// run is one run under way.
type run struct {
	ctx      context.Context
	session  *Session
	program  *program
	job      Job
	observe  Observer
	settings map[string]any
	keys     map[*step]string
	outcomes map[*step]*outcome
	kept     map[string][]any
}

// outcome is what became of a step. Values is nil where its results are held elsewhere and nobody has asked for them.
type outcome struct {
	values []reflect.Value
	failed bool
}

func (r *run) all() error {
	steps := r.program.recipe.steps
	for _, s := range steps {
		if r.job.Known[r.keys[s]] {
			r.outcomes[s] = &outcome{}
			r.observe.Step(Step{Name: s.name, Key: r.keys[s], State: Done, Kept: true})
		}
	}
	for _, s := range steps {
		if err := r.settle(s); err != nil {
			return err
		}
	}
	return nil
}

// settle sees to it that a step has an outcome.
func (r *run) settle(s *step) error {
	if r.outcomes[s] != nil {
		return nil
	}
	values, err := r.inputs(s)
	if err != nil {
		return err
	}
	if values == nil {
		r.outcomes[s] = &outcome{failed: true}
		r.observe.Step(Step{Name: s.name, Key: r.keys[s], State: Skipped})
		return nil
	}
	return r.perform(s, values, true)
}

// inputs gives the values of a step's parameters, nil where a step that they come from failed.
func (r *run) inputs(s *step) ([]reflect.Value, error) {
	values := make([]reflect.Value, len(s.inputs))
	function := r.program.functions[s.name].Type()
	for i, in := range s.inputs {
		switch in.given {
		case fromSeason:
			values[i] = reflect.ValueOf(motion.NewSeason(r.ctx, r.session.source, r.progress(s)))
		case fromProgress:
			values[i] = reflect.ValueOf(r.progress(s))
		case fromSettings:
			values[i] = settingsValue(function.In(i), r.settings)
		default:
			value, err := r.resultOf(in.from)
			if err != nil || !value.IsValid() {
				return nil, err
			}
			values[i] = copied(value)
		}
	}
	return values, nil
}

func (r *run) progress(s *step) func(done, total int) {
	return func(done, total int) { r.observe.Progress(s.name, done, total) }
}

// resultOf gives the first result of a step; of one whose results are held elsewhere, it is made anew.
func (r *run) resultOf(s *step) (reflect.Value, error) {
	if err := r.settle(s); err != nil {
		return reflect.Value{}, err
	}
	o := r.outcomes[s]
	if !o.failed && o.values == nil {
		if kept, ok := r.session.kept[r.keys[s]]; ok {
			o.values = reflected(kept)
			r.kept[r.keys[s]] = kept
		} else {
			values, err := r.inputs(s)
			if err != nil {
				return reflect.Value{}, err
			}
			if values == nil {
				o.failed = true
			} else if err := r.perform(s, values, false); err != nil {
				return reflect.Value{}, err
			}
			o = r.outcomes[s]
		}
	}
	if o.failed {
		return reflect.Value{}, nil
	}
	return o.values[0], nil
}

func reflected(values []any) []reflect.Value {
	out := make([]reflect.Value, len(values))
	for i, v := range values {
		out[i] = reflect.ValueOf(v)
	}
	return out
}

// perform runs one step and tells of it. A quiet one has been told already.
func (r *run) perform(s *step, inputs []reflect.Value, tell bool) error {
	key := r.keys[s]
	began := time.Now()
	if tell {
		r.observe.Step(Step{Name: s.name, Key: key, State: Running})
	}
	told := Step{Name: s.name, Key: key, State: Done}
	o := &outcome{}
	r.outcomes[s] = o
	if err := r.renew(); err != nil {
		return err
	}
	values, p, err := r.program.call(r.ctx, s, inputs)
	if err != nil {
		return err
	}
	var failure *StepError
	if p != nil {
		failure = r.program.recipe.explain(r.ctx, p, func(again *program) *panicked {
			inputs, err := r.inputs(s)
			if err != nil || inputs == nil {
				return nil
			}
			_, p, _ := again.call(r.ctx, s, inputs)
			return p
		})
	} else if values, failure = r.split(s, values); r.ctx.Err() != nil {
		return context.Cause(r.ctx)
	}
	if failure == nil {
		o.values = values
		told.Results, told.Attachments, failure = shown(s, values)
	}
	if failure != nil {
		o.failed = true
		told.State, told.Error, told.Results, told.Attachments = Failed, failure, nil, nil
		tell = true
	} else {
		r.keep(key, values)
	}
	told.TookMS = float64(time.Since(began).Microseconds()) / 1000
	if tell {
		r.observe.Step(told)
	}
	return nil
}

// split takes the error from a step's results.
func (r *run) split(s *step, values []reflect.Value) ([]reflect.Value, *StepError) {
	if !s.fails {
		return values, nil
	}
	last := values[len(values)-1]
	values = values[:len(values)-1]
	if failed, ok := last.Interface().(error); ok && failed != nil {
		return nil, &StepError{Message: said(failed), Line: r.program.recipe.Files.Position(s.decl.Pos()).Line}
	}
	return values, nil
}

// said is the text of an error, which may be one of the recipe's own.
func said(err error) (text string) {
	defer func() {
		if recover() != nil {
			text = "an error that can't be put into words: its method Error panics"
		}
	}()
	return err.Error()
}

// explain tells of a panic. What panicked runs again, lowered so that it leaves a trail and tells all numbers: the
// interpreter alone knows positions but roughly. Recipes give the same each time, so it panics at the same place.
func (r *recipe) explain(ctx context.Context, p *panicked, again func(*program) *panicked) *StepError {
	traced, _ := lower.Traced(r.Files, r.File, r.Package, r.Info)
	trail := &lower.Trail{}
	program, exact, err := compile(ctx, r, traced, trail, io.Discard)
	if err == nil && program != nil && again != nil {
		exact = again(program)
	}
	if exact != nil {
		p = exact
	}
	return p.at(trail.Places())
}

// renew gives the run a new interpreter where a step's panic broke the last.
func (r *run) renew() error {
	if !r.program.broken {
		return nil
	}
	p, _, err := compile(r.ctx, r.program.recipe, r.program.lowered, nil, r.job.Output)
	if err != nil {
		return err
	}
	r.program, r.session.program = p, p
	return nil
}

// shown encodes a step's results. What can't be shown is well where another step takes it.
func shown(s *step, values []reflect.Value) ([]result.Result, []result.Attachment, *StepError) {
	results := []result.Result{}
	var attached []result.Attachment
	for _, v := range values {
		r, more, err := encode(v)
		if err != nil && s.asked && unshowable(v) {
			continue
		}
		if err != nil {
			return nil, nil, &StepError{Message: err.Error()}
		}
		results = append(results, r)
		attached = append(attached, more...)
	}
	return results, attached, nil
}

// encode guards against methods that panic on what a recipe put into a value.
func encode(v reflect.Value) (r result.Result, attached []result.Attachment, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("the result can't be shown: %v", p)
		}
	}()
	if !v.IsValid() || (v.Kind() == reflect.Interface && v.IsNil()) {
		return present.Encode(nil)
	}
	return present.Encode(v.Interface())
}

func unshowable(v reflect.Value) bool {
	for v.Kind() == reflect.Interface || v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return true
		}
		v = v.Elem()
	}
	switch v.Kind() {
	case reflect.Map, reflect.Func, reflect.Struct, reflect.Slice, reflect.Array:
		return true
	}
	return false
}

// keep remembers the values of a step for the next run, if they don't belong to one version's interpreter and hold on
// to nothing of this run.
func (r *run) keep(key string, values []reflect.Value) {
	kept := make([]any, len(values))
	for i, v := range values {
		if !lasting(v.Type()) {
			return
		}
		kept[i] = v.Interface()
	}
	r.kept[key] = kept
}

// lasting says whether values of a type may outlive a run.
func lasting(t reflect.Type) bool {
	switch {
	case t.PkgPath() == "tossline/kernel/table", strings.HasPrefix(t.PkgPath(), "tossline/kernel/stats"):
		return true
	case t.Kind() == reflect.Slice:
		return lasting(t.Elem())
	case t.Kind() == reflect.Map:
		return lasting(t.Key()) && lasting(t.Elem())
	}
	basic := t.Kind() >= reflect.Bool && t.Kind() <= reflect.Float64 || t.Kind() == reflect.String
	return basic && t.PkgPath() == ""
}

// settingsValue fills the interpreter's struct for the recipe's Settings.
func settingsValue(t reflect.Type, settings map[string]any) reflect.Value {
	v := reflect.New(t).Elem()
	for name, value := range settings {
		if list, ok := value.([]string); ok {
			value = slices.Clone(list)
		}
		v.FieldByName(name).Set(reflect.ValueOf(value))
	}
	return v
}
