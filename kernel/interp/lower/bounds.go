package lower

import (
	"go/ast"
	"go/token"
	"go/types"
	"slices"
	"strings"
)

// The interpreter says of an index only that it is out of range. Where a recipe can see the text of a panic, and where
// what panicked is run again to be explained, indices pass by the host, which keeps the numbers for the text.

// seesPanics tells whether a file recovers from panics.
func seesPanics(info *types.Info) bool {
	recovers := false
	for id, o := range info.Uses {
		if b, ok := o.(*types.Builtin); ok && b.Name() == "recover" && id.Name == "recover" {
			recovers = true
		}
	}
	return recovers
}

// hides tells whether a file gives a name of the language another meaning.
func hides(info *types.Info, names ...string) bool {
	for id, o := range info.Defs {
		if o != nil && o.Parent() != nil && slices.Contains(names, id.Name) {
			return true
		}
	}
	return false
}

// index writes the index of x, which is no map, and is written of. Held tells that of is a variable.
func (w *writer) index(x ast.Expr, of string, held bool, e ast.Expr) string {
	text := w.expr(e)
	if !w.exact || !held && !steady(w.info, x) || w.info.Types[e].Value != nil && isArray(w.typeOf(x)) {
		return text
	}
	check := "At"
	if isBasic(w.typeOf(e), types.IsUnsigned) {
		check = "AtUnsigned"
		text = "uint64(" + text + ")"
	} else {
		text = "int64(" + text + ")"
	}
	return w.host(check) + "(" + text + ", len(" + of + "))"
}

// element writes x[e] of what is no map. What can't be evaluated twice is passed to a function where a value is wanted.
func (w *writer) element(e *ast.IndexExpr) string {
	of := w.operandOf(e.X)
	if !w.exact || steady(w.info, e.X) || !w.wanted[e] || !w.nameable(w.typeOf(e.X)) || !w.nameable(w.typeOf(e)) {
		return of + "[" + w.index(e.X, of, false, e.Index) + "]"
	}
	x := w.fresh("of")
	return "func(" + x + " " + w.typeString(w.typeOf(e.X)) + ") " + w.typeString(w.typeOf(e)) + " { return " + x +
		"[" + w.index(e.X, x, true, e.Index) + "] }(" + of + ")"
}

// findWanted finds the elements of which only the value is wanted.
func findWanted(file *ast.File) map[*ast.IndexExpr]bool {
	wanted := map[*ast.IndexExpr]bool{}
	add := func(all ...ast.Expr) {
		for _, e := range all {
			if e == nil {
				continue
			}
			if x, ok := ast.Unparen(e).(*ast.IndexExpr); ok {
				wanted[x] = true
			}
		}
	}
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.CallExpr:
			add(n.Args...)
		case *ast.ReturnStmt:
			add(n.Results...)
		case *ast.AssignStmt:
			add(n.Rhs...)
		case *ast.ValueSpec:
			add(n.Values...)
		case *ast.BinaryExpr:
			add(n.X, n.Y)
		case *ast.CompositeLit:
			add(n.Elts...)
		case *ast.KeyValueExpr:
			add(n.Value)
		case *ast.IfStmt:
			add(n.Cond)
		case *ast.SwitchStmt:
			add(n.Tag)
		}
		return true
	})
	return wanted
}

// bounds writes what stands between the brackets of a slice expression.
func (w *writer) bounds(e *ast.SliceExpr, of string) string {
	low, high, most := w.optional(e.Low), w.optional(e.High), w.optional(e.Max)
	if w.exact && steady(w.info, e.X) && w.small(e.Low) && w.small(e.High) && w.small(e.Max) {
		limit, slice := "len("+of+")", "false"
		if _, ok := w.typeOf(e.X).Underlying().(*types.Slice); ok && e.High != nil {
			limit, slice = "cap("+of+")", "true"
		}
		number := func(text string) string {
			if text == "" {
				return "-1"
			}
			return "int(" + text + ")"
		}
		given := func(e ast.Expr) string {
			if e == nil {
				return "false"
			}
			return "true"
		}
		low = w.host("Between") + "(" + strings.Join([]string{given(e.Low), number(low), given(e.High), number(high),
			given(e.Max), number(most), limit, slice}, ", ") + ")"
	}
	s := low + ":" + high
	if e.Slice3 {
		s += ":" + most
	}
	return s
}

// small tells whether a bound may be written twice, and fits an int.
func (w *writer) small(e ast.Expr) bool {
	return e == nil || steady(w.info, e) && !isBasic(w.typeOf(e), types.IsUnsigned)
}

func isArray(t types.Type) bool {
	if of, ok := pointee(t); ok {
		t = of
	}
	_, ok := t.Underlying().(*types.Array)
	return ok
}

// steady tells whether an expression may be evaluated twice: it calls nothing.
func steady(info *types.Info, e ast.Expr) bool {
	still := true
	ast.Inspect(e, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.CallExpr:
			if info.Types[n.Fun].IsType() || info.Types[n].Value != nil {
				return true
			}
			if id, ok := n.Fun.(*ast.Ident); ok {
				if b, ok := info.Uses[id].(*types.Builtin); ok && (b.Name() == "len" || b.Name() == "cap") {
					return true
				}
			}
			still = false
		case *ast.FuncLit, *ast.CompositeLit:
			still = false
		case *ast.UnaryExpr:
			still = still && n.Op != token.ARROW
		}
		return still
	})
	return still
}
