package lower

import (
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
	"strings"
)

// expr writes an expression.
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
		return "(" + w.expr(e.X) + ")"
	case *ast.CompositeLit:
		return w.composite(e)
	case *ast.FuncLit:
		return "func" + w.body(w.info.TypeOf(e).(*types.Signature), e.Body)
	case *ast.SelectorExpr:
		return w.selector(e)
	case *ast.IndexExpr:
		if name := w.generic(e.X); name != "" {
			return name
		}
		return w.expr(e.X) + "[" + w.expr(e.Index) + "]"
	case *ast.IndexListExpr:
		return w.generic(e.X)
	case *ast.SliceExpr:
		s := w.expr(e.X) + "[" + w.optional(e.Low) + ":" + w.optional(e.High)
		if e.Slice3 {
			s += ":" + w.optional(e.Max)
		}
		return s + "]"
	case *ast.TypeAssertExpr:
		return w.expr(e.X) + ".(" + w.typeString(w.typeOf(e.Type)) + ")"
	case *ast.StarExpr:
		return "*" + w.expr(e.X)
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
	case token.EQL, token.NEQ:
		return w.comparison(x, w.typeOf(e.X), e.Op, y, w.typeOf(e.Y))
	case token.SHL, token.SHR:
		y = w.shiftCount(e.Y)
	}
	return x + " " + e.Op.String() + " " + y
}

