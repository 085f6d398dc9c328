package lower

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/traefik/yaegi/interp"
	"golang.org/x/tools/txtar"

	"tossline/kernel/interp/api"
	"tossline/kernel/interp/symbols"
)

// program is one case of the corpus: Go declarations with a function Main, which prints.
type program struct {
	name, source string
}

// imported are the packages that the programs of the corpus may use without saying so.
var imported = []string{"bytes", "cmp", "errors", "fmt", "iter", "maps", "math", "math/rand/v2", "slices", "sort",
	"strconv", "strings", "time", "unicode", "unicode/utf8"}

// whole adds the package clause and the imports to the declarations of a program.
func whole(pkg, declarations string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "package %s\n", pkg)
	for _, path := range imported {
		name := path[strings.LastIndex(path, "/")+1:]
		if name == "v2" {
			name = "rand"
		}
		if regexp.MustCompile(`\b` + name + `\.[A-Z]`).MatchString(declarations) {
			fmt.Fprintf(&b, "import %q\n", path)
		}
	}
	return b.String() + "\n" + declarations
}

// corpus reads the programs of all archives of testdata.
func corpus(t testing.TB) []program {
	names, err := filepath.Glob("testdata/*.txtar")
	if err != nil || len(names) == 0 {
		t.Fatalf("no corpus: %v", err)
	}
	var all []program
	for _, name := range names {
		if group := strings.TrimSuffix(filepath.Base(name), ".txtar"); group != "refused" {
			all = append(all, archived(t, group)...)
		}
	}
	return all
}

// archived reads the programs of one archive.
func archived(t testing.TB, group string) []program {
	archive, err := txtar.ParseFile("testdata/" + group + ".txtar")
	if err != nil {
		t.Fatal(err)
	}
	var all []program
	for _, f := range archive.Files {
		all = append(all, program{group + "/" + f.Name, string(f.Data)})
	}
	return all
}

// compiled runs all programs in one compiled one, and gives what each printed.
func compiled(t testing.TB, programs []program) []string {
	dir := t.TempDir()
	write := func(name, text string) {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("go.mod", "module corpus\n\ngo 1.26\n")
	main := "package main\n\nimport (\n\t\"fmt\"\n"
	calls := ""
	for i, p := range programs {
		write(fmt.Sprintf("p%d/recipe.go", i), whole("recipe", p.source))
		main += fmt.Sprintf("\tp%d \"corpus/p%d\"\n", i, i)
		calls += fmt.Sprintf("\trun(p%d.Main)\n", i)
	}
	main += ")\n\nfunc run(f func()) {\n\tdefer func() {\n" +
		"\t\tif r := recover(); r != nil {\n\t\t\tfmt.Println(\"panic:\", r)\n" +
		"\t\t}\n\t\tfmt.Print(\"\\x00\")\n\t}()\n\tf()\n}\n\nfunc main() {\n" + calls + "}\n"
	write("main.go", main)
	cmd := exec.Command("go", "run", "-trimpath", ".")
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "GOFLAGS=", "GOWORK=off")
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("the compiled corpus: %v\n%s", err, stderr.String())
	}
	parts := strings.Split(string(out), "\x00")
	if len(parts) != len(programs)+1 {
		t.Fatalf("%d programs printed %d parts", len(programs), len(parts)-1)
	}
	return parts[:len(programs)]
}

// lowering is File or Traced.
type lowering func(*token.FileSet, *ast.File, *types.Package, *types.Info) ([]byte, []Refusal)

// lowered checks and lowers a program.
func lowered(t testing.TB, source string, lower lowering) (string, []Refusal, *token.FileSet) {
	files := token.NewFileSet()
	file, err := parser.ParseFile(files, "recipe.go", source, parser.ParseComments|parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	info := &types.Info{Types: map[ast.Expr]types.TypeAndValue{}, Defs: map[*ast.Ident]types.Object{},
		Uses: map[*ast.Ident]types.Object{}, Implicits: map[ast.Node]types.Object{},
		Instances: map[*ast.Ident]types.Instance{}, Selections: map[*ast.SelectorExpr]*types.Selection{},
		Scopes: map[ast.Node]*types.Scope{}}
	packages, err := api.Load()
	if err != nil {
		t.Fatal(err)
	}
	config := types.Config{Importer: packages, GoVersion: "go1.26"}
	pkg, err := config.Check("recipe", files, []*ast.File{file}, info)
	if err != nil {
		t.Fatal(err)
	}
	text, refused := lower(files, file, pkg, info)
	return string(text), refused, files
}

// outcome is what a program did.
type outcome struct {
	printed string
	trace   string // what the interpreter said of panics
	err     error
}

// interpreted runs lowered source. A program that doesn't end is given up.
func interpreted(source string, trail *Trail) outcome {
	done := make(chan outcome, 1)
	go func() {
		var stdout, stderr bytes.Buffer
		err := load(source, trail, &stdout, &stderr)
		done <- outcome{stdout.String(), stderr.String(), err}
	}()
	select {
	case o := <-done:
		return o
	case <-time.After(patience):
		return outcome{err: errors.New("it doesn't end")}
	}
}

const patience = 10 * time.Second

func load(source string, trail *Trail, stdout, stderr *bytes.Buffer) (err error) {
	i := interp.New(interp.Options{SourcecodeFilesystem: fstest.MapFS{}, Stdout: stdout, Stderr: stderr})
	for _, values := range []interp.Exports{symbols.Symbols, Exports(trail)} {
		if err := i.Use(values); err != nil {
			return err
		}
	}
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("the interpreter panicked: %v", r)
		}
	}()
	if _, err := i.Eval(source); err != nil {
		return fmt.Errorf("loading: %w", err)
	}
	main, err := i.Eval("recipe.Main")
	if err != nil {
		return err
	}
	defer func() {
		if r := recover(); r != nil {
			fmt.Fprintln(stdout, "panic:", Reason(r))
		}
	}()
	main.Call(nil)
	return nil
}

