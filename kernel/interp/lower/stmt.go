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
	if s.Tok != token.DEFINE && len(s.Lhs) > 1 {
		return w.assignAll(s)
	}
	right := strings.Join(w.exprs(s.Rhs), ", ")
	if s.Tok != token.DEFINE {
		return w.expr(s.Lhs[0]) + " " + s.Tok.String() + " " + right
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

// assignAll writes an assignment to several places in the two phases that it has: the operands of the places and the
// values first, then the assignments from left to right.
func (w *writer) assignAll(s *ast.AssignStmt) string {
	var first, second, left, held []string
	for _, e := range s.Lhs {
		place, before := w.place(e)
		first, left = append(first, before...), append(left, place)
	}
	if len(s.Rhs) == 1 {
		for _, e := range s.Lhs {
			if isBlank(e) {
				held = append(held, "_")
			} else {
				held = append(held, w.fresh("held"))
			}
		}
		define := " := "
		if strings.Trim(strings.Join(held, ""), "_") == "" {
			define = " = "
		}
		first = append(first, strings.Join(held, ", ")+define+w.expr(s.Rhs[0]))
	} else {
		for i, e := range s.Rhs {
			value := w.expr(e)
			if w.info.Types[e].Value == nil {
				name := w.fresh("held")
				t := w.typeOf(e)
				if !isBlank(s.Lhs[i]) {
					t = w.typeOf(s.Lhs[i])
				}
				first = append(first, "var "+name+" "+w.typeString(t)+" = "+value)
				value = name
			}
			held = append(held, value)
		}
	}
	for i := range left {
		if left[i] != "_" || len(s.Rhs) > 1 {
			second = append(second, left[i]+" = "+held[i])
		}
	}
	return "{ " + strings.Join(append(first, second...), "; ") + " }"
}

// place writes where an assignment goes to, and what must be evaluated before its value is.
func (w *writer) place(e ast.Expr) (place string, before []string) {
	hold := func(e ast.Expr) string {
		if w.info.Types[e].Value != nil {
			return w.expr(e)
		}
		name := w.fresh("held")
		before = append(before, name+" := "+w.expr(e))
		return name
	}
	inside := func(e ast.Expr) string {
		inner, more := w.place(e)
		before = append(before, more...)
		return inner
	}
	switch x := ast.Unparen(e).(type) {
	case *ast.IndexExpr:
		of := ""
		if _, ok := w.typeOf(x.X).Underlying().(*types.Array); ok {
			of = inside(x.X)
		} else {
			of = hold(x.X)
		}
		return of + "[" + hold(x.Index) + "]", before
	case *ast.StarExpr:
		return "*" + hold(x.X), before
	case *ast.SelectorExpr:
		if s := w.info.Selections[x]; s != nil {
			if _, ok := w.typeOf(x.X).Underlying().(*types.Pointer); ok {
				return w.selected(hold(x.X), x, s), before
			}
			return w.selected(inside(x.X), x, s), before
		}
	}
	return w.expr(ast.Unparen(e)), before
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
	before, after := "", ""
	if s.Init != nil {
		before, after = "{ "+w.stmt(s.Init)+"; ", " }"
	}
	text := "if " + w.expr(s.Cond) + " " + w.block(s.Body)
	switch e := s.Else.(type) {
	case *ast.BlockStmt:
		text += " else " + w.block(e)
	case *ast.IfStmt:
		text += " else {" + w.stmts([]ast.Stmt{e}) + "\n}"
	}
	return before + text + after
}

// choice writes a switch as one over conditions, which are tried in order. What falls through has the next statements
// written once more.
func (w *writer) choice(s *ast.SwitchStmt, label string) string {
	t := w.push(s, label, false)
	defer w.pop()
	before := ""
	if s.Init != nil {
		before = w.stmt(s.Init) + "; "
	}
	tag := ""
	if s.Tag != nil {
		tag = w.fresh("tag")
		before += "var " + tag + " " + w.typeString(types.Default(w.typeOf(s.Tag))) + " = " + w.expr(s.Tag) + "; "
	}
	text := "switch {"
	for i, c := range s.Body.List {
		c := c.(*ast.CaseClause)
		text += "\n" + w.mark(c.Pos())
		if c.List == nil {
			text += "default:"
		} else {
			var tests []string
			for _, e := range c.List {
				if tag == "" {
					tests = append(tests, w.operand(e))
				} else {
					tests = append(tests, w.comparison(tag, w.typeOf(s.Tag), token.EQL, w.operand(e), w.typeOf(e)))
				}
			}
			text += "case " + strings.Join(tests, " || ") + ":"
		}
		text += w.clause(s.Body.List[i:])
	}
	if before == "" {
		return t.prefix() + text + "\n}"
	}
	return "{ " + before + t.prefix() + text + "\n} }"
}

// clause writes the statements of the first clause, and of those that it falls through to.
func (w *writer) clause(clauses []ast.Stmt) string {
	body := clauses[0].(*ast.CaseClause).Body
	if n := len(body); n > 0 {
		if b, ok := body[n-1].(*ast.BranchStmt); ok && b.Tok == token.FALLTHROUGH {
			return "\n{" + w.stmts(body[:n-1]) + "\n}" + w.clause(clauses[1:])
		}
	}
	return w.stmts(body)
}

func (w *writer) typeChoice(s *ast.TypeSwitchStmt, label string) string {
	t := w.push(s, label, false)
	defer w.pop()
	before, after := "", ""
	if s.Init != nil {
		before, after = "{ "+w.stmt(s.Init)+"; ", " }"
	}
	text := "switch "
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
	return before + t.prefix() + text + "\n}" + after
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
