package lower

import (
	"go/ast"
	"go/token"
	"go/types"
	"strings"
)

// choice writes a switch as one over conditions, which are tried in order. What falls through has the next statements
// written once more.
func (w *writer) choice(s *ast.SwitchStmt, label string) string {
	t := w.push(s, label, false)
	defer w.pop()
	before := w.before(s.Init)
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
				test := w.operand(e)
				if tag != "" {
					test = w.comparison(tag, w.typeOf(s.Tag), token.EQL, w.grouped(e), w.typeOf(e))
				}
				if len(c.List) > 1 {
					test = w.apart(e, types.Typ[types.Bool], test)
				}
				tests = append(tests, test)
			}
			text += "case " + strings.Join(tests, " || ") + ":"
		}
		text += w.clause(s.Body.List[i:])
	}
	return scoped(before, t.prefix()+text+"\n}")
}

// clause writes the statements of the first clause, and of those that it falls through to.
func (w *writer) clause(clauses []ast.Stmt) string {
	body := clauses[0].(*ast.CaseClause).Body
	if n := len(body); n > 0 {
		if b, ok := body[n-1].(*ast.BranchStmt); ok && b.Tok == token.FALLTHROUGH {
			return "\n{" + w.stmts(body[:n-1]) + "\n}" + w.clause(clauses[1:])
		}
	}
	if len(body) == 0 {
		return ""
	}
	return "\n{" + w.stmts(body) + "\n}" // in braces: labels aren't found else
}

// typeChoice writes a switch over the type that lies in an interface, as one over conditions.
func (w *writer) typeChoice(s *ast.TypeSwitchStmt, label string) string {
	t := w.push(s, label, false)
	defer w.pop()
	before := w.before(s.Init)
	named := false
	var x ast.Expr
	switch a := s.Assign.(type) {
	case *ast.AssignStmt:
		named, x = true, a.Rhs[0]
	case *ast.ExprStmt:
		x = a.X
	}
	x = ast.Unparen(x).(*ast.TypeAssertExpr).X
	subject, of := w.fresh("subject"), w.typeOf(x)
	before += "var " + subject + " " + w.typeString(of) + " = " + w.expr(x) + "; "
	text := "switch {"
	for _, c := range s.Body.List {
		c := c.(*ast.CaseClause)
		text += "\n" + w.mark(c.Pos())
		if c.List == nil {
			text += "default:"
		} else {
			var tests []string
			for _, e := range c.List {
				if isNil(w.typeOf(e)) {
					tests = append(tests, subject+" == nil")
				} else {
					tests = append(tests, w.assertFunction("is", w.typeOf(e))+"("+subject+")")
				}
			}
			text += "case " + strings.Join(tests, " || ") + ":"
		}
		text += "\n{"
		if o := w.info.Implicits[c]; named && o != nil {
			value := subject
			if len(c.List) == 1 && !isNil(w.typeOf(c.List[0])) {
				value = w.asserted(subject, of, w.typeOf(c.List[0]))
			}
			text += "\n" + w.declare(o, value)
		}
		text += w.stmts(c.Body) + "\n}"
	}
	return scoped(before, t.prefix()+text+"\n}")
}
