package lower

import (
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"
)

// TestRandomPrograms runs programs made at random, compiled and interpreted: those of some seeds in each test, and new
// ones for as long as LOWER_RANDOM says, such as "2h".
func TestRandomPrograms(t *testing.T) {
	const batch = 30
	first, until := uint64(1), time.Time{}
	if s := os.Getenv("LOWER_RANDOM"); s != "" {
		d, err := time.ParseDuration(s)
		if err != nil {
			t.Fatal(err)
		}
		first, until = uint64(time.Now().UnixNano()), time.Now().Add(d)
	}
	for {
		var programs []program
		for i := range uint64(batch) {
			programs = append(programs, program{fmt.Sprint("seed ", first+i), randomProgram(first + i)})
		}
		want := compiled(t, programs)
		for i, p := range programs {
			t.Run(p.name, func(t *testing.T) {
				differ(t, p, want[i])
			})
		}
		if first += batch; t.Failed() || !time.Now().Before(until) {
			return
		}
	}
}

// prelude are the types and functions that all random programs have.
const prelude = `
type N int

func (n N) Get() int {
	return int(n) * 2
}

func (n N) Name() string {
	return fmt.Sprint("N", int(n))
}

type F float64

func (f F) String() string {
	return fmt.Sprintf("%.3fF", float64(f))
}

type S struct {
	a int
	b string
	c []int
	d [2]int
}

func (s S) Get() int {
	return s.a + len(s.b) + s.d[0]
}

func (s S) Name() string {
	return s.b
}

func (s *S) Put(n int) int {
	s.a += n
	s.d[1] = s.a
	return s.a
}

type T struct {
	S
	e float64
	f func(int) int
	n N
}

func (t T) Name() string {
	return "T" + t.S.Name()
}

type I interface {
	Get() int
	Name() string
}

type E struct {
	code int
}

func (e E) Error() string {
	return fmt.Sprint("E", e.code)
}

type G[A, B any] struct {
	x A
	y B
}

func (g G[A, B]) Swap() G[B, A] {
	return G[B, A]{g.y, g.x}
}

func (g *G[A, B]) Set(a A) {
	g.x = a
}

func Map[A, B any](xs []A, f func(A) B) (r []B) {
	for _, x := range xs {
		r = append(r, f(x))
	}
	return
}

func Fold[A, B any](xs []A, b B, f func(B, A) B) B {
	for _, x := range xs {
		b = f(b, x)
	}
	return b
}

func Count(n int) iter.Seq2[int, int] {
	return func(yield func(int, int) bool) {
		for i := range n {
			if !yield(i, i*i) {
				return
			}
		}
	}
}

func same[T any](x T) T {
	return x
}

func at(xs []int, i int) int {
	if len(xs) == 0 {
		return 0
	}
	return xs[((i%len(xs))+len(xs))%len(xs)]
}

func fails(n int) (r int, err error) {
	defer func() {
		if x := recover(); x != nil {
			err = fmt.Errorf("caught %v", x)
		}
	}()
	if n%3 == 0 {
		return n, E{n}
	}
	if n%5 == 0 {
		panic(n)
	}
	return n * 2, nil
}

func kind(x any) string {
	switch x := x.(type) {
	case nil:
		return "nil"
	case int:
		return fmt.Sprint("int", x)
	case N:
		return fmt.Sprint("N", int(x))
	case F:
		return "F" + x.String()
	case S:
		return "S" + x.b
	case *S:
		return "*S" + x.b
	case T:
		return "T" + x.Name()
	case error:
		return "error" + x.Error()
	case I:
		return "I" + x.Name()
	case G[int, string]:
		return "G" + x.y
	case []int:
		return fmt.Sprint("ints", len(x))
	case string:
		return "string" + x
	case func(int) int:
		return fmt.Sprint("func", x(1))
	}
	return "other"
}
`

// kinds are the types of random variables.
var kinds = []string{"int", "int8", "uint16", "float64", "string", "bool", "[]int", "[]string", "map[string]int",
	"[2]int", "N", "F", "S", "*S", "T", "I", "any", "error", "func(int) int", "G[int, string]", "[]S"}

