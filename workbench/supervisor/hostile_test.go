package supervisor

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"tossline/kernel/engine"
	"tossline/kernel/interp"
)

// fate is how a hostile recipe must end.
type fate string

const (
	refused fate = "refused" // by the checker, before anything runs; says is part of a remark
	failed  fate = "failed"  // step Bad; says is part of its message
	harmed  fate = "ended"   // its own engine, and nothing else; says is part of the sentence
	stopped fate = "stopped" // by the reader, since it never ends
	shown   fate = "shown"   // it does no harm
)

// hostile are recipes that want to break out, break down, or never end. Each has a step Good besides.
var hostile = []struct {
	name    string
	imports string // separated by spaces
	code    string
	ends    fate
	says    string
}{
	// Out of the process.
	{"reads a file", "os", `func Bad() string { b, _ := os.ReadFile("/etc/passwd"); return string(b) }`, refused, `"os"`},
	{"opens a socket", "net", `func Bad() error { _, err := net.Dial("tcp",
		"127.0.0.1:80"); return err }`, refused, `"net"`},
	{"asks the web", "net/http",
		`func Bad() int { _, _ = http.Get("http://127.0.0.1"); return 0 }`, refused, `"net/http"`},
	{"starts a program", "os/exec", `func Bad() error { return exec.Command("/bin/true").Run() }`, refused, `"os/exec"`},
	{"calls the system", "syscall", `func Bad() int { return syscall.Getpid() }`, refused, `"syscall"`},
	{"uses unsafe", "unsafe",
		`func Bad(good float64) int { return int(uintptr(unsafe.Pointer(&good))) }`, refused, `"unsafe"`},
	{"calls C", "C", `func Bad() int { return int(C.getpid()) }`, refused, `"C"`},
	{"reflects", "reflect", `func Bad() string { return reflect.TypeOf(1).String() }`, refused, `"reflect"`},
	{"turns the collector off", "runtime/debug",
		`func Bad() int { return debug.SetGCPercent(-1) }`, refused, `"runtime/debug"`},
	{"leaves its goroutine", "runtime", `func Bad() int { runtime.Goexit(); return 0 }`, refused, `"runtime"`},
	{"reads files by templates", "text/template", `func Bad() int { _, _ = template.ParseFiles("/etc/passwd"); return 0 }`,
		refused, `"text/template"`},
	{"reads archives", "archive/zip",
		`func Bad() int { _, _ = zip.OpenReader("/x.zip"); return 0 }`, refused, `"archive/zip"`},
	{"ends the process by a log", "log", `func Bad() int { log.Default().Fatal("x"); return 0 }`, refused, `"log"`},
	{"ends the process by flags", "flag", `func Bad() int { flag.Parse(); return 0 }`, refused, `"flag"`},
	{"takes the interpreter", "github.com/traefik/yaegi/interp",
		`func Bad() int { interp.New(interp.Options{}); return 0 }`,
		refused, `yaegi/interp"`},
	{"takes its tables", "github.com/traefik/yaegi/stdlib", `func Bad() int { return len(stdlib.Symbols) }`, refused,
		`yaegi/stdlib"`},
	{"takes the engine's own functions", "host", `func Bad() int { host.Spent(1); return 0 }`, refused, `"host"`},
	{"takes the trampoline", "tossline/trampoline", `func Bad() int { trampoline.Next(); return 0 }`, refused,
		`"tossline/trampoline"`},
	{"takes the season writer", "tossline/datasets/season", `func Bad() int { season.Create("/x",
		"y"); return 0 }`, refused,
		`"tossline/datasets/season"`},
	{"takes sources from disk", "../leak", `func Bad() int { return leak.X }`, refused, `"../leak"`},
	{"links by name", "",
		"//go:linkname exit os.runtime_beforeExit\nfunc exit(int)\nfunc Bad() int { exit(1); return 0 }", refused,
		"no directives"},
	{"has a function without a body", "", "func exit(int)\nfunc Bad() int { exit(1); return 0 }",
		refused, "missing function body"},
	{"embeds a file", "", "//go:embed /etc/passwd\nvar text string\nfunc Bad() string { return text }",
		refused, "no directives"},
	{"moves its lines", "", "//line /etc/passwd:1\nfunc Bad() int { return 0 }", refused, "no directives"},
	{"looks at the clock", "time", `func Bad() int64 { return time.Now().UnixNano() }`, refused, "time.Now"},
	{"reads time zones from disk", "time",
		`func Bad() string { l, _ := time.LoadLocation("../../etc/passwd"); return l.String() }`,
		refused, "reads no files"},

	// Beside the step.
	{"starts a goroutine", "", `func Bad() int { go func() { for { } }(); return 0 }`, refused, "goroutines"},
	{"makes a channel", "", `func Bad() int { c := make(chan int); return <-c }`, refused, "channels"},
	{"waits for ever", "", `func Bad() int { select {} }`, refused, "channels"},
	{"locks", "sync", `func Bad() int { var m sync.Mutex; m.Unlock(); return 0 }`, refused, `"sync"`},
	{"sleeps", "time", `func Bad() int { time.Sleep(time.Hour); return 0 }`, refused, "time.Sleep"},
	{"calls back later", "time", `func Bad() int { time.AfterFunc(1,
		func() { panic(1) }); return 0 }`, refused, "time.AfterFunc"},
	{"pulls an iterator", "iter",
		`func Bad() int { next, _ := iter.Pull(func(yield func(int) bool) { for { } }); i, _ := next(); return i }`,
		refused, "iter.Pull"},
	{"has an init", "", "func init() { for { } }\nfunc Bad() int { return 0 }", refused, "no init"},
	{"keeps state", "", "var count int\nfunc Bad() int { count++; return count }", refused, "count"},

	// What the checker itself might choke on.
	{"a constant beyond measure", "", "const c = 1 << 100000000000\nfunc Bad() int { return 0 }", refused, "constant"},
	{"a constant that grows", "", "const c = 1 << 500 << 500 << 500 << 500\nfunc Bad() int { return c >> 1990 }",
		refused, "constant"},
	{"a text that doubles", "", doubling(40), harmed, "while reading the recipe"},
	{"an array beyond measure", "", "var a [1 << 40]int\nfunc Bad() int { return len(a) }", refused, "too large"},
	{"an array by its last index", "", "var a = [...]int{1<<33: 1}\nfunc Bad() int { return len(a) }",
		refused, "too large"},
	{"arrays in arrays", "", "var a [1000][1000][1000][1000]byte\nfunc Bad() int { return len(a) }", refused, "too large"},
	{"a generic function of ever larger types", "",
		"func f[T any](n int) int { if n == 0 { return 0 }; return f[[]T](n - 1) }\nfunc Bad() int { return f[int](9) }",
		refused, ""},
	{"a generic type of ever larger types", "",
		"type t[P any] struct{ next *t[t[P]] }\nfunc Bad() int { var x t[int]; _ = x; return 0 }",
		refused, ""},
	{"instances that double", "", instances(30), refused, ""},
	{"a type within itself", "", "type t struct{ t t }\nfunc Bad() int { var x t; _ = x; return 0 }",
		refused, "invalid recursive type"},
	{"interfaces that embed each other", "",
		"type a interface{ b }\ntype b interface{ a }\nfunc Bad() int { var x a; _ = x; return 0 }",
		refused, "invalid recursive type"},
	{"brackets without end", "", "func Bad() int { return " + strings.Repeat("(", 100_000) + "1" + strings.Repeat(")",
		100_000) + " }",
		refused, "nested"},
	{"signs without end", "", "func Bad() int { return " + strings.Repeat("- ", 100_000) + "1 }", refused, "nested"},
	{"a long sum", "", "func Bad() int { return 1" + strings.Repeat("+1", 60_000) + " }", refused, "operators"},
	{"a chain of calls", "",
		"type t struct{}\nfunc (t) f() t { return t{} }\nfunc Bad() int { t{}" + strings.Repeat(".f()",
			40_000) + "; return 1 }",
		refused, "calls"},
	{"a struct that doubles", "", structs(40), harmed, "gave no sign of life for 3s while reading"},
	{"a long source", "", "// " + strings.Repeat("x", 1<<20) + "\nfunc Bad() int { return 0 }", refused, "the most is"},
	{"zero bytes", "", "// \x00\nfunc Bad() int { return 0 }", refused, "zero byte"},
	{"mistakes without end", "", "func Bad() int { return 0 }\n" + strings.Repeat("var _ int = \"x\"\n", 3000),
		refused, "cannot use"},
	{"steps that need each other", "",
		"func Bad(worse int) int { return worse }\nfunc Worse(bad int) int { return bad }", refused,
		"need each other"},

	// Never ending.
	{"a loop", "", `func Bad() int { for { } }`, stopped, ""},
	{"a loop of jumps", "", "func Bad() int {\nagain:\n\tgoto again\n}", refused, "goto"},
	{"a loop that recovers", "", "func Bad() int { for { func() { defer func() { recover() }(); panic(1) }() } }",
		stopped, ""},
	{"a loop in a deferred function", "", "func Bad() int { defer func() { for { } }(); return 1 }", stopped, ""},
	{"a loop in a variable", "", "var x = spin()\nfunc spin() int { for { } }\nfunc Bad() int { return x }", stopped, ""},
	{"an iterator without end", "",
		"func Bad() int {\n\tn := 0\n\tfor range func(yield func() bool) { for yield() { } } { n++ }\n\treturn n\n}",
		stopped, ""},
	{"a comparison that loops", "sort", `func Bad() int { sort.Slice([]int{3, 1, 2},
		func(i, j int) bool { for { } }); return 0 }`, stopped, ""},
	{"a mapping that loops", "strings", `func Bad() string { return strings.Map(func(r rune) rune { for { } },
		"abc") }`, stopped, ""},
	{"a filter that loops", "tossline/kernel/table",
		`func Bad() table.Table { return table.New(table.Number("a", "", []float64{1,
			2})).Keep(func(r table.Row) bool { for { } }) }`,
		stopped, ""},
	{"an error that loops", "",
		"type e struct{}\nfunc (e) Error() string { for { } }\nfunc Bad() (int, error) { return 0, e{} }", stopped, ""},
	{"a compiled call that takes for ever", "sort",
		"func Bad() int {\n\tx := make([]int, 4000000)\n\tfor {\n\t\tsort.Sort(sort.Reverse(sort.IntSlice(x)))\n" +
			"\t\tsort.Ints(x)\n\t}\n}",
		stopped, ""},
	{"a pattern that takes long", "regexp strings",
		"func Bad() int {\n\tr := regexp.MustCompile(`(x+x+)+y`)\n\ts := strings.Repeat(\"x\", 30000000)\n" +
			"\tn := 0\n\tfor {\n\t\tif r.MatchString(s) { n++ }\n\t}\n}",
		stopped, ""},
	{"a flood of lines", "fmt", `func Bad() int { for { fmt.Println("flood") } }`, stopped, ""},
	{"a flood of progress", "",
		`func Bad(progress func(done, total int)) int { for i := 0; ; i++ { progress(i, i) } }`, stopped, ""},

	// Too much.
	{"calls without end", "", `func Bad() int { return Bad() + 1 }`, failed, "calls itself more than"},
	{"calls of each other", "",
		"func a(n int) int { return b(n) + 1 }\nfunc b(n int) int { return a(n) + 1 }\nfunc Bad() int { return a(1) }",
		failed, "calls itself more than"},
	{"a closure that calls itself", "",
		"func Bad() int { var f func(int) int; f = func(n int) int { return f(n+1) + 1 }; return f(0) }",
		failed, "calls itself more than"},
	{"a text of something within itself", "fmt",
		`func Bad() string { x := []any{nil}; x[0] = x; return fmt.Sprint(x) }`, harmed, "ran out of stack"},
	{"a deferred function that panics and calls itself", "",
		"func f() { defer f(); panic(1) }\nfunc Bad() int { f(); return 1 }", failed, "calls itself more than"},
	{"a slice beyond memory", "", "func Bad(good float64) int { return len(make([]byte, int(good)<<50)) }",
		failed, "out of range"},
	{"a slice of all memory", "",
		"func Bad(good float64) int { x := make([]byte, int(good)<<26); for i := range x { x[i] = 1 }; return len(x) }",
		harmed, "memory"},
	{"a text repeated beyond memory", "strings", `func Bad() int { return len(strings.Repeat("x",
		1<<40)) }`, harmed, "memory"},
	{"a text that doubles at run time", "", `func Bad() int { s := "x"; for { s += s } }`, harmed, "memory"},
	{"a list that grows", "", "func Bad() int { var x [][]int; for { x = append(x, make([]int, 1000)) } }",
		harmed, "memory"},
	{"a map that grows", "", "func Bad() int { m := map[int][]int{}; for i := 0; ; i++ { m[i] = make([]int, 100) } }",
		harmed, "memory"},
	{"closures that pile up", "",
		"func Bad() int { var x []func() int; for i := 0; ; i++ { x = append(x, func() int { return i }) } }", harmed,
		"memory"},
	{"deferred calls that pile up", "", "func Bad() int { for { defer func() {}() } }", harmed, "memory"},

	// Results that are too much, or not what they seem.
	{"a giant text", "strings", `func Bad() string { return strings.Repeat("x", 50<<20) }`, failed, "too long to read"},
	{"a giant list", "", `func Bad() []float64 { return make([]float64, 3000000) }`, failed, "too long to show"},
	{"a list within itself", "",
		`func Bad() []any { x := []any{nil}; x[0] = x; return x }`, failed, "does it contain itself?"},
	{"a long list of results", "", `func Bad() []bool { return make([]bool, 1000) }`, failed, "too long to read"},
	{"a giant error", "errors strings", `func Bad() (int, error) { return 0, errors.New(strings.Repeat("x",
		50<<20)) }`, failed, "xxxx"},
	{"a giant panic", "strings", `func Bad() int { panic(strings.Repeat("x", 20<<20)) }`, failed, "xxxx"},
	{"a giant line", "fmt strings", `func Bad() int { fmt.Print(strings.Repeat("x", 50<<20)); return 1 }`, shown, ""},
	{"many lines", "fmt", `func Bad() int { for i := range 5000 { fmt.Println(i) }; return 1 }`, shown, ""},
	{"a chart of many points", "github.com/go-echarts/go-echarts/v2/charts github.com/go-echarts/go-echarts/v2/opts",
		`func Bad() *charts.Scatter { return charts.NewScatter().AddSeries("a", make([]opts.ScatterData, 500000)) }`, failed,
		"the chart has 500000 points"},
	{"a chart with code in it", "github.com/go-echarts/go-echarts/v2/charts github.com/go-echarts/go-echarts/v2/opts",
		"func Bad() *charts.Bar {\n\tb := charts.NewBar()\n" +
			"\tb.SetGlobalOptions(charts.WithTooltipOpts(opts.Tooltip{Formatter: opts.FuncOpts(\"alert(1)\")}))\n\treturn b\n}",
		failed, "JavaScript"},
	{"a table that is no table", "tossline/kernel/table", `func Bad() table.Table { return table.New(table.Number("a",
		"", make([]float64, 2500000))) }`,
		failed, "rows"},

	{"a function", "", "func Bad() func() { return func() {} }", failed, "a function cannot be shown"},
	{"a chart that is none", "github.com/go-echarts/go-echarts/v2/charts", "func Bad() *charts.Bar { return nil }", failed,
		""},
	{"a chart within itself", "github.com/go-echarts/go-echarts/v2/charts github.com/go-echarts/go-echarts/v2/opts",
		"func Bad() *charts.Tree {\n\tn := &opts.TreeData{Name: \"a\"}\n\tn.Children = []*opts.TreeData{n}\n" +
			"\treturn charts.NewTree().AddSeries(\"t\", []opts.TreeData{*n})\n}",
		failed, "does it contain itself?"},
	{"an error that panics", "", "type e struct{}\nfunc (e) Error() string { panic(1) }\nfunc Bad() (int, error) { return 0, e{} }",
		failed, "its method Error panics"},
	{"a width beyond measure", "fmt", `func Bad() int { return len(fmt.Sprintf("%1000000000d", 1)) }`, shown, ""},

	// Sources that take long to read.
	{"a long list in the source", "", "var x = []float64{" + strings.Repeat("1,",
		20_000) + "}\nfunc Bad() int { return len(x) }", shown, ""},
	{"many functions", "", functions(400), shown, ""},
	{"conditions without end", "", "func Bad(good float64) int {\n\tn := int(good)\n\tif n == 0 {\n\t\treturn 1\n\t}" +
		strings.Repeat(" else if n == 1 {\n\t\treturn 2\n\t}", 400) + "\n\treturn 0\n}", shown, ""},
	{"closures in closures", "", "func Bad() int { return " + strings.Repeat("func() int { return ",
		90) + "1" + strings.Repeat(" }()", 90) + " }", shown, ""},
	{"cases without end", "", "func Bad(good float64) int {\n\tswitch int(good) {\n" + cases(400) + "\t}\n\treturn 0\n}",
		shown, ""},

	// Faults.
	{"nothing dereferenced", "", "func Bad() int { var p *int; return *p }", failed, ""},
	{"an index out of range", "", "func Bad() int { x := []int{1}; return x[len(x)] }", failed, "index out of range"},
	{"a division by zero", "", "func Bad() int { zero := 0; return 1 / zero }", failed, "divide by zero"},
	{"a panic with nothing", "", "func Bad() int { panic(nil) }", failed, ""},
	{"a write to a map that is none", "", "func Bad() int { var m map[int]int; m[1] = 1; return 1 }", failed, "nil map"},
}

