package command

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"

	"tossline/datasets/demo"
	"tossline/kernel/engine"
	"tossline/kernel/motion"
)

// asProgram, as the first argument, makes the test program Tossline itself.
const asProgram = "as-tossline"

func TestMain(m *testing.M) {
	if len(os.Args) > 1 {
		switch os.Args[1] {
		case "engine":
			engine.Main()
		case asProgram:
			ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
			code := Run(ctx, os.Args[2:], os.Stdout, os.Stderr)
			stop()
			os.Exit(code)
		}
	}
	os.Exit(m.Run())
}

// said is what a command came to.
type said struct {
	code     int
	out, err string
}

func run(args ...string) said {
	var out, errOut bytes.Buffer
	code := Run(context.Background(), args, &out, &errOut)
	return said{code, out.String(), errOut.String()}
}

// ok fails the test unless a command succeeds, and gives what it printed.
func ok(t *testing.T, args ...string) string {
	t.Helper()
	s := run(args...)
	if s.code != 0 {
		t.Fatalf("%s: exit code %d: %s", strings.Join(args, " "), s.code, s.err)
	}
	return s.out
}

// shortTake is a take of the demo season's first player with its first two serves.
var shortTake = sync.OnceValue(func() (short demo.Take) {
	enough := errors.New("one take will do")
	demo.Generate(context.Background(), demo.DefaultSeed, func(t demo.Take) error {
		short = t
		return enough
	})
	end := int((short.Serves[1].Truth.Events[motion.Contact] + 1.2) * short.Rate)
	short.Frames = short.Frames[:end*3*short.Layout.Len()]
	return short
})

// takeAsCSV is the short take with its text changed by change, which may be nil: change gets the coordinates of a
// frame as texts, and gives lines.
func takeAsCSV(change func(frame int, line string) string) []byte {
	t := shortTake()
	var b bytes.Buffer
	b.WriteString("time_s")
	for _, n := range t.Layout.Names() {
		fmt.Fprintf(&b, ",%[1]s_x_m,%[1]s_y_m,%[1]s_z_m", n)
	}
	b.WriteString("\n")
	width := 3 * t.Layout.Len()
	for i := range t.Len() {
		line := fmt.Sprintf("%g", float64(i)/t.Rate)
		for _, v := range t.Frames[i*width : (i+1)*width] {
			if v != v {
				line += ","
			} else {
				line += fmt.Sprintf(",%.4f", v)
			}
		}
		if change != nil {
			line = change(i, line)
		}
		b.WriteString(line + "\n")
	}
	return b.Bytes()
}

// write puts a file into a folder of the test's own.
func write(t *testing.T, name string, content []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, content, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// imported is a season with the short take.
func imported(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "club")
	ok(t, "import", "--season", dir, "--player", "Oriel Nash", "--session", "2026-03-14",
		write(t, "take.csv", takeAsCSV(nil)))
	return dir
}

func TestEveryCommandHasHelpWithAnExample(t *testing.T) {
	all := []string{"", "open", "demo", "import", "run", "check", "export", "verify", "report", "measures",
		"remove"}
	for _, words := range all {
		out := ok(t, append(strings.Fields(words), "--help")...)
		_, example, found := strings.Cut(out, "Examples:\n")
		if !found || !strings.Contains(example, "  tossline "+words) {
			t.Errorf("tossline %s --help has no example:\n%s", words, out)
		}
	}
}

// Words that are not understood: exit code 2, a sentence, and where to read more.
func TestMisuse(t *testing.T) {
	dir := imported(t)
	for _, c := range []struct {
		args string
		says string
	}{
		{"juggle", "juggle"},
		{"open a b", "at most 1"},
		{"--speed 3", "unknown flag: --speed"},
		{"demo", "accepts 1 arg"},
		{"import take.csv", "import needs --season; try tossline import --help"},
		{"import --season DIR", "import needs a file, or a table"},
		{"import --season DIR --map left_knee take.csv", "expected landmark=origin"},
		{"import --season DIR --height tall take.csv", "expected a height"},
		{"import --season DIR --rate fast take.csv", "invalid argument"},
		{"export --season DIR --table measures -o m.xlsx", "expected csv, parquet or arrow"},
		{"export --season DIR --table measures -o m", "say --format"},
		{"export --season DIR", "export needs --output"},
		{"run --season DIR", "accepts 1 arg"},
		{"run knee_flex.go --season DIR --set Player", "expected Name=value"},
		{"run knee_flex.go --season DIR --set Colour=red", "has no such setting; it has"},
		{"check", "at least 1"},
		{"verify", "accepts 1 arg"},
		{"measures all", "unknown command"},
	} {
		s := run(strings.Fields(strings.ReplaceAll(c.args, "DIR", dir))...)
		if s.code != 2 || !strings.Contains(s.err, c.says) || s.out != "" {
			t.Errorf("tossline %s: exit code %d, printed %q, said %q; want 2 and %q", c.args, s.code, s.out, s.err, c.says)
		}
	}
}

