package lower

import (
	"go/ast"
	"go/token"
	"go/types"
)

// findRecursive finds the functions that may call themselves, by way of others too. A recursion without end would end
// the process, so that these count how deep they are.
func (w *writer) findRecursive(file *ast.File) {
	calls := map[types.Object]map[types.Object]bool{}
	named := map[string][]types.Object{} // methods by name
	for _, d := range file.Decls {
		if f, ok := d.(*ast.FuncDecl); ok && f.Recv != nil {
			named[f.Name.Name] = append(named[f.Name.Name], w.info.Defs[f.Name])
		}
	}
	for _, d := range file.Decls {
		f, ok := d.(*ast.FuncDecl)
		if !ok {
			continue
		}
		called := map[types.Object]bool{}
		calls[w.info.Defs[f.Name]] = called
		ast.Inspect(f, func(n ast.Node) bool {
			id, ok := n.(*ast.Ident)
			if !ok {
				return true
			}
			g, ok := w.info.Uses[id].(*types.Func)
			if !ok {
				return true
			}
			called[g.Origin()] = true
			if r := g.Signature().Recv(); r != nil && types.IsInterface(r.Type()) {
				for _, m := range named[g.Name()] {
					called[m] = true
				}
			}
			if g.Pkg() != nil && g.Pkg().Path() == "fmt" {
				for _, m := range append(named["String"], named["Error"]...) {
					called[m] = true
				}
			}
			return true
		})
	}
	for f := range calls {
		seen := map[types.Object]bool{}
		var visit func(types.Object)
		visit = func(o types.Object) {
			for g := range calls[o] {
				if !seen[g] {
					seen[g] = true
					visit(g)
				}
			}
		}
		visit(f)
		w.recursive[f] = seen[f]
	}
}

// callsVariable tells whether a function literal calls a function that lies in a variable from outside of it, which may
// be itself.
func (w *writer) callsVariable(lit *ast.FuncLit) bool {
	found := false
	ast.Inspect(lit.Body, func(n ast.Node) bool {
		if c, ok := n.(*ast.CallExpr); ok {
			if id, ok := ast.Unparen(c.Fun).(*ast.Ident); ok {
				v, ok := w.info.Uses[id].(*types.Var)
				found = found || ok && v.Pos() < lit.Pos() && w.assignedIn(v)
			}
		}
		return !found
	})
	return found
}

// assignedIn tells whether a variable is set by an assignment, not where it is declared: only then can a function that
// lies in it call itself by it.
func (w *writer) assignedIn(v *types.Var) bool {
	if w.decl == nil || v.Parent() == w.pkg.Scope() {
		return true
	}
	return w.assigned(v, w.decl)
}

// enter writes what a function does first: it finds its place in the trail, and counts how deep it is.
func (w *writer) enter(recursive, defers bool) string {
	s := ""
	if w.traced && w.decl != nil && !w.unplaced {
		w.fn.frame = w.fresh("frame")
		name := w.decl.Name.Name
		if of := receiver(w.info.Defs[w.decl.Name]); of != nil {
			name = of.Obj().Name() + "." + name
		}
		s += w.fn.frame + " := " + w.host("Enter") + "(" + quote(name) + "); "
		w.fn.leave += w.fn.frame + ".Leave(); "
	}
	if defers { // a panic that ends here leaves the functions below without their return
		saved := w.fresh("depth")
		s += saved + " := " + depthVariable + "; "
		w.fn.leave += depthVariable + " = " + saved + "; "
	}
	if recursive {
		s += depthVariable + "++; if " + depthVariable + " > 1000 { " + w.host("Deep") + "() }; "
		if !defers {
			w.fn.leave += depthVariable + "--; "
		}
	}
	return s
}

// depthVariable counts how deep recursive functions are.
const depthVariable = "depthᐧ"

// trace writes the statement that tells the trail where the function is.
func (w *writer) trace(pos token.Pos) string {
	if w.fn.frame == "" {
		return ""
	}
	p := w.files.PositionFor(pos, false)
	return w.fn.frame + ".At(" + itoa(p.Line) + ", " + itoa(p.Column) + "); "
}