// doubling is a source whose constants double n times.
func doubling(n int) string {
	var b strings.Builder
	b.WriteString("const c0 = \"xxxxxxxx\"\n")
	for i := range n {
		fmt.Fprintf(&b, "const c%d = c%d + c%d\n", i+1, i, i)
	}
	fmt.Fprintf(&b, "func Bad() int { return len(c%d) }", n)
	return b.String()
}

// functions is a source of n functions, each of which calls the next.
func functions(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "func f%d(x int) int { return f%d(x + 1) }\n", i, i+1)
	}
	fmt.Fprintf(&b, "func f%d(x int) int { return x }\nfunc Bad() int { return f%d(1) }", n, n-50)
	return b.String()
}

// cases are those of a switch over numbers.
func cases(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "\tcase %d:\n\t\treturn %d\n", i, i)
	}
	return b.String()
}

// structs is a source whose structs have two to the n fields in all.
func structs(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "type t%d struct{ a, b t%d }\n", i, i+1)
	}
	fmt.Fprintf(&b, "type t%d struct{ a, b int }\nfunc Bad() int { var x t0; _ = x; return 1 }", n)
	return b.String()
}

// instances is a source whose generic functions have two to the n instances.
func instances(n int) string {
	var b strings.Builder
	b.WriteString("type pair[A, B any] struct { a *A; b *B }\n")
	for i := range n {
		fmt.Fprintf(&b, "func f%d[T any]() int { return f%d[pair[T, int]]() + f%d[pair[int, T]]() }\n", i, i+1, i+1)
	}
	fmt.Fprintf(&b, "func f%d[T any]() int { return 1 }\nfunc Bad() int { return f0[int]() }", n)
	return b.String()
}