// TestCorpus runs every program compiled and interpreted, and traced too: all print the same.
func TestCorpus(t *testing.T) {
	programs := corpus(t)
	want := compiled(t, programs)
	for i, p := range programs {
		t.Run(p.name, func(t *testing.T) {
			differ(t, p, want[i])
		})
	}
}

func differ(t *testing.T, p program, want string) {
	for i, lower := range []lowering{File, Traced} {
		text, refused, _ := lowered(t, whole("recipe", p.source), lower)
		if len(refused) > 0 {
			t.Fatalf("refused: %v", refused)
		}
		o := interpreted(text, &Trail{})
		got, want := alike(o.printed), alike(want)
		if i == 0 && !strings.Contains(p.source, "recover()") { // nobody sees the numbers, so they are found by Traced
			got, want = details.ReplaceAllString(got, "$1 out of range"), details.ReplaceAllString(want, "$1 out of range")
		}
		if o.err != nil || got != want {
			if testing.Verbose() {
				t.Log(p.source + text)
			}
			t.Fatalf("%v; %s", o.err, difference(got, want))
		}
	}
}

var update = flag.Bool("update", false, "write REFUSED.md anew")

// TestRefused has the programs of testdata/refused.txtar refused, with the messages that REFUSED.md gives.
func TestRefused(t *testing.T) {
	var b strings.Builder
	b.WriteString("# Go that recipes can't use\n\nThe interpreter can't run this right, so that it is refused before it " +
		"runs, at the place that is\nmarked here. All else of the language runs as the Go compiler has it, but " +
		"for three things: a negative\n" +
		"zero loses its sign where it is passed to a function of the recipe; the text of a recovered panic\nmay lack the " +
		"numbers where the index of a call's result is out of range; and a format that is put\ntogether while the " +
		"recipe runs makes it panic if it asks for a type. Where Go leaves open whether a variable\nis read before or " +
		"after a call beside it that changes it, either may happen.\n")
	for _, p := range archived(t, "refused") {
		source := whole("recipe", p.source)
		_, refused, files := lowered(t, source, File)
		if len(refused) == 0 {
			t.Errorf("%s: not refused", p.name)
		}
		lines := strings.Split(strings.TrimSuffix(source, "\n"), "\n")
		fmt.Fprintf(&b, "\n## %s\n\n", strings.TrimPrefix(p.name, "refused/"))
		for _, r := range refused {
			line := files.Position(r.Pos).Line - 1
			if !strings.Contains(lines[line], " // <- ") {
				lines[line] += " // <- here"
			}
			fmt.Fprintf(&b, "%s.\n\n", r.Message)
		}
		first := len(lines) - strings.Count(p.source, "\n")
		fmt.Fprintf(&b, "```go\n%s\n```\n", strings.Join(lines[first:], "\n"))
	}
	if *update {
		if err := os.WriteFile("REFUSED.md", []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if want, err := os.ReadFile("REFUSED.md"); err != nil || string(want) != b.String() {
		t.Errorf("REFUSED.md is out of date (%v): run the test with -update", err)
	}
}

// details are the numbers that the run time tells of an index.
var details = regexp.MustCompile(`(index|bounds) out of range \[[^\]]*\]( with (length|capacity) -?\d+)?`)

// alike leaves out the signs of zeros, which the interpreter loses.
func alike(printed string) string { return negativeZero.ReplaceAllString(printed, "$1") }

var negativeZero = regexp.MustCompile(`-(0(\.0+)?F?)\b`)

// difference shows where two texts part.
func difference(got, want string) string {
	n := 0
	for n < len(got) && n < len(want) && got[n] == want[n] {
		n++
	}
	part := func(s string) string { return s[max(0, n-60):min(len(s), n+100)] }
	return fmt.Sprintf("got  %q\nwant %q", part(got), part(want))
}

// TestTrail runs traced programs, which print the same, and know where they panicked.
func TestTrail(t *testing.T) {
	tests := []struct {
		name, source string
		want         string
	}{
		{"in a statement", "func f(xs []int) int {\n\tx := 1\n\n\treturn x + xs[7]\n}\n\nfunc Main() {\n\tf(nil)\n}\n",
			"f 6:2; Main 10:2"},
		{"after a call in the same statement", "func g() int {\n\tn := 1\n\treturn n - 1\n}\n\n" +
			"func Main() {\n\t_ = []int{}[g()]\n}\n", "Main 9:2"},
		{"in a method, a closure and a generic function",
			"type T struct{ n int }\n\nfunc (t *T) M() int {\n\treturn t.n\n}\n\n" +
				"func Each[E any](xs []E, f func(E)) {\n\tfor _, x := range xs {\n\t\tf(x)\n\t}\n}\n\nfunc Main() {\n" +
				"\tEach([]int{1}, func(n int) {\n\t\tvar t *T\n\t\tt.M()\n\t})\n}\n",
			"T.M 6:2; Main 18:3; Each 11:3; Main 16:2"},
		{"past deferred and recovered calls", "func f() {\n\tdefer func() {\n\t\trecover()\n\t}()\n\tpanic(1)\n}\n\n" +
			"func Main() {\n\tdefer func() { _ = 1 }()\n\tf()\n\tpanic(2)\n}\n", "Main 13:2"},
		{"in a loop condition", "func Main() {\n\txs := []int{1, 1}\n" +
			"\tfor i := 0; xs[i] > 0; i++ {\n\t\tif xs[0] > 1 {\n\t\t\tcontinue\n" +
			"\t\t}\n\t\t_ = i\n\t}\n}\n", "Main 5:2"},
		{"in a range over a function", "func count(yield func(int) bool) {\n\tyield(1)\n\tyield(2)\n}\n\nfunc Main() {\n" +
			"\tfor i := range count {\n\t\tif i == 2 {\n\t\t\tpanic(i)\n\t\t}\n\t}\n}\n", "Main 11:4"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			text, refused, _ := lowered(t, whole("recipe", test.source), Traced)
			if len(refused) > 0 {
				t.Fatal(refused)
			}
			var trail Trail
			o := interpreted(text, &trail)
			if o.err != nil || !strings.HasPrefix(o.printed, "panic:") {
				t.Fatalf("%v\n%s\n%s", o.err, o.printed, text)
			}
			var got []string
			for _, p := range trail.Places() {
				got = append(got, fmt.Sprintf("%s %d:%d", p.Function, p.Line, p.Column))
			}
			if strings.Join(got, "; ") != test.want {
				t.Errorf("got %q, want %q\n%s", strings.Join(got, "; "), test.want, text)
			}
		})
	}
}

// TestHostileSource lowers what nobody would write: it ends soon, with a refusal or with source.
func TestHostileSource(t *testing.T) {
	many := func(n int, line string) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, line, i)
		}
		return b.String()
	}
	tests := []struct {
		name, source string
		refused      bool
	}{
		{"a type that grows in each instance", "type P[A, B any] struct {\n\ta A\n\tb B\n}\n\n" +
			"func f[T any](x T) { g(P[T, T]{x, x}) }\n" +
			"func g[T any](x T) { h(P[T, T]{x, x}) }\n" +
			"func h[T any](x T) { k(P[T, T]{x, x}) }\nfunc k[T any](x T) { l(P[T, T]{x, x}) }\n" +
			"func l[T any](x T) { m(P[T, T]{x, x}) }\nfunc m[T any](x T) { _ = x }\nfunc Main() { f(1) }\n", true},
		{"many instances", "func f[T any](x T) {}\n" + many(600, "type T%d int\n") + "func Main() {\n" +
			many(600, "\tf(T%d(1))\n") + "}\n", true},
		{"a long sum", "func Main() {\n\tx := 1\n\tx = x" + strings.Repeat(" + x", 5000) + "\n}\n", false},
		{"deep parentheses", "func Main() {\n\tx := 1\n\t_ = " + strings.Repeat("(x + ", 2000) + "x" +
			strings.Repeat(")", 2000) + "\n}\n", false},
		{"closures in closures", "func Main() {\n\t_ = " + strings.Repeat("func() int { return ", 200) + "1" +
			strings.Repeat(" }()", 200) + "\n}\n", false},
		{"blocks in blocks", "func Main() " + strings.Repeat("{ if true ", 200) + "{}" + strings.Repeat(" }", 200) +
			"\n", false},
		{"a switch that falls through", "func Main() {\n\tswitch 1 {\n" +
			many(300, "\tcase %d:\n\t\tfallthrough\n") + "\tdefault:\n\t}\n}\n", false},
		{"switches in switches that fall through", "func Main() {\n" +
			strings.Repeat("switch 1 {\ncase 0:\nfallthrough\ndefault:\n", 40) + strings.Repeat("}\n", 40) + "}\n", true},
		{"a function without a body", "func f()\nfunc Main() { f() }\n", true},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			text, refused, _ := lowered(t, whole("recipe", test.source), File)
			if (len(refused) > 0) != test.refused || (text == "") != test.refused {
				t.Errorf("refused: %v, %d bytes", refused, len(text))
			}
			if n := len(text); n > 40*len(test.source)+1<<20 {
				t.Errorf("%d bytes become %d", len(test.source), n)
			}
		})
	}
}
