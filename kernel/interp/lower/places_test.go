package lower

import (
	"fmt"
	"strings"
	"testing"
)

// The interpreter takes most expressions well in most places, and a few badly in some. So each kind of expression is
// tried in each place that an expression can have.

// expressions are the kinds, by their type.
var expressions = []struct {
	of  string
	all []string
}{
	{"int", []string{
		`-n`, `^n`, `n << 2`, `n*2 - n/2`, `xs[1:][0]`, `-f(n)`, `*p`, `(S{3}).a`, `x.(int)`, `get(any(n))`,
		`I(s).Get()`, `int([]rune(t)[1])`,
	}},
	{"bool", []string{
		`get(any(3)) >= 2`, `I(s).Get() >= 2`, `any(nil) == nil`, `any(n) == any(3)`, `float64(n) >= 2.5`,
		`[]byte(t)[0] == 'a'`, `time.Duration(n) > 2`, `func() bool { return n == 3 }()`, `((S{3}).a == 3)`,
		`(map[string]int{"a": 3}["a"] == 3)`, `(same(S{3}).a == 3)`, `-n < 0`, `!(n == 4)`, `!v`,
		`x.(int) == 3`, `*p == 3`, `n == 3 && n > 1`, `(n == 4 || n == 3)`, `(s == S{3})`,
		`fmt.Stringer(N(3)).String() == "N3"`, `1<<n == 8`, `ok(m, "a")`, `v`,
	}},
	{"float64", []string{
		`-y`, `y / 2`, `float64(n)`, `math.Sqrt(y)`,
	}},
	{"string", []string{
		`t + "x"`, `string(b)`, `fmt.Sprint(n, v)`, `string(t[0])`,
	}},
	{"S", []string{
		`s`, `S{n}`, `*(&S{4})`,
	}},
	{"[]int", []string{
		`xs[1:]`, `append(xs, n)`, `[]int{n}`,
	}},
	{"error", []string{
		`err`, `error(E{n})`, `fmt.Errorf("w %w", E{n})`,
	}},
	{"*S", []string{
		`&s`, `&S{n}`,
	}},
	{"func(int) int", []string{
		`g`, `func(i int) int { return i * n }`, `s.Add`,
	}},
	{"N", []string{
		`-N(n)`, `N(1) << n`,
	}},
	{"map[string]int", []string{
		`m`, `map[string]int{"z": n}`,
	}},
	{"[2]int", []string{
		`[2]int{n, 1}`,
	}},
}

// around is what the expressions are made of.
const around = `type S struct{ a int }
func (s S) Get() int { return s.a }
func (s S) Add(n int) int { return s.a + n }
func (s *S) Put(n int) int { return s.a + n }
type I interface{ Get() int }
type N int
func (n N) String() string { return fmt.Sprint("N", int(n)) }
type E struct{ c int }
func (E) Error() string { return "e" }
func get(x any) int { return x.(int) }
func f(x int) int { return x }
func q() []int { return []int{6, 7} }
func mk(n int) S { return S{n} }
func fail(n int) error { if n > 2 { return E{n} }; return nil }
func same[T any](x T) T { return x }
func ok(m map[string]int, k string) bool { _, ok := m[k]; return ok }
func cnt(xs ...any) int { return len(xs) }
func yes() bool { fmt.Print("y"); return true }
func no() bool { fmt.Print("n"); return false }
func show(x any) string {
	switch x := x.(type) {
	case func(int) int: return fmt.Sprint("func", x(2))
	case *S: return fmt.Sprint("*S", x.a)
	}
	return fmt.Sprint(x)
}
`

// within declares what the expressions use.
const within = `	n, s, b, t, xs, v, y := 3, S{3}, []byte("ab"), "ab", []int{1, 2, 3}, true, 2.5
	p, py, m, ss, arr := &n, &y, map[string]int{"a": 1}, []S{{8}}, [2]int{4, 5}
	var x any = 3
	var err error
	g := func(i int) int { return i + len(xs) - 3 }
	_, _, _, _, _, _, _, _, _, _, _, _, _, _, _ = n, s, b, t, xs, v, y, p, py, m, ss, arr, x, err, g
`