// recipeOf is a whole recipe with a step Good before the code.
func recipeOf(imports, code string) string {
	var b strings.Builder
	b.WriteString("// Hostile\npackage recipe\n\n")
	for path := range strings.FieldsSeq(imports) {
		fmt.Fprintf(&b, "import %q\n", path)
	}
	return b.String() + "\n// Good\nfunc Good() float64 { return 42 }\n\n" + code + "\n"
}

const harmless = "// Bad\nfunc Bad(good float64) float64 { return good + 1 }"

// kept is a file tree as it is: names and contents.
func kept(t *testing.T, folder string) map[string][32]byte {
	t.Helper()
	all := map[string][32]byte{}
	err := filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		all[path] = sha256.Sum256(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// Whatever a recipe does, it ends as it must, the next run works with the results of before still there, and no file
// has changed.
func TestHostileRecipes(t *testing.T) {
	if testing.Short() {
		t.Skip("a hundred engines take a while to come to grief")
	}
	folder := t.TempDir()
	for _, name := range []string{"season.db", "recipe.go"} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte("untouched"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	before := kept(t, folder)
	t.Run("all", func(t *testing.T) {
		for _, c := range hostile {
			t.Run(c.name, func(t *testing.T) {
				t.Parallel()
				limits := Limits{Memory: 256 << 20, Read: patience, Silence: patience}
				if strings.Contains(c.says, "while reading") {
					limits.Read = 3 * time.Second
				}
				s := start(t, Options{Season: emptyIn(folder), Limits: limits})
				if _, err := s.run(t, recipeOf("", harmless)); err != nil {
					t.Fatal("before:", err)
				}
				ended := s.runHostile(t, recipeOf(c.imports, c.code), c.ends, c.says)
				began := time.Now()
				after, err := s.run(t, recipeOf("", harmless))
				steps := after.steps()
				if err != nil || !steps["Good"].Kept || !steps["Bad"].Kept || len(steps["Bad"].Results) != 1 {
					t.Errorf("afterwards: %v, %+v", err, steps)
				}
				t.Logf("%s after %v; the next run took %v", c.ends, ended.Round(time.Millisecond),
					time.Since(began).Round(time.Millisecond))
			})
		}
	})
	if after := kept(t, folder); !maps.Equal(before, after) {
		t.Errorf("files were %v, are %v", before, after)
	}
}

// runHostile runs a recipe that must end as said, stops it where it doesn't, and says how long that took: from the
// stop, if it was stopped.
func (s *Supervisor) runHostile(t *testing.T, source string, ends fate, says string) time.Duration {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 2*patience)
	defer cancel()
	began := time.Now()
	if ends == stopped {
		time.AfterFunc(500*time.Millisecond, cancel)
		began = began.Add(500 * time.Millisecond)
	}
	var got seen
	err := s.Run(ctx, Job{File: "rogue.go", Source: source}, got.observe)
	took := time.Since(began)
	bad, message := got.steps()["Bad"], ""
	if bad.Error != nil {
		message = bad.Error.Message
	}
	ending, harmedIt := errors.AsType[*Ending](err)
	switch ends {
	case refused:
		if remarks := got.remarks(); err == nil || remarks == "" || !strings.Contains(remarks, says) || bad.State != "" {
			t.Errorf("not refused: %v, remarks %.300q, step %s", err, remarks, bad.State)
		}
	case failed:
		long := len(message) > engine.MaxMessage+3
		if err != nil || bad.State != interp.Failed || !strings.Contains(message, says) || long {
			t.Errorf("not failed: %v, %s, %.300q", err, bad.State, message)
		}
	case harmed:
		if !harmedIt || !strings.Contains(ending.Error(), says) {
			t.Errorf("not ended: %v, %s, %.300q", err, bad.State, message)
			if harmedIt {
				t.Log(ending.Said)
			}
		}
	case stopped:
		if !errors.Is(err, context.Canceled) || took > 2*time.Second {
			t.Errorf("not stopped: %v after %v, %s, %.300q, remarks %.300q", err, took, bad.State, message, got.remarks())
		}
	case shown:
		if err != nil || bad.State != interp.Done || got.lines() > engine.MaxLogLines+1 {
			t.Errorf("not shown: %v, %s, %.300q, %d lines", err, bad.State, message, got.lines())
		}
	}
	return took
}

// remarks are the messages of the checker.
func (s *seen) remarks() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	var all strings.Builder
	for _, e := range s.events {
		for _, d := range e.Diagnostics {
			fmt.Fprintf(&all, "%d:%d: %s\n", d.Line, d.Column, d.Message)
		}
	}
	return all.String()
}

// lines counts what was printed.
func (s *seen) lines() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	n := 0
	for _, e := range s.events {
		if e.Log != nil {
			n++
		}
	}
	return n
}
