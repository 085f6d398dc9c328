package lower

import (
	"go/ast"
	"go/token"
	"strings"
)

// stmts writes statements, each on a line of its own with its position.
func (w *writer) stmts(all []ast.Stmt) string {
	var b strings.Builder
	for _, s := range all {
		if text := w.stmt(s); text != "" {
			b.WriteString("\n" + w.mark(s.Pos()) + text)
		}
	}
	return b.String()
}

// block writes statements in braces.
func (w *writer) block(b *ast.BlockStmt) string {
	return "{" + w.stmts(b.List) + "\n" + w.mark(b.Rbrace) + "}"
}

func (w *writer) stmt(s ast.Stmt) string { return w.labelled(s, "") }

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
	}
	if label != "" {
		t := w.push(s, label, false)
		defer w.pop()
		text := w.plain(s)
		return t.prefix() + text
	}
	return w.plain(s)
}

func (w *writer) plain(s ast.Stmt) string {
	switch s := s.(type) {
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
	w.refuse(s, "this statement isn't known to recipes")
	return ""
}

// assign writes an assignment or a short declaration.
func (w *writer) assign(s *ast.AssignStmt) string {
	right := strings.Join(w.exprs(s.Rhs), ", ")
	if s.Tok != token.DEFINE {
		return strings.Join(w.exprs(s.Lhs), ", ") + " " + s.Tok.String() + " " + right
	}
	var left, declared []string
	old := false
	for _, e := range s.Lhs {
		id := e.(*ast.Ident)
		o := w.info.Defs[id]
		switch {
		case id.Name == "_":
			left = append(left, "_")
		case o == nil:
			left, old = append(left, w.ident(id)), true
		default:
			name := w.local(o)
			left = append(left, name)
			declared = append(declared, "var "+name+" "+w.typeString(w.env.subst(o.Type())))
		}
	}
	if old {
		return strings.Join(declared, "; ") + "; " + strings.Join(left, ", ") + " = " + right
	}
	return strings.Join(left, ", ") + " := " + right
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

func (w *writer) localVars(s *ast.ValueSpec) string {
	right := strings.Join(w.exprs(s.Values), ", ")
	var names []string
	for _, id := range s.Names {
		names = append(names, w.local(w.info.Defs[id]))
	}
	text := "var " + strings.Join(names, ", ")
	if s.Type != nil {
		text += " " + w.typeString(w.typeOf(s.Type))
	}
	if right != "" {
		text += " = " + right
	}
	return text
}

// localType moves a type of a function to the package.
func (w *writer) localType(s *ast.TypeSpec) {
	o := w.info.Defs[s.Name]
	if s.Assign.IsValid() {
		return
	}
	if w.env != nil {
		w.refuse(s, "a type inside a generic function can't be run; declare it outside")
		return
	}
	w.names[o] = w.global(o.Name())
	w.namedType(s)
}

func (w *writer) condition(s *ast.IfStmt) string {
	text := "if "
	if s.Init != nil {
		text += w.stmt(s.Init) + "; "
	}
	text += w.expr(s.Cond) + " " + w.block(s.Body)
	switch e := s.Else.(type) {
	case *ast.BlockStmt:
		text += " else " + w.block(e)
	case *ast.IfStmt:
		text += " else {" + w.stmts([]ast.Stmt{e}) + "\n}"
	}
	return text
}

func (w *writer) choice(s *ast.SwitchStmt, label string) string {
	t := w.push(s, label, false)
	defer w.pop()
	text := "switch "
	if s.Init != nil {
		text += w.stmt(s.Init) + "; "
	}
	text += w.optional(s.Tag) + " {"
	for _, c := range s.Body.List {
		c := c.(*ast.CaseClause)
		text += "\n" + w.mark(c.Pos())
		if c.List == nil {
			text += "default:"
		} else {
			text += "case " + strings.Join(w.exprs(c.List), ", ") + ":"
		}
		text += w.stmts(c.Body)
	}
	return t.prefix() + text + "\n}"
}

func (w *writer) typeChoice(s *ast.TypeSwitchStmt, label string) string {
	t := w.push(s, label, false)
	defer w.pop()
	text := "switch "
	if s.Init != nil {
		text += w.stmt(s.Init) + "; "
	}
	name := ""
	var x ast.Expr
	switch a := s.Assign.(type) {
	case *ast.AssignStmt:
		name, x = a.Lhs[0].(*ast.Ident).Name, a.Rhs[0]
	case *ast.ExprStmt:
		x = a.X
	}
	subject := w.expr(x.(*ast.TypeAssertExpr).X)
	if name != "" {
		name = w.fresh(name)
		text += name + " := "
	}
	text += subject + ".(type) {"
	for _, c := range s.Body.List {
		c := c.(*ast.CaseClause)
		text += "\n" + w.mark(c.Pos())
		if c.List == nil {
			text += "default:"
		} else {
			text += "case " + strings.Join(w.exprs(c.List), ", ") + ":"
		}
		if o := w.info.Implicits[c]; o != nil {
			w.names[o] = name
		}
		text += w.stmts(c.Body)
	}
	return t.prefix() + text + "\n}"
}

func (w *writer) deferred(s *ast.DeferStmt) string {
	if w.fn.rangeBody != nil {
		w.refuse(s, "defer inside a loop over a function can't be run; call a function that defers")
	}
	return "defer " + w.expr(s.Call)
}

func (w *writer) returns(s *ast.ReturnStmt) string {
	results := w.exprs(s.Results)
	if r := w.fn.rangeBody; r != nil {
		return r.leave(w, s, results)
	}
	if len(results) == 0 {
		return "return"
	}
	return "return " + strings.Join(results, ", ")
}