// What can't be done: exit code 1 and a sentence with the place.
func TestRefusals(t *testing.T) {
	dir := imported(t)
	file := write(t, "a file", []byte("x"))
	full := t.TempDir()
	os.WriteFile(filepath.Join(full, "other"), nil, 0o644)
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	port := fmt.Sprint(taken.Addr().(*net.TCPAddr).Port)
	mistake := write(t, "mistake.go", []byte("// Mistake\npackage recipe\n\nfunc Step() int { return nothing }\n"))
	past := write(t, "past.go", []byte("package recipe\n\nfunc at(xs []int, i int) int { return xs[i] }\n\n"+
		"func A() int {\n\treturn at([]int{1}, 1)\n}\n"))
	export := func(season, table, path string) []string {
		return []string{"export", "--season", season, "--table", table, "--format", "csv", "-o", path}
	}
	recipe := func(name, season string, more ...string) []string {
		return append([]string{"run", name, "--season", season}, more...)
	}
	for name, c := range map[string]struct {
		args []string
		says []string
	}{
		"open a file": {[]string{"open", "--no-browser", file}, []string{file}},
		"open a full folder": {[]string{"open", "--no-browser", full},
			[]string{full, "holds other things and no season"}},
		"open a taken port": {[]string{"open", "--no-browser", "--port", port, dir},
			[]string{"port " + port, "leave --port out"}},
		"demo in a full folder":   {[]string{"demo", full}, []string{full, "holds something already"}},
		"demo below a file":       {[]string{"demo", filepath.Join(file, "demo")}, []string{"no place for the season"}},
		"import into a file":      {[]string{"import", "--season", file, file}, []string{file}},
		"import a folder":         {[]string{"import", "--season", dir, full}, []string{filepath.Base(full), "folder"}},
		"import nothing":          {[]string{"import", "--season", dir, "none.bvh"}, []string{"none.bvh"}},
		"run on no season":        {recipe("knee_flex.go", "none"), []string{"none", "no such folder"}},
		"run on a folder":         {recipe("knee_flex.go", full), []string{"no season in this folder"}},
		"run no recipe":           {recipe("none.go", dir), []string{"there is no recipe none.go"}},
		"run a folder":            {recipe(full, dir), []string{"is a folder"}},
		"run a mistake":           {recipe(mistake, dir), []string{"mistake.go:4:26: ", "nothing"}},
		"check no recipe":         {[]string{"check", "none.go"}, []string{"there is no recipe none.go"}},
		"export no season":        {export("none", "serves", "x.csv"), []string{"no such folder"}},
		"export no table":         {export(dir, "balls", "x.csv"), []string{`"balls"`, "serves"}},
		"export into no folder":   {export(dir, "serves", "none/x.csv"), []string{"none"}},
		"export into a folder":    {export(dir, "serves", full), []string{"is a folder"}},
		"verify no season":        {[]string{"verify", full}, []string{"no season in this folder"}},
		"document into no folder": {recipe("knee_flex.go", dir, "--out", "none/x.html"), []string{"none"}},
		"setting outside a range": {recipe("contact_offset.go", dir, "--set", "Limit=9"), []string{"Limit"}},
		"step that panics":        {recipe(past, dir), []string{"past.go:3: A: ", "at, line 3", "A, line 6"}},
	} {
		t.Run(name, func(t *testing.T) {
			s := run(c.args...)
			if s.code != 1 {
				t.Errorf("exit code %d, want 1: %s%s", s.code, s.out, s.err)
			}
			for _, want := range c.says {
				if !strings.Contains(s.err, want) {
					t.Errorf("said %q, want %q in it", s.err, want)
				}
			}
			if strings.Contains(s.err, "panic") || strings.Contains(s.err, "goroutine") || strings.Contains(s.err, "0x") {
				t.Errorf("said %q", s.err)
			}
		})
	}
}

