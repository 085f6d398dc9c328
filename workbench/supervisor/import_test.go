package supervisor

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"tossline/datasets/recording"
)

// recordings are files that may lie beside the repository.
const recordings = "../../../shared/data/*/*.[bc][v3]?"

func prepare(t *testing.T, ask Import) (*Imported, error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	return prepareIn(ctx, t, ask)
}

func prepareIn(ctx context.Context, t *testing.T, ask Import) (*Imported, error) {
	t.Helper()
	ask.Command = []string{os.Args[0], "engine"}
	ask.Scratch = t.TempDir()
	got, err := Prepare(ctx, ask)
	if left, _ := os.ReadDir(ask.Scratch); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	return got, err
}

// A file that is read behind the fence is understood just as one that is read in this process.
func TestImportFindsWhatReadingFinds(t *testing.T) {
	files, _ := filepath.Glob(recordings)
	if len(files) == 0 {
		t.Skip("no recordings here")
	}
	if testing.Short() {
		files = files[:1]
	}
	for _, path := range files {
		t.Run(filepath.Base(path), func(t *testing.T) {
			o := recording.Options{Player: "Tuva Brandt", Units: map[string]string{"golf.c3d": "m"}[filepath.Base(path)]}
			want, err := recording.Prepare(t.Context(), path, o)
			if err != nil {
				t.Fatal(err)
			}
			got, err := prepare(t, Import{Path: path, Options: o})
			if err != nil {
				t.Fatal(err)
			}
			defer got.Close()
			checkPrepared(t, &got.Prepared, want)
		})
	}
}

func checkPrepared(t *testing.T, got, want *recording.Prepared) {
	t.Helper()
	for i := range want.Understanding.Signals {
		if g, w := got.Understanding.Signals[i].Values, want.Understanding.Signals[i].Values; !sameNumbers(g, w) {
			t.Errorf("signal %s differs", want.Understanding.Signals[i].Name)
		}
		got.Understanding.Signals[i].Values, want.Understanding.Signals[i].Values = nil, nil
	}
	if !reflect.DeepEqual(got.Understanding, want.Understanding) || !reflect.DeepEqual(got.Serves, want.Serves) ||
		got.Take.Rate != want.Take.Rate || !reflect.DeepEqual(got.Take.Layout.Names(), want.Take.Layout.Names()) {
		t.Errorf("got %+v, want %+v", got.Understanding, want.Understanding)
	}
	if !sameNumbers(got.Take.Frames, want.Take.Frames) {
		t.Error("the frames differ")
	}
}

func sameNumbers(a, b []float32) bool {
	return slices.EqualFunc(a, b, func(x, y float32) bool { return x == y || x != x && y != y })
}

func TestImportRefusesInWords(t *testing.T) {
	folder := t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(folder, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	for _, c := range []struct{ name, path, says string }{
		{"missing", filepath.Join(folder, "none.bvh"), "there is no such file"},
		{"a folder", folder, "this is a folder"},
		{"empty", file("empty.bvh", ""), "empty.bvh"},
		{"noise", file("noise.bvh", strings.Repeat("\x00\xff noise", 1000)), "noise.bvh"},
		{"cut off", file("cut.bvh", "HIERARCHY\nROOT Hips\n{\n"), "cut.bvh, line"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := prepare(t, Import{Path: c.path})
			if err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("said %v, want %q", err, c.says)
			}
		})
	}
}

// A stop in the middle of a large file leaves nothing behind, and nothing is heard after it.
func TestImportStops(t *testing.T) {
	path := filepath.Join(t.TempDir(), "long.csv")
	text := "time,a_x,a_y,a_z,b_x,b_y,b_z\n" + strings.Repeat("1,2,3,4,5,6,7\n", 3_000_000)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	var stopped atomic.Bool
	_, err := prepareIn(ctx, t, Import{Path: path, Progress: func(done, total int) {
		if stopped.Load() {
			t.Error("told of progress after the stop")
		}
		cancel()
	}})
	stopped.Store(true)
	if !errors.Is(err, context.Canceled) {
		t.Errorf("said %v", err)
	}
}