// generator makes one program.
type generator struct {
	*rand.Rand
	strings.Builder
	vars   []variable // in scope
	named  int
	indent int
	loops  []string // labels of the loops around; "" for none
	budget int      // statements that may still be written
}

type variable struct {
	name, kind string
	fixed      bool // may not be assigned: it counts a loop
}

// randomProgram makes a program that ends and depends on nothing but its text.
func randomProgram(seed uint64) string {
	g := &generator{Rand: rand.New(rand.NewPCG(seed, 7)), budget: 60}
	g.WriteString(prelude)
	for i := range 2 {
		g.line("var g%d %s = %s", i, kinds[i*3], g.value(kinds[i*3], 1))
		g.vars = append(g.vars, variable{fmt.Sprint("g", i), kinds[i*3], false})
	}
	g.line("func Main() {")
	g.indent++
	for _, kind := range kinds {
		g.declare(kind)
	}
	for g.budget > 0 {
		g.statement()
	}
	for _, v := range g.vars {
		g.show(v)
	}
	g.indent--
	g.line("}")
	return g.String()
}

func (g *generator) line(format string, args ...any) {
	g.WriteString(strings.Repeat("\t", g.indent) + fmt.Sprintf(format, args...) + "\n")
}

// declare declares a variable in the scope; one that it hides is out of reach from now on.
func (g *generator) declare(kind string) {
	g.named++
	name := fmt.Sprint("v", g.named)
	value := g.value(kind, 2)
	if g.IntN(2) == 0 || kind == "any" || kind == "I" || kind == "error" || strings.ContainsAny(kind, "8614F") {
		g.line("var %s %s = %s", name, kind, value)
	} else {
		g.line("%s := %s(%s)", name, parenthesized(kind), value)
	}
	g.line("_ = %s", name)
	g.vars = append(g.vars, variable{name, kind, false})
}

func parenthesized(kind string) string {
	if strings.HasPrefix(kind, "*") || strings.HasPrefix(kind, "func") || strings.HasPrefix(kind, "map") {
		return "(" + kind + ")"
	}
	return kind
}

// show prints a variable. Addresses differ from run to run, so pointers and functions are shown by what they give.
func (g *generator) show(v variable) {
	switch v.kind {
	case "*S":
		g.line("fmt.Println(%q, *%s, %s.Get())", v.name, v.name, v.name)
	case "func(int) int":
		g.line("fmt.Println(%q, %s(3))", v.name, v.name)
	case "T":
		g.line("fmt.Println(%q, %s.S, %s.e, %s.f == nil, %s.n, %s.Name())", v.name, v.name, v.name, v.name, v.name, v.name)
	case "any", "I":
		g.line("fmt.Println(%q, kind(%s))", v.name, v.name)
	default:
		g.line("fmt.Println(%q, %s)", v.name, v.name)
		if g.IntN(3) == 0 {
			g.line("fmt.Printf(\"%%v %%+v|\\n\", %s, %s)", v.name, v.name)
		}
	}
}

// block writes statements in braces, with variables of their own.
func (g *generator) block(n int) {
	known := len(g.vars)
	g.indent++
	for range n {
		g.statement()
	}
	if g.IntN(3) == 0 && len(g.vars) > known {
		g.show(g.vars[len(g.vars)-1])
	}
	g.indent--
	g.vars = g.vars[:known]
}

// pick finds a variable of a kind.
func (g *generator) pick(kind string, assigned bool) string {
	var all []string
	for _, v := range g.vars {
		if v.kind == kind && !(assigned && v.fixed) {
			all = append(all, v.name)
		}
	}
	if len(all) == 0 {
		return ""
	}
	return all[g.IntN(len(all))]
}