// report is the part of the import's JSON that others read.
type report struct {
	Files []struct {
		File      string
		Recording string
		Outcome   string
		Error     string
		Frames    int
		RateHz    float64 `json:"rate_hz"`
		Hand      string
		Serves    []struct {
			Serve  string
			CutOff bool `json:"cut_off"`
			Events map[string]struct {
				TimeS      float64 `json:"time_s"`
				Method     string
				Confidence float64
			}
		}
	}
}

func reportOf(t *testing.T, text string) (r report) {
	t.Helper()
	if err := json.Unmarshal([]byte(text), &r); err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	return r
}

func TestImport(t *testing.T) {
	take := shortTake()
	path := write(t, "take.csv", takeAsCSV(nil))
	dir := filepath.Join(t.TempDir(), "club")
	r := reportOf(t, ok(t, "import", "--season", dir, "--json", "--dry-run", path))
	if _, err := os.Stat(dir); err == nil || r.Files[0].Outcome != "" || r.Files[0].Serves[0].Serve != "" {
		t.Errorf("a dry run stored something: %+v", r)
	}
	r = reportOf(t, ok(t, "import", "--season", dir, "--json", "--player", "Oriel Nash", path))
	f := r.Files[0]
	if f.File != "take.csv" || f.Outcome != "new" || f.Frames != take.Len() || f.RateHz != take.Rate ||
		f.Hand != string(take.Player.Hand) || len(f.Serves) != 2 {
		t.Errorf("understood %+v", f)
	}
	for i, s := range f.Serves {
		contact, want := s.Events["contact"], take.Serves[i].Truth.Events[motion.Contact]
		if s.Serve == "" || s.CutOff || contact.Method == "" || contact.Confidence <= 0 ||
			contact.TimeS < want-0.01 || contact.TimeS > want+0.01 {
			t.Errorf("serve %d: %+v, want contact at %.3f s", i+1, s, want)
		}
	}
	if again := reportOf(t, ok(t, "import", "--season", dir, "--json", path)); again.Files[0].Outcome != "already there" {
		t.Errorf("the same file again: %+v", again.Files[0])
	}
	text := ok(t, "import", "--season", dir, "--player", "Somebody Else", path)
	for _, want := range []string{"take.csv: csv", "2 serves", "replaced"} {
		if !strings.Contains(text, want) {
			t.Errorf("printed %s, want %q in it", text, want)
		}
	}
	if s := run("import", "--season", dir, "--json", path, "none.csv"); s.code != 1 {
		t.Errorf("with one file that is not there: exit code %d", s.code)
	} else if r := reportOf(t, s.out); len(r.Files) != 2 || r.Files[0].Error != "" || r.Files[1].Error == "" {
		t.Errorf("with one file that is not there: %+v", r)
	}
}

// files lists what lies in a folder and below it.
func files(t *testing.T, dir string) (names []string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			names = append(names, strings.TrimPrefix(path, dir))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return names
}

