package interp_test

import (
	"errors"
	"strings"
	"testing"

	"tossline/kernel/interp"
	"tossline/kernel/motion"
	"tossline/kernel/table"
	"tossline/recipes"
)

// recorder writes down what it is told of a run.
type recorder struct {
	plan        interp.Plan
	diagnostics []interp.Diagnostic
	steps       []interp.Step
	printed     strings.Builder
}

func (r *recorder) Plan(p interp.Plan)                 { r.plan = p }
func (r *recorder) Diagnostics(d []interp.Diagnostic)  { r.diagnostics = d }
func (r *recorder) Step(s interp.Step)                 { r.steps = append(r.steps, s) }
func (r *recorder) Progress(step string, done, of int) {}

// last gives what became of a step.
func (r *recorder) last(name string) interp.Step {
	for i := len(r.steps) - 1; i >= 0; i-- {
		if r.steps[i].Name == name {
			return r.steps[i]
		}
	}
	return interp.Step{}
}

// source is the demo season in memory, without its frames' files.
func TestShipped(t *testing.T) {
	for _, r := range recipes.Shipped() {
		t.Run(r.File, func(t *testing.T) {
			var seen recorder
			err := interp.NewSession(nowhere{}).Run(t.Context(), interp.Job{File: r.File, Source: r.Source}, &seen)
			if err != nil {
				t.Fatal(err, seen.diagnostics)
			}
			for _, s := range seen.plan.Steps {
				if last := seen.last(s.Name); last.State != interp.Done {
					t.Errorf("%s: %s %+v", s.Name, last.State, last.Error)
				}
			}
		})
	}
}

// nowhere is a season without serves.
type nowhere struct{}

func (nowhere) Len() int                                        { return 0 }
func (nowhere) Clip(int) (motion.Clip, error)                   { return motion.Clip{}, errors.New("no serve") }
func (nowhere) Particulars() table.Table                        { return table.Table{} }
func (nowhere) Cached(int, motion.Measure) (motion.Value, bool) { return motion.Value{}, false }
func (nowhere) Keep(int, motion.Measure, motion.Value)          {}
