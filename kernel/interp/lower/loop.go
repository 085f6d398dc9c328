package lower

import (
	"go/ast"
	"go/token"
	"go/types"
	"strconv"
	"strings"
)

// target is a statement that break or continue may name.
type target struct {
	stmt  ast.Stmt
	label string // in the recipe
	name  string // in the written code, or ""
	loop  bool
	used  bool   // some break or continue names it
	after string // to be done before each continue
	fn    *function
}

func (w *writer) push(s ast.Stmt, label string, loop bool) *target {
	t := &target{stmt: s, label: label, loop: loop, fn: w.fn}
	if label != "" {
		t.name = w.fresh(label)
	}
	w.fn.targets = append(w.fn.targets, t)
	return t
}

func (w *writer) pop() { w.fn.targets = w.fn.targets[:len(w.fn.targets)-1] }

// prefix writes the label, if it is used: the interpreter, as Go, refuses others.
func (t *target) prefix() string {
	if !t.used {
		return ""
	}
	return t.name + ": "
}

// branch writes break, continue, goto and fallthrough.
func (w *writer) branch(s *ast.BranchStmt) string {
	if s.Tok == token.GOTO {
		w.refuse(s, "goto can't be run; use a loop")
		return ""
	}
	t := w.targetOf(s)
	if t.fn != w.fn {
		return w.fn.rangeBody.branch(w, s, t)
	}
	if r := w.fn.rangeBody; r != nil && r.target == t {
		return r.branch(w, s, t)
	}
	text := s.Tok.String()
	if s.Label != nil {
		t.used = true
		text += " " + t.name
	}
	if s.Tok == token.CONTINUE && t.after != "" {
		return "{ " + t.after + text + " }"
	}
	return text
}

// targetOf finds the statement that a break or continue means, in the functions around too: the bodies of ranges over
// functions are functions only in the written code.
func (w *writer) targetOf(s *ast.BranchStmt) *target {
	for f := w.fn; f != nil; f = f.outer {
		for i := len(f.targets) - 1; i >= 0; i-- {
			t := f.targets[i]
			switch {
			case s.Label != nil && t.label == s.Label.Name:
				return t
			case s.Label == nil && (t.loop || s.Tok == token.BREAK && t.isSwitch()):
				return t
			}
		}
	}
	return nil
}

func (t *target) isSwitch() bool {
	switch t.stmt.(type) {
	case *ast.SwitchStmt, *ast.TypeSwitchStmt:
		return true
	}
	return false
}

// forLoop writes a loop of three clauses. A variable that outlives an iteration, in a closure or by its address, is a
// new one in each iteration, with the value that it had at the end of the last.
func (w *writer) forLoop(s *ast.ForStmt, label string) string {
	t := w.push(s, label, true)
	defer w.pop()
	kept := w.keptVariables(s)
	if _, several := s.Post.(*ast.AssignStmt); len(kept) > 0 || several && len(s.Post.(*ast.AssignStmt).Lhs) > 1 {
		return w.longLoop(s, t, kept)
	}
	before := w.before(s.Init)
	text := "for "
	if s.Post != nil {
		text += "; " + w.optional(s.Cond) + "; " + w.labelled(s.Post, "") + " "
	} else if s.Cond != nil {
		text += w.expr(s.Cond) + " "
	}
	t.after = w.trace(s.Pos())
	text += "{" + w.stmts(s.Body.List) + "\n" + t.after + w.closing(s.Body.Rbrace)
	return scoped(before, t.prefix()+text)
}

// keptVariables are the variables of a loop that outlive an iteration.
func (w *writer) keptVariables(s *ast.ForStmt) []types.Object {
	a, ok := s.Init.(*ast.AssignStmt)
	if !ok || a.Tok != token.DEFINE {
		return nil
	}
	var kept []types.Object
	for _, e := range a.Lhs {
		if o := w.info.Defs[e.(*ast.Ident)]; o != nil && w.kept[o] {
			kept = append(kept, o)
		}
	}
	return kept
}

