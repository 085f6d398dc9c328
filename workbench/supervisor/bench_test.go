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
