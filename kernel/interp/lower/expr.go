package lower

import (
	"go/ast"
	"go/token"
	"go/types"
	"strings"
)

// value writes an expression where a value of a type is wanted.
func (w *writer) value(e ast.Expr, to types.Type) string {
	text := w.expr(e)
	if to != nil && types.IsInterface(to) {
		text = w.passed(e, text)
		if w.loose(e) && w.erased(to) {
			text = w.host("Any") + "(" + text + ")"
		}
	}
	w.converted = e
	return w.as(text, w.typeOf(e), to)
}

// loose tells whether an expression is one of the operations that the interpreter doesn't end well where their value
// goes straight into an interface.
func (w *writer) loose(e ast.Expr) bool {
	if w.info.Types[e].Value != nil || !w.plain(w.typeOf(e)) {
		return false
	}
	switch e := ast.Unparen(e).(type) {
	case *ast.UnaryExpr:
		return e.Op != token.AND
	case *ast.BinaryExpr:
		switch e.Op {
		case token.SHL, token.SHR, token.LAND, token.LOR, token.EQL, token.NEQ, token.LSS, token.LEQ, token.GTR, token.GEQ:
			return true
		}
	case *ast.TypeAssertExpr:
		return true
	case *ast.CallExpr: // returned by a function, the result of a call lies in the place of that function's
		compiled, _ := w.calls(e)
		return !compiled && !w.info.Types[e.Fun].IsType() && !w.info.Types[e.Fun].IsBuiltin()
	}
	return false
}

// expr writes an expression, as one of its own type.
func (w *writer) expr(e ast.Expr) string {
	tv := w.info.Types[e]
	switch {
	case tv.Value != nil:
		return w.constant(tv.Value, w.env.subst(tv.Type))
	case tv.IsType():
		return w.typeString(w.env.subst(tv.Type))
	}
	switch e := e.(type) {
	case *ast.Ident:
		return w.ident(e)
	case *ast.ParenExpr:
		return w.grouped(e.X)
	case *ast.CompositeLit:
		return w.composite(e)
	case *ast.FuncLit:
		return "func" + w.body(w.info.TypeOf(e).(*types.Signature), nil, e.Body, w.callsVariable(e))
	case *ast.SelectorExpr:
		if i := formatOf(w.foreignFunc(e)); i >= 0 {
			return w.formatting(e, i)
		}
		return w.selector(e)
	case *ast.IndexExpr:
		if name := w.generic(e.X); name != "" {
			return name
		}
		if m, ok := w.typeOf(e.X).Underlying().(*types.Map); ok {
			return w.operandOf(e.X) + "[" + w.value(e.Index, m.Key()) + "]"
		}
		return w.element(e)
	case *ast.IndexListExpr:
		return w.generic(e.X)
	case *ast.SliceExpr:
		of := w.operandOf(e.X)
		return of + "[" + w.bounds(e, of) + "]"
	case *ast.TypeAssertExpr:
		_, comma := tv.Type.(*types.Tuple)
		return w.assertion(w.expr(e.X), w.typeOf(e.X), w.typeOf(e.Type), comma)
	case *ast.StarExpr:
		return "*" + w.operandOf(e.X)
	case *ast.UnaryExpr:
		return e.Op.String() + w.operand(e.X)
	case *ast.BinaryExpr:
		return w.binary(e)
	case *ast.CallExpr:
		return w.call(e)
	}
	w.refuse(e, "this expression isn't known to recipes")
	return ""
}

func (w *writer) binary(e *ast.BinaryExpr) string {
	x, y := w.operand(e.X), w.operand(e.Y)
	switch e.Op {
	case token.LAND, token.LOR:
		x, y = w.apart(e.X, w.typeOf(e.X), x), w.apart(e.Y, w.typeOf(e.Y), y)
	case token.EQL, token.NEQ:
		return w.comparison(x, w.typeOf(e.X), e.Op, y, w.typeOf(e.Y))
	case token.SHL, token.SHR:
		y = w.shiftCount(e.Y)
	}
	return x + " " + e.Op.String() + " " + y
}

// apart writes an operand of && or ||, of type t and made of e, as a call of a function where it makes a value of
// several parts: the interpreter would not find where to begin.
func (w *writer) apart(e ast.Expr, t types.Type, text string) string {
	makes := false
	ast.Inspect(e, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.FuncLit:
			return false
		case *ast.CompositeLit:
			makes = true
		case *ast.CallExpr:
			if tv := w.info.Types[n.Fun]; tv.IsType() {
				_, slice := w.typeOf(n).Underlying().(*types.Slice)
				makes = makes || slice
			}
		}
		return !makes
	})
	if !makes {
		return text
	}
	return "func() " + w.typeString(types.Default(t)) + " { return " + text + " }()"
}

