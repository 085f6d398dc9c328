package command

import (
	"os"
	"path/filepath"
	"regexp"
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
	if s.code != 0 || !strings.Contains(s.err, "no recording, serve or table was found for line 4") {
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

// TestExportedTablesComeBack corrects a season by a table, and gives another one with the same recording its tables of
// serves and events: then both export the same.
func TestExportedTablesComeBack(t *testing.T) {
	take := write(t, "take.csv", takeAsCSV(nil))
	dir := filepath.Join(t.TempDir(), "club")
	ok(t, "import", "--season", dir, "--player", "Tuva Brandt", "--session", "2026-03-14", take)
	rows := strings.Split(text(t, exported(t, dir, "serves", "csv")), "\n")
	first, second := strings.Split(rows[1], "\"")[1], strings.Split(rows[2], "\"")[1]
	known := write(t, "known.csv", []byte("file,serve,stance,level,left_out,event,time_s,by_hand\n"+
		"take.csv,,foot up,club,,,,\ntake.csv,"+second+",,,\"discarded: =a practice, swing\",,,\n"+
		"take.csv,"+first+",,,,contact,0.5,true\ntake.csv,"+first+",,,,trophy,0.25,false\n"+
		"other.csv,nothing,platform,,discarded: x,,,\n"))
	s := run("import", "--season", dir, "--particulars", known)
	if s.code != 0 || !strings.Contains(s.out, "5 particulars said") || !strings.Contains(s.out, "5 changed") ||
		!strings.Contains(s.err, "no recording, serve or table was found for line 6") {
		t.Fatalf("exit code %d: %s%s", s.code, s.out, s.err)
	}
	if again := ok(t, "import", "--season", dir, "--particulars", known); !strings.Contains(again, "0 changed") {
		t.Errorf("again: %s", again)
	}
	want := [2]string{text(t, exported(t, dir, "serves", "csv")), text(t, exported(t, dir, "events", "csv"))}
	for _, part := range []string{"\"discarded: =a practice, swing\"", "pinpoint", "club"} {
		if !strings.Contains(want[0], part) {
			t.Errorf("%s is not in %s", part, want[0])
		}
	}
	if !strings.Contains(want[1], "\"contact\",0.5,") || strings.Contains(want[1], "\"trophy\",0.25,") {
		t.Errorf("events %s", want[1])
	}
	if s := run("import", "--season", dir, "--particulars", exported(t, dir, "measures", "parquet")); s.code != 0 ||
		!strings.Contains(s.out, "0 changed") {
		t.Errorf("measures: exit code %d: %s%s", s.code, s.out, s.err)
	}
	other := filepath.Join(t.TempDir(), "other")
	ok(t, "import", "--season", other, "--particulars", exported(t, dir, "serves", "csv"), "--particulars",
		exported(t, dir, "events", "arrow"), take)
	got := [2]string{text(t, exported(t, other, "serves", "csv")), text(t, exported(t, other, "events", "csv"))}
	if got != want {
		t.Errorf("came back as %s", got)
	}
}

// TestTablesAreRefused gives tables that are none, or about nothing.
func TestTablesAreRefused(t *testing.T) {
	dir := imported(t)
	for name, c := range map[string]struct{ content, want string }{
		"damaged.parquet": {"PAR1 and nothing more", "the end of the Parquet file is missing"},
		"damaged.arrow":   {"ARROW1\x00\x00\xff\xff\xff\xff\x10\x00\x00\x00", "damaged"},
		"empty.csv":       {"", "the table of particulars is empty"},
		"other.csv":       {"a,b\n1,2\n", "needs a column file"},
		"event.csv":       {"file,event,time_s,by_hand\na,contact,soon,true\n", "line 2: column time_s: expected the seconds"},
	} {
		s := run("import", "--season", dir, "--particulars", write(t, name, []byte(c.content)))
		if s.code == 0 || !strings.Contains(s.err, c.want) || !strings.Contains(s.err, name) {
			t.Errorf("%s: exit code %d, said %s, want %s", name, s.code, s.err, c.want)
		}
	}
	if s := run("import", "--season", dir, write(t, "serves.csv", []byte("file,level\na,b\n"))); s.code == 0 ||
		!strings.Contains(s.err, "no table of points was found") || !strings.Contains(s.err, "comes in with --particulars") {
		t.Errorf("a table as a recording: %s", s.err)
	}
	if s := run("import", "--season", dir); s.code == 0 || !strings.Contains(s.err, "import needs a file, or a table") {
		t.Errorf("nothing to import: %s", s.err)
	}
	for _, flag := range []string{"--fact=level=club", "--names={player}", "--pseudonyms", "--player=Ole"} {
		s := run("import", "--season", dir, "--particulars", write(t, "a.csv", []byte("file,level\na,b\n")), flag)
		if s.code == 0 || !strings.Contains(s.err, "is about files, and none was given") {
			t.Errorf("%s: exit code %d, said %s", flag, s.code, s.err)
		}
	}
	nowhere := filepath.Join(t.TempDir(), "none")
	if s := run("import", "--season", nowhere, "--particulars", write(t, "a.csv", []byte("file,level\na,b\n"))); s.code == 0 ||
		!strings.Contains(s.err, "holds no season") {
		t.Errorf("no season: %s", s.err)
	}
}

// TestStoredDespiteItsTable has a table say what can't be of a file that is stored by then: it is told as stored.
func TestStoredDespiteItsTable(t *testing.T) {
	dir, take := filepath.Join(t.TempDir(), "club"), write(t, "take.csv", takeAsCSV(nil))
	known := write(t, "known.csv", []byte("file,serve,serve_type,first_frame,last_frame\ntake.csv,1,kick,0,99999999\n"))
	s := run("import", "--season", dir, "--json", "--particulars", known, take)
	f := reportOf(t, s.out).Files[0]
	if s.code == 0 || f.Outcome != "new" || len(f.Serves) != 2 || f.Serves[0].Serve == "" ||
		!strings.Contains(f.Error, "take.csv is stored, but not all that is known of it: serve ") ||
		!strings.Contains(f.Error, "a serve that ends with frame 99999999") {
		t.Errorf("exit code %d, report %+v", s.code, f)
	}
	again := run("import", "--season", dir, "--particulars", known, take)
	if again.code == 0 || !strings.Contains(again.out, "already there") || !strings.Contains(again.err, "is stored, but") {
		t.Errorf("again: %s%s", again.out, again.err)
	}
	if serves := text(t, exported(t, dir, "serves", "csv")); strings.Contains(serves, "kick") {
		t.Errorf("half of the row is stored: %s", serves)
	}
}

// TestOwnErrorIsTold gives a damaged recording that has the columns of a table of particulars too.
func TestOwnErrorIsTold(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "club")
	rows := strings.Split(string(takeAsCSV(nil)), "\n")
	for i := range rows {
		rows[i] = "take.csv,club," + rows[i]
	}
	rows[0] = strings.Replace(rows[0], "take.csv,club", "file,level", 1)
	rows[57] += ",surplus,surplus"
	s := run("import", "--season", dir, write(t, "take.csv", []byte(strings.Join(rows[:len(rows)-1], "\n"))))
	if s.code == 0 || !strings.Contains(s.err, "take.csv, line 58") {
		t.Errorf("exit code %d, said %s", s.code, s.err)
	}
}

// TestFlagsAreReadAsTablesAre says in a dry run what an import would refuse, and takes what tables take.
func TestFlagsAreReadAsTablesAre(t *testing.T) {
	take := write(t, "take.csv", takeAsCSV(nil))
	dir := filepath.Join(t.TempDir(), "season")
	for flag, says := range map[string]string{
		"--session=yesterday": "expected a date",
		"--height=9":          "expected a height in metres or centimetres",
		"--hand=both":         "expected left or right",
	} {
		s := run("import", "--season", dir, "--dry-run", flag, take)
		if s.code == 0 || !strings.Contains(s.err, flag+": "+says) {
			t.Errorf("%s: exit code %d: %s", flag, s.code, s.err)
		}
	}
	told := ok(t, "import", "--season", dir, "--dry-run", "--session=14.03.2026", "--height=181", "--hand=R", take)
	for _, fact := range []string{`session +2026-03-14 +\(said\)`, `height +1\.81 m +\(said\)`, `hand +right +\(said\)`} {
		if !regexp.MustCompile(fact).MatchString(told) {
			t.Errorf("no %s in\n%s", fact, told)
		}
	}
}
