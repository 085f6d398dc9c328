package lower

import (
	"go/ast"
	"go/token"
	"go/types"
)

// findKept finds the local variables that closures hold, or whose address is taken: they may outlive an iteration of a
// loop. Closure is the function literal around, if any.
func (w *writer) findKept(n ast.Node, closure ast.Node) {
	keep := func(e ast.Expr) {
		if id, ok := root(e).(*ast.Ident); ok {
			w.kept[w.info.Uses[id]] = true
		}
	}
	ast.Inspect(n, func(m ast.Node) bool {
		switch x := m.(type) {
		case *ast.FuncLit:
			if m != closure {
				w.findKept(x, x)
				return false
			}
		case *ast.RangeStmt: // its body may become a function
			switch w.info.TypeOf(x.X).Underlying().(type) {
			case *types.Signature, *types.Interface:
				if m != closure {
					w.findKept(x, x)
					return false
				}
			}
		case *ast.UnaryExpr:
			if x.Op == token.AND {
				keep(x.X)
			}
		case *ast.SliceExpr:
			keep(x.X)
		case *ast.SelectorExpr:
			if s := w.info.Selections[x]; s != nil && s.Kind() == types.MethodVal {
				keep(x.X)
			}
		case *ast.Ident:
			if v, ok := w.info.Uses[x].(*types.Var); ok && closure != nil && v.Pos() < closure.Pos() {
				w.kept[v] = true
			}
		}
		return true
	})
}

// root is the variable that an expression is a part of.
func root(e ast.Expr) ast.Expr {
	for {
		switch x := ast.Unparen(e).(type) {
		case *ast.SelectorExpr:
			e = x.X
		case *ast.IndexExpr:
			e = x.X
		default:
			return x
		}
	}
}

// declare writes the declaration of a variable. One that is kept is set by a statement of its own: only so does the
// interpreter make a new one each time.
func (w *writer) declare(o types.Object, value string) string {
	of := w.env.subst(o.Type())
	if !w.nameable(of) {
		name := w.local(o)
		if w.kept[o] {
			held := w.fresh("held")
			return held + " := " + value + "; " + name + " := " + held
		}
		return name + " := " + value
	}
	t := w.typeString(of)
	name := w.local(o)
	if w.kept[o] {
		return "var " + name + " " + t + "; " + name + " = " + value
	}
	return "var " + name + " " + t + " = " + value
}

// passed writes a function literal that goes to compiled code inside a loop. On its own it would see the variables of
// later iterations.
func (w *writer) passed(e ast.Expr, text string) string {
	if _, ok := ast.Unparen(e).(*ast.FuncLit); !ok {
		return text
	}
	for _, t := range w.fn.targets {
		if t.loop {
			return "[]" + w.typeString(w.typeOf(e)) + "{" + text + "}[0]"
		}
	}
	return text
}
