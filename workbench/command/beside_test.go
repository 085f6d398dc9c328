package command

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestImportTakesWhatIsKnown imports a take with a table of particulars, a pattern for its name and pseudonyms, and looks
// at what the season then exports.
func TestImportTakesWhatIsKnown(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "club")
	take := write(t, "Oriel Nash_2026-03-14.csv", takeAsCSV(nil))
	sheet := write(t, "known.csv", []byte("file,serve,serve_type,ball_speed_kmh,level\n"+
		"Oriel Nash_2026-03-14,1,kick,144,\nOriel Nash_2026-03-14,2,flat,,\nother,1,flat,,\nOriel Nash_2026-03-14,,,,club\n"))
	args := []string{"import", "--season", dir, "--names", "{player}_{session}", "--particulars", sheet, "--pseudonyms", take}
	dry := ok(t, append(args, "--dry-run")...)
	if !strings.Contains(dry, "serve 1: serve_type is kick") || !strings.Contains(dry, "nothing stored") {
		t.Errorf("dry run: %s", dry)
	}
	if _, err := os.Stat(dir); err == nil {
		t.Error("a dry run made the season")
	}
	s := run(args...)
	if s.code != 0 || !strings.Contains(s.err, "no file was given for the rows in lines 4") {
		t.Fatalf("exit code %d, said %s", s.code, s.err)
	}
	if strings.Contains(s.out, "Nash") || !strings.Contains(s.out, "P01") {
		t.Errorf("printed %s", s.out)
	}
	again := run(args...)
	if again.code != 0 || !strings.Contains(again.out, "already there") {
		t.Errorf("again: %s%s", again.out, again.err)
	}
	out := filepath.Join(t.TempDir(), "serves.csv")
	ok(t, "export", "--season", dir, "--table", "serves", "-o", out)
	text, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"P01", "2026-03-14", "kick", "flat", "club", ",40,"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("%s is not in %s", want, text)
		}
	}
	if strings.Contains(string(text), "Nash") {
		t.Errorf("the name is in %s", text)
	}
}

// TestMapsAreKept says a landmark map once and imports another take of the same points without it.
func TestMapsAreKept(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "club")
	rename := func(content []byte) []byte {
		return []byte(strings.ReplaceAll(string(content), "left_knee_", "marker_7_"))
	}
	first := write(t, "a.csv", rename(takeAsCSV(nil)))
	second := write(t, "b.csv", rename(takeAsCSV(func(i int, line string) string {
		if i == 0 {
			return strings.Replace(line, ".", ".0", 1)
		}
		return line
	})))
	before := ok(t, "import", "--season", dir, "--dry-run", first)
	if !strings.Contains(before, "marker_7") || strings.Contains(before, "kept for these points") {
		t.Errorf("before: %s", before)
	}
	ok(t, "import", "--season", dir, "--map", "left_knee=marker_7", first)
	if after := ok(t, "import", "--season", dir, second); !strings.Contains(after, "the one that was kept for these points") {
		t.Errorf("after: %s", after)
	}
}

// TestExportedC3DComesBack writes the season's takes as C3D and imports them into another season.
func TestExportedC3DComesBack(t *testing.T) {
	dir, other, folder := imported(t), filepath.Join(t.TempDir(), "other"), filepath.Join(t.TempDir(), "takes")
	ok(t, "export", "--season", dir, "--table", "frames", "--format", "c3d", "-o", folder)
	paths, _ := filepath.Glob(filepath.Join(folder, "*.c3d"))
	if len(paths) != 1 {
		t.Fatalf("wrote %v", paths)
	}
	f := reportOf(t, ok(t, "import", "--season", other, "--json", paths[0])).Files[0]
	was := reportOf(t, ok(t, "import", "--season", other, "--dry-run", "--json", write(t, "take.csv", takeAsCSV(nil)))).Files[0]
	if f.Frames != was.Frames || f.RateHz != was.RateHz || len(f.Serves) != len(was.Serves) || f.Hand != was.Hand {
		t.Errorf("came back as %+v, was %+v", f, was)
	}
	if s := run("export", "--season", dir, "--table", "serves", "--format", "c3d", "-o", folder); s.code == 0 {
		t.Error("serves were written as C3D")
	}
}
