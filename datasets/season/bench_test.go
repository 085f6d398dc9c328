package season

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"tossline/datasets/catalogue"
	"tossline/datasets/frames"
	"tossline/datasets/landmark"
	"tossline/kernel/motion"
)

// The large season of the benchmarks: 60,000 serves in 1,000 recordings of 10 MB. The recordings share one file on the
// disk by hard links, since opening and mapping cost the same.
const (
	largeRecordings = 1000
	largeServes     = 60
	largeFrames     = 28_800 // 480 frames a serve, 30 landmarks: 10.4 MB a recording
)

// large makes the large season and gives its folder.
func large(b *testing.B) string {
	b.Helper()
	dir := filepath.Join(b.TempDir(), "season")
	w, err := Create(dir, "benchmark")
	if err != nil {
		b.Fatal(err)
	}
	defer w.Close()
	layout := landmark.NewLayout(landmark.Standard)
	template := filepath.Join(dir, "template")
	var buf bytes.Buffer
	facts := frames.Facts{RateHz: 200, Landmarks: layout.Names()}
	if err := frames.Write(&buf, facts, make([]float32, largeFrames*3*layout.Len())); err != nil {
		b.Fatal(err)
	}
	if err := os.WriteFile(template, buf.Bytes(), 0o644); err != nil {
		b.Fatal(err)
	}
	ctx := context.Background()
	err = inTransaction(ctx, w.out, func(tx *sql.Tx) error {
		for r := range largeRecordings {
			s := &stagedImport{Import: largeImport(r, layout), frames: largeFrames}
			s.framesFile.sha256 = sha256Of(fmt.Sprint("frames", r))
			if err := os.Link(template, w.framesPath(s.framesFile.sha256)); err != nil {
				return err
			}
			if _, err := put(ctx, tx, s); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	return dir
}

func largeImport(r int, layout *landmark.Layout) Import {
	imp := Import{File: fmt.Sprintf("take-%04d.c3d", r), SourceSHA256: sha256Of(fmt.Sprint(r)), Format: "c3d", RateHz: 200,
		Layout: layout, Hand: motion.HandRight, Player: fmt.Sprintf("Player %d", r%40),
		Session: fmt.Sprintf("2026-%02d-%02d", 1+r/30%12, 1+r%28)}
	for k := range largeServes {
		first := k * (largeFrames / largeServes)
		s := motion.Serve{First: first, Last: first + largeFrames/largeServes - 1, Events: motion.Events{}}
		for i, kind := range motion.EventKinds {
			at := float64(first)/200 + 0.25*float64(i) + 0.001
			s.Events[kind] = motion.Event{TimeS: at, Method: "ball velocity", Confidence: 0.9}
		}
		imp.Serves = append(imp.Serves, s)
	}
	return imp
}

func BenchmarkLargeSeason(b *testing.B) {
	dir := large(b)
	ctx := context.Background()
	open := func(b *testing.B) (*Season, *catalogue.Catalogue) {
		s, err := Open(dir)
		if err != nil {
			b.Fatal(err)
		}
		c, err := s.Snapshot(ctx)
		if err != nil || c.Len() != largeRecordings*largeServes {
			b.Fatal(c, err)
		}
		return s, c
	}
	b.Run("open/from rows", func(b *testing.B) {
		for b.Loop() {
			os.RemoveAll(filepath.Join(dir, cacheDir))
			s, _ := open(b)
			s.Close()
		}
	})
	os.MkdirAll(filepath.Join(dir, cacheDir), 0o755)
	s, _ := open(b)
	s.Close()
	b.Run("open", func(b *testing.B) {
		for b.Loop() {
			s, _ := open(b)
			s.Close()
		}
	})
	b.Run("open/in the engine", func(b *testing.B) {
		s, c := open(b)
		defer s.Close()
		data, _, err := c.Encode()
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(len(data))/1e6, "MB")
		root, err := os.OpenRoot(dir)
		if err != nil {
			b.Fatal(err)
		}
		defer root.Close()
		for b.Loop() {
			c, err := catalogue.Open(data, root.Open)
			if err != nil || c.Len() != largeRecordings*largeServes {
				b.Fatal(err)
			}
			c.Close()
		}
	})
	b.Run("clip", func(b *testing.B) {
		s, c := open(b)
		defer s.Close()
		i := 0
		for b.Loop() {
			if _, err := c.Clip(i % c.Len()); err != nil {
				b.Fatal(err)
			}
			i += 7919
		}
	})
	b.Run("particulars", func(b *testing.B) {
		for b.Loop() {
			b.StopTimer()
			s, c := open(b)
			b.StartTimer()
			c.Particulars()
			b.StopTimer()
			s.Close()
			b.StartTimer()
		}
	})
	measures := motion.All()[:3]
	var c *catalogue.Catalogue
	s, c = open(b)
	for i := range c.Len() {
		for _, m := range measures {
			c.Keep(i, m, motion.Value{Number: rand.NormFloat64(), Basis: "racket"})
		}
	}
	kept := slices.Collect(c.TakeKept())
	b.Run("keep 3 measures", func(b *testing.B) {
		for b.Loop() {
			if err := s.KeepMeasured(ctx, kept...); err != nil {
				b.Fatal(err)
			}
		}
	})
	s.Close()
	b.Run("read 3 measures", func(b *testing.B) {
		for b.Loop() {
			b.StopTimer()
			s, c := open(b)
			b.StartTimer()
			for i := range c.Len() {
				for _, m := range measures {
					if _, ok := c.Cached(i, m); !ok {
						b.Fatal("not kept")
					}
				}
			}
			b.StopTimer()
			s.Close()
			b.StartTimer()
		}
	})
}

// BenchmarkAdd imports recordings of 10 MB, synced to the disk.
func BenchmarkAdd(b *testing.B) {
	w := newSeason(b)
	layout := landmark.NewLayout(landmark.Standard)
	imp := largeImport(0, layout)
	imp.Frames = make([]float32, largeFrames*3*layout.Len())
	b.SetBytes(int64(4 * len(imp.Frames)))
	n := 0
	for b.Loop() {
		n++
		imp.SourceSHA256, imp.Frames[0] = sha256Of(fmt.Sprint("add", n)), float32(n)
		if _, err := w.AddRecording(context.Background(), imp); err != nil {
			b.Fatal(err)
		}
	}
}
