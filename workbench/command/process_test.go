package command

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"tossline/datasets/catalogue"
	"tossline/datasets/demo"
	"tossline/datasets/season"
	"tossline/kernel/motion"
)

// patience is more than anything here should ever take.
const patience = time.Minute

// program is Tossline as a process of its own.
type program struct {
	*exec.Cmd
	t     testing.TB
	lines chan string // of its standard output
	err   bytes.Buffer
}

func start(t testing.TB, args ...string) *program {
	t.Helper()
	return begin(t, exec.Command(os.Args[0], append([]string{asProgram}, args...)...))
}

func begin(t testing.TB, cmd *exec.Cmd) *program {
	t.Helper()
	p := &program{t: t, lines: make(chan string, 1000), Cmd: cmd}
	p.Stderr = &p.err
	out, err := p.StdoutPipe()
	if err == nil {
		err = p.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	go func() {
		for in := bufio.NewScanner(out); in.Scan(); {
			p.lines <- in.Text()
		}
		close(p.lines)
	}()
	t.Cleanup(p.kill)
	return p
}

// kill ends the process as kill -9 does, and waits for it.
func (p *program) kill() {
	p.Process.Kill()
	for range p.lines {
	}
	p.Wait()
}

// line waits for the next line that the process prints, "" at the end.
func (p *program) line() string {
	p.t.Helper()
	select {
	case line := <-p.lines:
		return line
	case <-time.After(patience):
		p.t.Fatalf("printed nothing within %v", patience)
		return ""
	}
}

// page opens the page that an open command printed the address of.
func (p *program) page() *page {
	p.t.Helper()
	address, ok := strings.CutPrefix(p.line(), "Tossline is at ")
	if !ok {
		p.t.Fatalf("no address: %s", p.err.String())
	}
	origin, code, _ := strings.Cut(address, "/#code=")
	body, _ := json.Marshal(map[string]string{"code": code})
	r, _ := http.NewRequest(http.MethodPost, origin+"/enter", bytes.NewReader(body))
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Origin", origin)
	response, err := http.DefaultClient.Do(r)
	if err != nil {
		p.t.Fatal(err)
	}
	defer response.Body.Close()
	var key struct{ Key string }
	if err := json.NewDecoder(response.Body).Decode(&key); err != nil || len(response.Cookies()) != 1 {
		p.t.Fatal(response.Status, err)
	}
	cookie := response.Cookies()[0]
	conn, _, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(origin, "http")+"/link",
		http.Header{"Origin": {origin}, "Cookie": {cookie.Name + "=" + cookie.Value}})
	if err != nil {
		p.t.Fatal(err)
	}
	p.t.Cleanup(func() { conn.Close() })
	conn.SetReadDeadline(time.Now().Add(patience))
	g := &page{conn: conn}
	if _, err := g.ask("hello", map[string]any{"page": key.Key}); err != nil {
		p.t.Fatal(err)
	}
	return g
}

// page is the server's other end.
type page struct {
	conn *websocket.Conn
	id   uint32
}

// told is what the server sends.
type told struct {
	ID    uint32
	Type  string
	Body  json.RawMessage
	Error string
}

// ask asks and waits for the answer. The error is that of the connection, or the answer's.
func (g *page) ask(kind string, fields map[string]any) (json.RawMessage, error) {
	g.id++
	q := map[string]any{"id": g.id, "type": kind}
	for k, v := range fields {
		q[k] = v
	}
	if err := g.conn.WriteJSON(q); err != nil {
		return nil, err
	}
	t, err := g.until(func(t told) bool { return t.ID == g.id })
	if err == nil && t.Type == "failed" {
		err = fmt.Errorf("%s: %s", kind, t.Error)
	}
	return t.Body, err
}

// until reads until a frame comes that is the one.
func (g *page) until(is func(told) bool) (t told, err error) {
	for {
		t = told{}
		if err := g.conn.ReadJSON(&t); err != nil {
			return t, err
		}
		if is(t) {
			return t, nil
		}
	}
}

// rounds is how often something is killed: a few times in a quick run, more with TOSSLINE_TEST_KILLS=100.
func rounds() int {
	if n, err := strconv.Atoi(os.Getenv("TOSSLINE_TEST_KILLS")); err == nil {
		return n
	}
	if testing.Short() {
		return 2
	}
	return 5
}

// moments gives random times up to a longest one, from a seed that is logged.
func moments(t *testing.T, longest time.Duration) func() time.Duration {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 1))
	return func() time.Duration { return time.Duration(random.Int64N(int64(longest))) }
}

