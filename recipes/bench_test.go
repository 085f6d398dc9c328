package recipes_test

import (
	"fmt"
	"path/filepath"
	"reflect"
	"slices"
	"testing"
	"time"

	"tossline/datasets/catalogue"
	"tossline/datasets/season"
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

// BenchmarkMeasuredBefore runs the first recipes of the shelf over more than 6,000 serves whose measures are in the
// season's cache, which a new session reads.
func BenchmarkMeasuredBefore(b *testing.B) {
	const copies = 6
	dir := copiesOf(b, sourceOf(b).(*catalogue.Catalogue), copies)
	for _, file := range []string{"contact_offset.go", "knee_flex.go", "drop_depth.go"} {
		b.Run(file, func(b *testing.B) {
			job := interp.Job{File: file, Source: sourceText(b, file)}
			open := func() (*season.Season, *catalogue.Catalogue) {
				s, err := season.Open(dir)
				if err != nil {
					b.Fatal(err)
				}
				c, err := s.Snapshot(b.Context())
				if err != nil {
					b.Fatal(err)
				}
				return s, c
			}
			run := func(c *catalogue.Catalogue) {
				seen := &noted{steps: map[string]interp.Step{}}
				if err := interp.NewSession(c).Run(b.Context(), job, seen); err != nil {
					b.Fatal(err, seen.mistakes)
				}
			}
			s, c := open()
			run(c)
			if err := s.KeepMeasured(b.Context(), slices.Collect(c.TakeKept())...); err != nil {
				b.Fatal(err)
			}
			s.Close()
			for b.Loop() {
				b.StopTimer()
				s, c := open()
				b.StartTimer()
				run(c)
				b.StopTimer()
				if taken := slices.Collect(c.TakeKept()); len(taken) > 0 {
					b.Fatalf("%d serves were measured again", len(taken[0].Keys))
				}
				s.Close()
				b.StartTimer()
			}
			b.ReportMetric(float64(c.Len()), "serves")
		})
	}
}

// copiesOf is the folder of a season with every recording of another so many times.
func copiesOf(b *testing.B, of *catalogue.Catalogue, copies int) string {
	dir := filepath.Join(b.TempDir(), "copies")
	w, err := season.Create(dir, "benchmark")
	if err != nil {
		b.Fatal(err)
	}
	defer w.Close()
	serves := make([][]motion.Serve, len(of.Recordings()))
	for i := range of.Len() {
		s := of.Serve(i)
		serves[s.Recording] = append(serves[s.Recording], motion.Serve{First: s.First, Last: s.Last, Events: s.Events})
	}
	for k, r := range of.Recordings() {
		take, err := of.Take(k)
		if err != nil {
			b.Fatal(err)
		}
		for copy := range copies {
			if _, err := w.AddRecording(b.Context(), season.Import{
				File: fmt.Sprintf("%d of %s", copy+1, r.File), SourceSHA256: fmt.Sprintf("%06x%06x%052d", k, copy, 0),
				Format: r.Format, RateHz: r.RateHz, Layout: take.Layout, Frames: take.Frames, Hand: r.Hand,
				CutoffsHz: r.CutoffsHz, Player: r.Player, Session: r.Session, HeightM: r.HeightM, Serves: serves[k],
			}); err != nil {
				b.Fatal(err)
			}
		}
	}
	return dir
}
