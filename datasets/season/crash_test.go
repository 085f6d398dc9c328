package season

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"tossline/kernel/motion"
)

// The test binary is its own victim: started with these in its environment, it works on a season until it is killed.
const (
	victimDir  = "SEASON_TEST_VICTIM_DIR"
	victimSeed = "SEASON_TEST_VICTIM_SEED"
	upgrading  = "SEASON_TEST_UPGRADING" // set: the victim upgrades the season and ends
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(victimDir); dir != "" {
		seed, _ := strconv.ParseUint(os.Getenv(victimSeed), 10, 64)
		work := victim
		if os.Getenv(upgrading) != "" {
			work = upgradeVictim
		}
		if err := work(dir, seed); err != nil {
			fmt.Fprintln(os.Stderr, "victim:", err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// acknowledged is one line of the victim's standard output, written after the season said that it was done.
type acknowledged struct {
	Recording string           `json:"recording,omitempty"`
	Serves    []motion.ServeID `json:"serves,omitempty"`
	Batch     int64            `json:"batch,omitempty"`
	Undone    int64            `json:"undone,omitempty"`
	Recipe    string           `json:"recipe,omitempty"`
	Table     string           `json:"table,omitempty"` // its name is its content
}

func upgradeVictim(dir string, _ uint64) error {
	w, err := OpenForWriting(dir, "victim")
	if err != nil {
		return err
	}
	return w.Close()
}

func TestKilledWhileUpgrading(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 4))
	old := newSeason(t)
	want := 0
	for k := range 20 {
		want += len(add(t, old, invented(fmt.Sprint(k), 1+k%3)).Serves)
	}
	old.Close()
	asOfSchema1(t, old.Dir())
	upgraded := 0
	for round := range max(kills(t)/4, 5) {
		dir := filepath.Join(t.TempDir(), "season")
		if err := os.CopyFS(dir, os.DirFS(old.Dir())); err != nil {
			t.Fatal(err)
		}
		t.Setenv(upgrading, "1")
		runAndKill(t, dir, 2*uint64(round), time.Duration(random.IntN(250))*time.Millisecond)
		if s, err := open(dir); err == nil {
			upgraded++
			s.Close()
		}
		s, err := Open(dir)
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		if c := snapshot(t, s); c.Rows() != want {
			t.Errorf("round %d: %d serves of %d as a reader sees it", round, c.Rows(), want)
		}
		s.Close()
		w, err := OpenForWriting(dir, "test")
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		if c := snapshot(t, w.Season); c.Rows() != want {
			t.Errorf("round %d: %d serves of %d after the upgrade", round, c.Rows(), want)
		}
		w.Close()
		if copies, _ := filepath.Glob(filepath.Join(dir, "season-schema1-*.db")); len(copies) == 0 {
			t.Errorf("round %d: no copy was kept", round)
		}
	}
	t.Logf("%d of %d were upgraded before the kill", upgraded, max(kills(t)/4, 5))
}

// victim imports, edits, undoes and saves as fast as it can, for ever.
func victim(dir string, seed uint64) error {
	random := rand.New(rand.NewPCG(seed, 1))
	w, err := OpenForWriting(dir, "victim")
	if err != nil {
		return err
	}
	out := json.NewEncoder(os.Stdout)
	var known []motion.ServeID
	for {
		ack, err := victimStep(w, random, &known)
		if err != nil {
			return err
		}
		if err := out.Encode(ack); err != nil {
			return err
		}
	}
}

func victimStep(w *Writer, random *rand.Rand, known *[]motion.ServeID) (ack acknowledged, err error) {
	ctx := context.Background()
	choice := random.IntN(11)
	switch {
	case choice < 5 || len(*known) == 0:
		serves := 1 + random.IntN(4)
		// The name says how many serves the recording must have, the next lines whether it is new or known already.
		imp := invented(fmt.Sprintf("%d-%d", serves, random.IntN(1000)), serves)
		shift := float64(random.IntN(3)) / 100
		for i := range imp.Serves {
			imp.Serves[i] = inventedServe(i*300, float64(i*3)+2+shift)
		}
		var a Added
		a, err = w.AddRecording(ctx, imp)
		ack.Recording, ack.Serves = a.Recording, a.Serves
		*known = append(*known, a.Serves...)
	case choice < 8:
		serve := (*known)[random.IntN(len(*known))]
		ack.Batch, err = w.Edit(ctx, MoveEvent(serve, motion.Contact, 2+random.Float64()), Discard(serve, "crash"))
	case choice < 9:
		name := fmt.Sprint("t", random.IntN(1000))
		if _, err = w.KeepTable(ctx, name, name+".csv", numbered(name)); err == nil {
			ack.Table = name
		}
	case choice < 10:
		batch := int64(1 + random.IntN(20))
		if w.Undo(ctx, batch) == nil {
			ack.Undone = batch
		}
	default:
		text := fmt.Sprint("package recipe // ", random.Uint64())
		var r Revision
		r, err = w.SaveRecipe(ctx, "crash.go", text)
		ack.Recipe = r.SHA256
	}
	return ack, err
}

// kills is how often the victim is killed: a few in a quick run, more with SEASON_TEST_KILLS=500.
func kills(t *testing.T) int {
	if n, err := strconv.Atoi(os.Getenv("SEASON_TEST_KILLS")); err == nil {
		return n
	}
	if testing.Short() {
		return 10
	}
	return 60
}

func TestKilledAtAnyMomentNothingAcknowledgedIsLost(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 2))
	dir := filepath.Join(t.TempDir(), "season")
	w, err := Create(dir, "test")
	if err != nil {
		t.Fatal(err)
	}
	w.Close()
	j := journal{recordings: map[string][]motion.ServeID{}, batches: map[int64]bool{}, recipes: map[string]bool{},
		tables: map[string]bool{}}
	for round := range kills(t) {
		lines := runAndKill(t, dir, seed+uint64(round), time.Duration(random.IntN(120))*time.Millisecond)
		j.note(t, lines)
		j.check(t, dir)
		if t.Failed() {
			t.Fatalf("after kill %d", round+1)
		}
	}
	t.Logf("%d kills; %d recordings, %d batches of edits, %d recipes, %d tables acknowledged and found again",
		kills(t), len(j.recordings), len(j.batches), len(j.recipes), len(j.tables))
}