func (g *generator) statement() {
	if g.budget--; g.budget < 0 {
		g.line("fmt.Print(\".\")")
		return
	}
	inner := 1 + g.IntN(3)
	switch g.IntN(26) {
	case 0, 1:
		g.declare(kinds[g.IntN(len(kinds))])
	case 2, 3, 4:
		if kind := kinds[g.IntN(len(kinds))]; g.pick(kind, true) != "" {
			g.line("%s = %s", g.pick(kind, true), g.value(kind, 3))
		}
	case 5:
		kind := []string{"int", "int8", "uint16", "float64", "N", "F"}[g.IntN(6)]
		if name := g.pick(kind, true); name != "" {
			g.line("%s %s %s", name, []string{"+=", "-=", "*="}[g.IntN(3)], g.value(kind, 2))
		}
	case 6:
		if name := g.pick("int", true); name != "" {
			g.line("%s %s %d", name, []string{"<<=", ">>=", "&=", "|=", "^=", "%=", "&^="}[g.IntN(7)], 1+g.IntN(5))
		}
	case 7:
		g.line("if %s {", g.value("bool", 2))
		g.block(inner)
		if g.IntN(2) == 0 {
			g.line("} else if %s {", g.value("bool", 2))
			g.block(1)
			g.line("} else {")
			g.block(inner)
		}
		g.line("}")
	case 8:
		g.loop(func(name string) string {
			return fmt.Sprintf("for %s := %d; %s < %d; %s++", name, g.IntN(3), name, 3+g.IntN(3), name)
		}, inner)
	case 9:
		g.loop(func(name string) string { return fmt.Sprintf("for %s := range %d", name, 1+g.IntN(4)) }, inner)
	case 10:
		if xs := g.pick("[]int", false); xs != "" {
			g.loop(func(name string) string {
				return fmt.Sprintf("for _, %s := range append([]int{1}, %s...)[:1]", name, xs)
			}, inner)
		}
	case 11:
		g.loop(func(name string) string { return fmt.Sprintf("for _, %s := range Count(%d)", name, 1+g.IntN(4)) }, inner)
	case 12:
		g.line("switch %s {", g.value("int", 2))
		for i := range 1 + g.IntN(3) {
			g.line("case %s:", g.distinct(i))
			g.block(1)
			if g.IntN(4) == 0 && i > 0 {
				g.indent++
				g.line("fallthrough")
				g.indent--
				g.line("case %d:", 1000+i)
			}
		}
		if g.IntN(2) == 0 {
			g.line("default:")
			g.block(inner)
		}
		g.line("}")
	case 13:
		if a, b := g.pick("int", true), g.pick("int", true); a != "" && b != a {
			g.line("%s, %s = %s, %s", a, b, g.value("int", 2), g.value("int", 2))
		}
	case 14:
		if xs := g.pick("[]int", true); xs != "" {
			g.line("%s = append(%s, %s)", xs, xs, g.value("int", 2))
			g.line("if len(%s) > 8 { %s = %s[2:5] }", xs, xs, xs)
		}
	case 15:
		if m := g.pick("map[string]int", false); m != "" {
			g.line("if %s != nil { %s[%s] += %s; delete(%s, %s) }", m, m, g.value("string", 1), g.value("int", 2), m,
				g.value("string", 1))
		}
	case 16:
		if p := g.pick("*S", false); p != "" {
			g.line("%s.Put(%s)", p, g.value("int", 2))
			g.line("%s.d[%d]++", p, g.IntN(2))
		}
	case 17:
		if s := g.pick("S", true); s != "" {
			changes := []string{"a *= 3", `b += "x"`, "d[1] = 7", "c = append(" + s + ".c[:0:0], 1)", "Put(4)"}
			g.line("%s.%s", s, changes[g.IntN(5)])
		}
	case 18:
		// What it changes is looked at by statements of its own: Go leaves open whether a variable is read before or after a
		// call beside it.
		if f := g.pick("func(int) int", true); f != "" {
			g.named++
			n := fmt.Sprint("kept", g.named)
			g.line("%s := %s", n, g.value("int", 1))
			g.line("%s = func(x int) int { if x > 40 || x < -40 { return x }; %s += x; return %s }", f, n,
				g.valueWith("int", 2, variable{"x", "int", true}))
			g.line("fmt.Println(%s(1))", f)
			g.line("fmt.Println(%s)", n)
		}
	case 19:
		g.line("func() {")
		g.indent++
		g.line("defer func(n int) { fmt.Println(\"deferred\", n, recover()) }(%s)", g.value("int", 1))
		g.indent--
		loops := g.loops
		g.loops = nil
		g.block(inner)
		g.loops = loops
		if g.IntN(3) == 0 {
			g.line("\tpanic(%s)", g.value("string", 1))
		}
		g.line("}()")
	case 20:
		g.named++
		g.line("if r%d, err := fails(%s); err != nil { fmt.Println(r%d, err) } else { fmt.Println(r%d) }", g.named,
			g.value("int", 2), g.named, g.named)
	case 21:
		if len(g.loops) > 0 {
			label := g.loops[g.IntN(len(g.loops))]
			g.line("if %s { %s %s }", g.value("bool", 2), []string{"break", "continue"}[g.IntN(2)], label)
		}
	case 22:
		g.line("fmt.Println(kind(%s), kind(%s))", g.value("any", 2), g.value("any", 2))
	case 23:
		if v := g.pick("T", true); v != "" {
			g.line("%s.%s", v, []string{"e /= 2", "Put(2)", "n++", "S = S{b: \"new\"}", "S.d[0] -= 3", "a ^= 5"}[g.IntN(6)])
		}
	case 24:
		if v := g.pick("G[int, string]", true); v != "" {
			g.line("%s.Set(%s)", v, g.value("int", 2))
			g.line("fmt.Println(%s.Swap())", v)
		}
	case 25:
		if v := g.pick("[]S", true); v != "" {
			g.line("%s = append(%s, %s)", v, v, g.value("S", 1))
			g.line("for i := range %s { %s[i].a += i; %s[i].Put(1) }", v, v, v)
			g.line("if len(%s) > 3 { %s = %s[1:3] }", v, v, v)
		}
	}
}

