package season

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"tossline/datasets/catalogue"
	"tossline/kernel/motion"
)

func TestDamagedFileTakesOutItsOwnServes(t *testing.T) {
	for name, c := range map[string]struct {
		damage  func(path string) error
		leftOut string // "" where only the hash can tell
		verify  string
	}{
		"missing":   {os.Remove, "missing", "missing"},
		"empty":     {func(p string) error { return os.Truncate(p, 0) }, "empty", "damaged"},
		"cut short": {func(p string) error { return os.Truncate(p, 5000) }, "cut short", "damaged"},
		"overwritten": {func(p string) error { return os.WriteFile(p, []byte("hello"), 0o644) },
			"not a frames file", "damaged"},
		"a folder": {func(p string) error {
			os.Remove(p)
			return os.Mkdir(p, 0o755)
		}, "not an ordinary file", "damaged"},
		"one bit": {func(p string) error {
			data, err := os.ReadFile(p)
			data[len(data)/2] ^= 1
			os.WriteFile(p, data, 0o644)
			return err
		}, "", "not what its hash says"},
	} {
		t.Run(name, func(t *testing.T) {
			w := newSeason(t)
			a, b := add(t, w, invented("a", 2)), add(t, w, invented("b", 2))
			hash := snapshot(t, w.Season).Recordings()[0].FramesSHA256
			id := snapshot(t, w.Season).Recordings()[0].ID
			if err := c.damage(w.framesPath(hash)); err != nil {
				t.Fatal(err)
			}
			s := reader(t, w.Dir())
			cat := snapshot(t, s)
			wantLen := 4
			if c.leftOut != "" {
				wantLen = 2
			}
			if cat.Len() != wantLen || cat.Rows() != 4 {
				t.Errorf("%d serves of %d", cat.Len(), cat.Rows())
			}
			for _, why := range cat.LeftOut().Texts("left_out") {
				if !strings.Contains(why, c.leftOut) || !strings.Contains(why, ".bvh can't be read") {
					t.Errorf("left out because %q, want %q", why, c.leftOut)
				}
			}
			report, err := s.Verify(context.Background(), nil)
			if err != nil || len(report.Problems) != 1 || !strings.Contains(report.Problems[0].Text, c.verify) ||
				!strings.Contains(report.Problems[0].Where, id) {
				t.Errorf("verify: %v, %v", report.Problems, err)
			}
			mend(t, w, id, a, b)
		})
	}
}

// mend imports the damaged recording again, and sees the season whole.
func mend(t *testing.T, w *Writer, id string, a, b Added) {
	t.Helper()
	imp, before := invented("a", 2), a
	if id == b.Recording {
		imp, before = invented("b", 2), b
	}
	if info, err := os.Stat(w.framesPath(snapshot(t, w.Season).Recordings()[0].FramesSHA256)); err == nil && info.IsDir() {
		return // a folder in the way is for a person to take away
	}
	after := add(t, w, imp)
	if fmt.Sprint(after.Serves) != fmt.Sprint(before.Serves) {
		t.Errorf("imported again: %v, before %v", after, before)
	}
	s := reader(t, w.Dir())
	if c := snapshot(t, s); c.Len() != 4 {
		t.Errorf("%d serves after importing again", c.Len())
	}
	if report, err := s.Verify(context.Background(), nil); err != nil || len(report.Problems) > 0 {
		t.Errorf("verify after importing again: %v, %v", report, err)
	}
	if c := snapshot(t, w.Season); c.Len() != 4 {
		t.Errorf("the writer itself sees %d serves after importing again", c.Len())
	}
}

func TestFileVanishesMidway(t *testing.T) {
	w := newSeason(t)
	add(t, w, invented("a", 2))
	c := snapshot(t, w.Season)
	if err := os.Remove(w.framesPath(c.Recordings()[0].FramesSHA256)); err != nil {
		t.Fatal(err)
	}
	clip, err := c.Clip(1)
	if err != nil {
		t.Fatal(err)
	}
	sum := float32(0)
	for _, v := range clip.Frames {
		sum += v
	}
	if want := invented("a", 2).Frames[1800]; clip.Frames[0] != want {
		t.Errorf("%v, want %v", clip.Frames[0], want)
	}
}