// TestBadFiles imports what is no recording, or a bad one: a sentence that names the file and, where there is one, the
// place in it; nothing is stored, not even half.
func TestBadFiles(t *testing.T) {
	dir := imported(t)
	before := files(t, dir)
	words := func(at int, change func(fields []string)) []byte {
		return takeAsCSV(func(i int, line string) string {
			if i == at {
				fields := strings.Split(line, ",")
				change(fields)
				line = strings.Join(fields, ",")
			}
			return line
		})
	}
	for name, c := range map[string]struct {
		content []byte
		says    []string
	}{
		"empty.csv":     {nil, []string{"empty"}},
		"empty.bvh":     {nil, []string{"empty"}},
		"zeros.csv":     {make([]byte, 1<<16), nil},
		"truncated.bvh": {[]byte("HIERARCHY\nROOT Hips\n{\n  OFFSET 0 0 0\n  CHANNELS 6 Xpo"), []string{"line"}},
		"no frames.bvh": {[]byte("HIERARCHY\nROOT Hips\n{\n  OFFSET 0 0 0\n  CHANNELS 3 Xposition Yposition Zposition\n" +
			"}\nMOTION\nFrames: 0\nFrame Time: 0.01\n"), nil},
		"word.csv":       {words(3, func(f []string) { f[7] = "high" }), []string{"5", "high"}},
		"headless.csv":   {[]byte("1,2,3\n4,5,6\n"), nil},
		"picture.csv":    {[]byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"), nil},
		"time runs back": {words(100, func(f []string) { f[0] = "0.1" }), nil},
	} {
		t.Run(name, func(t *testing.T) {
			s := run("import", "--season", dir, write(t, name, c.content))
			if s.code != 1 || !strings.Contains(s.err, name) {
				t.Errorf("exit code %d, said %q", s.code, s.err)
			}
			for _, want := range c.says {
				if !strings.Contains(s.err, want) {
					t.Errorf("said %q, want %q in it", s.err, want)
				}
			}
			if strings.Contains(s.err, "panic") || strings.Contains(s.err, "engine") {
				t.Errorf("said %q", s.err)
			}
		})
	}
	if after := files(t, dir); !slices.Equal(after, before) {
		t.Errorf("files of the season: %v, before: %v", after, before)
	}
	if out := ok(t, "verify", dir); !strings.Contains(out, "1 recording, 2 serves") {
		t.Errorf("verify: %s", out)
	}
}

// Bad values in a good file are told and survived.
func TestFlawedFile(t *testing.T) {
	flawed := takeAsCSV(func(i int, line string) string {
		fields := strings.Split(line, ",")
		switch {
		case i >= 200 && i < 210:
			fields[5] = "NaN"
		case i == 300:
			return line + "\n" + line // a frame twice
		}
		return strings.Join(fields, ",")
	})
	dir := filepath.Join(t.TempDir(), "club")
	r := reportOf(t, ok(t, "import", "--season", dir, "--json", write(t, "flawed.csv", flawed)))
	if len(r.Files[0].Serves) != 2 {
		t.Errorf("%d serves, want 2", len(r.Files[0].Serves))
	}
}

// TestLongLine imports a file with a line of 200 MB.
func TestLongLine(t *testing.T) {
	path := write(t, "long.csv", []byte("time_s,left_hand_x_m\n"))
	if err := os.Truncate(path, 200<<20); err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "club")
	if s := run("import", "--season", dir, path); s.code != 1 || !strings.Contains(s.err, "long.csv") {
		t.Errorf("exit code %d, said %q", s.code, s.err)
	}
}

func TestExportAndRun(t *testing.T) {
	dir := imported(t)
	out := t.TempDir()
	for _, table := range []string{"serves", "events", "measures", "frames", "signals"} {
		for format, begins := range map[string]string{"csv": "", "parquet": "PAR1", "arrow": "ARROW1"} {
			path := filepath.Join(out, table+"."+format)
			ok(t, "export", "--season", dir, "--table", table, "-o", path)
			data, err := os.ReadFile(path)
			if err != nil || len(data) == 0 || !strings.HasPrefix(string(data), begins) {
				t.Errorf("%s: %.20q, %v", path, data, err)
			}
		}
	}
	measures, err := os.ReadFile(filepath.Join(out, "measures.csv"))
	header, rest, _ := strings.Cut(string(measures), "\n")
	if err != nil || strings.Count(rest, "\n") != 2 {
		t.Fatalf("measures: %d lines, %v", strings.Count(rest, "\n"), err)
	}
	columns := strings.Split(header, ",")
	for _, want := range []string{"serve", "recording", "file", "player", "contact_s", "front_knee_flexion_deg",
		"contact_offset_m", "drop_depth_m"} {
		if !slices.Contains(columns, want) {
			t.Errorf("measures have no column %s: %s", want, header)
		}
	}

	page := filepath.Join(out, "contact.html")
	text := ok(t, "run", "contact_offset.go", "--season", dir, "--out", page, "--json", "--set", "Limit=0.2")
	var ran struct {
		Title    string
		Settings map[string]json.RawMessage
		Steps    []struct{ Name, State string }
		Tables   map[string][]struct{ Name string }
	}
	if err := json.Unmarshal([]byte(text), &ran); err != nil {
		t.Fatal(err)
	}
	if ran.Title != "Contact offset" || string(ran.Settings["Limit"]) != "0.2" || len(ran.Steps) < 4 ||
		len(ran.Tables) == 0 {
		t.Errorf("ran %+v", ran)
	}
	for _, s := range ran.Steps {
		if s.State != "done" {
			t.Errorf("step %s is %s", s.Name, s.State)
		}
	}
	html, err := os.ReadFile(page)
	if err != nil || !strings.Contains(string(html), "Contact offset") {
		t.Errorf("document: %d bytes, %v", len(html), err)
	}
	if text := ok(t, "run", "knee_flex", "--season", dir); !strings.Contains(text, "Knee") {
		t.Errorf("printed %s", text)
	}
}

