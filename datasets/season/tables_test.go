package season

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow"

	"tossline/kernel/motion"
	"tossline/kernel/table"
)

// numbered is a small table whose content is its name.
func numbered(name string) arrow.Record {
	return table.New(
		table.Text("name", []string{name, ""}).Titled("Name"),
		table.Number("force_n", "N", []float64{float64(len(name)), 2}).Defined("At the plate."),
		table.Integer("place", []int64{1, 2}),
		table.Flag("ours", []bool{true, false}),
	).Record()
}

func keep(t *testing.T, w *Writer, name, content string) Outcome {
	t.Helper()
	outcome, err := w.KeepTable(context.Background(), name, content+".csv", numbered(content))
	if err != nil {
		t.Fatal(err)
	}
	return outcome
}

// held lists the tables of a season with what they hold, as catalogues show them.
func held(t *testing.T, s *Season) (all []string) {
	t.Helper()
	c := snapshot(t, s)
	for i, kept := range c.Tables() {
		content, err := c.Table(i)
		if err != nil {
			all = append(all, kept.Name+": "+err.Error())
			continue
		}
		all = append(all, kept.Name+": "+content.Texts("name")[0])
	}
	listed, err := s.Tables(context.Background())
	if err != nil || len(listed) != len(all) {
		t.Errorf("listed %v, %v", listed, err)
	}
	return all
}

func TestTablesAreKeptReplacedAndUndone(t *testing.T) {
	w := newSeason(t)
	ctx := context.Background()
	before := snapshot(t, w.Season)
	step := func(what string, want ...string) {
		t.Helper()
		if got := held(t, w.Season); !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	if outcome := keep(t, w, "lab", "first"); outcome != New {
		t.Errorf("outcome %q", outcome)
	}
	step("kept", "lab: first")
	if after := snapshot(t, w.Season); after.Stamp() == before.Stamp() || after.Revision() <= before.Revision() {
		t.Error("keeping a table makes no new revision")
	}
	if outcome := keep(t, w, "lab", "first"); outcome != Same {
		t.Errorf("outcome %q", outcome)
	}
	if outcome := keep(t, w, "lab", "second"); outcome != Replaced {
		t.Errorf("outcome %q", outcome)
	}
	keep(t, w, "a plate", "third")
	step("replaced", "a plate: third", "lab: second")
	if err := w.TakeOutTable(ctx, "lab"); err != nil {
		t.Fatal(err)
	}
	step("taken out", "a plate: third")
	made, err := w.Edits(ctx, "lab")
	if err != nil || len(made) != 3 {
		t.Fatalf("edits %v, %v", made, err)
	}
	for i, want := range []string{"lab: second", "lab: first"} {
		if err := w.Undo(ctx, made[i].Batch); err != nil {
			t.Fatal(err)
		}
		step("undone", "a plate: third", want)
	}
	again := reader(t, w.Dir())
	if got := held(t, again); !slices.Equal(got, []string{"a plate: third", "lab: first"}) {
		t.Errorf("another process sees %v", got)
	}
	if report, err := again.Verify(ctx, nil); err != nil || len(report.Problems) > 0 || report.Tables != 2 {
		t.Errorf("verify: %+v, %v", report, err)
	}
}

func TestTableIsStoredAsItIs(t *testing.T) {
	w := newSeason(t)
	keep(t, w, "lab", "first")
	c := snapshot(t, w.Season)
	record, err := c.TableRecord(0)
	if err != nil {
		t.Fatal(err)
	}
	want := numbered("first")
	if !record.Schema().Equal(want.Schema()) || fmt.Sprint(record) != fmt.Sprint(want) {
		t.Errorf("stored %v\nwant %v", record, want)
	}
	content, err := motion.NewSeason(context.Background(), c, nil).Table("lab")
	if err != nil || content.Unit("force_n") != "N" || content.Definition("force_n") != "At the plate." ||
		content.Title("name") != "Name" || content.Numbers("force_n")[1] != 2 || content.Texts("name")[1] != "" {
		t.Errorf("as recipes see it: %v, %v", content.Names(), err)
	}
}

func TestTableNames(t *testing.T) {
	w := newSeason(t)
	ctx := context.Background()
	for name, want := range map[string]string{
		"": "expected a name", " lab": "without blanks", "two\nlines": "on one line", "Serves": "of its own",
		"changes": "of its own", strings.Repeat("x", 101): "longer than", "\xff": "expected a name",
	} {
		if _, err := w.KeepTable(ctx, name, "f.csv", numbered("x")); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", name, err, want)
		}
	}
	keep(t, w, "force plates", "x")
	keep(t, w, "wellness", "x")
	season := motion.NewSeason(ctx, snapshot(t, w.Season), nil)
	for name, want := range map[string]string{
		"force plate": `the season keeps no table "force plate"; did you mean "force plates"?`,
		"lab":         `the season keeps no table "lab"; there are force plates and wellness`,
	} {
		if _, err := season.Table(name); err == nil || err.Error() != want {
			t.Errorf("%q: %v", name, err)
		}
		if err := w.TakeOutTable(ctx, name); err == nil || err.Error() != want {
			t.Errorf("taking %q out: %v", name, err)
		}
		if err := w.RemoveTable(ctx, name); err == nil || err.Error() != want {
			t.Errorf("removing %q: %v", name, err)
		}
	}
	if _, err := motion.NewSeason(ctx, snapshot(t, newSeason(t).Season), nil).Table("lab"); err == nil ||
		err.Error() != `the season keeps no table "lab"` {
		t.Errorf("without tables: %v", err)
	}
	foreign := Edit{OnTable, "lab", "content", strings.Repeat("a", 64)}
	if _, err := w.Edit(ctx, foreign); err == nil || !strings.Contains(err.Error(), "doesn't have its content") {
		t.Errorf("an edit of a content that is not there: %v", err)
	}
}