func TestVerifyFindsBrokenReferences(t *testing.T) {
	for name, c := range map[string]struct{ sql, want string }{
		"event without serve": {"insert into events values ('x-1', 'contact', 1, 'm', 1, 0)",
			"belongs to no row of serves"},
		"serve outside": {"update serves set last_frame = 9999", "lies outside its recording"},
		"event outside": {"update events set time_s = 99", "lies outside the recording a.bvh"},
		"edit without serve": {
			"insert into edits values (1, 1, '', 'serve', 'x-1', 'outcome', null, 'in', null, null)", "no such serve"},
		"recording of no file":   {"update recordings set frames_sha256 = '" + strings.Repeat("0", 64) + "'", "missing"},
		"other number of frames": {"update recordings set frames = frames - 1, rate_hz = 99", "expected 299 at 99 Hz"},
	} {
		t.Run(name, func(t *testing.T) {
			w := newSeason(t)
			add(t, w, invented("a", 1))
			w.Close()
			tamper(t, w.Dir(), c.sql)
			report, err := reader(t, w.Dir()).Verify(context.Background(), nil)
			if err != nil || !strings.Contains(fmt.Sprint(report.Problems), c.want) {
				t.Errorf("%v, %v; want %q", report.Problems, err, c.want)
			}
		})
	}
}

// What an import replaced stays until the next writer sweeps: that is worth a note, and not wrong.
func TestVerifyNotesLeftovers(t *testing.T) {
	w := newSeason(t)
	add(t, w, invented("a", 1))
	replaced := snapshot(t, w.Season).Recordings()[0].FramesSHA256
	again := invented("a", 1)
	again.Frames = slices.Clone(again.Frames)
	again.Frames[0]++
	add(t, w, again)
	for _, name := range []string{incoming + "123", "notes.txt"} {
		os.WriteFile(filepath.Join(w.Dir(), framesDir, name), nil, 0o644)
	}
	report, err := reader(t, w.Dir()).Verify(context.Background(), nil)
	if err != nil || len(report.Problems) > 0 || len(report.Notes) != 2 {
		t.Fatalf("%+v, %v", report, err)
	}
	for i, want := range []struct{ where, text string }{
		{"frames/" + replaced + ".arrow", "the next import clears it away"}, {"frames/notes.txt", "no harm"}} {
		n := report.Notes[i]
		if n.Where != want.where || !strings.Contains(n.Text, want.text) || strings.Contains(n.Text, "delete") {
			t.Errorf("note %q, want %q of %s", n, want.text, want.where)
		}
	}
	w.Close()
	if w, err = OpenForWriting(w.Dir(), "test"); err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	if report, err := w.Verify(context.Background(), nil); err != nil || len(report.Notes) != 1 {
		t.Errorf("after the next writer: %+v, %v", report, err)
	}
}

// tamper changes the database as another tool might.
func tamper(t *testing.T, dir, statement string) {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(dir, databaseName))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(statement); err != nil {
		t.Fatal(err)
	}
}

func TestEditByAnotherToolIsSeen(t *testing.T) {
	w := newSeason(t)
	add(t, w, invented("a", 1))
	before := snapshot(t, w.Season)
	tamper(t, w.Dir(), "update recordings set player = 'Oriel Nash'")
	after := snapshot(t, w.Season)
	if after.Recordings()[0].Player != "Oriel Nash" || after.Revision() <= before.Revision() {
		t.Errorf("revision %d shows %v", after.Revision(), after.Recordings()[0].Player)
	}
}

func TestOpenRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		break_ func(t *testing.T, dir string)
		want   string
	}{
		"no folder": {func(t *testing.T, dir string) { os.RemoveAll(dir) }, "no such folder"},
		"a file": {func(t *testing.T, dir string) { os.RemoveAll(dir); os.WriteFile(dir, nil, 0o644) },
			"a season is a folder"},
		"no database": {func(t *testing.T, dir string) { os.Remove(filepath.Join(dir, databaseName)) },
			"no season in this folder"},
		"newer version": {func(t *testing.T, dir string) { tamper(t, dir, "pragma user_version = 99") }, "newer Tossline"},
		"other program": {func(t *testing.T, dir string) { tamper(t, dir, "pragma application_id = 5") }, "another program"},
		"other program without a mark": {func(t *testing.T, dir string) {
			os.Remove(filepath.Join(dir, databaseName))
			tamper(t, dir, "create table orders (id integer)")
		}, "another program"},
		"not a database": {func(t *testing.T, dir string) {
			os.WriteFile(filepath.Join(dir, databaseName), []byte(strings.Repeat("text ", 1000)), 0o644)
		}, "is damaged"},
	} {
		t.Run(name, func(t *testing.T) {
			w := newSeason(t)
			w.Close()
			c.break_(t, w.Dir())
			_, err := Open(w.Dir())
			if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), w.Dir()) {
				t.Errorf("for reading: %v, want %q", err, c.want)
			}
			if _, err := OpenForWriting(w.Dir(), "test"); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("for writing: %v, want %q", err, c.want)
			}
		})
	}
}

func TestCreateRefusesASeason(t *testing.T) {
	w := newSeason(t)
	if _, err := Create(w.Dir(), "test"); err == nil || !strings.Contains(err.Error(), "a season in this folder already") {
		t.Errorf("error %v", err)
	}
}

// asIfNewer lets a test pretend that a later version of the program uses another schema.
func asIfNewer(t *testing.T, statement string) {
	t.Helper()
	old := migrations
	migrations = append(slices.Clone(old), statement)
	t.Cleanup(func() { migrations = old })
}

func TestOlderSeasonIsUpgradedAndACopyKept(t *testing.T) {
	w := newSeason(t)
	a := add(t, w, invented("a", 2))
	w.Close()
	asIfNewer(t, "alter table players add column note text")
	again, err := OpenForWriting(w.Dir(), "test")
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if c := snapshot(t, again.Season); c.Len() != 2 || c.Serve(0).ID != a.Serves[0] {
		t.Errorf("%d serves after the upgrade", c.Len())
	}
	copies, _ := filepath.Glob(filepath.Join(w.Dir(), "season-schema2-*.db"))
	if len(copies) != 1 {
		t.Fatalf("copies: %v", copies)
	}
	db, err := sql.Open("sqlite", copies[0])
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var v, recordings int
	db.QueryRow("pragma user_version").Scan(&v)
	db.QueryRow("select count(*) from recordings").Scan(&recordings)
	if v != 2 || recordings != 1 {
		t.Errorf("the copy has schema %d and %d recordings", v, recordings)
	}
}

func TestFailedUpgradeLeavesTheSeason(t *testing.T) {
	w := newSeason(t)
	add(t, w, invented("a", 2))
	w.Close()
	old := migrations
	asIfNewer(t, "alter table players add column note text; alter table nothing add column x")
	if _, err := OpenForWriting(w.Dir(), "test"); err == nil {
		t.Fatal("no error")
	}
	migrations = old
	if c := snapshot(t, reader(t, w.Dir())); c.Len() != 2 {
		t.Errorf("%d serves", c.Len())
	}
}

func TestLeftoversAreSwept(t *testing.T) {
	w := newSeason(t)
	add(t, w, invented("a", 1))
	dir := w.Dir()
	w.Close()
	orphan := strings.Repeat("c", 64) + ".arrow"
	for _, name := range []string{incoming + "123", orphan, "notes.txt"} {
		os.WriteFile(filepath.Join(dir, framesDir, name), []byte("x"), 0o644)
	}
	w, err := OpenForWriting(dir, "test")
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	entries, _ := os.ReadDir(filepath.Join(dir, framesDir))
	if len(entries) != 2 || entries[1].Name() != "notes.txt" {
		t.Errorf("left: %v", entries)
	}
	if c := snapshot(t, w.Season); c.Len() != 1 {
		t.Errorf("%d serves", c.Len())
	}
}

// mount mounts a small file system over a folder, where this process may.
func mount(t *testing.T, dir string, args ...string) {
	t.Helper()
	if runtime.GOOS != "linux" || os.Geteuid() != 0 {
		t.Skip("mounting needs root on Linux")
	}
	if out, err := exec.Command("mount", append(args, dir)...).CombinedOutput(); err != nil {
		t.Skipf("mount: %s", out)
	}
	t.Cleanup(func() { exec.Command("umount", "-l", dir).Run() })
}

