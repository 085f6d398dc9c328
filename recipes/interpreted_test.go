package recipes_test

import (
	"encoding/json"
	"errors"
	"reflect"
	"testing"

	"tossline/kernel/interp"
	"tossline/kernel/present"
	"tossline/recipes"
)

// noted keeps what a run of the interpreter tells.
type noted struct {
	mistakes []interp.Diagnostic
	steps    map[string]interp.Step
}

func (n *noted) Plan(interp.Plan)                  {}
func (n *noted) Diagnostics(d []interp.Diagnostic) { n.mistakes = d }
func (n *noted) Step(s interp.Step)                { n.steps[s.Name] = s }
func (n *noted) Progress(string, int, int)         {}

// Every shipped recipe gives the same results, to the byte, whether the go command compiled it or an engine interprets
// its source.
func TestInterpretedIsCompiled(t *testing.T) {
	season, source := demoSeason(t), sourceOf(t)
	for _, r := range recipes.Shipped() {
		recipe := shelf()[r.File]
		t.Run(r.File, func(t *testing.T) {
			seen := &noted{steps: map[string]interp.Step{}}
			err := interp.NewSession(source).Run(t.Context(), interp.Job{File: r.File, Source: r.Source,
				Settings: asked(t, recipe.settings)}, seen)
			if err != nil {
				t.Fatal(err, seen.mistakes)
			}
			for _, want := range recipe.run(t, r.File, season) {
				compareStep(t, seen.steps[want.step], want)
			}
		})
	}
}

// compareStep compares what a step gave interpreted with what it gave compiled.
func compareStep(t *testing.T, got interp.Step, want ran) {
	t.Helper()
	switch {
	case errors.Is(want.err, errInput):
		if got.State != interp.Skipped {
			t.Errorf("step %s is %s, want skipped", want.step, got.State)
		}
		return
	case want.err != nil:
		if got.State != interp.Failed || got.Error.Message != want.err.Error() {
			t.Errorf("step %s is %s %v, want failed: %v", want.step, got.State, got.Error, want.err)
		}
		return
	case got.State != interp.Done:
		t.Errorf("step %s is %s: %+v", want.step, got.State, got.Error)
		return
	}
	encoded, attached, err := present.Encode(want.value)
	if err != nil {
		t.Errorf("step %s: %v", want.step, err)
		return
	}
	if g, w := text(t, got.Results[0]), text(t, encoded); g != w {
		t.Errorf("step %s differs\ninterpreted %.2000s\ncompiled    %.2000s", want.step, g, w)
	}
	if !reflect.DeepEqual(got.Attachments, attached) {
		t.Errorf("step %s: the tables differ", want.step)
	}
}

func text(t testing.TB, v any) string {
	t.Helper()
	encoded, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(encoded)
}

// asked is settings as a page asks for them.
func asked(t testing.TB, settings any) map[string]json.RawMessage {
	t.Helper()
	values := map[string]json.RawMessage{}
	s := reflect.ValueOf(settings)
	for i := range s.NumField() {
		values[s.Type().Field(i).Name] = json.RawMessage(text(t, s.Field(i).Interface()))
	}
	return values
}