func TestRemovedTableIsGone(t *testing.T) {
	w := newSeason(t)
	ctx := context.Background()
	keep(t, w, "lab", "first")
	keep(t, w, "lab", "second")
	keep(t, w, "other", "second")
	if err := w.RemoveTable(ctx, "lab"); err != nil {
		t.Fatal(err)
	}
	if got := held(t, w.Season); !slices.Equal(got, []string{"other: second"}) {
		t.Errorf("left: %v", got)
	}
	if files, _ := os.ReadDir(filepath.Join(w.Dir(), tablesDir)); len(files) != 1 {
		t.Errorf("files %v", files)
	}
	if made, _ := w.Edits(ctx, "lab"); len(made) != 0 {
		t.Errorf("still known: %v", made)
	}
}

func TestDamagedTableTakesOutItselfAlone(t *testing.T) {
	for name, c := range map[string]struct {
		damage     func(path string) error
		why, check string
	}{
		"missing":   {os.Remove, "the file is missing", "its file is missing"},
		"empty":     {func(p string) error { return os.Truncate(p, 0) }, "empty", "empty"},
		"cut short": {func(p string) error { return os.Truncate(p, 300) }, "not what its hash says", "was changed"},
		"one bit": {func(p string) error {
			data, err := os.ReadFile(p)
			data[len(data)/2] ^= 1
			os.WriteFile(p, data, 0o644)
			return err
		}, "not what its hash says", "was changed"},
	} {
		t.Run(name, func(t *testing.T) {
			w := newSeason(t)
			add(t, w, invented("a", 2))
			keep(t, w, "lab", "first")
			keep(t, w, "other", "second")
			path := w.path(tablesDir, snapshot(t, w.Season).Tables()[0].SHA256)
			if err := c.damage(path); err != nil {
				t.Fatal(err)
			}
			s := reader(t, w.Dir())
			cat := snapshot(t, s)
			if _, err := cat.Table(0); err == nil || !strings.Contains(err.Error(), c.why) ||
				!strings.Contains(err.Error(), "the table lab can't be read") {
				t.Errorf("%v, want %q", err, c.why)
			}
			if _, err := cat.Table(1); err != nil || cat.Len() != 2 {
				t.Errorf("the rest: %v, %d serves", err, cat.Len())
			}
			report, err := s.Verify(context.Background(), nil)
			if err != nil || len(report.Problems) != 1 || report.Problems[0].Where != "table lab (first.csv)" ||
				!strings.Contains(report.Problems[0].Text, c.check) {
				t.Errorf("verify: %v, %v", report.Problems, err)
			}
			keep(t, w, "lab", "first")
			if got := held(t, reader(t, w.Dir())); !slices.Equal(got, []string{"lab: first", "other: second"}) {
				t.Errorf("kept again: %v", got)
			}
		})
	}
}