func TestFullDisk(t *testing.T) {
	dir := t.TempDir()
	mount(t, dir, "-t", "tmpfs", "-o", "size=3m", "tmpfs")
	w, err := Create(filepath.Join(dir, "season"), "test")
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	ctx := context.Background()
	var kept []Added
	var refusal error
	for i := 0; refusal == nil && i < 1000; i++ {
		a, err := w.AddRecording(ctx, invented(fmt.Sprint("take ", i), 10))
		if refusal = err; err == nil {
			kept = append(kept, a)
		}
	}
	for i := 0; i < 10_000; i++ { // and until not even an edit fits
		if _, err := w.Edit(ctx, Discard(kept[0].Serves[0], strings.Repeat("long reason ", 40))); err != nil {
			refusal = err
			break
		}
	}
	if refusal == nil || !strings.Contains(refusal.Error(), "disk is full") {
		t.Fatalf("error %v, want one that says that the disk is full", refusal)
	}
	report, err := w.Verify(ctx, nil)
	if err != nil || len(report.Problems) > 0 || report.Recordings != len(kept) {
		t.Errorf("%d recordings of %d, problems %v, %v", report.Recordings, len(kept), report.Problems, err)
	}
	w.Close()
	again, err := OpenForWriting(filepath.Join(dir, "season"), "test")
	if err != nil {
		t.Fatalf("opening on a full disk: %v", err)
	}
	defer again.Close()
	if c := snapshot(t, again.Season); c.Rows() != 10*len(kept) {
		t.Errorf("%d serves of %d", c.Rows(), 10*len(kept))
	}
}

// TestOpeningOnAFullDisk leaves no room at all, not even for what SQLite keeps beside its file while that is open.
func TestOpeningOnAFullDisk(t *testing.T) {
	dir := t.TempDir()
	mount(t, dir, "-t", "tmpfs", "-o", "size=1m", "tmpfs")
	w, err := Create(filepath.Join(dir, "season"), "test")
	if err != nil {
		t.Fatal(err)
	}
	add(t, w, invented("a", 2))
	w.Close()
	ballast, err := os.Create(filepath.Join(dir, "ballast"))
	if err != nil {
		t.Fatal(err)
	}
	defer ballast.Close()
	for err == nil {
		_, err = ballast.Write(make([]byte, 4096))
	}
	if again, err := OpenForWriting(w.Dir(), "test"); err == nil {
		again.Close()
		t.Error("it can be written to")
	} else if !strings.Contains(err.Error(), "the disk is full") || !strings.Contains(err.Error(), "free some space") {
		t.Error(err)
	}
	if c := snapshot(t, reader(t, w.Dir())); c.Len() != 2 {
		t.Errorf("read: %d serves", c.Len())
	}
}

func TestReadOnlyFolder(t *testing.T) {
	dir := t.TempDir()
	w, err := Create(filepath.Join(dir, "season"), "test")
	if err != nil {
		t.Fatal(err)
	}
	add(t, w, invented("a", 2))
	w.Close()
	os.RemoveAll(filepath.Join(dir, "season", cacheDir))
	mount(t, dir, "--bind", "-o", "ro", dir)
	s, err := Open(w.Dir())
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if c := snapshot(t, s); c.Len() != 2 {
		t.Errorf("%d serves", c.Len())
	}
	if _, err := OpenForWriting(w.Dir(), "test"); !errors.Is(err, ErrReadOnly) {
		t.Errorf("for writing: %v", err)
	}
}