// runAndKill starts a victim, kills it some time after its first acknowledgement or start, and gives what it
// acknowledged.
func runAndKill(t *testing.T, dir string, seed uint64, after time.Duration) []string {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), victimDir+"="+dir, fmt.Sprintf("%s=%d", victimSeed, seed))
	var complaint strings.Builder
	cmd.Stderr = &complaint
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	// Half of the kills are counted from the start of the process, so that opening and sweeping are hit too.
	if seed%2 == 0 {
		time.AfterFunc(after, func() { cmd.Process.Kill() })
	}
	var lines []string
	for in := bufio.NewScanner(out); in.Scan(); {
		lines = append(lines, in.Text())
		if len(lines) == 1 && seed%2 == 1 {
			time.AfterFunc(after, func() { cmd.Process.Kill() })
		}
	}
	cmd.Wait()
	if complaint.Len() > 0 {
		t.Fatalf("the victim failed before it was killed: %s", complaint.String())
	}
	return lines
}

// journal is what victims acknowledged.
type journal struct {
	recordings map[string][]motion.ServeID
	batches    map[int64]bool // true: undone
	recipes    map[string]bool
	tables     map[string]bool
}

func (j *journal) note(t *testing.T, lines []string) {
	for _, line := range lines {
		var a acknowledged
		if err := json.Unmarshal([]byte(line), &a); err != nil {
			t.Fatalf("acknowledgement %q: %v", line, err)
		}
		switch {
		case a.Recording != "":
			j.recordings[a.Recording] = a.Serves
		case a.Batch != 0:
			j.batches[a.Batch] = false
		case a.Undone != 0:
			j.batches[a.Undone] = true
		case a.Recipe != "":
			j.recipes[a.Recipe] = true
		case a.Table != "":
			j.tables[a.Table] = true
		}
	}
}

// check opens the season as a reader, as the next program would, and looks for everything that was acknowledged.
func (j *journal) check(t *testing.T, dir string) {
	t.Helper()
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	report, err := s.Verify(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range report.Problems {
		t.Error(p)
	}
	c := snapshot(t, s)
	serves := map[string]int{}
	for row := range c.Rows() {
		serves[c.Recordings()[c.Row(row).Recording].ID]++
	}
	for _, r := range c.Recordings() {
		want, _, _ := strings.Cut(r.File, "-")
		if strconv.Itoa(serves[r.ID]) != want {
			t.Errorf("recording %s has %d serves: half an import", r.File, serves[r.ID])
		}
	}
	for id, ids := range j.recordings {
		for _, serve := range ids {
			if _, ok := c.Find(serve); !ok {
				t.Errorf("serve %s of recording %s was acknowledged and is lost", serve, id)
			}
		}
	}
	j.checkEdits(t, s)
	j.checkTables(t, s)
	for sum := range j.recipes {
		if text, err := s.RecipeText(context.Background(), sum); err != nil || RecipeHash(text) != sum {
			t.Errorf("recipe %s: %v", sum, err)
		}
	}
}

func (j *journal) checkEdits(t *testing.T, s *Season) {
	t.Helper()
	log, err := s.Edits(context.Background(), "")
	if err != nil {
		t.Fatal(err)
	}
	count, undone, ofTable := map[int64]int{}, map[int64]bool{}, map[int64]bool{}
	for _, e := range log {
		count[e.Batch]++
		undone[e.Batch] = !e.Undone.IsZero()
		ofTable[e.Batch] = e.Target == OnTable
	}
	for batch, n := range count {
		if n != 2 && !ofTable[batch] {
			t.Errorf("batch %d holds %d edits of 2", batch, n)
		}
	}
	for batch, want := range j.batches {
		if count[batch] == 0 || want && !undone[batch] {
			t.Errorf("batch %d was acknowledged: %d edits, undone %v, want %v", batch, count[batch], undone[batch], want)
		}
	}
}

// checkTables looks for every table that was acknowledged and not taken back, and at what it holds.
func (j *journal) checkTables(t *testing.T, s *Season) {
	t.Helper()
	c := snapshot(t, s)
	held := map[string]bool{}
	for i, kept := range c.Tables() {
		content, err := c.Table(i)
		if err != nil || content.Texts("name")[0] != kept.Name {
			t.Errorf("table %s: %v", kept.Name, err)
		}
		held[kept.Name] = true
	}
	for name := range j.tables {
		made, err := s.Edits(context.Background(), name)
		if err != nil || len(made) == 0 {
			t.Errorf("table %s was acknowledged and is lost, %v", name, err)
		}
		inForce := slices.ContainsFunc(made, func(m Made) bool { return m.Undone.IsZero() })
		if inForce != held[name] {
			t.Errorf("table %s is in force: %v, in the catalogue: %v", name, inForce, held[name])
		}
	}
}