func TestCheck(t *testing.T) {
	const head = "package recipe\n\n// Step gives a number.\n"
	good := write(t, "good.go", []byte("// Good\n"+head+"func Step() int { return 1 }\n"))
	if out := ok(t, "check", good); out != "" {
		t.Errorf("printed %q", out)
	}
	bad := write(t, "bad.go", []byte("// Bad\n"+head+"func Step() int { return one }\n"))
	if s := run("check", good, bad); s.code != 1 || s.out != bad+":5:26: undefined: one\n" {
		t.Errorf("exit code %d, printed %q, said %q", s.code, s.out, s.err)
	}
}

func TestRemove(t *testing.T) {
	dir := imported(t)
	serve := firstServe(t, dir)
	recording, _, _ := strings.Cut(serve, "-")
	if s := run("remove", "--season", dir, "none"); s.code != 1 || !strings.Contains(s.err, "no recording none") {
		t.Errorf("exit code %d, said %q", s.code, s.err)
	}
	ok(t, "remove", "--season", dir, recording)
	if out := ok(t, "verify", dir); !strings.Contains(out, "0 recordings, 0 serves") {
		t.Errorf("verify: %s", out)
	}
	if left := files(t, filepath.Join(dir, "frames")); len(left) != 0 {
		t.Errorf("left: %v", left)
	}
}

func TestVerify(t *testing.T) {
	dir := imported(t)
	out := ok(t, "verify", dir)
	if !strings.Contains(out, "1 recording, 2 serves") || !strings.Contains(out, "all is well") {
		t.Errorf("printed %s", out)
	}
	frames, err := filepath.Glob(filepath.Join(dir, "frames", "*.arrow"))
	if err != nil || len(frames) != 1 {
		t.Fatal(frames, err)
	}
	data, err := os.ReadFile(frames[0])
	if err != nil {
		t.Fatal(err)
	}
	unused := filepath.Join(dir, "frames", strings.Repeat("a", 64)+".arrow")
	if err := os.WriteFile(unused, data, 0o644); err != nil {
		t.Fatal(err)
	}
	if out := ok(t, "verify", dir); !strings.Contains(out, "note: frames/aaa") || !strings.Contains(out, "all is well") {
		t.Errorf("with a file that nothing uses: printed %s", out)
	}
	data[len(data)/2] ^= 1
	if err := os.WriteFile(frames[0], data, 0o644); err != nil {
		t.Fatal(err)
	}
	s := run("verify", dir)
	if s.code != 1 || !strings.Contains(s.out, "(take.csv): its frames file was changed") ||
		!strings.Contains(s.out, "1 thing wrong") {
		t.Errorf("exit code %d, printed %s", s.code, s.out)
	}
	if s := run("verify", "--json", dir); s.code != 1 || !strings.Contains(s.out, `"problems":[{`) {
		t.Errorf("exit code %d, printed %s", s.code, s.out)
	}
}

// A season whose database is none is refused in words by every command.
func TestDamagedDatabase(t *testing.T) {
	dir := imported(t)
	text := []byte("no database at all, but long enough to look like one")
	if err := os.WriteFile(filepath.Join(dir, "season.db"), text, 0o644); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"verify", dir}, {"import", "--season", dir, "x.bvh"}, {"open", "--no-browser", dir},
		{"export", "--season", dir, "--table", "serves", "-o", filepath.Join(t.TempDir(), "x.csv")}} {
		if s := run(args...); s.code != 1 || !strings.Contains(s.err, "season.db is damaged; restore it") {
			t.Errorf("%v: exit code %d, said %q", args, s.code, s.err)
		}
	}
}
