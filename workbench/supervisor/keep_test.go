package supervisor

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow/array"

	"tossline/datasets/recording"
	"tossline/datasets/sheet"
)

func keepIn(ctx context.Context, t *testing.T, path string) (*Kept, error) {
	t.Helper()
	ask := Import{Path: path, Command: []string{os.Args[0], "engine"}, Scratch: t.TempDir()}
	got, err := Keep(ctx, ask)
	if left, _ := os.ReadDir(ask.Scratch); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	return got, err
}

func tableFile(t *testing.T, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "lab.csv")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// A table that is read behind the fence is the one that is read in this process.
func TestKeepReadsWhatReadingReads(t *testing.T) {
	path := tableFile(t, "serve;knee_deg;ok\nfirst;71,5;true\nsecond;;false\n")
	got, err := keepIn(t.Context(), t, path)
	if err != nil {
		t.Fatal(err)
	}
	in, f, err := recording.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	want, understood, err := sheet.ReadWhole(in)
	if err != nil || !array.RecordEqual(got.Record, want) || !got.Record.Schema().Equal(want.Schema()) ||
		got.Understood.String() != understood.String() {
		t.Errorf("%v\n%v\nwant %v\n%v, %v", got.Record, got.Understood, want, understood, err)
	}
}

func TestKeepRefusesInWords(t *testing.T) {
	for name, c := range map[string]struct{ path, says string }{
		"missing":  {"none.csv", "there is no such file"},
		"a folder": {t.TempDir(), "this is a folder"},
		"noise":    {tableFile(t, strings.Repeat("\x00\xff noise", 1000)), "lab.csv: this is no table"},
		"uneven":   {tableFile(t, "a,b\n1\n"), "lab.csv, line 2: the row has 1 values"},
	} {
		if _, err := keepIn(t.Context(), t, c.path); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: said %v, want %q", name, err, c.says)
		}
	}
}

// A stop in the middle of a table leaves nothing behind.
func TestKeepStops(t *testing.T) {
	path := tableFile(t, "a,b\n"+strings.Repeat("1,2.5\n", 5_000_000))
	ctx, cancel := context.WithCancel(t.Context())
	ask := Import{Path: path, Command: []string{os.Args[0], "engine"}, Scratch: t.TempDir(),
		Progress: func(int, int) { cancel() }}
	if _, err := Keep(ctx, ask); !errors.Is(err, context.Canceled) {
		t.Errorf("ended with %v", err)
	}
	if left, _ := os.ReadDir(ask.Scratch); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// What an engine put down is checked before it is used: the file that it read may have taken it over.
func TestKeepTrustsNoEngine(t *testing.T) {
	for name, text := range map[string]string{"noise": "not a table", "nothing": ""} {
		place, err := os.Open(tableFile(t, text))
		if err != nil {
			t.Fatal(err)
		}
		if err := new(Kept).read(place); err == nil || !strings.Contains(err.Error(), "can't be read back") {
			t.Errorf("%s: %v", name, err)
		}
	}
}