// places are where an expression $E of type $T can stand.
const places = `type H struct{ f $T; l []$T; m map[string]$T; a any; p *$T }
type G[A any] struct{ v A }
func (g G[A]) Val() A { return g.v }
func take(x $T, rest ...$T) string { return show(x) + fmt.Sprint(len(rest)) }
func loosely(x any, rest ...any) string { return show(x) + fmt.Sprint(len(rest)) }
func Main() {
$W	var a any
	a = $E
	var c $T
	c = $E
	var d $T = $E
	e := $E
	fmt.Println(show(a), show(c), show(d), show(e))
	h := H{f: $E, l: []$T{$E, $E}, m: map[string]$T{"k": $E}, a: $E}
	h.f, h.a = $E, $E
	h.l[1] = $E
	h.m["z"] = $E
	h.l = append(h.l, $E)
	h.p = &h.f
	*h.p = $E
	fmt.Println(show(h.f), show(h.l[0]), show(h.l[1]), len(h.l), show(h.m["z"]), show(h.a), show(*h.p))
	one := func() $T { return $E }
	two := func() ($T, any, error) { return $E, $E, nil }
	named := func() (r $T, l any) { defer func() { r = $E }(); l = $E; return }
	r1, r2, r3 := two()
	r4, r5 := named()
	fmt.Println(show(one()), show(r1), show(r2), r3, show(r4), show(r5))
	fmt.Println(take($E), take($E, $E), loosely($E, $E, 1), show(same($E)), show(G[$T]{$E}.Val()), show([]any{$E}[0]))
	c, a = $E, $E
	for _, c = range []$T{$E} { fmt.Println(show(c)) }
	for i, w := range []any{$E, 1} { if i == 0 { fmt.Println(show(w)) } }
	fn := func(x $T) $T { return x }
	fmt.Println(show(fn($E)), show(func(x any) any { return x }($E)))
	func() {
		defer func(x $T, l any) { fmt.Println("deferred", show(x), show(l)) }($E, $E)
		defer fmt.Println(show($E))
		c = $E
	}()
	if w := same($E); v { fmt.Println(show(w)) }
	switch w := any($E).(type) { case $T: fmt.Println("same", show(w)); default: fmt.Println("other", show(w)) }
	_, held := any($E).($T)
	for i := range 2 { k := $E; if i == 1 { k = $E; fmt.Println(held, show(k)) } }
	fs := []func() $T{}
	for range 2 { k := $E; fs = append(fs, func() $T { return k }) }
	fmt.Println(show(fs[1]()), show(c), show(d), show(e))
}
`

// conditions are where one of type bool can stand besides.
const conditions = `func Main() {
$W	r := $E && yes()
	r = $E || no()
	fmt.Println(r, yes() && $E, no() || $E, !($E) || $E)
	if $E && yes() { fmt.Println("if") } else { fmt.Println("else") }
	if no() || $E && v { fmt.Println("if2") }
	if $E { fmt.Println("if3") } else { fmt.Println("else3") }
	if no() { fmt.Println("a") } else if $E { fmt.Println("b") } else { fmt.Println("c") }
	for i := 0; $E && i < 2; i++ { fmt.Print(i) }
	for i := 0; i < 2 && $E; i++ { fmt.Print(i) }
	for i := 0; $E; i++ { if i == 2 { break }; fmt.Print(i) }
	k := 0
	for $E { k++; if k > 3 { break } }
	switch { case $E && no(): fmt.Println("c1"); case no() || $E: fmt.Println("c2") }
	switch { case !($E): fmt.Println("c3"); case $E: fmt.Println("c4") }
	switch $E { case true: fmt.Println("t"); default: fmt.Println("f") }
	switch w := $E; w { case false, $E: fmt.Println("t2"); default: fmt.Println("f2") }
	if w := $E; w { fmt.Println("init") }
	for range 2 { if !($E) { continue }; fmt.Print("z") }
	fmt.Println(func() bool { return $E && v }(), []bool{$E && v, v || $E}, map[bool]int{$E && v: 1}, f(3) == 3 && $E && yes())
	var u bool = $E && v && $E
	w := ($E || no()) && ($E && yes())
	fmt.Println(k, u, w, struct{ b bool }{$E && v}, same($E && v))
	var a any = $E && v
	a = !($E)
	fmt.Println(a, a == any($E))
}
`

// TestPlaces runs every kind of expression in every place, compiled and interpreted.
func TestPlaces(t *testing.T) {
	var programs []program
	add := func(text, e, of string) {
		text = strings.NewReplacer("$E", e, "$T", of, "$W", within).Replace(text)
		programs = append(programs, program{fmt.Sprint(of, " ", e), around + text})
	}
	for _, kind := range expressions {
		for _, e := range kind.all {
			add(places, e, kind.of)
			if kind.of == "bool" {
				add(conditions, e, kind.of)
			}
		}
	}
	want := compiled(t, programs)
	for i, p := range programs {
		t.Run(p.name, func(t *testing.T) {
			differ(t, p, want[i])
		})
	}
}
