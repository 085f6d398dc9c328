package recipes_test

import (
	"context"
	"os"
	"testing"

	"tossline/kernel/interp"
	"tossline/kernel/motion"
	"tossline/kernel/table"
	besidelab "tossline/recipes/testdata/besidelab"
)

// withLab is a season that keeps what a colleague measured of every other serve, two degrees above what we did.
type withLab struct {
	motion.Source
	lab table.Table
}

func (withLab) Stamp() string                    { return "with lab" }
func (withLab) TableNames() []string             { return []string{"lab", "wellness"} }
func (w withLab) Table(int) (table.Table, error) { return w.lab, nil }

func newWithLab(t *testing.T) withLab {
	t.Helper()
	demoSeason(t)
	source := sourceOf(t)
	ours, err := motion.NewSeason(context.Background(), source, nil).Measure(motion.FrontKneeFlexion)
	if err != nil {
		t.Fatal(err)
	}
	lab := ours.Keep(func(r table.Row) bool { return r.Index()%2 == 0 }).
		WithNumber("knee_deg", "deg", func(r table.Row) float64 { return r.Number("front_knee_flexion_deg") + 2 }).
		Pick("serve", "knee_deg")
	return withLab{source, lab}
}

// A recipe that reads tables which the season keeps gives the same compiled and interpreted.
func TestKeptTablesInterpretedAndCompiled(t *testing.T) {
	source := newWithLab(t)
	const file = "testdata/besidelab/beside_the_lab.go"
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	recipe := compiled{besidelab.Settings{Lab: "lab"}, map[string]any{"Both": besidelab.Both,
		"Agreement": besidelab.Agreement, "Other": besidelab.Other}}
	seen := &noted{steps: map[string]interp.Step{}}
	err = interp.NewSession(source).Run(t.Context(), interp.Job{File: file, Source: string(text),
		Settings: asked(t, recipe.settings)}, seen)
	if err != nil {
		t.Fatal(err, seen.mistakes)
	}
	season := motion.NewSeason(context.Background(), source, nil)
	steps := []declared{{name: "Both", inputs: []string{"season", "settings"}},
		{name: "Agreement", inputs: []string{"both"}}, {name: "Other", inputs: []string{"season"}}}
	for _, want := range recipe.runSteps(t, steps, season) {
		compareStep(t, seen.steps[want.step], want)
	}
	if s := seen.steps["Other"]; s.State != interp.Failed ||
		s.Error.Message != `the season keeps no table "plates"; there are lab and wellness` {
		t.Errorf("an unknown table: %s, %+v", s.State, s.Error)
	}
}
