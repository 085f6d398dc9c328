package interp_test

import (
	"context"
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"tossline/kernel/interp"
	"tossline/kernel/motion"
	"tossline/kernel/table"
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

// nowhere is a season without serves.
type nowhere struct{}

func (nowhere) Len() int                                        { return 0 }
func (nowhere) Clip(int) (motion.Clip, error)                   { return motion.Clip{}, errors.New("no serve") }
func (nowhere) Particulars() table.Table                        { return table.Table{} }
func (nowhere) Cached(int, motion.Measure) (motion.Value, bool) { return motion.Value{}, false }
func (nowhere) Keep(int, motion.Measure, motion.Value)          {}

// run runs a source over no serves.
func run(t *testing.T, s *interp.Session, source string, settings map[string]json.RawMessage) *recorder {
	t.Helper()
	seen := &recorder{}
	err := s.Run(t.Context(), interp.Job{File: "r.go", Source: source, Settings: settings, Output: &seen.printed}, seen)
	if err != nil {
		t.Fatal(err, seen.diagnostics)
	}
	return seen
}

func TestPanicNamesLines(t *testing.T) {
	seen := run(t, interp.NewSession(nowhere{}), `// T
package recipe

import "tossline/kernel/table"

func pick(xs []int, i int) int {
	return xs[i]
}

// A
func A() int {
	return pick([]int{1, 2, 3}, 5)
}

// B
func B(a int) int { return a }

// C
func C() int { return 7 }

// D
func D() float64 {
	t := table.New(table.Number("x", "m", []float64{1}))
	return t.Numbers("y")[0]
}

// E
func E() int {
	var m map[string]int
	m["a"] = 1
	return 0
}
`, nil)
	for _, name := range []string{"A", "B", "C", "D", "E"} {
		t.Logf("%s %+v %+v", name, seen.last(name), seen.last(name).Error)
	}
}

func TestStop(t *testing.T) {
	s := interp.NewSession(nowhere{})
	ctx, cancel := context.WithTimeout(t.Context(), 100*time.Millisecond)
	defer cancel()
	began := time.Now()
	seen := &recorder{}
	err := s.Run(ctx, interp.Job{File: "r.go", Source: `package recipe
func A() int { for { } }
`}, seen)
	t.Log(err, time.Since(began), seen.diagnostics)
	err = s.Run(t.Context(), interp.Job{File: "r.go", Source: `package recipe
var x = func() int { return 1 }()
func A() int { return x }
`}, seen)
	t.Log(err, time.Since(began), seen.diagnostics, seen.last("A"))
}