// whole fails unless the season of a folder opens for writing, with every file as its hash says and nothing left over.
func whole(t *testing.T, dir string) *season.Writer {
	t.Helper()
	w, err := season.OpenForWriting(dir, "test")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { w.Close() })
	report, err := w.Verify(context.Background(), nil)
	if err != nil || len(report.Problems) > 0 {
		t.Fatal(report.Problems, err)
	}
	entries, err := os.ReadDir(w.Scratch())
	if err != nil || len(entries) != report.Recordings {
		t.Fatalf("%d files for %d recordings, %v", len(entries), report.Recordings, err)
	}
	return w
}

// takes are files that hold the short take, each a little different.
func takes(t *testing.T, n int) (paths []string) {
	for k := range n {
		paths = append(paths, write(t, fmt.Sprintf("take-%d.csv", k), takeAsCSV(func(i int, line string) string {
			if i == 0 {
				line = strings.Replace(line, "0.", fmt.Sprintf("0.000%d", k), 1)
			}
			return line
		})))
	}
	return paths
}

func TestKilledWhileImporting(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "club")
	paths := takes(t, 6)
	moment := moments(t, 2*time.Second)
	acknowledged := map[string]bool{}
	for range rounds() {
		p := start(t, append([]string{"import", "--season", dir}, paths...)...)
		time.AfterFunc(moment(), func() { p.Process.Kill() })
		for line := range p.lines {
			if _, id, ok := strings.Cut(line, "recording "); ok {
				id, _, _ = strings.Cut(id, ":")
				acknowledged[id] = true
			}
		}
		p.Wait()
		if !season.Exists(dir) && len(acknowledged) == 0 {
			continue // killed before it was made
		}
		w := whole(t, dir)
		c, err := w.Snapshot(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		there := map[string]int{}
		for i := range c.Len() {
			there[c.Recordings()[c.Serve(i).Recording].ID]++
		}
		for id := range acknowledged {
			if there[id] != 2 {
				t.Errorf("recording %s was acknowledged and has %d serves, want 2", id, there[id])
			}
		}
		for id, serves := range there {
			if serves != 2 {
				t.Errorf("recording %s is there with %d serves, want 2", id, serves)
			}
		}
		w.Close()
	}
	t.Logf("%d kills, %d recordings acknowledged and found again", rounds(), len(acknowledged))
}

// TestStoppedImport asks an import to stop: it says so, and what it had stored is there.
func TestStoppedImport(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "club")
	changes := write(t, "changes.csv", []byte("target,subject,field,value\nplayer,Tuva Brandt,level,club\n"))
	p := start(t, append([]string{"import", "--season", dir, "--particulars", changes}, takes(t, 4)...)...)
	p.line() // one is stored
	p.Process.Signal(os.Interrupt)
	for range p.lines {
	}
	p.Wait()
	if p.ProcessState.ExitCode() == 1 && !strings.Contains(p.err.String(), "tossline: stopped") {
		t.Errorf("said %q", p.err.String())
	}
	w := whole(t, dir)
	defer w.Close()
	if players, err := w.Players(context.Background()); err != nil || len(players) == 0 || players[0].Level != "club" {
		t.Errorf("what is stored has not what is known of it: players %+v, %v", players, err)
	}
}