// comparison writes a test for equality. Where one side is an interface, the other is made one.
func (w *writer) comparison(x string, tx types.Type, op token.Token, y string, ty types.Type) string {
	ix, iy := types.IsInterface(tx), types.IsInterface(ty)
	switch {
	case isNil(tx) || isNil(ty):
	case ix && !iy:
		y = w.typeString(tx) + "(" + y + ")"
	case iy && !ix:
		x = w.typeString(ty) + "(" + x + ")"
	}
	return x + " " + op.String() + " " + y
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

// operand writes an operand; constants may have been folded to a signed number.
func (w *writer) operand(e ast.Expr) string {
	s := w.expr(e)
	if strings.HasPrefix(s, "-") || strings.HasPrefix(s, "+") {
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

func (w *writer) exprs(all []ast.Expr) []string {
	out := make([]string, len(all))
	for i, e := range all {
		out[i] = w.expr(e)
	}
	return out
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
	return id.Name
}

// generic gives the name of the instance of a generic function that is followed by types in brackets.
func (w *writer) generic(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.Ident:
		return w.instanceOf(e)
	case *ast.SelectorExpr:
		if _, ok := w.info.Instances[e.Sel]; ok {
			return w.selector(e)
		}
	}
	return ""
}

// constant writes a constant of a type. Literals that have that type of themselves stand alone.
func (w *writer) constant(v constant.Value, t types.Type) string {
	t = types.Default(t)
	name := w.typeString(t)
	switch u := t.Underlying().(type) {
	case *types.Basic:
		var s string
		switch {
		case u.Info()&types.IsInteger != 0:
			s = constant.ToInt(v).ExactString()
		case u.Info()&types.IsFloat != 0:
			s = floatString(v)
		case u.Info()&types.IsComplex != 0:
			s = "complex(" + floatString(constant.Real(v)) + ", " + floatString(constant.Imag(v)) + ")"
		case u.Info()&types.IsString != 0:
			s = quote(constant.StringVal(v))
		default:
			s = v.ExactString()
		}
		switch name {
		case "int", "float64", "string", "bool", "complex128":
			return s
		}
		return name + "(" + s + ")"
	}
	return name + "(" + v.ExactString() + ")"
}

func floatString(v constant.Value) string {
	f, _ := constant.Float64Val(constant.ToFloat(v))
	return float(f)
}

func (w *writer) composite(e *ast.CompositeLit) string {
	t := w.typeOf(e)
	address := ""
	if p, ok := t.Underlying().(*types.Pointer); ok {
		t, address = p.Elem(), "&"
	}
	var elements []string
	s, isStruct := t.Underlying().(*types.Struct)
	for i, x := range e.Elts {
		kv, keyed := x.(*ast.KeyValueExpr)
		switch {
		case isStruct && keyed:
			f := w.info.Uses[kv.Key.(*ast.Ident)].(*types.Var)
			elements = append(elements, w.fieldName(f)+": "+w.expr(kv.Value))
		case isStruct:
			elements = append(elements, w.fieldName(s.Field(i))+": "+w.expr(x))
		case keyed:
			elements = append(elements, w.expr(kv.Key)+": "+w.expr(kv.Value))
		default:
			elements = append(elements, w.expr(x))
		}
	}
	return address + w.typeString(t) + "{" + strings.Join(elements, ", ") + "}"
}

func (w *writer) selector(e *ast.SelectorExpr) string {
	s := w.info.Selections[e]
	if s == nil { // of a package
		o := w.info.Uses[e.Sel]
		if _, ok := w.info.Instances[e.Sel]; ok {
			return w.foreign(e)
		}
		return w.qualify(o.Pkg()) + "." + o.Name()
	}
	if s.Kind() == types.MethodExpr {
		return w.methodExpr(e, s)
	}
	return w.selected(w.operandOf(e.X), e, s)
}

// selected writes a field or method of x, with the names of the embedded fields on the way.
func (w *writer) selected(x string, e *ast.SelectorExpr, s *types.Selection) string {
	t := w.env.subst(s.Recv())
	path := s.Index()
	for _, i := range path[:len(path)-1] {
		if p, ok := t.Underlying().(*types.Pointer); ok {
			t = p.Elem()
		}
		f := t.Underlying().(*types.Struct).Field(i)
		if f.Pkg() != w.pkg && !f.Exported() {
			return x + "." + e.Sel.Name
		}
		x += "." + w.fieldName(f)
		t = f.Type()
	}
	if f, ok := s.Obj().(*types.Var); ok {
		return x + "." + w.fieldName(f)
	}
	return x + "." + e.Sel.Name
}

// operandOf writes what stands before a dot or an index.
func (w *writer) operandOf(e ast.Expr) string {
	s := w.expr(e)
	if strings.HasPrefix(s, "*") || strings.HasPrefix(s, "&") {
		return "(" + s + ")"
	}
	return s
}

// methodExpr writes T.Method as the function that it is.
func (w *writer) methodExpr(e *ast.SelectorExpr, s *types.Selection) string {
	t := w.typeOf(e).(*types.Signature)
	var params, args []string
	for i := range t.Params().Len() {
		name := w.fresh("ᐧ")
		p, arg := w.typeString(t.Params().At(i).Type()), name
		if t.Variadic() && i == t.Params().Len()-1 {
			p, arg = "..."+strings.TrimPrefix(p, "[]"), name+"..."
		}
		params, args = append(params, name+" "+p), append(args, arg)
	}
	call := args[0] + "." + e.Sel.Name + "(" + strings.Join(args[1:], ", ") + ")"
	results := ""
	if t.Results().Len() > 0 {
		call = "return " + call
		for i := range t.Results().Len() {
			if i > 0 {
				results += ", "
			}
			results += w.typeString(t.Results().At(i).Type())
		}
	}
	return "func(" + strings.Join(params, ", ") + ") (" + results + ") { " + call + " }"
}

// foreign gives the name of an instance of a generic function of another package.
func (w *writer) foreign(e *ast.SelectorExpr) string {
	w.refuse(e, w.info.Uses[e.Sel].Pkg().Name()+"."+e.Sel.Name+" isn't known to recipes yet; write the loop instead")
	return e.Sel.Name
}

func (w *writer) call(e *ast.CallExpr) string {
	fun := ast.Unparen(e.Fun)
	if w.info.Types[fun].IsType() {
		return w.conversion(w.typeOf(fun), e.Args[0])
	}
	if id, ok := fun.(*ast.Ident); ok {
		if b, ok := w.info.Uses[id].(*types.Builtin); ok {
			return w.builtin(e, b.Name())
		}
	}
	args := w.exprs(e.Args)
	if e.Ellipsis.IsValid() {
		args[len(args)-1] += "..."
	}
	f := w.operandOf(e.Fun)
	return f + "(" + strings.Join(args, ", ") + ")"
}

func (w *writer) conversion(t types.Type, x ast.Expr) string {
	name := w.typeString(t)
	switch types.Unalias(t).(type) {
	case *types.Basic, *types.Named:
	default:
		name = "(" + name + ")"
	}
	return name + "(" + w.expr(x) + ")"
}

func (w *writer) builtin(e *ast.CallExpr, name string) string {
	switch name {
	case "min", "max":
		return w.extreme(e, name)
	case "clear":
		return w.clear(e)
	case "new":
		if !w.info.Types[e.Args[0]].IsType() { // new(expression), since Go 1.26
			t := w.typeString(types.Default(w.typeOf(e.Args[0])))
			v := w.fresh("ᐧ")
			return "func() *" + t + " { var " + v + " " + t + " = " + w.expr(e.Args[0]) + "; return &" + v + " }()"
		}
	}
	args := w.exprs(e.Args)
	if e.Ellipsis.IsValid() {
		args[len(args)-1] += "..."
	}
	return name + "(" + strings.Join(args, ", ") + ")"
}

// extreme writes min or max as a call: of the host for the types that numbers mostly have, else of a function.
func (w *writer) extreme(e *ast.CallExpr, name string) string {
	t := types.Default(w.typeOf(e))
	args := w.exprs(e.Args)
	call := w.extremeOf(name, t)
	s := args[0]
	for _, a := range args[1:] {
		s = call + "(" + s + ", " + a + ")"
	}
	return s
}

func (w *writer) extremeOf(name string, t types.Type) string {
	ts := w.typeString(t)
	extreme := map[string]string{"min": "Min", "max": "Max"}[name]
	if suffix := map[string]string{"int": "Int", "float64": "Float64", "string": "String"}[ts]; suffix != "" {
		return w.host(extreme + suffix)
	}
	helper := name + "ᐸ" + mangled(ts) + "ᐳ"
	body := "if b " + map[string]string{"min": "<", "max": ">"}[name] + " a { return b }; return a"
	if isFloat(t) { // NaN and signed zeros
		body = "return " + ts + "(" + w.host(extreme+"Float64") + "(float64(a), float64(b)))"
	}
	w.helper(helper, "func "+helper+"(a, b "+ts+") "+ts+" { "+body+" }")
	return helper
}

func (w *writer) clear(e *ast.CallExpr) string {
	t := w.typeOf(e.Args[0])
	ts := w.typeString(t)
	helper := "clearᐸ" + mangled(ts) + "ᐳ"
	if s, ok := t.Underlying().(*types.Slice); ok {
		w.helper(helper, "func "+helper+"(s "+ts+") { var zero "+w.typeString(s.Elem())+
			"; for i := range s { s[i] = zero } }")
	} else { // the host's also removes keys that are NaN
		w.helper(helper, "func "+helper+"(m "+ts+") { "+w.host("ClearMap")+"(m) }")
	}
	return helper + "(" + w.expr(e.Args[0]) + ")"
}

// helper has a made-up function written once.
func (w *writer) helper(name, source string) {
	if !w.helpers[name] {
		w.helpers[name] = true
		w.decls = append(w.decls, source)
	}
}