func (g *generator) distinct(i int) string {
	return fmt.Sprintf("%d, %d", i*10+g.IntN(5), i*10+5+g.IntN(5))
}

// loop writes a loop, mostly with a closure that outlives an iteration.
func (g *generator) loop(head func(name string) string, inner int) {
	if len(g.loops) > 1 {
		return
	}
	g.named++
	name, label := fmt.Sprint("i", g.named), fmt.Sprint("L", g.named)
	kept := fmt.Sprint("fs", g.named)
	g.line("var %s []func() int", kept)
	g.line("%s:", label)
	g.line("%s {", head(name))
	g.vars = append(g.vars, variable{name, "int", true})
	g.loops = append(g.loops, label)
	g.indent++
	g.line("if %s < -50 { continue %s }", name, label)
	if g.IntN(2) == 0 {
		g.line("k := %s", g.value("int", 2))
		g.line("%s = append(%s, func() int { k += %s; return k })", kept, kept, name)
	}
	g.indent--
	g.block(inner)
	g.loops = g.loops[:len(g.loops)-1]
	g.vars = g.vars[:len(g.vars)-1]
	g.line("}")
	g.line("for _, f := range %s { fmt.Print(f(), f(), \" \") }", kept)
}

func (g *generator) valueWith(kind string, depth int, v variable) string {
	g.vars = append(g.vars, v)
	s := g.value(kind, depth)
	g.vars = g.vars[:len(g.vars)-1]
	return s
}

