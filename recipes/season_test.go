package recipes_test

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"

	_ "tossline/datasets/bvh"
	"tossline/datasets/demo"
	"tossline/datasets/recording"
	"tossline/datasets/season"
	"tossline/kernel/motion"
)

// folder is where the seasons of a test run lie.
var folder string

func TestMain(m *testing.M) {
	var err error
	if folder, err = os.MkdirTemp("", "recipes"); err != nil {
		panic(err)
	}
	code := m.Run()
	os.RemoveAll(folder)
	os.Exit(code)
}

// harbour is the demo season, made once for all tests of a run.
var harbour = sync.OnceValues(func() (motion.Source, error) {
	dir := filepath.Join(folder, "Harbour Lane")
	if err := demo.Create(context.Background(), dir, "test", demo.DefaultSeed, nil); err != nil {
		return nil, err
	}
	return snapshot(dir)
})

// takes is a season of the motion-capture takes beside the project: one player each, without racket and ball. The
// source is nil where they are not at hand.
var takes = sync.OnceValues(func() (motion.Source, error) {
	paths, _ := filepath.Glob("../../shared/data/bvh/serves-*.bvh")
	if len(paths) == 0 {
		return nil, nil
	}
	dir := filepath.Join(folder, "Takes")
	w, err := season.Create(dir, "test")
	if err != nil {
		return nil, err
	}
	defer w.Close()
	for _, path := range paths {
		prepared, err := recording.Prepare(context.Background(), path, recording.Options{})
		if err != nil {
			return nil, err
		}
		imp, err := season.ImportOf(prepared)
		if err != nil {
			return nil, err
		}
		imp.Player, imp.Session = "Player "+filepath.Base(path)[7:9], "2026-03-14"
		if _, err := w.AddRecording(context.Background(), imp); err != nil {
			return nil, err
		}
	}
	return snapshot(dir)
})

func snapshot(dir string) (motion.Source, error) {
	s, err := season.Open(dir)
	if err != nil {
		return nil, err
	}
	return s.Snapshot(context.Background())
}

// demoSeason is the season that the recipes are tested on.
func demoSeason(t testing.TB) motion.Season {
	t.Helper()
	if testing.Short() {
		t.Skip("the whole season takes seconds")
	}
	source, err := harbour()
	if err != nil {
		t.Fatal(err)
	}
	return motion.NewSeason(context.Background(), source, nil)
}

// realSeason is the season of real takes, or skips the test where they are not at hand.
func realSeason(t testing.TB) motion.Season {
	t.Helper()
	source, err := takes()
	if err != nil {
		t.Fatal(err)
	}
	if source == nil {
		t.Skip("the takes in ../shared/data are not here")
	}
	return motion.NewSeason(context.Background(), source, nil)
}
