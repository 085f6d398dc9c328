package lower

import (
	"go/ast"
	"go/token"
	"go/types"
	"strings"
)

// rangeBody is the body of a range over a function while it is written: a function of its own. Whatever leaves it other
// than by its end notes in a variable how, and the statements after the call of the iterator act on that.
type rangeBody struct {
	target *target
	how    string // the variable
	exits  []exit
	held   []string // variables that hold the results of a return
}

// exit is one way to leave the loop from its body.
type exit struct {
	branch *ast.BranchStmt // nil for a return
}

// branch writes a break or continue inside the body.
func (r *rangeBody) branch(w *writer, s *ast.BranchStmt, t *target) string {
	if t == r.target {
		if s.Tok == token.CONTINUE {
			return "{ " + r.how + " = 0; return true }"
		}
		return "{ " + r.how + " = -1; return false }"
	}
	return r.exit(exit{s})
}

func (r *rangeBody) exit(e exit) string {
	n := 0
	for n < len(r.exits) && r.exits[n] != e {
		n++
	}
	if n == len(r.exits) {
		r.exits = append(r.exits, e)
	}
	return "{ " + r.how + " = " + itoa(n+1) + "; return false }"
}

// rangeFunction writes a loop over a function as a call of it, with the body as a function.
func (w *writer) rangeFunction(s *ast.RangeStmt, of *types.Signature, label string) string {
	outer := w.fn
	iterator := w.operandOf(s.X)
	how := w.fresh("how")
	yield := of.Params().At(0).Type().Underlying().(*types.Signature)

	// A return gives its values to the results of the function around, or to variables held for them.
	var held []string
	declared := ""
	switch {
	case outer.rangeBody != nil:
		held = outer.rangeBody.held
	case outer.named != nil:
		held = outer.named
	case returnsInside(s.Body):
		for i := range outer.results.Len() {
			name := w.fresh("held")
			held = append(held, name)
			declared += "var " + name + " " + w.typeString(outer.results.At(i).Type()) + "; "
		}
	}

	w.fn = &function{outer: outer, results: outer.results, named: outer.named, token: outer.token, frame: outer.frame}
	t := w.push(s, label, true)
	body := &rangeBody{target: t, how: how, held: held}
	w.fn.rangeBody = body

	var params []string
	places, first := w.rangePlaces(s)
	assign := []string{first}
	for i := range yield.Params().Len() {
		name := w.fresh("next")
		e := s.Key
		if i == 1 {
			e = s.Value
		}
		if e != nil && !isBlank(e) {
			if s.Tok == token.DEFINE {
				name = w.local(w.info.Defs[e.(*ast.Ident)])
			} else {
				assign = append(assign, places[i]+" = "+w.as(name, yield.Params().At(i).Type(), w.typeOf(e)))
			}
		}
		params = append(params, name+" "+w.typeString(yield.Params().At(i).Type()))
	}
	text := w.stmts(s.Body.List)
	w.fn = outer

	out := "{ " + declared + "var " + how + " int; " + iterator + "(func(" + strings.Join(params, ", ") + ") bool {\n" +
		"if " + how + " != 0 { " + w.host("Spent") + "(" + how + ") }; " + how + " = -3\n" +
		strings.Join(assign, "\n") + text + "\n" + w.mark(s.Body.Rbrace) + how + " = 0; return true })\n" +
		"if " + how + " == -3 { " + w.host("Spent") + "(" + how + ") }"
	for n, e := range body.exits {
		out += "\nif " + how + " == " + itoa(n+1) + " { " + w.after(e, held) + " }"
	}
	return out + "; " + how + " = -2 }"
}

// after writes what is done once the iterator has come back.
func (w *writer) after(e exit, held []string) string {
	if e.branch != nil {
		return w.branch(e.branch)
	}
	if r := w.fn.rangeBody; r != nil {
		return r.exit(exit{})
	}
	if w.fn.defers != "" || len(held) == 0 {
		return w.leaving()
	}
	return scoped(w.fn.leave, "return "+strings.Join(held, ", "))
}

// returnsInside tells whether a return of the function around stands in the body.
func returnsInside(body ast.Node) bool {
	found := false
	ast.Inspect(body, func(n ast.Node) bool {
		switch n.(type) {
		case *ast.FuncLit:
			return false
		case *ast.ReturnStmt:
			found = true
		}
		return !found
	})
	return found
}
