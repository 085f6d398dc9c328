package command

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// severalInOne is a file with two recordings of the short take, told apart by a column trial.
func severalInOne(t *testing.T, name string, trials ...string) string {
	t.Helper()
	return write(t, name, []byte(severalText(trials...)))
}

// severalText is what stands in such a file.
func severalText(trials ...string) string {
	titles, rows, _ := strings.Cut(string(takeAsCSV(nil)), "\n")
	all := "trial," + titles + "\n"
	for _, trial := range trials {
		all += regexp.MustCompile(`(?m)^(.)`).ReplaceAllString(rows, trial+",$1")
	}
	return all
}

// TestPartsComeBack corrects a season of a file with several recordings, and brings what it exports into another one.
func TestPartsComeBack(t *testing.T) {
	take := severalInOne(t, "day.csv", "morning", "noon: hot")
	dir := correctedSeason(t, take)
	want := shown(t, dir)
	for _, name := range []string{`"day.csv: morning"`, `"day.csv: noon: hot"`, `"Oriel Nash"`} {
		if !strings.Contains(want["serves"], name) {
			t.Fatalf("%s is not in %s", name, want["serves"])
		}
	}
	for name, tables := range map[string][]string{
		"serves and events": {"serves", "events"}, "all": returning, "changes": {"serves", "changes", "groups"},
	} {
		var flags []string
		for _, table := range tables {
			flags = append(flags, "--particulars", exported(t, dir, table, "arrow"))
		}
		other := filepath.Join(t.TempDir(), "other")
		s := run(append(append([]string{"import", "--season", other}, flags...), take)...)
		if s.code != 0 || len(tables) > 2 && s.err != "" {
			t.Fatalf("%s: exit code %d, said %s", name, s.code, s.err)
		}
		got := shown(t, other)
		if len(tables) > 2 {
			for _, table := range []string{"serves", "events", "frames", "groups"} {
				if got[table] != want[table] {
					t.Errorf("%s: %s came back as\n%.3000s\nwas\n%.3000s", name, table, got[table], want[table])
				}
			}
		} else if !strings.Contains(got["serves"], `"Oriel Nash","2026-04-01"`) ||
			!strings.Contains(got["serves"], `"Tuva Brandt","2026-03-14"`) {
			t.Errorf("%s: serves %s", name, got["serves"])
		}
	}
}

// TestPartsByTheirLastPiece calls the recordings of a file by the last of the labels that tell them apart, where one
// has it, before they are stored and afterwards. A row about one that is not in the file is told.
func TestPartsByTheirLastPiece(t *testing.T) {
	take := write(t, "day.csv", []byte("player,"+severalText("Oriel Nash,T1", "Tuva Brandt,T2", "Oriel Nash,T3",
		"Tuva Brandt,T3")))
	known := write(t, "known.csv", []byte("file,part,session,hand,serve,serve_type\nday.csv,T1,2026-01-02,,1,flat\n"+
		"day.csv,T2,2026-01-03,,,\nday.csv,T9,2026-01-04,,1,kick\nday.csv,T3,,,1,slice\n"+
		"day.csv,\"Oriel Nash, T3\",,,1,kick\n"))
	const missing = "no recording, serve or table was found for line 4, line 5\n"
	one, two := filepath.Join(t.TempDir(), "one"), filepath.Join(t.TempDir(), "two")
	ok(t, "import", "--season", two, take)
	for name, args := range map[string][]string{
		"with the file": {"import", "--season", one, "--particulars", known, take},
		"afterwards":    {"import", "--season", two, "--particulars", known},
	} {
		if s := run(args...); s.code != 0 || !strings.HasSuffix(s.err, missing) {
			t.Errorf("%s: exit code %d, said %s", name, s.code, s.err)
		}
		got := text(t, exported(t, args[2], "serves", "csv"))
		for _, want := range []string{`"day.csv: Oriel Nash, T1","Oriel Nash","2026-01-02",.*,"flat",`,
			`"day.csv: Oriel Nash, T3","Oriel Nash",.*,"kick",`, `"day.csv: Tuva Brandt, T2","Tuva Brandt","2026-01-03"`} {
			if !regexp.MustCompile(want).MatchString(got) {
				t.Errorf("%s: no %s in\n%s", name, want, got)
			}
		}
		if strings.Contains(got, `"slice"`) {
			t.Errorf("%s: a piece that two have was taken: %s", name, got)
		}
	}
}

