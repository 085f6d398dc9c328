package command

import (
	"context"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"tossline/datasets/season"
	"tossline/kernel/motion"
)

// Tables that leave a season and come back.
var returning = []string{"serves", "events", "changes", "groups"}

// exported writes a table of a season and gives its path.
func exported(t *testing.T, dir, table, format string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), table+"."+format)
	ok(t, "export", "--season", dir, "--table", table, "--format", format, "-o", path)
	return path
}

func text(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// withTables gives the flags that bring the tables of a season back.
func withTables(t *testing.T, dir, format string) (flags []string) {
	for _, table := range returning {
		flags = append(flags, "--particulars", exported(t, dir, table, format))
	}
	return flags
}

// correctedSeason has two takes and changes by hand of every kind, some of them undone, and groups.
func correctedSeason(t *testing.T, takes ...string) (dir string) {
	t.Helper()
	dir = filepath.Join(t.TempDir(), "club")
	ok(t, append([]string{"import", "--season", dir, "--session", "2026-03-14", "--player", "Tuva Brandt",
		"--height", "1.8", "--fact", "level=club"}, takes...)...)
	ctx := context.Background()
	w, err := season.OpenForWriting(dir, "test")
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	must := func(edits []season.Edit, err error) int64 {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		batch, err := w.Edit(ctx, edits...)
		if err != nil {
			t.Fatal(err)
		}
		return batch
	}
	c, err := w.Snapshot(ctx)
	if err != nil || c.Rows() != 4 {
		t.Fatal(c.Rows(), err)
	}
	var ids []motion.ServeID
	for row := range c.Rows() {
		ids = append(ids, c.Row(row).ID)
	}
	contact := func(i int) float64 { return c.Row(i).ContactS() }
	on := func(target season.Target, subject, field, value string) season.Edit {
		return season.Edit{Target: target, Subject: subject, Field: field, Value: value}
	}
	must([]season.Edit{season.MoveEvent(ids[0], motion.Contact, contact(0)+0.0123),
		on(season.OnServe, string(ids[0]), "event.trophy", "")}, nil)
	must([]season.Edit{season.Discard(ids[1], "=a \"let\", he said"),
		on(season.OnServe, string(ids[1]), "outcome", "-net")}, nil)
	must([]season.Edit{season.Discard(ids[0], "a let")}, nil)
	must([]season.Edit{on(season.OnServe, string(ids[0]), "discarded", "")}, nil)
	undone := must([]season.Edit{on(season.OnServe, string(ids[0]), "serve_type", "kick")}, nil)
	if err := w.Undo(ctx, undone); err != nil {
		t.Fatal(err)
	}
	first, second := season.RecordingOf(ids[0]), season.RecordingOf(ids[3])
	must([]season.Edit{on(season.OnServe, string(ids[0]), "stance_type", "pinpoint"),
		on(season.OnServe, string(ids[0]), "ball_speed_m_s", "41.512345678901"),
		on(season.OnRecording, second, "session", "2026-04-01"), on(season.OnRecording, second, "player", "Oriel Nash"),
		on(season.OnPlayer, "Oriel Nash", "birth_year", "2009"),
		on(season.OnServe, string(ids[3]), "ball_speed_m_s", "45.0"),
		on(season.OnPlayer, "Tuva Brandt", "height_m", "1.8123456789")}, nil)
	s := c.Row(0)
	must([]season.Edit{on(season.OnServe, string(ids[0]), "stretch", fmt.Sprintf("%d-%d", s.First+3, s.Last-2))}, nil)
	edits, whole, err := w.Merge(ctx, ids[2], ids[3])
	must(edits, err)
	edits, parts, err := w.Split(ctx, whole, (contact(2)+contact(3))/2)
	must(edits, err)
	must([]season.Edit{on(season.OnServe, string(parts[1]), "court_side", "ad")}, nil)
	must(w.Recut(ctx, first, motion.HandLeft))
	for name, serves := range map[string][]motion.ServeID{"finals, day 1": {parts[1], ids[0]}, "=all": ids} {
		if err := w.SaveGroup(ctx, season.Group{Name: name, Serves: serves}); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// whenMade are the columns of a table of changes that tell when each was made and with which.
var whenMade = regexp.MustCompile(`(?m),\d+,[-0-9T:.]+Z,[-0-9T:.]*Z?$`)

// shown is what a season exports, by default every table, without what tells it from others: times of changes and what
// is not in force.
func shown(t *testing.T, dir string, tables ...string) map[string]string {
	if len(tables) == 0 {
		tables = []string{"serves", "events", "measures", "frames", "groups", "changes"}
	}
	all := map[string]string{}
	for _, table := range tables {
		all[table] = text(t, exported(t, dir, table, "csv"))
	}
	all["changes"] = whenMade.ReplaceAllString(all["changes"], "")
	return all
}

// TestSeasonComesBack brings the tables that a corrected season exports into a fresh one with the same files, in every
// format. Then both show the same, and export the same.
func TestSeasonComesBack(t *testing.T) {
	takes := []string{write(t, "one.csv", takeAsCSV(nil)), write(t, "two.csv", takeAsCSV(func(i int, line string) string {
		if i == 0 {
			return strings.Replace(line, ".", ".0", 1)
		}
		return line
	}))}
	dir := correctedSeason(t, takes...)
	want := shown(t, dir)
	var last map[string]string
	for _, format := range []string{"csv", "parquet", "arrow"} {
		other := filepath.Join(t.TempDir(), "other")
		s := run(append(append([]string{"import", "--season", other}, withTables(t, dir, format)...), takes...)...)
		if s.code != 0 || s.err != "" {
			t.Fatalf("%s: exit code %d, said %s", format, s.code, s.err)
		}
		got := shown(t, other)
		for _, table := range []string{"serves", "events", "measures", "frames", "groups"} {
			if got[table] != want[table] {
				t.Errorf("%s: %s came back as\n%.3000s\nwas\n%.3000s", format, table, got[table], want[table])
			}
		}
		if last != nil && got["changes"] != last["changes"] {
			t.Errorf("%s: changes are\n%s\nin another format\n%s", format, got["changes"], last["changes"])
		}
		last = got

		// What came back says the same again: nothing changes.
		again := ok(t, append([]string{"import", "--season", other}, withTables(t, dir, format)...)...)
		if regexp.MustCompile(`; [1-9]\d* `).MatchString(again) {
			t.Errorf("%s: again: %s", format, again)
		}
	}

	// Events say nothing that changes don't.
	third := filepath.Join(t.TempDir(), "third")
	ok(t, append([]string{"import", "--season", third, "--particulars", exported(t, dir, "serves", "csv"),
		"--particulars", exported(t, dir, "changes", "arrow"), "--particulars", exported(t, dir, "groups", "parquet")},
		takes...)...)
	for table, text := range shown(t, third) {
		if text != last[table] {
			t.Errorf("%s of a third season\n%.3000s\nwant\n%.3000s", table, text, last[table])
		}
	}
}

// TestChangesAreOneBatch brings changes into a season that had the recordings, and takes them back.
func TestChangesAreOneBatch(t *testing.T) {
	take := write(t, "one.csv", takeAsCSV(nil))
	second := write(t, "two.csv", append(takeAsCSV(nil), '\n'))
	dir, other := correctedSeason(t, take, second), filepath.Join(t.TempDir(), "other")
	ok(t, "import", "--season", other, "--player", "Tuva Brandt", take)
	before := shown(t, other, "serves", "events", "measures")
	changes := exported(t, dir, "changes", "parquet")
	dry := run("import", "--season", other, "--particulars", changes, "--dry-run")
	s := run("import", "--season", other, "--particulars", changes)
	if s.code != 0 || !regexp.MustCompile(`\d+ changes by hand in .*changes.parquet; \d+ made`).MatchString(s.out) {
		t.Errorf("exit code %d, printed %s", s.code, s.out)
	}
	if !strings.Contains(dry.out, "nothing stored") || dry.err != s.err {
		t.Errorf("dry run: printed %s, said %s", dry.out, dry.err)
	}
	if !strings.Contains(s.err, "no recording, serve or table was found for row") {
		t.Errorf("said %s", s.err)
	}
	w, err := season.OpenForWriting(other, "test")
	if err != nil {
		t.Fatal(err)
	}
	made, err := w.History(context.Background(), 10)
	if err != nil || len(made) != 1 {
		t.Fatalf("%d batches, %v", len(made), err)
	}
	if err := w.Undo(context.Background(), made[0].Number); err != nil {
		t.Fatal(err)
	}
	w.Close()
	for table, text := range shown(t, other, "serves", "events", "measures") {
		if text != before[table] {
			t.Errorf("undone: %s\n%s\nwant\n%s", table, text, before[table])
		}
	}
}

// TestChangesAreChecked gives tables of changes with something wrong in them: nothing of such a table is stored.
func TestChangesAreChecked(t *testing.T) {
	dir := imported(t)
	serve := strings.Split(strings.Split(text(t, exported(t, dir, "serves", "csv")), "\n")[1], "\"")[1]
	const titles = "target,subject,field,value,batch\n"
	good := "serve," + serve + ",serve_type,kick,1\n"
	for name, c := range map[string]struct{ rows, want string }{
		"no such value":  {good + "serve," + serve + ",court_side,middle,2\n", "line 3: serve " + serve + `: "middle"`},
		"no such field":  {good + "serve," + serve + ",colour,red,2\n", `line 3: a serve has no field "colour"`},
		"no such target": {good + "court,3,surface,clay,2\n", `line 3: a court has no field "surface"`},
		"out of order":   {"serve," + serve + ",event.contact,999,2\n" + good, "line 2: contact at 999.00 s"},
		"no subject":     {good + "serve,,serve_type,flat,2\n", "line 3: a change needs"},
		"no batch":       {good + "serve," + serve + ",serve_type,flat,first\n", "line 3: column batch: expected"},
	} {
		before := shown(t, dir, "serves", "changes")
		s := run("import", "--season", dir, "--particulars", write(t, "changes.csv", []byte(titles+c.rows)))
		if s.code == 0 || !strings.Contains(s.err, "changes.csv: "+c.want) {
			t.Errorf("%s: exit code %d, said %s, want %s", name, s.code, s.err, c.want)
		}
		if after := shown(t, dir, "serves", "changes"); !maps.Equal(after, before) {
			t.Errorf("%s: something was stored", name)
		}
	}
	// By batch, whatever the order of the rows; what was undone does not count.
	said := func(kind, batch string) string { return "serve," + serve + ",serve_type," + kind + "," + batch + "\n" }
	ok(t, "import", "--season", dir, "--particulars", write(t, "changes.csv", []byte(
		"Target,Subject,Field,Value,batch,undone_at\n"+said("slice", "2")+said("kick", "1")+said("flat", "3,yesterday"))))
	if serves := text(t, exported(t, dir, "serves", "csv")); !strings.Contains(serves, `"slice"`) {
		t.Errorf("serves %s", serves)
	}
}

// TestGroupsComeIn puts serves into groups by their number, by contact and by id; those that are there stay.
func TestGroupsComeIn(t *testing.T) {
	dir := imported(t)
	rows := strings.Split(text(t, exported(t, dir, "serves", "csv")), "\n")
	id := func(i int) string { return strings.Split(rows[i], "\"")[1] }
	groups := write(t, "groups.csv", []byte("group,file,serve\nlate,take.csv,2\nlate,take.csv,3\nboth,,"+id(2)+
		"\nboth,take,1\nnobody,take.csv,gone-1\n"))
	s := run("import", "--season", dir, "--particulars", groups)
	if s.code != 0 || !strings.Contains(s.out, "group late: 1 serve; 1 added") ||
		!strings.Contains(s.out, "group both: 2 serves; 2 added") || strings.Contains(s.out, "nobody") ||
		!strings.Contains(s.err, "line 3: there is no such serve in take.csv") ||
		!strings.Contains(s.err, "no recording, serve or table was found for line 6") {
		t.Errorf("exit code %d: %s%s", s.code, s.out, s.err)
	}
	out := text(t, exported(t, dir, "groups", "csv"))
	var got []string
	for _, line := range strings.Split(strings.TrimSpace(out), "\n")[1:] {
		got = append(got, strings.Join(strings.Split(line, ",")[:2], " "))
	}
	want := []string{`"both" "` + id(2) + `"`, `"both" "` + id(1) + `"`, `"late" "` + id(2) + `"`}
	if !slices.Equal(got, want) {
		t.Errorf("groups %v, want %v", got, want)
	}
	more := write(t, "more.csv", []byte("group,file,serve\nlate,take.csv,1\n"))
	if out := ok(t, "import", "--season", dir, "--particulars", more); !strings.Contains(out, "2 serves; 1 added") {
		t.Errorf("more: %s", out)
	}
}

// asC3D writes the recordings of a season as C3D and gives the files.
func asC3D(t *testing.T, dir string) []string {
	t.Helper()
	folder := t.TempDir()
	ok(t, "export", "--season", dir, "--table", "frames", "--format", "c3d", "-o", folder)
	files, err := filepath.Glob(filepath.Join(folder, "*.c3d"))
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// recordingsOf gives the ids of the recordings of a season, and their files.
func recordingsOf(t *testing.T, dir string) (ids, files []string) {
	t.Helper()
	for _, r := range catalogueOf(t, dir).Recordings() {
		ids, files = append(ids, r.ID), append(files, r.File)
	}
	return ids, files
}

// TestSeasonComesBackOntoC3D exports a corrected season as C3D, and brings its tables onto the copies: with the files,
// afterwards, and in a dry run.
func TestSeasonComesBackOntoC3D(t *testing.T) {
	dir := correctedSeason(t, write(t, "one.csv", takeAsCSV(nil)), write(t, "two.csv", append(takeAsCSV(nil), '\n')))
	copies := asC3D(t, dir)
	whole := []string{"serves", "events", "groups"}
	table := func(name string) []string { return []string{"--particulars", exported(t, dir, name, "parquet")} }
	for name, c := range map[string]struct {
		later bool
		with  []string
	}{
		"all with the files": {false, withTables(t, dir, "csv")},
		"all afterwards":     {true, withTables(t, dir, "arrow")},
		"changes":            {false, slices.Concat(table("changes"), table("groups"))},
	} {
		other := filepath.Join(t.TempDir(), "other")
		args := append([]string{"import", "--season", other}, copies...)
		if c.later {
			ok(t, args...)
			args = []string{"import", "--season", other}
		}
		args = append(args, c.with...)
		if dry := run(append(args, "--dry-run")...); dry.code != 0 || c.later && dry.err != "" {
			t.Errorf("%s, dry run: exit code %d, said %s", name, dry.code, dry.err)
		}
		if s := run(args...); s.code != 0 || s.err != "" {
			t.Errorf("%s: exit code %d, said %s", name, s.code, s.err)
		}
		sameOnCopies(t, name, dir, other, whole...)
	}
}

// TestCorrectionsComeBackOntoC3D brings serves and events, without the changes, onto the copies. What has the name of
// a recording, but other serves, is no copy.
func TestCorrectionsComeBackOntoC3D(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "club")
	ok(t, "import", "--season", dir, "--player", "Tuva Brandt", "--session", "2026-03-14",
		write(t, "one.csv", takeAsCSV(nil)))
	copies := asC3D(t, dir)
	w, err := season.OpenForWriting(dir, "test")
	if err != nil {
		t.Fatal(err)
	}
	c, err := w.Snapshot(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	first, second := c.Row(0), c.Row(1)
	_, err = w.Edit(context.Background(), season.MoveEvent(first.ID, motion.Contact, first.ContactS()+0.21),
		season.MoveEvent(first.ID, motion.Trophy, first.Events[motion.Trophy].TimeS-0.05),
		season.Edit{Target: season.OnServe, Subject: string(first.ID), Field: "serve_type", Value: "kick"},
		season.Edit{Target: season.OnServe, Subject: string(second.ID), Field: "court_side", Value: "ad"},
		season.Discard(second.ID, "a let"))
	w.Close()
	if err != nil {
		t.Fatal(err)
	}
	tables := []string{"--particulars", exported(t, dir, "serves", "csv"), "--particulars",
		exported(t, dir, "events", "arrow")}
	other, alike := filepath.Join(t.TempDir(), "other"), filepath.Join(t.TempDir(), "alike")
	s := run(slices.Concat([]string{"import", "--season", other}, tables, copies)...)
	if s.code != 0 || s.err != "" {
		t.Errorf("exit code %d, said %s", s.code, s.err)
	}
	sameOnCopies(t, "serves and events", dir, other, "serves", "events")

	lines := strings.SplitAfter(string(takeAsCSV(nil)), "\n")
	late := regexp.MustCompile(`(?m)^([\d.]+|time_s),`).ReplaceAllString(lines[0]+strings.Join(lines[100:], ""), "")
	tables = append(tables, "--particulars", exported(t, dir, "changes", "csv"))
	s = run(slices.Concat([]string{"import", "--season", alike, "--rate", "200"}, tables,
		[]string{write(t, "one.csv", []byte(late))})...)
	if s.code != 0 || !strings.Contains(s.err, "serves.csv: no recording, serve or table was found for line 2, line 3\n") ||
		!strings.Contains(s.err, "changes.csv: no recording, serve or table was found for line 2, ") {
		t.Errorf("exit code %d, printed %s, said %s", s.code, s.out, s.err)
	}
	if got := text(t, exported(t, alike, "serves", "csv")); strings.Contains(got, "kick") || strings.Contains(got, "let") {
		t.Errorf("serves %s", got)
	}
}

// sameOnCopies compares tables of a season with those of one that has its recordings as C3D.
func sameOnCopies(t *testing.T, name, dir, other string, tables ...string) {
	t.Helper()
	ids, files := recordingsOf(t, dir)
	now, called := recordingsOf(t, other)
	for _, table := range tables {
		want := text(t, exported(t, dir, table, "csv"))
		for i, file := range files {
			k := slices.Index(called, strings.TrimSuffix(file, ".csv")+".c3d")
			want = strings.ReplaceAll(strings.ReplaceAll(want, ids[i], now[k]), file, called[k])
		}
		if got := text(t, exported(t, other, table, "csv")); sorted(got) != sorted(want) {
			t.Errorf("%s: %s came back as\n%s\nwas\n%s", name, table, got, want)
		}
	}
}

func sorted(lines string) string {
	all := strings.Split(lines, "\n")
	slices.Sort(all)
	return strings.Join(all, "\n")
}
