package recipes_test

import (
	"reflect"
	"testing"
	"time"

	"tossline/kernel/interp"
	"tossline/kernel/motion"
	"tossline/kernel/present"
)

// BenchmarkInterpretedAgainstCompiled runs the first recipes of the shelf over the demo season in turns, interpreted
// and as the go command compiled them, and reports how many times as long the interpreter takes. Every turn has another
// limit, so that no step is known already; measures are.
func BenchmarkInterpretedAgainstCompiled(b *testing.B) {
	season, source := demoSeason(b), sourceOf(b)
	for _, file := range []string{"contact_offset.go", "knee_flex.go", "drop_depth.go"} {
		b.Run(file, func(b *testing.B) {
			c := contest{recipe: shelf()[file], steps: stepsOf(b, file), season: season,
				session: interp.NewSession(source), job: interp.Job{File: file, Source: sourceText(b, file)}}
			c.turn(b, 0) // warms up: the program is read once
			var interpreted, plain time.Duration
			turn := 0
			for b.Loop() {
				turn++
				a, p := c.turn(b, turn)
				interpreted, plain = interpreted+a, plain+p
			}
			b.ReportMetric(float64(interpreted)/float64(plain), "times-compiled")
		})
	}
}

// contest is one recipe that is run both ways.
type contest struct {
	recipe  compiled
	steps   []declared
	season  motion.Season
	session *interp.Session
	job     interp.Job
}

// turn runs the recipe both ways, with a limit that no other turn has.
func (c *contest) turn(b *testing.B, turn int) (interpreted, plain time.Duration) {
	settings := reflect.New(reflect.TypeOf(c.recipe.settings)).Elem()
	settings.Set(reflect.ValueOf(c.recipe.settings))
	limit := settings.FieldByName("Limit")
	limit.SetFloat(limit.Float() + 1e-7*float64(turn))
	c.recipe.settings = settings.Interface()
	c.job.Settings = asked(b, c.recipe.settings)

	seen := &noted{steps: map[string]interp.Step{}}
	began := time.Now()
	if err := c.session.Run(b.Context(), c.job, seen); err != nil {
		b.Fatal(err, seen.mistakes)
	}
	interpreted = time.Since(began)
	began = time.Now()
	for _, r := range c.recipe.runSteps(b, c.steps, c.season) {
		if r.err != nil {
			b.Fatal(r.err)
		}
		if _, _, err := present.Encode(r.value); err != nil {
			b.Fatal(err)
		}
	}
	return interpreted, time.Since(began)
}
