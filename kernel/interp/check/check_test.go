package check_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"tossline/kernel/interp/check"
)

// problems checks a source and gives its problems as "line:column: message".
func problems(t testing.TB, source string) []string {
	t.Helper()
	c, err := check.File("r.go", source)
	if err != nil {
		t.Fatal(err)
	}
	var list []string
	for _, p := range c.Problems {
		at := c.Files.Position(p.Pos)
		list = append(list, fmt.Sprintf("%d:%d: %s", at.Line, at.Column, p.Message))
	}
	return list
}

func TestRefused(t *testing.T) {
	for _, c := range []struct{ name, source, want string }{
		{"goroutine", "func f() {\n\tgo f()\n}", "4:2: recipes have no goroutines"},
		{"channel type", "var c chan int", "3:7: recipes have no goroutines"},
		{"select", "func f() {\n\tselect {}\n}", "4:2: recipes have no goroutines"},
		{"import of files", "import \"os\"", "3:8: recipes may not import \"os\""},
		{"import of the machine", "import \"unsafe\"", "3:8: recipes may not import \"unsafe\""},
		{"import of C", "import \"C\"", "3:8: "},
		{"import without a name", "import . \"math\"\n\nvar x = Pi", "3:8: import \"math\" under a name"},
		{"time of day", "import \"time\"\n\nvar now = time.Now()", "5:16: recipes may not use time.Now: a result may"},
		{"unseeded numbers", "import \"math/rand/v2\"\n\nvar x = rand.IntN(3)", "5:14: recipes may not use rand.IntN"},
		{"waiting", "import \"time\"\n\nfunc f() { time.Sleep(1) }", "5:17: recipes may not use time.Sleep"},
		{"not in the interpreter", "import \"github.com/apache/arrow/go/v17/arrow/array\"\n\nvar f = array.NewInt64Builder",
			"5:15: recipes may not use array.NewInt64Builder"},
		{"memory of a table", "import (\n\t\"github.com/apache/arrow/go/v17/arrow/array\"\n" +
			"\t\"tossline/kernel/table\"\n)\n\n" +
			"func f(t table.Table) []float64 {\n\treturn t.Record().Column(0).(*array.Float64).Float64Values()\n}",
			"9:47: recipes may not use Float64Values: it hands out memory that tables share"},
		{"init", "func init() {}", "3:6: recipes have no init"},
		{"linkname", "//go:linkname f runtime.exit\nfunc f() {}", "3:1: recipes take no directives"},
		{"line directive", "//line a.go:1\nfunc f() {}", "3:1: recipes take no directives"},
		{"body missing", "func f()", "3:6: missing function body"},
		{"huge array", "var a [1 << 40]byte", "3:7: a value of more than 1048576 elements"},
		{"huge array by index", "var a = [...]byte{1 << 33: 1}", "3:9: a value of more than"},
		{"huge shift", "const c = 1 << 100000000000", "3:16: invalid operation: invalid shift count"},
		{"println", "func f() {\n\tprintln(1)\n}", "4:2: println is for the making of Go itself; use fmt.Println"},
		{"assignment", "var total int\n\nfunc f() {\n\ttotal = 1\n}", "6:2: total is shared by all steps"},
		{"increment", "var total int\n\nfunc f() {\n\ttotal++\n}", "6:2: total is shared by all steps"},
		{"element", "var m = map[int]int{}\n\nfunc f() {\n\tm[1] = 2\n}", "6:2: m is shared"},
		{"address", "var total int\n\nfunc f() *int {\n\treturn &total\n}", "6:10: total is shared"},
		{"delete", "var m = map[int]int{}\n\nfunc f() {\n\tdelete(m, 1)\n}", "6:9: m is shared"},
		{"range", "var i int\n\nfunc f() {\n\tfor i = range 3 {\n\t}\n}", "6:6: i is shared"},
		{"another package's variable", "import \"tossline/kernel/motion\"\n\nfunc f() {\n\tmotion.ContactOffset.ID = \"\"\n}",
			"6:2: motion.ContactOffset belongs to its package"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := problems(t, "package recipe\n\n"+c.source+"\n")
			if !slices.ContainsFunc(got, func(p string) bool { return strings.HasPrefix(p, c.want) }) {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

// TestOpenString checks that what follows from one open string doesn't bury it.
func TestOpenString(t *testing.T) {
	source := "package recipe\n\nfunc f() {\n\tprint(\"a)\n" + strings.Repeat("\tif x := 1; x > 0 {\n\t}\n", 30) + "}\n"
	got := problems(t, source)
	if len(got) == 0 || len(got) > 10 || got[0] != "4:8: syntax error: string literal not terminated" {
		t.Errorf("%d problems: %s", len(got), strings.Join(got, "\n"))
	}
}

func TestTooLarge(t *testing.T) {
	for _, c := range []struct{ name, source, want string }{
		{"bytes", "package recipe\n// " + strings.Repeat("a", 300<<10), "the recipe has 300 KiB"},
		{"lines", "package recipe\n" + strings.Repeat("\n", 6000), "the recipe has 6001 lines"},
		{"brackets", "package recipe\nvar x = " + strings.Repeat("(", 300) + "1" + strings.Repeat(")", 300), "brackets are"},
		{"signs", "package recipe\nvar x = " + strings.Repeat("- ", 300) + "1", "brackets are"},
		{"open brackets", "package recipe\nvar x = " + strings.Repeat("[", 200_000), "brackets are"},
		{"pointers", "package recipe\nvar x " + strings.Repeat("*", 200_000) + "int", "brackets are"},
		{"zero byte", "package recipe\x00", "the recipe is no text"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := problems(t, c.source); len(got) != 1 || !strings.HasPrefix(got[0], "1:1: "+c.want) {
				t.Errorf("got %.200q, want %q", got, c.want)
			}
		})
	}
}

func TestSound(t *testing.T) {
	source := `// Sound
package recipe

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/go-echarts/go-echarts/v2/charts"
)

type pair[K cmp.Ordered, V any] struct {
	key K
	val V
}

func A() float64 {
	m := map[string]int{"a": 1}
	for i := range 3 {
		m[fmt.Sprint(i)] = i
	}
	keys := slices.Sorted(maps.Keys(m))
	p := pair[string, float64]{keys[0], math.Pi}
	_ = time.Duration(3) * time.Second
	_ = charts.NewBar()
	var column *array.Float64
	_ = column
	return min(p.val, 3)
}
`
	if got := problems(t, source); len(got) > 0 {
		t.Error(got)
	}
}

// TestCompilersWords compares our messages with those of the Go compiler itself, for mistakes that both report.
func TestCompilersWords(t *testing.T) {
	source := `package recipe

import (
	"fmt"
	"math"
)

type loop struct{ l loop }

func a() int {
	x := 1
	return "text"
}

func b(n int) int {
	if n > 0 {
		return 1
	}
}

func c() {
	undefinedName()
	fmt.Printn("x")
	var f float64 = "s"
	var i int = 1.5
	_ = f + i
	a(1)
	var u uint8 = 256
	_ = u
}
`
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, "r.go"), []byte(source), 0o600); err != nil {
		t.Fatal(err)
	}
	compile := exec.Command("go", "tool", "compile", "-e", "-p", "recipe", "-lang", check.Dialect, "-importcfg",
		importConfig(t, folder), "-o", filepath.Join(folder, "r.o"), "r.go")
	compile.Dir = folder
	said, err := compile.CombinedOutput()
	if err == nil {
		t.Fatal("the compiler accepts it")
	}
	var want []string
	for line := range strings.Lines(string(said)) {
		if message, ok := strings.CutPrefix(strings.TrimSpace(line), "r.go:"); ok {
			want = append(want, message)
		}
	}
	got := problems(t, source)
	for _, w := range want {
		if !slices.ContainsFunc(got, func(g string) bool { return g == w || strings.HasPrefix(g, w+"\n") }) {
			t.Errorf("the compiler says %q; we say %q", w, got)
		}
	}
	if len(want) < 8 {
		t.Errorf("the compiler says only %q", want)
	}
}

// importConfig tells the compiler where the packages are that the source imports.
func importConfig(t *testing.T, folder string) string {
	t.Helper()
	list := exec.Command("go", "list", "-export", "-f", "packagefile {{.ImportPath}}={{.Export}}", "fmt", "math")
	config, err := list.Output()
	if err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(folder, "imports")
	if err := os.WriteFile(name, config, 0o600); err != nil {
		t.Fatal(err)
	}
	return name
}

// TestFrameLoops marks the loops that look at single frames, and no others.
func TestFrameLoops(t *testing.T) {
	source := `package recipe

import "tossline/kernel/motion"

func a(clip motion.Clip) float64 {
	highest := 0.0
	for _, p := range motion.Path(clip, "hitting_wrist", 0, 1) {
		highest = max(highest, p.Y)
	}
	path := motion.Path(clip, "hitting_wrist", 0, 1)
	for i := range len(path) {
		highest = max(highest, path[i].Y)
	}
	for t := 0.0; t < 1; t += 0.01 {
		highest = max(highest, motion.PoseAt(clip, t)["hitting_wrist"].Y)
	}
	for _, x := range []float64{1, 2} {
		highest += x
	}
	return highest
}
`
	c, err := check.File("r.go", source)
	if err != nil {
		t.Fatal(err)
	}
	var lines []int
	for _, p := range c.Problems {
		if !p.Warning {
			t.Error(p.Message)
		}
		lines = append(lines, c.Files.Position(p.Pos).Line)
	}
	if !slices.Equal(lines, []int{7, 11, 14}) || !c.Sound() {
		t.Errorf("marked lines %v, sound %v", lines, c.Sound())
	}
}

func FuzzFile(f *testing.F) {
	f.Add("package recipe\nfunc A() int { return 1 }")
	f.Add("package recipe\ntype Settings struct { A int `min:\"1\"` }")
	f.Add("package recipe\nimport \"fmt\"\nfunc a[T any](x T) { fmt.Println(x); a[[]T](nil) }")
	f.Add("package x; func (")
	f.Fuzz(func(t *testing.T, source string) {
		c, err := check.File("r.go", source)
		if err != nil {
			t.Fatal(err)
		}
		if c.File == nil || c.Package == nil {
			t.Error("nothing is known of the source")
		}
		for _, p := range c.Problems {
			if c.Files.Position(p.Pos).Line < 1 {
				t.Errorf("no position for %q", p.Message)
			}
		}
	})
}
