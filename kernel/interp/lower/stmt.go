package lower

import (
	"go/ast"
	"go/token"
	"go/types"
	"strings"
)

// stmts writes statements, each on a line of its own with its position.
func (w *writer) stmts(all []ast.Stmt) string {
	var b strings.Builder
	for _, s := range all {
		if w.statements++; w.statements > longest {
			w.refuse(s, "with all its generic code and what falls through written out, the recipe is too long; make it shorter")
			return ""
		}
		if text := w.labelled(s, ""); text != "" {
			b.WriteString("\n" + w.mark(s.Pos()) + w.trace(s.Pos()) + text)
		}
	}
	return b.String()
}

// longest is how many statements may be written: instances and fallthrough write some more than once.
const longest = 100_000

// block writes statements in braces.
func (w *writer) block(b *ast.BlockStmt) string { return "{" + w.stmts(b.List) + w.closing(b.Rbrace) }

// closing writes the brace that ends a block.
func (w *writer) closing(pos token.Pos) string { return "\n" + w.mark(pos) + "}" }

// before writes a statement that stands before another one, in front of it.
func (w *writer) before(s ast.Stmt) string {
	if s == nil {
		return ""
	}
	return w.labelled(s, "") + "; "
}

// scoped puts a statement into braces together with what stands before it.
func scoped(before, text string) string {
	if before == "" {
		return text
	}
	return "{ " + before + text + " }"
}

// labelled writes a statement that may have a label.
func (w *writer) labelled(s ast.Stmt, label string) string {
	switch s := s.(type) {
	case *ast.LabeledStmt:
		return w.labelled(s.Stmt, s.Label.Name)
	case *ast.ForStmt:
		return w.forLoop(s, label)
	case *ast.RangeStmt:
		return w.rangeLoop(s, label)
	case *ast.SwitchStmt:
		return w.choice(s, label)
	case *ast.TypeSwitchStmt:
		return w.typeChoice(s, label)
	case *ast.ExprStmt:
		return w.expr(s.X)
	case *ast.AssignStmt:
		return w.assign(s)
	case *ast.IncDecStmt:
		return w.expr(s.X) + s.Tok.String()
	case *ast.DeclStmt:
		return w.localDecl(s.Decl.(*ast.GenDecl))
	case *ast.BlockStmt:
		return w.block(s)
	case *ast.IfStmt:
		return w.condition(s)
	case *ast.ReturnStmt:
		return w.returns(s)
	case *ast.BranchStmt:
		return w.branch(s)
	case *ast.DeferStmt:
		return w.deferred(s)
	case *ast.EmptyStmt:
		return ""
	}
	w.refuse(s, "recipes have no goroutines and channels; compiled operations run in parallel by themselves")
	return ""
}

// localDecl writes a declaration inside a function. Constants are folded, so that nothing is left of them.
func (w *writer) localDecl(d *ast.GenDecl) string {
	var out []string
	for _, s := range d.Specs {
		switch s := s.(type) {
		case *ast.TypeSpec:
			w.localType(s)
		case *ast.ValueSpec:
			if d.Tok == token.VAR {
				out = append(out, w.localVars(s))
			}
		}
	}
	return strings.Join(out, "; ")
}

// localVars writes var a, b T = x, y.
func (w *writer) localVars(s *ast.ValueSpec) string {
	lhs := make([]ast.Expr, len(s.Names))
	for i, id := range s.Names {
		lhs[i] = id
	}
	if len(s.Values) > 0 {
		return w.define(lhs, s.Values)
	}
	var out []string
	for _, id := range s.Names {
		o := w.info.Defs[id]
		out = append(out, "var "+w.local(o)+" "+w.typeString(w.env.subst(o.Type())))
	}
	return strings.Join(out, "; ")
}

// localType moves a type of a function to the package.
func (w *writer) localType(s *ast.TypeSpec) {
	if s.Assign.IsValid() {
		return
	}
	if w.env != nil {
		w.refuse(s, "a type inside a generic function can't be run; declare it outside")
		return
	}
	o := w.info.Defs[s.Name]
	w.names[o] = w.global(o.Name())
	w.namedType(s)
}

func (w *writer) condition(s *ast.IfStmt) string {
	before := w.before(s.Init)
	text := "if " + w.expr(s.Cond) + " " + w.block(s.Body)
	switch e := s.Else.(type) {
	case *ast.BlockStmt:
		text += " else " + w.block(e)
	case *ast.IfStmt:
		text += " else {" + w.stmts([]ast.Stmt{e}) + "\n}"
	}
	return scoped(before, text)
}

// returns writes a return. Where the results have variables, those are set: a deferred call may see and change them.
func (w *writer) returns(s *ast.ReturnStmt) string {
	fn, body := w.fn, w.fn.rangeBody
	if len(s.Results) == 0 {
		if body != nil {
			return body.exit(exit{})
		}
		return w.leaving()
	}
	held := fn.named
	if body != nil {
		held = body.held
	}
	before, values := w.results(s.Results)
	switch {
	case body != nil:
		return "{ " + before + w.setResults(held, values) + body.exit(exit{}) + " }"
	case fn.defers != "":
		return "{ " + before + w.setResults(held, values) + "return }"
	}
	if fn.leave != "" {
		var names []string
		for i, v := range values {
			names = append(names, w.fresh("held"))
			before += "var " + names[i] + " " + w.typeString(fn.results.At(i).Type()) + " = " + v + "; "
		}
		values = names
		before += fn.leave
	}
	return scoped(before, "return "+strings.Join(values, ", "))
}

// leaving writes the return of the values that the results have by now.
func (w *writer) leaving() string {
	if w.fn.defers != "" {
		return "return"
	}
	return scoped(w.fn.leave, strings.TrimSpace("return "+strings.Join(w.fn.named, ", ")))
}

// results writes the values of a return as the function gives them, and what must be done before.
func (w *writer) results(all []ast.Expr) (before string, values []string) {
	results := w.fn.results
	if many, ok := w.typeOf(all[0]).(*types.Tuple); ok && len(all) == 1 {
		for range many.Len() {
			values = append(values, w.fresh("held"))
		}
		before = strings.Join(values, ", ") + " := " + w.expr(all[0]) + "; "
		for i := range values {
			values[i] = w.as(values[i], many.At(i).Type(), results.At(i).Type())
		}
		return before, values
	}
	for i, e := range all {
		values = append(values, w.value(e, results.At(i).Type()))
	}
	return "", values
}

// setResults writes the assignment of values to the variables of the results, which the values may contain.
func (w *writer) setResults(names, values []string) string {
	if len(names) == 1 {
		return w.set(names[0], w.fn.results.At(0).Type(), values[0]) + "; "
	}
	first, second := "", ""
	for i, name := range names {
		held := w.fresh("held")
		first += "var " + held + " " + w.typeString(w.fn.results.At(i).Type()) + " = " + values[i] + "; "
		second += name + " = " + held + "; "
	}
	return first + second
}