func TestLeftoversOfTablesAreSwept(t *testing.T) {
	w := newSeason(t)
	keep(t, w, "lab", "first")
	w.Close()
	for _, name := range []string{incoming + "123", strings.Repeat("c", 64) + ".arrow", "notes.txt"} {
		os.WriteFile(filepath.Join(w.Dir(), tablesDir, name), []byte("x"), 0o644)
	}
	w, err := OpenForWriting(w.Dir(), "test")
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	if files, _ := os.ReadDir(filepath.Join(w.Dir(), tablesDir)); len(files) != 2 || files[1].Name() != "notes.txt" {
		t.Errorf("files %v", files)
	}
}

// asOfSchema1 makes a season what the first version of the program made.
func asOfSchema1(t *testing.T, dir string) {
	t.Helper()
	tamper(t, dir, "drop table tables; pragma user_version = 1")
	if err := os.Remove(filepath.Join(dir, tablesDir)); err != nil {
		t.Fatal(err)
	}
	old, err := os.ReadFile("testdata/schema1.sql")
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "old.db")
	db, err := connect(path, "rwc")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(string(old) + triggersSQL()); err != nil {
		t.Fatal(err)
	}
	if got, want := schemaOf(t, filepath.Join(dir, databaseName)), schemaOf(t, path); got != want {
		t.Fatalf("this is not what the first version made:\n%s\nwant\n%s", got, want)
	}
}

// schemaOf is the structure of a database, without blanks and comments.
func schemaOf(t *testing.T, path string) string {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rows, err := db.Query("select coalesce(sql, '') from sqlite_master order by type, name")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	var b strings.Builder
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(text) {
			line, _, _ = strings.Cut(line, "--")
			b.WriteString(strings.Join(strings.Fields(line), " "))
		}
		b.WriteByte('\n')
	}
	return b.String()
}

func TestSeasonOfTheFirstSchemaIsUpgraded(t *testing.T) {
	fresh := newSeason(t)
	w := newSeason(t)
	a := add(t, w, invented("a", 2))
	w.Close()
	asOfSchema1(t, w.Dir())
	other, err := lock(w.Dir(), "another program")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Open(w.Dir()); err == nil || !strings.Contains(err.Error(), "made by an older Tossline (schema 1") ||
		!strings.Contains(err.Error(), "another program") || !strings.Contains(err.Error(), "tossline verify "+w.Dir()) {
		t.Errorf("while another writes: %v", err)
	}
	other.Close()
	reader(t, w.Dir()) // opening it for reading upgrades it
	w, err = OpenForWriting(w.Dir(), "test")
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	got, want := schemaOf(t, filepath.Join(w.Dir(), databaseName)), schemaOf(t, filepath.Join(fresh.Dir(), databaseName))
	if got != want {
		t.Errorf("upgraded:\n%s\na new season has:\n%s", got, want)
	}
	if c := snapshot(t, w.Season); c.Len() != 2 || c.Serve(0).ID != a.Serves[0] || len(c.Tables()) != 0 {
		t.Errorf("%d serves, %d tables", c.Len(), len(c.Tables()))
	}
	keep(t, w, "lab", "first")
	if got := held(t, w.Season); !slices.Equal(got, []string{"lab: first"}) {
		t.Errorf("%v", got)
	}
	copies, _ := filepath.Glob(filepath.Join(w.Dir(), "season-schema1-*.db"))
	if len(copies) != 1 {
		t.Fatalf("copies %v", copies)
	}
	data, err := os.ReadFile(copies[0])
	if err != nil || !bytes.HasPrefix(data, []byte("SQLite format 3")) {
		t.Errorf("the copy: %v", err)
	}
}