// comparison writes a test for equality. Interfaces are compared by the host.
func (w *writer) comparison(x string, tx types.Type, op token.Token, y string, ty types.Type) string {
	ix, iy := types.IsInterface(tx), types.IsInterface(ty)
	switch {
	case isNil(tx) || isNil(ty) || !ix && !iy:
		return x + " " + op.String() + " " + y
	case !ix:
		x = w.as(x, tx, emptyInterface)
	case !iy:
		y = w.as(y, ty, emptyInterface)
	}
	not := ""
	if op == token.NEQ {
		not = "!"
	}
	return not + w.host("Equal") + "(" + x + ", " + y + ")"
}

// shiftCount writes the count of a shift. Only the host finds out that one is negative.
func (w *writer) shiftCount(e ast.Expr) string {
	if w.info.Types[e].Value != nil || isBasic(w.typeOf(e), types.IsUnsigned) {
		return w.operand(e)
	}
	return w.host("Count") + "(int64(" + w.expr(e) + "))"
}

func isNil(t types.Type) bool {
	b, ok := t.(*types.Basic)
	return ok && b.Kind() == types.UntypedNil
}

// grouped writes an expression in parentheses, if it needs them.
func (w *writer) grouped(e ast.Expr) string {
	switch ast.Unparen(e).(type) {
	case *ast.Ident, *ast.CallExpr, *ast.SelectorExpr, *ast.IndexExpr, *ast.CompositeLit, *ast.FuncLit, *ast.BasicLit:
		return w.expr(e)
	}
	return "(" + w.expr(e) + ")"
}

// operand writes an operand; constants may have been folded to a signed number.
func (w *writer) operand(e ast.Expr) string {
	s := w.expr(e)
	if strings.HasPrefix(s, "-") || strings.HasPrefix(s, "+") {
		return "(" + s + ")"
	}
	return s
}

// operandOf writes what stands before a dot, a bracket or a parenthesis.
func (w *writer) operandOf(e ast.Expr) string { return enclosed(w.expr(e)) }

func enclosed(s string) string {
	if strings.HasPrefix(s, "*") || strings.HasPrefix(s, "&") || strings.HasPrefix(s, "func") {
		return "(" + s + ")"
	}
	return s
}

func (w *writer) optional(e ast.Expr) string {
	if e == nil {
		return ""
	}
	return w.expr(e)
}

func (w *writer) ident(id *ast.Ident) string {
	if name := w.instanceOf(id); name != "" {
		return name
	}
	o := w.info.Uses[id]
	if o == nil {
		o = w.info.Defs[id]
	}
	if name := w.names[o]; name != "" {
		return name
	}
	if f, ok := o.(*types.Func); ok && f.Pkg() != w.pkg { // of the library, without a body there
		return w.host(map[string]string{"order": "Order", "stableOrder": "StableOrder"}[f.Name()])
	}
	return id.Name
}

// generic gives the name of the instance of a generic function that is followed by types in brackets.
func (w *writer) generic(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.Ident:
		return w.instanceOf(e)
	case *ast.SelectorExpr:
		if _, ok := w.info.Instances[e.Sel]; ok {
			return w.foreign(e)
		}
	}
	return ""
}

func (w *writer) composite(e *ast.CompositeLit) string {
	t := w.typeOf(e)
	address := ""
	if of, ok := pointee(t); ok {
		t, address = of, "&"
	}
	var elements []string
	add := func(key string, e ast.Expr, of types.Type) {
		if key != "" {
			key += ": "
		}
		elements = append(elements, key+w.value(e, of))
	}
	switch u := t.Underlying().(type) {
	case *types.Struct:
		for i, x := range e.Elts {
			if kv, ok := x.(*ast.KeyValueExpr); ok {
				i, x = fieldIndex(u, kv.Key.(*ast.Ident).Name), kv.Value
			}
			to := u.Field(i).Type()
			if w.own(t) == nil && isNamed(t) && types.IsInterface(to) && !w.plain(w.typeOf(x)) {
				elements = append(elements, fieldName(u, i)+": "+w.expr(x)) // compiled code knows no boxes
				continue
			}
			add(fieldName(u, i), x, to)
		}
	case *types.Map:
		for _, x := range e.Elts {
			kv := x.(*ast.KeyValueExpr)
			add(w.value(kv.Key, u.Key()), kv.Value, u.Elem())
		}
	case interface{ Elem() types.Type }:
		for _, x := range e.Elts {
			if kv, ok := x.(*ast.KeyValueExpr); ok {
				add(w.expr(kv.Key), kv.Value, u.Elem())
			} else {
				add("", x, u.Elem())
			}
		}
	}
	return address + w.typeString(t) + "{" + strings.Join(elements, ", ") + "}"
}

func isNamed(t types.Type) bool { _, ok := types.Unalias(t).(*types.Named); return ok }

func fieldIndex(t *types.Struct, name string) int {
	for i := range t.NumFields() {
		if t.Field(i).Name() == name {
			return i
		}
	}
	return -1
}

