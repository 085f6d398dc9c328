package supervisor

import (
	"context"
	"fmt"
	"os"
	"time"
)

// endless is a recipe that is stopped or ended from outside only.
var endless = recipeOf("", "// Bad\nfunc Bad(good float64) int { for { } }")

// spinning starts a run that never ends and waits until it is at work. It gives the engine's process id.
func spinning(s *Supervisor) (int, error) {
	running := make(chan struct{})
	ended := make(chan error, 1)
	go func() {
		ended <- s.Run(context.Background(), Job{File: "rogue.go", Source: endless}, func(e Event) {
			if e.Step != nil && e.Step.Name == "Bad" {
				close(running)
			}
		})
	}()
	select {
	case <-running:
	case err := <-ended:
		return 0, fmt.Errorf("the run ended: %w", err)
	case <-time.After(patience):
		return 0, fmt.Errorf("the run did not begin within %v", patience)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.desks["rogue.go"].engine.cmd.Process.Pid, nil
}

// playWorkbench is the other side of TestEnginesEndWithTheWorkbench.
func playWorkbench() {
	folder, err := os.MkdirTemp("", "season")
	if err == nil {
		defer os.RemoveAll(folder)
		s := New(Options{Season: emptyIn(folder), Command: []string{os.Args[0], "engine"}})
		var pid int
		if pid, err = spinning(s); err == nil {
			fmt.Println(pid)
			select {}
		}
	}
	fmt.Println(err)
}