func TestKilledWhileEditing(t *testing.T) {
	dir := imported(t)
	serve := firstServe(t, dir)
	moment := moments(t, 300*time.Millisecond)
	var last int64
	said := 0
	for range rounds() {
		p := start(t, "open", "--no-browser", dir)
		g := p.page()
		time.AfterFunc(moment(), func() { p.Process.Kill() })
		for {
			edit := season.Edit{Target: season.OnServe, Subject: serve, Field: "outcome", Value: fmt.Sprint("edit ", said+1)}
			body, err := g.ask("change", map[string]any{"edits": []season.Edit{edit}})
			if err != nil {
				break
			}
			var changed struct{ Batch int64 }
			if err := json.Unmarshal(body, &changed); err != nil || changed.Batch <= last {
				t.Fatalf("batch %s after %d, %v", body, last, err)
			}
			last, said = changed.Batch, said+1
		}
		p.kill()
		w := whole(t, dir)
		c, err := w.Snapshot(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		found, _ := c.Find(motion.ServeID(serve))
		// The last one may have been stored and its answer lost.
		if next := fmt.Sprint("edit ", said+1); found.Outcome == next {
			said, last = said+1, last+1
		} else if said > 0 && found.Outcome != fmt.Sprint("edit ", said) {
			t.Fatalf("the season says %q after %d acknowledged edits", found.Outcome, said)
		}
		if made, err := w.Edits(context.Background(), serve); err != nil || len(made) != said {
			t.Fatalf("%d edits recorded of %d acknowledged, %v", len(made), said, err)
		}
		w.Close()
	}
	t.Logf("%d kills, %d edits acknowledged and found again", rounds(), said)
}

// TestKilledWhileMakingTheDemo finds no half a season under the name that was asked for.
func TestKilledWhileMakingTheDemo(t *testing.T) {
	moment := moments(t, 3*time.Second)
	for range rounds() {
		dir := filepath.Join(t.TempDir(), "Harbour Lane")
		p := start(t, "demo", dir)
		time.Sleep(moment())
		p.kill()
		if !season.Exists(dir) {
			if !season.Vacant(dir) {
				t.Error("there is a folder that holds half a season")
			}
			continue
		}
		whole(t, dir).Close()
	}
}

// catalogueOf gives what a season holds, until the test ends.
func catalogueOf(t testing.TB, dir string) *catalogue.Catalogue {
	t.Helper()
	s, err := season.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	c, err := s.Snapshot(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func firstServe(t testing.TB, dir string) string {
	t.Helper()
	return string(catalogueOf(t, dir).Serve(0).ID)
}

// children lists the processes that a process has started, nil where the system doesn't tell.
func children(pid int) (pids []int) {
	text, _ := os.ReadFile(fmt.Sprintf("/proc/%d/task/%d/children", pid, pid))
	threads, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/children", pid))
	for _, path := range threads {
		more, _ := os.ReadFile(path)
		text = append(append(text, ' '), more...)
	}
	for _, field := range strings.Fields(string(text)) {
		if pid, err := strconv.Atoi(field); err == nil && !slices.Contains(pids, pid) {
			pids = append(pids, pid)
		}
	}
	return pids
}

func TestKilledWhileRunning(t *testing.T) {
	dir := imported(t)
	moment := moments(t, 500*time.Millisecond)
	orphans := 0
	for range rounds() {
		p := start(t, "run", "contact_offset.go", "--season", dir)
		time.Sleep(moment())
		engines := children(p.Process.Pid)
		p.kill()
		orphans += len(engines)
		deadline := time.Now().Add(patience)
		for _, pid := range engines {
			for alive(pid) {
				if time.Now().After(deadline) {
					t.Fatalf("the engine %d lives on after its workbench was killed", pid)
				}
				time.Sleep(10 * time.Millisecond)
			}
		}
		whole(t, dir).Close()
	}
	t.Logf("%d kills, %d engines ended with their workbench", rounds(), orphans)
	if text := ok(t, "run", "contact_offset.go", "--season", dir); !strings.Contains(text, "Contact offset") {
		t.Errorf("printed %s", text)
	}
}

// alive tells whether a process runs; one that ended and was not waited for doesn't.
func alive(pid int) bool {
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	_, rest, _ := strings.Cut(string(stat), ") ")
	return err == nil && !strings.HasPrefix(rest, "Z")
}

// TestSecondWriter opens a season that another process writes: what needs to write is told who does, what only reads
// works, and when the other is gone all is well.
func TestSecondWriter(t *testing.T) {
	dir := imported(t)
	first := start(t, "open", "--no-browser", dir)
	first.page()
	path := write(t, "other.csv", takeAsCSV(func(_ int, line string) string { return line + " " }))
	s := run("import", "--season", dir, path)
	who := fmt.Sprintf("process %d (tossline open)", first.Process.Pid)
	if s.code != 1 || !strings.Contains(s.err, who) || !strings.Contains(s.err, "close it first") {
		t.Errorf("import: exit code %d, said %q, want %q in it", s.code, s.err, who)
	}
	ok(t, "verify", dir)
	ok(t, "export", "--season", dir, "--table", "measures", "-o", filepath.Join(t.TempDir(), "m.csv"))
	ok(t, "run", "contact_offset.go", "--season", dir)

	second := start(t, "open", "--no-browser", dir)
	edit := season.Edit{Target: season.OnServe, Subject: firstServe(t, dir), Field: "outcome", Value: "in"}
	_, err := second.page().ask("change", map[string]any{"edits": []season.Edit{edit}})
	if err == nil || !strings.Contains(err.Error(), who) {
		t.Errorf("a change in the second window: %v, want %q in it", err, who)
	}
	if err := first.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	for range first.lines {
	}
	if err := first.Wait(); err != nil {
		t.Errorf("the first ended with %v: %s", err, first.err.String())
	}
	ok(t, "import", "--season", dir, path)
}

// demoSeason is the demo season, with its measures computed, as after the first look at it.
func demoSeason(b *testing.B) string {
	b.Helper()
	dir := filepath.Join(b.TempDir(), "Harbour Lane")
	if err := demo.Create(context.Background(), dir, "test", demo.DefaultSeed, nil); err != nil {
		b.Fatal(err)
	}
	if s := run("run", "contact_offset.go", "--season", dir); s.code != 0 {
		b.Fatal(s.err)
	}
	return dir
}

// BenchmarkStart takes the time from the start of the process to a page that has the season, the shelf and a finished
// recipe, on the demo season: all that a browser waits for but its own drawing.
func BenchmarkStart(b *testing.B) {
	dir := demoSeason(b)
	for b.Loop() {
		p := start(b, "open", "--no-browser", dir)
		g := p.page()
		if _, err := g.ask("open", map[string]any{"recipe": "contact_offset"}); err != nil {
			b.Fatal(err)
		}
		if _, err := g.until(func(t told) bool { return t.Type == "ended" }); err != nil {
			b.Fatal(err)
		}
		b.StopTimer()
		p.kill()
		b.StartTimer()
	}
}

// BenchmarkSetting takes the time from the change of a setting to the last new result, on the demo season.
func BenchmarkSetting(b *testing.B) {
	g := start(b, "open", "--no-browser", demoSeason(b)).page()
	ended := func(t told) bool { return t.Type == "ended" }
	if _, err := g.ask("open", map[string]any{"recipe": "contact_offset"}); err != nil {
		b.Fatal(err)
	}
	if _, err := g.until(ended); err != nil {
		b.Fatal(err)
	}
	limit := 0.0
	for b.Loop() {
		limit += 0.01
		if limit > 0.4 {
			limit = 0
		}
		question := map[string]any{
			"id": 99, "type": "values", "recipe": "contact_offset", "values": map[string]any{"Limit": limit},
		}
		if err := g.conn.WriteJSON(question); err != nil {
			b.Fatal(err)
		}
		if _, err := g.until(ended); err != nil {
			b.Fatal(err)
		}
	}
}

// TestNoPermission reads a file that may not be read, and writes to a season that may not be written to, as somebody
// who isn't root.
func TestNoPermission(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("only root can become somebody else")
	}
	dir, err := os.MkdirTemp("", "shared-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	nobody := func(args ...string) *program {
		cmd := exec.Command(filepath.Join(dir, "tossline"), append([]string{asProgram}, args...)...)
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		cmd.Dir, cmd.Env = "/", []string{"HOME=/nonexistent"}
		return begin(t, cmd)
	}
	club, shut, own := filepath.Join(dir, "club"), filepath.Join(dir, "shut.csv"), filepath.Join(dir, "own")
	program, err := os.ReadFile(os.Args[0])
	if err != nil {
		t.Fatal(err)
	}
	for path, content := range map[string][]byte{"tossline": program, "shut.csv": takeAsCSV(nil)} {
		if err := os.WriteFile(filepath.Join(dir, path), content, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	ok(t, "import", "--season", club, "--player", "Oriel Nash", "--session", "2026-03-14", shut)
	for path, mode := range map[string]os.FileMode{dir: 0o755, shut: 0, own: 0o777} {
		os.Mkdir(own, 0o755)
		if err := os.Chmod(path, mode); err != nil {
			t.Fatal(err)
		}
	}
	fresh := filepath.Join(dir, "new")
	for name, c := range map[string]struct {
		args string
		says []string
	}{
		"file that may not be read":      {"import --season OWN/new SHUT", []string{"shut.csv", "permission"}},
		"season that may not be written": {"import --season CLUB SHUT", []string{club, "can't be written to"}},
		"folder for a new season":        {"import --season NEW SHUT", []string{fresh, "can't be written to"}},
		"folder for the demo":            {"demo NEW", []string{"no place for the season", "permission"}},
		"file to write": {"export --season CLUB --table serves -o NEW.csv",
			[]string{"new.csv", "permission"}},
	} {
		words := strings.NewReplacer("OWN", own, "SHUT", shut, "CLUB", club, "NEW", fresh).Replace(c.args)
		p := nobody(strings.Fields(words)...)
		for range p.lines {
		}
		err := p.Wait()
		if p.ProcessState.ExitCode() != 1 {
			t.Errorf("%s: %v, said %q", name, err, p.err.String())
		}
		for _, want := range c.says {
			if !strings.Contains(p.err.String(), want) {
				t.Errorf("%s: said %q, want %q in it", name, p.err.String(), want)
			}
		}
	}

	g := nobody("open", "--no-browser", club).page()
	edit := season.Edit{Target: season.OnServe, Subject: firstServe(t, club), Field: "outcome", Value: "in"}
	if _, err := g.ask("change", map[string]any{"edits": []season.Edit{edit}}); err == nil ||
		!strings.Contains(err.Error(), "can't be written to") {
		t.Errorf("a change: %v", err)
	}
	if _, err := g.ask("open", map[string]any{"recipe": "contact_offset"}); err != nil {
		t.Fatal(err)
	}
	end, err := g.until(func(t told) bool { return t.Type == "ended" })
	if err != nil || strings.Contains(string(end.Body), `"error"`) {
		t.Errorf("a recipe over a season that may only be read: %.300s, %v", end.Body, err)
	}
	whole(t, club).Close()
}
