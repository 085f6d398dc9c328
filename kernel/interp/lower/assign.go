package lower

import (
	"go/ast"
	"go/token"
	"go/types"
	"strings"
)

// assign writes an assignment or a short declaration.
func (w *writer) assign(s *ast.AssignStmt) string {
	switch {
	case s.Tok == token.DEFINE:
		return w.define(s.Lhs, s.Rhs)
	case len(s.Lhs) > 1:
		return w.assignAll(s)
	case s.Tok == token.ASSIGN && isBlank(s.Lhs[0]):
		return "_ = " + w.expr(s.Rhs[0])
	case s.Tok == token.ASSIGN && w.exact && !isVariable(s.Lhs[0]) && !isVariable(s.Rhs[0]):
		return w.assignAll(s) // the value is evaluated before there is no place for it
	case s.Tok == token.ASSIGN:
		t := w.typeOf(s.Lhs[0])
		return w.set(w.expr(s.Lhs[0]), t, w.value(s.Rhs[0], t))
	case s.Tok == token.SHL_ASSIGN || s.Tok == token.SHR_ASSIGN:
		return w.expr(s.Lhs[0]) + " " + s.Tok.String() + " " + w.shiftCount(s.Rhs[0])
	}
	return w.expr(s.Lhs[0]) + " " + s.Tok.String() + " " + w.expr(s.Rhs[0])
}

func isVariable(e ast.Expr) bool { _, ok := ast.Unparen(e).(*ast.Ident); return ok }

// set writes the assignment of a value to a variable. A literal is held first: of a struct literal the interpreter
// would make a new variable, which closures that hold the old one don't see.
func (w *writer) set(name string, t types.Type, value string) string {
	if !strings.HasSuffix(value, "}") {
		return name + " = " + value
	}
	held := w.fresh("held")
	return "{ var " + held + " " + w.typeString(t) + " = " + value + "; " + name + " = " + held + " }"
}

// define writes a declaration of variables with their values. A name on the left may be one that there is already.
func (w *writer) define(lhs, rhs []ast.Expr) string {
	if len(rhs) == 1 && len(lhs) > 1 {
		return w.defineMany(lhs, rhs[0])
	}
	values := make([]string, len(lhs)) // the values don't see the new names
	for i, e := range lhs {
		to := w.typeOf(rhs[i])
		if !isBlank(e) {
			to = w.typeOf(e)
		}
		values[i] = w.value(rhs[i], to)
	}
	var first, second []string
	for i, e := range lhs {
		id := e.(*ast.Ident)
		o := w.info.Defs[id]
		switch {
		case id.Name == "_":
			first = append(first, "_ = "+values[i])
		case o == nil: // assigned after all values are known
			held := w.fresh("held")
			first = append(first, "var "+held+" "+w.typeString(w.typeOf(id))+" = "+values[i])
			second = append(second, w.ident(id)+" = "+held)
		default:
			first = append(first, w.declare(o, values[i]))
		}
	}
	return strings.Join(append(first, second...), "; ")
}

// defineMany writes a, b := f().
func (w *writer) defineMany(lhs []ast.Expr, rhs ast.Expr) string {
	value := w.expr(rhs)
	many := w.typeOf(rhs).(*types.Tuple)
	var left, after []string
	define := false
	for i, e := range lhs {
		id := e.(*ast.Ident)
		o := w.info.Defs[id]
		from := many.At(i).Type()
		switch {
		case id.Name == "_":
			left = append(left, "_")
		case o != nil && !w.kept[o] && types.Identical(w.env.subst(o.Type()), from):
			left, define = append(left, w.local(o)), true
		default:
			held := w.fresh("held")
			left, define = append(left, held), true
			if o != nil {
				after = append(after, w.declare(o, w.as(held, from, w.env.subst(o.Type()))))
			} else {
				after = append(after, w.ident(id)+" = "+w.as(held, from, w.typeOf(id)))
			}
		}
	}
	text := strings.Join(left, ", ") + " = " + value
	if define {
		text = strings.Join(left, ", ") + " := " + value
	}
	return strings.Join(append([]string{text}, after...), "; ")
}

// assignAll writes an assignment to several places in the two phases that it has: the operands of the places and the
// values first, then the assignments from left to right.
func (w *writer) assignAll(s *ast.AssignStmt) string {
	var first, second, left []string
	for _, e := range s.Lhs {
		place, before := w.place(e)
		first, left = append(first, before...), append(left, place)
	}
	if len(s.Rhs) < len(s.Lhs) {
		many := w.typeOf(s.Rhs[0]).(*types.Tuple)
		var held []string
		define := " = "
		for i, e := range s.Lhs {
			if isBlank(e) {
				held = append(held, "_")
				continue
			}
			held, define = append(held, w.fresh("held")), " := "
			second = append(second, left[i]+" = "+w.as(held[i], many.At(i).Type(), w.typeOf(e)))
		}
		first = append(first, strings.Join(held, ", ")+define+w.expr(s.Rhs[0]))
	} else {
		for i, e := range s.Rhs {
			if isBlank(s.Lhs[i]) {
				first = append(first, "_ = "+w.expr(e))
				continue
			}
			to := w.typeOf(s.Lhs[i])
			value := w.value(e, to)
			if w.info.Types[e].Value == nil {
				held := w.fresh("held")
				first = append(first, "var "+held+" "+w.typeString(to)+" = "+value)
				value = held
			}
			second = append(second, left[i]+" = "+value)
		}
	}
	return "{ " + strings.Join(append(first, second...), "; ") + " }"
}

// place writes where an assignment goes to, and what must be evaluated before its value is.
func (w *writer) place(e ast.Expr) (place string, before []string) {
	hold := func(text string, e ast.Expr) string {
		if w.info.Types[e].Value != nil {
			return text
		}
		held := w.fresh("held")
		before = append(before, held+" := "+text)
		return held
	}
	inside := func(e ast.Expr) string {
		inner, more := w.place(e)
		before = append(before, more...)
		return inner
	}
	switch x := ast.Unparen(e).(type) {
	case *ast.IndexExpr:
		switch u := w.typeOf(x.X).Underlying().(type) {
		case *types.Array:
			of := enclosed(inside(x.X))
			return of + "[" + hold(w.index(x.X, of, true, x.Index), x.Index) + "]", before
		case *types.Map:
			of := hold(w.expr(x.X), x.X)
			return of + "[" + hold(w.value(x.Index, u.Key()), x.Index) + "]", before
		}
		of := hold(w.expr(x.X), x.X)
		return of + "[" + hold(w.index(x.X, of, true, x.Index), x.Index) + "]", before
	case *ast.StarExpr:
		return "*" + hold(w.expr(x.X), x.X), before
	case *ast.SelectorExpr:
		if s := w.info.Selections[x]; s != nil {
			of := ""
			if _, pointer := pointee(w.typeOf(x.X)); pointer {
				of = hold(w.expr(x.X), x.X)
			} else {
				of = enclosed(inside(x.X))
			}
			return w.member(of, w.env.subst(s.Recv()), x.Sel.Name).name, before
		}
	}
	return w.expr(ast.Unparen(e)), before
}