func TestRemovedRecordingIsGone(t *testing.T) {
	w := newSeason(t)
	a, b := add(t, w, invented("a", 2)), add(t, w, invented("b", 1))
	edit(t, w, Discard(a.Serves[0], "x"), MoveEvent(b.Serves[0], motion.Contact, 2.1))
	if err := w.SaveGroup(context.Background(), Group{"best", []motion.ServeID{a.Serves[1], b.Serves[0]}}); err != nil {
		t.Fatal(err)
	}
	old := snapshot(t, w.Season)
	if err := w.RemoveRecording(context.Background(), a.Recording); err != nil {
		t.Fatal(err)
	}
	if _, err := old.Clip(0); err != nil {
		t.Errorf("an older catalogue lost its frames: %v", err)
	}
	if c := snapshot(t, w.Season); c.Rows() != 1 || c.Serve(0).ContactS() != 2.1 {
		t.Errorf("%d serves are left", c.Rows())
	}
	groups, err := w.Groups(context.Background())
	if err != nil || fmt.Sprint(groups) != fmt.Sprint([]Group{{"best", b.Serves}}) {
		t.Errorf("groups %v, %v", groups, err)
	}
	if report, err := w.Verify(context.Background(), nil); err != nil || len(report.Problems) > 0 {
		t.Errorf("verify: %v, %v", report.Problems, err)
	}
	if err := w.RemoveRecording(context.Background(), a.Recording); err == nil {
		t.Error("removed twice without an error")
	}
}

func TestMeasuredValuesAreNeverStale(t *testing.T) {
	w := newSeason(t)
	id := add(t, w, invented("a", 2)).Serves[0]
	m := motion.Measure{ID: "made_up", Version: 1}
	keep := func(v float64) {
		t.Helper()
		c := snapshot(t, w.Season)
		c.Keep(0, m, motion.Value{Number: v, Basis: "body"})
		if err := w.KeepMeasured(context.Background(), slices.Collect(c.TakeKept())...); err != nil {
			t.Fatal(err)
		}
	}
	cached := func() string {
		t.Helper()
		s := reader(t, w.Dir())
		v, ok := snapshot(t, s).Cached(0, m)
		return fmt.Sprint(v.Number, ok)
	}
	keep(1)
	first := edit(t, w, MoveEvent(id, motion.Contact, 2.1))
	for _, step := range []struct {
		name string
		do   func()
		want string
	}{
		{"an event moved", func() {}, "0 false"},
		{"measured again", func() { keep(2) }, "2 true"},
		{"the edit undone", func() { w.Undo(context.Background(), first) }, "1 true"},
		{"a height that is told", func() { edit(t, w, Edit{OnPlayer, "Tuva Brandt", "height_m", "1.7"}) }, "0 false"},
		{"measured again", func() { keep(3) }, "3 true"},
		{"the hand changed", func() { edit(t, w, Edit{OnRecording, string(id)[:12], "hand", "left"}) }, "0 false"},
		{"an outcome noted", func() {
			keep(4)
			edit(t, w, Edit{OnServe, string(id), "outcome", "in"})
		}, "4 true"},
		{"other frames", func() {
			imp := invented("a", 2)
			imp.Frames[0]++
			add(t, w, imp)
		}, "0 false"},
		{"another version", func() {
			keep(5)
			m.Version = 2
		}, "0 false"},
		{"the cache damaged", func() {
			keep(6)
			path := filepath.Join(w.Dir(), catalogue.Measured{Measure: m.ID, Version: m.Version}.FileName())
			data, _ := os.ReadFile(path)
			data[len(data)-1] ^= 1
			os.WriteFile(path, data, 0o644)
		}, "0 false"},
		{"the cache deleted", func() { os.RemoveAll(filepath.Join(w.Dir(), cacheDir)) }, "0 false"},
	} {
		step.do()
		if got := cached(); got != step.want {
			t.Errorf("%s: %s, want %s", step.name, got, step.want)
		}
	}
}

func TestVacant(t *testing.T) {
	dir := t.TempDir()
	if !Vacant(dir) || !Vacant(filepath.Join(dir, "none")) {
		t.Error("an empty folder, or none, is not vacant")
	}
	os.WriteFile(filepath.Join(dir, lockName), nil, 0o644)
	os.Mkdir(filepath.Join(dir, framesDir), 0o755)
	if !Vacant(dir) {
		t.Error("the making of a season was interrupted, and none can be made there any more")
	}
	other := filepath.Join(dir, framesDir, "x")
	os.WriteFile(other, nil, 0o644)
	if Vacant(dir) || Vacant(other) {
		t.Error("a folder with other things, or a file, is vacant")
	}
}