// longLoop writes a loop some of whose variables are new in each iteration, or whose third clause is more than the
// interpreter does right:
//
//	init; first := true
//	for {
//		i := outer
//		if first { first = false } else { post }
//		if !cond { break }
//		body, with outer = i at its end and before each continue
//	}
func (w *writer) longLoop(s *ast.ForStmt, t *target, kept []types.Object) string {
	before := w.before(s.Init)
	body := ""
	t.after = w.trace(s.Pos())
	for _, o := range kept {
		outer := w.names[o]
		body += w.declare(o, outer) + "; "
		inner := w.names[o]
		t.after += outer + " = " + inner + "; "
	}
	if s.Post != nil {
		first := w.fresh("first")
		before += first + " := true; "
		body += "if " + first + " { " + first + " = false } else { " + w.labelled(s.Post, "") + " }; "
	}
	if s.Cond != nil {
		body += "if !(" + w.expr(s.Cond) + ") { break }"
	}
	body += w.stmts(s.Body.List)
	return "{ " + before + t.prefix() + "for {\n" + w.mark(s.Pos()) + body + "\n" + t.after +
		w.closing(s.Body.Rbrace) + " }"
}

func (w *writer) rangeLoop(s *ast.RangeStmt, label string) string {
	x := w.typeOf(s.X)
	switch u := x.Underlying().(type) {
	case *types.Signature:
		return w.rangeFunction(s, u, label)
	case *types.Basic:
		if u.Info()&types.IsInteger != 0 {
			return w.rangeInteger(s, label)
		}
		return w.rangeString(s, label)
	}
	t := w.push(s, label, true)
	defer w.pop()
	subject := w.expr(s.X)
	if of, pointer := pointee(x); pointer && s.Value != nil { // as a slice: the interpreter fails on the pointer
		subject = enclosed(subject) + "[:]"
	} else if pointer { // which may be nil
		subject = "[" + strconv.FormatInt(of.Underlying().(*types.Array).Len(), 10) + "]struct{}{}"
	}
	key, value, assign := w.rangeVariables(s)
	text := "for "
	switch {
	case value != "":
		text += key + ", " + value + " := "
	case key != "":
		text += key + " := "
	}
	text += "range " + subject + " {" + assign + w.stmts(s.Body.List) + w.closing(s.Body.Rbrace)
	return t.prefix() + text
}

// rangeString writes a loop over the runes of a string, which the host finds: the interpreter miscounts where bytes are
// no UTF-8.
func (w *writer) rangeString(s *ast.RangeStmt, label string) string {
	t := w.push(s, label, true)
	defer w.pop()
	runes, starts, n := w.fresh("runes"), w.fresh("starts"), w.fresh("n")
	before := runes + ", " + starts + " := " + w.host("Runes") + "(string(" + w.expr(s.X) + "))"
	places, assign := w.rangePlaces(s)
	for i, v := range []struct {
		to   ast.Expr
		from string
	}{{s.Key, starts}, {s.Value, runes}} {
		switch {
		case v.to == nil || isBlank(v.to):
			assign += "_ = " + v.from + "; "
		case s.Tok == token.DEFINE:
			assign += w.declare(w.info.Defs[v.to.(*ast.Ident)], v.from+"["+n+"]") + "; "
		default:
			assign += places[i] + " = " + v.from + "[" + n + "]; "
		}
	}
	text := "for " + n + " := range " + runes + " { " + assign + w.stmts(s.Body.List) + w.closing(s.Body.Rbrace)
	return "{ " + before + "; " + t.prefix() + text + " }"
}

