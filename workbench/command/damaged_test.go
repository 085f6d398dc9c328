package command

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tossline/datasets/frames"
	"tossline/datasets/season"
	"tossline/kernel/motion"
)

// damagedSeason has three recordings with a serve and a signal each. The signals of the first are damaged, and the
// frames of the second.
func damagedSeason(t *testing.T) (dir string, ids []string) {
	t.Helper()
	w, err := season.Create(filepath.Join(t.TempDir(), "club"), "test")
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	take := shortTake()
	known := map[string]bool{}
	for i := range 3 {
		xyz := append([]float32(nil), take.Frames...)
		xyz[0] += float32(i)
		added, err := w.AddRecording(context.Background(), season.Import{File: fmt.Sprintf("take %d.bvh", i),
			SourceSHA256: strings.Repeat(fmt.Sprint(i+1), 64), Format: "bvh", RateHz: take.Rate, Layout: take.Layout,
			Frames:  xyz,
			Signals: []frames.Signal{{Name: "Fz", Unit: "N", RateHz: take.Rate, Values: []float32{float32(i), 2}}},
			Serves: []motion.Serve{{First: 10, Last: 300, Events: motion.Events{
				motion.Contact: {TimeS: 1, Method: "by eye", Confidence: 1}}}}})
		if err != nil {
			t.Fatal(err)
		}
		ids = append(ids, added.Recording)
		made, err := filepath.Glob(filepath.Join(w.Dir(), "frames", "*.arrow"))
		if err != nil {
			t.Fatal(err)
		}
		for _, path := range made {
			isSignals := false
			if info, err := os.Stat(path); err == nil {
				isSignals = info.Size() < 10_000
			}
			if !known[path] && i < 2 && isSignals == (i == 0) {
				if err := os.Truncate(path, 100); err != nil {
					t.Fatal(err)
				}
			}
			known[path] = true
		}
	}
	if len(known) != 6 {
		t.Fatalf("%d files, want frames and signals of 3 recordings", len(known))
	}
	return w.Dir(), ids
}

// TestExportWithoutWhatIsDamaged exports what is whole, and tells what is not.
func TestExportWithoutWhatIsDamaged(t *testing.T) {
	dir, ids := damagedSeason(t)
	signals, lost := "the signals of recording "+ids[0], "recording "+ids[1]+": the frames of take 1.bvh can't be read"
	for name, c := range map[string]struct {
		table, format string
		rows          int
		tells         []string
	}{
		"signals":  {"signals", "csv", 4, []string{signals}},
		"frames":   {"frames", "csv", 2 * 291, []string{lost}},
		"measures": {"measures", "csv", 2, []string{lost}},
		"serves":   {"serves", "csv", 3, nil},
		"c3d":      {"frames", "c3d", 2, []string{signals, lost}},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "out."+c.format)
			s := run("export", "--season", dir, "--table", c.table, "--format", c.format, "-o", path)
			if s.code != 0 || strings.Count(s.err, "left out: ") != len(c.tells) {
				t.Fatalf("exit code %d, said %s", s.code, s.err)
			}
			for _, want := range c.tells {
				if !strings.Contains(s.err, want) || !strings.Contains(s.err, "import it again") {
					t.Errorf("said %q, want %q", s.err, want)
				}
			}
			rows := 0
			if c.format == "c3d" {
				rows = len(files(t, path))
			} else if data, err := os.ReadFile(path); err == nil {
				rows = strings.Count(string(data), "\n") - 1
			}
			if rows != c.rows {
				t.Errorf("%d rows or files, want %d", rows, c.rows)
			}
		})
	}
}