// selector writes x.f: an object of a package, a field, a method as a value, or a method as a function.
func (w *writer) selector(e *ast.SelectorExpr) string {
	s := w.info.Selections[e]
	if s == nil {
		if _, ok := w.info.Instances[e.Sel]; ok {
			return w.foreign(e)
		}
		o := w.info.Uses[e.Sel]
		return w.qualify(o.Pkg()) + "." + o.Name()
	}
	switch s.Kind() {
	case types.MethodExpr:
		return w.methodExpr(w.env.subst(s.Recv()), e.Sel.Name, w.typeOf(e).(*types.Signature))
	case types.MethodVal:
		return w.methodValue(w.selected(e), w.typeOf(e).(*types.Signature))
	}
	return w.selected(e).name
}

// selected finds what x.f names. Of (*p).f the interpreter doesn't always know the type, of p.f it does.
func (w *writer) selected(e *ast.SelectorExpr) callee {
	x := ast.Unparen(e.X)
	for {
		star, ok := x.(*ast.StarExpr)
		if !ok {
			break
		}
		if _, pointer := pointee(w.typeOf(star)); pointer {
			break
		}
		x = ast.Unparen(star.X)
	}
	return w.member(w.operandOf(x), w.typeOf(x), e.Sel.Name)
}

// callee is what a call calls.
type callee struct {
	name         string     // an expression, or the name of the function that a method is
	receiver     string     // the first argument of a method, if it has become a function
	receiverType types.Type // of it
	fixed        bool       // name is that of a function
	x            string     // what a compiled method is called of
	xType        types.Type // of it
}

// member finds a field or method of x, through embedded fields, which have names in the written code.
func (w *writer) member(x string, t types.Type, name string) callee {
	o, path, _ := types.LookupFieldOrMethod(t, true, w.pkg, name)
	for _, i := range path[:len(path)-1] {
		of, _ := pointee(t)
		if isNamed(of) && w.own(of) == nil {
			return compiledMember(o, x, t, name)
		}
		f := of.Underlying().(*types.Struct)
		x, t = x+"."+fieldName(f, i), f.Field(i).Type()
	}
	f, ok := o.(*types.Func)
	if !ok {
		return callee{name: x + "." + name}
	}
	of, pointer := pointee(t)
	named := w.own(of)
	switch {
	case types.IsInterface(t) && w.erased(t):
		return callee{name: w.dispatch(f), receiver: x, receiverType: emptyInterface, fixed: true}
	case named == nil || types.IsInterface(of):
		return compiledMember(o, x, t, name)
	}
	receiver := f.Signature().Recv().Type()
	_, wanted := receiver.(*types.Pointer)
	switch {
	case wanted && !pointer:
		x, t = "&"+x, types.NewPointer(t)
	case !wanted && pointer:
		x, t = "*"+x, of
	}
	return callee{name: methodName(w.typeName(named), name), receiver: x, receiverType: t, fixed: true}
}

// compiledMember is a field or method of a type of another package.
func compiledMember(o types.Object, x string, t types.Type, name string) callee {
	c := callee{name: x + "." + name, x: x, xType: t}
	if f, ok := o.(*types.Func); ok && !types.IsInterface(t) {
		_, wanted := f.Signature().Recv().Type().(*types.Pointer)
		if _, pointer := pointee(t); wanted && !pointer {
			c.x, c.xType = "&"+x, types.NewPointer(t)
		}
	}
	return c
}

// methodValue writes a method as a function that holds its receiver.
func (w *writer) methodValue(c callee, t *types.Signature) string {
	receiver := w.fresh("receiver")
	params, args := w.pass(t)
	if c.receiver == "" {
		name := c.name[strings.LastIndex(c.name, ".")+1:]
		return "func(" + receiver + " " + w.typeString(c.xType) + ") " + w.typeString(t) + " { return func(" +
			strings.Join(params, ", ") + ")" + w.resultString(t) + " { " + returned(t) + receiver + "." + name + "(" +
			strings.Join(args, ", ") + ") } }(" + c.x + ")"
	}
	return "func(" + receiver + " " + w.typeString(c.receiverType) + ") " + w.typeString(t) + " { return func(" +
		strings.Join(params, ", ") + ")" + w.resultString(t) + " { " + returned(t) + c.name + "(" +
		strings.Join(append([]string{receiver}, args...), ", ") + ") } }(" + c.receiver + ")"
}

// methodExpr writes T.Method as the function that it is.
func (w *writer) methodExpr(receiver types.Type, name string, t *types.Signature) string {
	params, args := w.pass(t)
	c := w.member(args[0], receiver, name)
	args = args[1:]
	if c.receiver != "" {
		args = append([]string{c.receiver}, args...)
	}
	return "func(" + strings.Join(params, ", ") + ")" + w.resultString(t) + " { " + returned(t) + c.name + "(" +
		strings.Join(args, ", ") + ") }"
}

// pass names parameters, to be passed on.
func (w *writer) pass(t *types.Signature) (params, args []string) {
	for i := range t.Params().Len() {
		name := w.fresh("a")
		params = append(params, name+" "+w.paramString(t, i))
		if t.Variadic() && i == t.Params().Len()-1 {
			name += "..."
		}
		args = append(args, name)
	}
	return params, args
}

// returned is the start of a statement that calls a function last.
func returned(t *types.Signature) string {
	if t.Results().Len() > 0 {
		return "return "
	}
	return ""
}