// value makes an expression of a kind.
func (g *generator) value(kind string, depth int) string {
	if g.IntN(3) > 0 {
		if name := g.pick(kind, false); name != "" && (depth == 0 || g.IntN(2) == 0) {
			return name
		}
	}
	if depth <= 0 {
		return g.literal(kind)
	}
	v := func(kind string) string { return g.value(kind, depth-1) }
	switch kind {
	case "int":
		switch g.IntN(18) {
		case 0, 1, 2:
			return "(" + v("int") + " " + []string{"+", "-", "*", "&", "|", "^"}[g.IntN(6)] + " " + v("int") + ")"
		case 3:
			return "(" + v("int") + " / (" + v("int") + " | 1))"
		case 4:
			return "(" + v("int") + " % " + fmt.Sprint(3+g.IntN(9)) + ")"
		case 5:
			return "len(" + v([]string{"string", "[]int", "[]string", "map[string]int", "[]S"}[g.IntN(5)]) + ")"
		case 6:
			return "at(" + v("[]int") + ", " + v("int") + ")"
		case 7:
			return "int(" + v([]string{"int8", "uint16", "N"}[g.IntN(3)]) + ")"
		case 8:
			return v("[2]int") + "[" + fmt.Sprint(g.IntN(2)) + "]"
		case 9:
			return v("map[string]int") + "[" + v("string") + "]"
		case 10:
			return v("I") + ".Get()"
		case 11:
			return v("S") + "." + []string{"a", "Get()", "d[1]"}[g.IntN(3)]
		case 12:
			return "min(" + v("int") + ", " + v("int") + ", 50)"
		case 13:
			return "max(" + v("int") + ", -9)"
		case 14:
			return "func() int { " + "x := " + v("int") + "; defer func() { x++ }(); return x }()"
		case 15:
			return "Fold(" + v("[]int") + ", " + v("int") + ", func(a, b int) int { return a*3 - b })"
		case 16:
			return "(" + v("int") + " << " + fmt.Sprint(g.IntN(5)) + ")"
		default:
			return v("G[int, string]") + ".x"
		}
	case "int8", "uint16":
		switch g.IntN(3) {
		case 0:
			return kind + "(" + v("int") + ")"
		default:
			return "(" + v(kind) + " " + []string{"+", "-", "*", "^", "&^"}[g.IntN(5)] + " " + v(kind) + ")"
		}
	case "float64":
		switch g.IntN(5) {
		case 0:
			return "float64(" + v([]string{"int8", "F", "uint16"}[g.IntN(3)]) + ")"
		case 1:
			return "min(" + v("float64") + ", " + v("float64") + ")"
		case 2:
			return "math.Round(" + v("float64") + ")"
		default:
			return "(" + v("float64") + " " + []string{"+", "-", "/"}[g.IntN(3)] + " " + v("float64") + ")"
		}
	case "string":
		switch g.IntN(7) {
		case 0:
			return "(\"q\" + " + v("string") + " + " + v("string") + ")[:2]"
		case 1:
			return "strconv.Itoa(" + v("int") + ")"
		case 2:
			return v("I") + ".Name()"
		case 3:
			return "kind(" + v("any") + ")"
		case 4:
			of := []string{"int", "F", "N", "float64", "[]int", "bool", "error", "[2]int", "G[int, string]"}
			return "fmt.Sprint(" + v(of[g.IntN(9)]) + ")"
		case 5:
			return "strings.ToUpper(" + v("string") + ")"
		default:
			return "max(" + v("string") + ", " + v("string") + ")"
		}
	case "bool":
		switch g.IntN(9) {
		case 0, 1, 2:
			of := []string{"int", "string", "float64", "int8"}[g.IntN(4)]
			return "(" + v(of) + " " + []string{"<", "<=", ">", ">=", "==", "!="}[g.IntN(6)] + " " + v(of) + ")"
		case 3:
			return "(" + v("bool") + " && " + v("bool") + ")"
		case 4:
			return "(" + v("bool") + " || " + v("bool") + ")"
		case 5:
			return "(!" + v("bool") + ")"
		case 6:
			of := []string{"[2]int", "N", "G[int, string]", "error"}[g.IntN(4)]
			return "(" + v(of) + " == " + v(of) + ")"
		case 7:
			return "slices.Contains(" + v("[]int") + ", " + v("int") + ")"
		default:
			return "(" + v("[]int") + " == nil)"
		}
	case "[]int":
		switch g.IntN(6) {
		case 0:
			return "([]int{" + v("int") + ", " + v("int") + "})"
		case 1:
			return "append([]int{" + v("int") + "}, " + v("[]int") + "...)"
		case 2:
			return "Map(" + v("[]int") + ", func(x int) int { return " +
				g.valueWith("int", depth-1, variable{"x", "int", true}) + " })"
		case 3:
			return "slices.Sorted(slices.Values(" + v("[]int") + "))"
		case 4:
			return "append([]int(nil), " + v("S") + ".c...)"
		default:
			return "Map(" + v("[]string") + ", func(s string) int { return len(s) })"
		}
	case "[]string":
		if g.IntN(2) == 0 {
			return "Map(" + v("[]int") + ", strconv.Itoa)"
		}
		return "([]string{" + v("string") + "})"
	case "map[string]int":
		return "(map[string]int{" + v("string") + ": " + v("int") + "})"
	case "[2]int":
		return "([2]int{" + v("int") + ", " + v("int") + "})"
	case "N":
		return []string{"N(" + v("int") + ")", "(" + v("N") + " + 3)", "(-" + v("N") + ")", v("T") + ".n"}[g.IntN(4)]
	case "F":
		return []string{"F(" + v("float64") + ")", "(" + v("F") + " * 1.5)"}[g.IntN(2)]
	case "S":
		return []string{"(S{a: " + v("int") + ", b: " + v("string") + "})",
			"(S{d: " + v("[2]int") + ", c: []int{" + v("int") + "}})",
			"(*" + v("*S") + ")", v("T") + ".S"}[g.IntN(4)]
	case "*S":
		return []string{"(&S{" + v("int") + ", " + v("string") + ", nil, " + v("[2]int") + "})",
			"new(" + v("S") + ")"}[g.IntN(2)]
	case "T":
		return "(T{S: " + v("S") + ", e: " + v("float64") + ", f: " + v("func(int) int") + ", n: " + v("N") + "})"
	case "I":
		return "I(" + v([]string{"N", "S", "*S", "T", "I"}[g.IntN(5)]) + ")"
	case "any":
		return "any(" + v(kinds[g.IntN(len(kinds))]) + ")"
	case "error":
		return []string{"error(E{" + v("int") + "})", "error(nil)",
			"func() error { _, err := fails(" + v("int") + "); return err }()"}[g.IntN(3)]
	case "func(int) int":
		return "(func(x int) int { return " + g.valueWith("int", depth-1, variable{"x", "int", true}) + " })"
	case "G[int, string]":
		return "(G[int, string]{" + v("int") + ", " + v("string") + "})"
	case "[]S":
		return "([]S{" + v("S") + ", {b: " + v("string") + "}})"
	}
	return g.literal(kind)
}

func (g *generator) literal(kind string) string {
	n := g.IntN(40) - 10
	switch kind {
	case "int", "int8":
		return fmt.Sprintf("same(%s(%d))", kind, n)
	case "uint16":
		return fmt.Sprintf("same(uint16(%d))", n+10)
	case "float64", "F":
		return fmt.Sprintf("same(%s(%d.25))", kind, n)
	case "string":
		return fmt.Sprintf("same(%q)", []string{"a", "bc", "é", "x y", "q"}[g.IntN(5)])
	case "bool":
		return fmt.Sprintf("same(%v)", n > 5)
	case "[]int", "[]string", "map[string]int", "[2]int", "S", "G[int, string]", "[]S":
		return "(" + kind + "{})"
	case "N":
		return fmt.Sprintf("same(N(%d))", n)
	case "*S":
		return fmt.Sprintf("(&S{a: %d})", n)
	case "T":
		return fmt.Sprintf("(T{e: %d, f: func(x int) int { return x }})", n)
	case "I":
		return fmt.Sprintf("I(N(%d))", n)
	case "any":
		return fmt.Sprintf("any(%d)", n)
	case "error":
		return fmt.Sprintf("error(E{%d})", n)
	}
	return "(func(x int) int { return x + 1 })"
}
