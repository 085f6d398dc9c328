package supervisor

import (
	"context"
	"os"
	"testing"
)

// From nothing to an engine that is fenced and has the season open.
func BenchmarkStart(b *testing.B) {
	s := newSupervisor(Options{Season: empty(b), Command: []string{os.Args[0], "engine"}})
	s.lone = true
	defer s.Close()
	for b.Loop() {
		p, err := s.start(context.Background(), 0)
		if err != nil {
			b.Fatal(err)
		}
		b.StopTimer()
		p.dismiss()
		<-p.gone
		b.StartTimer()
	}
}

// From an engine that is killed to the end of the next run, with a spare at hand.
func BenchmarkRunAfterKill(b *testing.B) {
	s := withRogues(b, Limits{})
	if _, err := s.run(b, "obey"); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		b.StopTimer()
		<-s.spare.done
		b.StartTimer()
		s.desks["rogue.go"].engine.dismiss()
		<-s.desks["rogue.go"].engine.gone
		if _, err := s.run(b, "obey"); err != nil {
			b.Fatal(err)
		}
	}
}

// From the end of an engine with a hostile recipe to the kept results of the next run, with a spare at hand.
func BenchmarkRunAfterHostile(b *testing.B) {
	s := start(b, Options{})
	if _, err := s.run(b, recipeOf("", harmless)); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		b.StopTimer()
		hostile := recipeOf("strings", "// Bad\nfunc Bad() int { return len(strings.Repeat(\"x\", 1<<40)) }")
		if _, err := s.run(b, hostile); err == nil {
			b.Fatal("it did not end")
		}
		<-s.spare.done
		b.StartTimer()
		after, err := s.run(b, recipeOf("", harmless))
		if err != nil || !after.steps()["Bad"].Kept {
			b.Fatal(err, after.steps())
		}
	}
}
