package lower

import (
	"go/ast"
	"go/types"
	"strings"
)

// unwinds tells whether a function has deferred calls of its own, and whether it calls recover itself.
func (w *writer) unwinds(body ast.Node) (defers, recovers bool) {
	ast.Inspect(body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.FuncLit:
			return false
		case *ast.DeferStmt:
			defers = true
		case *ast.CallExpr:
			recovers = recovers || w.isBuiltin(n.Fun, "recover")
		}
		return true
	})
	return defers, recovers
}

func (w *writer) isBuiltin(e ast.Expr, name string) bool {
	id, ok := ast.Unparen(e).(*ast.Ident)
	if !ok {
		return false
	}
	b, ok := w.info.Uses[id].(*types.Builtin)
	return ok && b.Name() == name
}

// deferred writes a deferred call: its function and arguments are evaluated now, and the host has it called. A function
// that may recover is held out the token for that.
func (w *writer) deferred(s *ast.DeferStmt) string {
	fn := w.fn
	for fn.defers == "" { // in the body of a range over a function
		fn = fn.outer
	}
	push := fn.defers + ".Push([]func(){func() { " // in a slice it holds what the variables are now
	call := s.Call
	if w.isBuiltin(call.Fun, "recover") {
		return push + fn.defers + ".Recover() }}[0])"
	}
	var before []string
	hold := func(text string, t types.Type) string {
		name := w.fresh("held")
		before = append(before, "var "+name+" "+w.typeString(t), name+" = "+text)
		return name
	}
	var args []string
	if id, ok := ast.Unparen(call.Fun).(*ast.Ident); ok {
		if b, ok := w.info.Uses[id].(*types.Builtin); ok {
			for i, a := range call.Args {
				t := w.typeOf(a)
				switch {
				case b.Name() == "panic" || b.Name() == "print" || b.Name() == "println":
					t = emptyInterface
				case b.Name() == "delete" && i == 1:
					t = w.typeOf(call.Args[0]).Underlying().(*types.Map).Key()
				}
				args = append(args, hold(w.value(a, t), t))
			}
			return "{ " + strings.Join(before, "; ") + "; " + push + w.builtinOf(call, b.Name(), args) + " }}[0]) }"
		}
	}
	t := w.typeOf(call.Fun).Underlying().(*types.Signature)
	pass := fn.defers + ".Pass(); "
	if lit, ok := ast.Unparen(call.Fun).(*ast.FuncLit); ok {
		if _, recovers := w.unwinds(lit.Body); !recovers {
			pass = ""
		}
	}
	c := w.callee(call)
	switch {
	case c.receiver != "":
		args = append(args, hold(c.receiver, c.receiverType))
	case !c.fixed:
		c.name = hold(w.expr(call.Fun), t)
	}
	if many := w.several(call); many != nil {
		names := make([]string, many.Len())
		for i := range names {
			names[i] = w.fresh("held")
			before = append(before, "var "+names[i]+" "+w.typeString(many.At(i).Type()))
		}
		before = append(before, strings.Join(names, ", ")+" = "+w.expr(call.Args[0]))
		args = append(args, w.spread(call, t, many, names)...)
		return "{ " + strings.Join(append(before, ""), "; ") + push + pass + c.name + "(" + strings.Join(args, ", ") + ") }}[0]) }"
	}
	for i, a := range w.arguments(call, t) {
		ellipsis := strings.HasSuffix(a, "...")
		at, _ := paramOf(t, i, ellipsis)
		name := hold(strings.TrimSuffix(a, "..."), at)
		if ellipsis {
			name += "..."
		}
		args = append(args, name)
	}
	return "{ " + strings.Join(append(before, ""), "; ") + push + pass + c.name + "(" + strings.Join(args, ", ") + ") }}[0]) }"
}

var emptyInterface = types.NewInterfaceType(nil, nil)