// TestPseudonymsHold brings tables that know players by name into a season that keeps pseudonyms: no name gets in.
func TestPseudonymsHold(t *testing.T) {
	const secret = "Oriel Nash"
	named := filepath.Join(t.TempDir(), "named")
	take := severalInOne(t, "day.csv", "morning", secret+" noon")
	known := write(t, "known.csv", []byte("file,part,player,level,session\nday.csv,morning,"+secret+",club,\n"+
		"day.csv,"+secret+" noon,Tuva Brandt,national,2026-05-01\n"))
	ok(t, "import", "--season", named, "--player", secret, "--height", "1.7", "--particulars", known, take)
	rename := write(t, "changes.csv", []byte("target,subject,field,value\nplayer,"+secret+",birth_year,2008\n"+
		"player,"+secret+",height_m,1.75\n"))
	ok(t, "import", "--season", named, "--particulars", rename)
	tables := []string{"--particulars", known}
	for _, table := range []string{"serves", "events", "changes"} {
		tables = append(tables, "--particulars", exported(t, named, table, "parquet"))
	}

	dir := filepath.Join(t.TempDir(), "club")
	s := run(append(append([]string{"import", "--season", dir, "--player", secret, "--pseudonyms"}, tables...), take)...)
	if s.code != 0 || s.err != "" {
		t.Errorf("exit code %d, said %s", s.code, s.err)
	}
	before := text(t, exported(t, dir, "serves", "csv"))
	for _, want := range []string{`"P01"`, `"P02"`, `"club"`, `"national"`, `"2026-05-01"`, ",2008,", ",1.75,"} {
		if !strings.Contains(before, want) {
			t.Errorf("%s is not in %s", want, before)
		}
	}
	// Later the tables come once more, without files.
	s = run(append([]string{"import", "--season", dir}, tables...)...)
	if s.code != 0 || strings.Contains(s.out+s.err, "Nash") {
		t.Errorf("again: exit code %d, printed %s%s", s.code, s.out, s.err)
	}
	if after := text(t, exported(t, dir, "serves", "csv")); after != before {
		t.Errorf("serves\n%s\nwere\n%s", after, before)
	}
	filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() && strings.Contains(text(t, path), "Nash") {
			t.Errorf("the name is in %s", filepath.Base(path))
		}
		return nil
	})
}

// TestPseudonymousFilesByTheirNames speaks of files whose names had the name of the player in them.
func TestPseudonymousFilesByTheirNames(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "club")
	ok(t, "import", "--season", dir, "--player", "Tuva  Brandt", "--pseudonyms", write(t, "tuva-brandt_2026-03-14.csv",
		takeAsCSV(nil)))
	known := write(t, "known.csv", []byte("file,serve,serve_type\nTuva-Brandt_2026-03-14.csv,1,kick\n"+
		"tuva-brandt_2026-03-14,2,slice\ntuva_2026-03-14.csv,2,flat\n"))
	s := run("import", "--season", dir, "--particulars", known)
	if s.code != 0 || !strings.HasSuffix(s.err, "was found for line 4\n") {
		t.Errorf("exit code %d, said %s", s.code, s.err)
	}
	got := text(t, exported(t, dir, "serves", "csv"))
	if !regexp.MustCompile(`(?s)"P01-?_2026-03-14.csv".*"kick".*"slice"`).MatchString(got) {
		t.Errorf("serves %s", got)
	}
}

// TestSeasonComesBackByItsFrames brings the frames of a season, and the tables about its serves, where its files are not.
func TestSeasonComesBackByItsFrames(t *testing.T) {
	take := write(t, "take.csv", takeAsCSV(nil))
	dir, other := filepath.Join(t.TempDir(), "club"), filepath.Join(t.TempDir(), "other")
	known := write(t, "known.csv", []byte("file,serve,serve_type,ball_speed_m_s,group\ntake,1,kick,41.25,first\n"+
		"take,2,flat,,all\ntake,1,,,all\n"))
	ok(t, "import", "--season", dir, "--player", "Tuva Brandt", "--session", "2026-03-14", "--height", "1.81",
		"--fact", "level=club", "--particulars", known, take)
	for _, format := range []string{"csv", "parquet", "arrow"} {
		flags := []string{"import", "--season", other + format}
		for _, table := range []string{"serves", "events", "groups"} {
			flags = append(flags, "--particulars", exported(t, dir, table, format))
		}
		s := run(append(flags, exported(t, dir, "frames", format))...)
		if s.code != 0 || s.err != "" {
			t.Fatalf("%s: exit code %d, said %s", format, s.code, s.err)
		}
		got := text(t, exported(t, other+format, "serves", "csv"))
		for _, want := range []string{
			`"Tuva Brandt","2026-03-14","left",2.\d+,1.81,"club",,"kick",,,41.25,,,0,\d+,200`,
			`"Tuva Brandt","2026-03-14","left",2.\d+,1.81,"club",,"flat",,,,,,0,\d+,200`,
		} {
			if !regexp.MustCompile(want).MatchString(got) {
				t.Errorf("%s: no %s in\n%s", format, want, got)
			}
		}
		if groups := text(t, exported(t, other+format, "groups", "csv")); strings.Count(groups, "\n") != 4 {
			t.Errorf("%s: groups %s", format, groups)
		}
	}
	// An event that was set by hand has a time in a recording that is not there: that is told.
	first := strings.Split(strings.Split(text(t, exported(t, dir, "serves", "csv")), "\n")[1], "\"")[1]
	moved := write(t, "moved.csv", []byte("file,serve,event,time_s,by_hand\ntake.csv,"+first+",trophy,2.5,true\n"))
	s := run("import", "--season", other+"csv", "--particulars", moved)
	if s.code != 0 || !strings.Contains(s.err, "no recording, serve or table was found for line 2") {
		t.Errorf("exit code %d, said %s", s.code, s.err)
	}
	// With the serves, which tell when its frames begin, it finds its place.
	row := strings.Split(strings.Split(text(t, exported(t, dir, "serves", "csv")), "\n")[1], ",")
	frame, err := strconv.Atoi(row[len(row)-3])
	if err != nil {
		t.Fatal(err)
	}
	s = run("import", "--season", other+"csv", "--particulars", moved, "--particulars", exported(t, dir, "serves", "csv"))
	want := regexp.MustCompile(fmt.Sprintf(`"trophy",%.3f\d*,.*true,`, 2.5-float64(frame)/200))
	if events := text(t, exported(t, other+"csv", "events", "csv")); s.code != 0 || s.err != "" ||
		!want.MatchString(events) {
		t.Errorf("exit code %d, said %s, want %s in %s", s.code, s.err, want, events)
	}
}