// rangeVariables names the variables of the range clause, and writes what gives the recipe's variables their values
// at the start of an iteration where those outlive it or are declared before.
func (w *writer) rangeVariables(s *ast.RangeStmt) (key, value, assign string) {
	places, assign := w.rangePlaces(s)
	one := func(e ast.Expr, place string, from types.Type) string {
		if e == nil {
			return ""
		}
		id, ok := e.(*ast.Ident)
		if ok && id.Name == "_" {
			return "_"
		}
		if s.Tok == token.DEFINE && !w.kept[w.info.Defs[id]] {
			return w.local(w.info.Defs[id])
		}
		loop := w.fresh("next")
		if s.Tok == token.DEFINE {
			assign += "\n" + w.mark(e.Pos()) + w.declare(w.info.Defs[id], loop)
		} else {
			assign += "\n" + w.mark(e.Pos()) + place + " = " + w.as(loop, from, w.typeOf(e))
		}
		return loop
	}
	var k, v types.Type = types.Typ[types.Int], nil
	of, _ := pointee(w.typeOf(s.X))
	switch u := of.Underlying().(type) {
	case *types.Map:
		k, v = u.Key(), u.Elem()
	case interface{ Elem() types.Type }:
		v = u.Elem()
	}
	key = one(s.Key, places[0], k)
	value = one(s.Value, places[1], v)
	return key, value, assign
}

// rangePlaces writes where the variables of a range clause are that were declared before it, and what must be evaluated
// before any of them is assigned.
func (w *writer) rangePlaces(s *ast.RangeStmt) (places [2]string, first string) {
	for i, e := range []ast.Expr{s.Key, s.Value} {
		if s.Tok == token.ASSIGN && e != nil && !isBlank(e) {
			place, before := w.place(e)
			places[i] = place
			if len(before) > 0 {
				first += "\n" + w.mark(e.Pos()) + strings.Join(before, "; ")
			}
		}
	}
	if first != "" {
		first += "; "
	}
	return places, first
}

// rangeInteger writes a loop over an integer, whose bound is evaluated once. Assignments to the variable don't change
// the count.
func (w *writer) rangeInteger(s *ast.RangeStmt, label string) string {
	t := w.push(s, label, true)
	defer w.pop()
	of := types.Default(w.typeOf(s.X))
	if s.Key != nil {
		if k := w.typeOf(s.Key); k != nil && !isBlank(s.Key) {
			of = k
		}
	}
	name := w.typeString(of)
	end := w.expr(s.X)
	count, bound := w.fresh("count"), w.fresh("end")
	assign := ""
	if s.Key != nil && !isBlank(s.Key) {
		id, _ := s.Key.(*ast.Ident)
		switch {
		case s.Tok != token.DEFINE:
			assign = "\n" + w.mark(s.Key.Pos()) + w.expr(s.Key) + " = " + count
		case w.kept[w.info.Defs[id]] || w.assigned(w.info.Defs[id], s.Body):
			assign = "\n" + w.mark(s.Key.Pos()) + w.declare(w.info.Defs[id], count)
		default:
			count = w.local(w.info.Defs[id])
		}
	}
	text := "for " + count + ", " + bound + " := " + name + "(0), " + name + "(" + end + "); " + count +
		" < " + bound + "; " + count + "++ {" + assign + w.stmts(s.Body.List) + w.closing(s.Body.Rbrace)
	return t.prefix() + text
}

// assigned tells whether a variable is written in the node.
func (w *writer) assigned(o types.Object, n ast.Node) bool {
	found := false
	is := func(e ast.Expr) bool {
		id, ok := root(e).(*ast.Ident)
		return ok && w.info.Uses[id] == o
	}
	ast.Inspect(n, func(n ast.Node) bool {
		switch x := n.(type) {
		case *ast.AssignStmt:
			for _, e := range x.Lhs {
				found = found || is(e)
			}
		case *ast.IncDecStmt:
			found = found || is(x.X)
		case *ast.RangeStmt:
			found = found || x.Key != nil && is(x.Key) || x.Value != nil && is(x.Value)
		}
		return !found
	})
	return found
}

func isBlank(e ast.Expr) bool {
	id, ok := e.(*ast.Ident)
	return ok && id.Name == "_"
}
