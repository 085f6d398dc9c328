package language

import (
	"go/ast"
	"go/scanner"
	"go/token"
	"go/types"
	"strings"

	"tossline/kernel/interp/api"
)

// SignatureAt is the function whose arguments an offset lies among.
func SignatureAt(source string, offset int) Signature {
	if offset < 0 || offset > len(source) {
		return Signature{}
	}
	open, commas := openCall(source[:offset])
	if open < 0 {
		return Signature{}
	}
	r := read(source)
	if r == nil {
		return Signature{}
	}
	var call *ast.CallExpr
	ast.Inspect(r.File, func(n ast.Node) bool {
		if c, ok := n.(*ast.CallExpr); ok && c.Lparen == r.pos(open) {
			call = c
		}
		return call == nil
	})
	if call == nil {
		return Signature{}
	}
	return r.signature(call, commas)
}

// openCall is the offset of the last parenthesis that is still open at the end of source, with no brace opened after
// it, and how many commas follow at its level; -1 where there is none.
func openCall(source string) (open, commas int) {
	type bracket struct {
		kind   token.Token
		offset int
		commas int
	}
	var stack []bracket
	opener := map[token.Token]token.Token{
		token.RPAREN: token.LPAREN, token.RBRACK: token.LBRACK, token.RBRACE: token.LBRACE,
	}
	for _, t := range tokens(source) {
		switch t.kind {
		case token.LPAREN, token.LBRACK, token.LBRACE:
			stack = append(stack, bracket{kind: t.kind, offset: t.from})
		case token.RPAREN, token.RBRACK, token.RBRACE:
			for i := len(stack) - 1; i >= 0; i-- {
				if stack[i].kind == opener[t.kind] {
					stack = stack[:i]
					break
				}
			}
		case token.COMMA:
			if len(stack) > 0 {
				stack[len(stack)-1].commas++
			}
		case token.SEMICOLON: // a statement ends: parentheses before it were forgotten, not opened
			for len(stack) > 0 && stack[len(stack)-1].kind == token.LPAREN {
				stack = stack[:len(stack)-1]
			}
		}
	}
	for i := len(stack) - 1; i >= 0 && stack[i].kind != token.LBRACE; i-- {
		if stack[i].kind == token.LPAREN {
			return stack[i].offset, stack[i].commas
		}
	}
	return -1, 0
}

// lexeme is a token and where it stands.
type lexeme struct {
	kind     token.Token
	from, to int
}

// tokens are those of a source, comments among them, semicolons of line ends too.
func tokens(source string) []lexeme {
	var s scanner.Scanner
	file := token.NewFileSet().AddFile("", -1, len(source))
	s.Init(file, []byte(source), nil, scanner.ScanComments)
	var all []lexeme
	for {
		p, kind, text := s.Scan()
		if kind == token.EOF {
			return all
		}
		from := file.Offset(p)
		length := len(text)
		switch {
		case kind.IsOperator() && text == "":
			length = len(kind.String())
		case kind == token.SEMICOLON && text == "\n":
			if from == len(source) {
				continue // the end of the source ends no statement
			}
			length = 0
		}
		all = append(all, lexeme{kind, from, min(from+length, len(source))})
	}
}

// signature describes a call's function.
func (r *reading) signature(call *ast.CallExpr, commas int) Signature {
	fun := ast.Unparen(call.Fun)
	obj := r.callee(fun)
	if b, ok := obj.(*types.Builtin); ok {
		return builtin(b.Name(), commas)
	}
	sig, ok := r.Info.TypeOf(fun).(*types.Signature)
	if !ok {
		return Signature{}
	}
	s := Signature{Params: []string{}}
	name := "func"
	if obj != nil {
		name, s.Doc = obj.Name(), paragraph(r.doc(obj))
	}
	s.Label = name + strings.TrimPrefix(types.TypeString(sig, r.qualify), "func")
	for i := range sig.Params().Len() {
		s.Params = append(s.Params, r.param(sig, i))
	}
	s.Active = active(commas, len(s.Params), sig.Variadic())
	return s
}

// callee is the object of what is called, nil where it has no name.
func (r *reading) callee(fun ast.Expr) types.Object {
	switch fun := fun.(type) {
	case *ast.Ident:
		return r.Info.ObjectOf(fun)
	case *ast.SelectorExpr:
		return r.Info.ObjectOf(fun.Sel)
	case *ast.IndexExpr:
		return r.callee(fun.X)
	case *ast.IndexListExpr:
		return r.callee(fun.X)
	}
	return nil
}

// param is parameter i as it stands in the text of the signature.
func (r *reading) param(sig *types.Signature, i int) string {
	p := sig.Params().At(i)
	typ := types.TypeString(p.Type(), r.qualify)
	if sig.Variadic() && i == sig.Params().Len()-1 {
		typ = "..." + strings.TrimPrefix(typ, "[]")
	}
	if p.Name() == "" {
		return typ
	}
	return p.Name() + " " + typ
}

// active is the parameter at the cursor: a variadic one takes all that follow.
func active(commas, params int, variadic bool) int {
	if variadic {
		return min(commas, params-1)
	}
	return min(commas, params)
}

// builtin describes a predeclared function, by its declaration in package builtin.
func builtin(name string, commas int) Signature {
	header, doc, _ := strings.Cut(api.Doc("builtin."+name), "\n\n")
	label := strings.TrimPrefix(header, "func ")
	_, inside, ok := strings.Cut(label, "(")
	inside, _, closed := strings.Cut(inside, ")")
	if !ok || !closed {
		return Signature{}
	}
	s := Signature{Label: label, Doc: paragraph(doc), Params: []string{}}
	variadic := strings.Contains(inside, "...")
	for p := range strings.SplitSeq(inside, ", ") {
		if p != "" {
			s.Params = append(s.Params, p)
		}
	}
	s.Active = active(commas, len(s.Params), variadic)
	return s
}
