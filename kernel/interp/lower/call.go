package lower

import (
	"go/ast"
	"go/constant"
	"go/types"
	"slices"
	"strings"

	"tossline/kernel/interp/lower/host"
)

// call writes a call, a conversion, or the use of a function that Go has built in.
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
	if s, ok := fun.(*ast.SelectorExpr); ok {
		if o := w.info.Uses[s.Sel]; o.Pkg() != nil && o.Pkg().Path() == "errors" && o.Name() == "As" {
			return w.errorsAs(e)
		}
	}
	t := w.typeOf(fun).Underlying().(*types.Signature)
	c := w.callee(e)
	if c.name == "" {
		c.name = w.operandOf(fun)
	}
	if many := w.several(e); many != nil {
		if forwarded := w.forwarded(e, c, t, many); forwarded != "" {
			return forwarded
		}
	}
	args := w.arguments(e, t)
	if compiled, _ := w.calls(e); !compiled && !e.Ellipsis.IsValid() {
		args = w.rest(t, args, w.typesOf(e.Args))
	}
	if c.receiver != "" {
		args = append([]string{c.receiver}, args...)
	}
	return c.name + "(" + strings.Join(args, ", ") + ")"
}

// several are the results of g in f(g()), nil where there is one or none.
func (w *writer) several(e *ast.CallExpr) *types.Tuple {
	if len(e.Args) != 1 {
		return nil
	}
	if many, ok := w.info.TypeOf(e.Args[0]).(*types.Tuple); ok {
		return w.env.tuple(many)
	}
	return nil
}

// callee tells what a call calls. Its name is empty where that is some expression.
func (w *writer) callee(e *ast.CallExpr) callee {
	switch f := ast.Unparen(e.Fun).(type) {
	case *ast.Ident:
		if _, ok := w.info.Uses[f].(*types.Func); ok {
			return callee{name: w.ident(f), fixed: true}
		}
	case *ast.IndexExpr, *ast.IndexListExpr:
		x := f
		var of ast.Expr
		if i, ok := x.(*ast.IndexExpr); ok {
			of = i.X
		} else {
			of = x.(*ast.IndexListExpr).X
		}
		if name := w.generic(of); name != "" {
			return callee{name: name, fixed: true}
		}
	case *ast.SelectorExpr:
		s := w.info.Selections[f]
		if s == nil {
			return callee{name: w.selector(f), fixed: true}
		}
		if s.Kind() == types.MethodVal {
			return w.selected(f)
		}
	}
	return callee{}
}

// arguments writes the arguments of a call as the parameters want them.
func (w *writer) arguments(e *ast.CallExpr, t *types.Signature) []string {
	compiled, raw := w.calls(e)
	w.checkFormat(e)
	args := make([]string, len(e.Args))
	for i, a := range e.Args {
		if _, ok := w.info.TypeOf(a).(*types.Tuple); ok {
			args[i] = w.expr(a)
			continue
		}
		to, last := paramOf(t, i, e.Ellipsis.IsValid())
		switch {
		case raw && types.IsInterface(to) && !types.IsInterface(w.typeOf(a)) && w.erased(to):
			args[i] = w.passed(a, w.expr(a))
		case isNil(w.typeOf(a)) && last:
			args[i] = "(" + w.typeString(to) + ")(nil)"
		case compiled:
			args[i] = w.passed(a, w.value(a, to))
			if w.spacing(e) && types.IsInterface(to) && (types.IsInterface(w.typeOf(a)) || !w.plain(w.typeOf(a))) {
				args[i] = w.host("Printable") + "(" + args[i] + ")"
			}
		default:
			args[i] = w.value(a, to)
		}
	}
	if e.Ellipsis.IsValid() {
		args[len(args)-1] += "..."
	}
	if i := formatOf(w.foreignFunc(e.Fun)); i >= 0 && i < len(e.Args) && w.info.Types[e.Args[i]].Value == nil {
		args[i] = w.host("Format") + "(" + args[i] + ")"
	}
	return args
}

// paramOf gives the type of the parameter that an argument is for, and whether that is the last of a variadic function.
// Whole tells that a slice is passed for all of those.
func paramOf(t *types.Signature, i int, whole bool) (of types.Type, last bool) {
	n := t.Params().Len() - 1
	of, last = t.Params().At(min(i, n)).Type(), t.Variadic() && i >= n
	if last && !whole {
		of = of.(*types.Slice).Elem()
	}
	return of, last
}

// rest gathers the last arguments of a call of a variadic function of the recipe, if need be.
func (w *writer) rest(t *types.Signature, args []string, of []types.Type) []string {
	if !t.Variadic() {
		return args
	}
	last := t.Params().Len() - 1
	return w.gathered(args, of, last, t.Params().At(last).Type())
}

// gathered writes what becomes a slice of interfaces as such where one of it is such a slice itself: the interpreter
// would take that for all of them. The types are those of the arguments, of which the first so many are for themselves.
func (w *writer) gathered(args []string, of []types.Type, first int, slice types.Type) []string {
	elem := slice.Underlying().(*types.Slice).Elem()
	gather := false
	for _, t := range of[min(first, len(of)):] {
		s, ok := t.Underlying().(*types.Slice)
		gather = gather || ok && types.IsInterface(elem) && types.IsInterface(s.Elem())
	}
	if !gather {
		return args
	}
	all := w.typeString(slice) + "{" + strings.Join(args[first:], ", ") + "}..."
	return append(slices.Clone(args[:first]), all)
}

// calls tells whether a call is one of compiled code, and whether that looks into the values that it gets in
// interfaces, as sort.Slice does. Packages fmt and errors know what lowered code puts into an interface.
func (w *writer) calls(e *ast.CallExpr) (compiled, raw bool) {
	f := w.foreignFunc(e.Fun)
	if f == nil {
		return false, false
	}
	switch f.Pkg().Path() {
	case "errors":
		return true, false
	case "fmt":
		return true, strings.Contains(f.Name(), "can") // Scan and its like
	}
	return true, true
}

// spacing tells whether a call is one of a function that puts spaces between what aren't strings.
func (w *writer) spacing(e *ast.CallExpr) bool {
	s, ok := ast.Unparen(e.Fun).(*ast.SelectorExpr)
	if !ok || e.Ellipsis.IsValid() {
		return false
	}
	switch w.info.Uses[s.Sel].(*types.Func).FullName() {
	case "fmt.Print", "fmt.Sprint", "fmt.Fprint", "fmt.Append":
		return true
	}
	return false
}

// checkFormat refuses to print types that only the host knows.
func (w *writer) checkFormat(e *ast.CallExpr) {
	if f := w.foreignFunc(e.Fun); f == nil || f.Pkg().Path() != "fmt" {
		return
	}
	asked := false
	for _, a := range e.Args {
		t := w.typeOf(a)
		if v := w.info.Types[a].Value; v != nil && v.Kind() == constant.String {
			asked = asked || host.TellsType(constant.StringVal(v))
		} else if asked && !isNil(t) && (types.IsInterface(t) || !w.plain(t)) {
			w.refuse(a, "%T, %#v and %p can't print this; write the name of its type into the text, or use %v")
		}
	}
}

// foreignFunc gives the function of a compiled package that an expression names.
func (w *writer) foreignFunc(e ast.Expr) *types.Func {
	s, ok := ast.Unparen(e).(*ast.SelectorExpr)
	if !ok {
		return nil
	}
	f, ok := w.info.Uses[s.Sel].(*types.Func)
	if !ok || f.Pkg() == nil || f.Pkg() == w.pkg {
		return nil
	}
	return f
}

// formatOf tells which parameter of a function of package fmt is a format, -1 where none is.
func formatOf(f *types.Func) int {
	if f == nil || f.Pkg().Path() != "fmt" {
		return -1
	}
	params := f.Signature().Params()
	for i := range params.Len() {
		if params.At(i).Name() == "format" && !strings.Contains(f.Name(), "can") {
			return i
		}
	}
	return -1
}

// formatting writes a function of package fmt as a value, which checks the formats that it will get.
func (w *writer) formatting(e *ast.SelectorExpr, format int) string {
	t := w.typeOf(e).(*types.Signature)
	params, args := w.pass(t)
	args[format] = w.host("Format") + "(" + args[format] + ")"
	return "func(" + strings.Join(params, ", ") + ")" + w.resultString(t) + " { return " + w.selector(e) + "(" +
		strings.Join(args, ", ") + ") }"
}

// forwarded writes f(g()) where the results of g don't go to f as they are, and else nothing.
func (w *writer) forwarded(e *ast.CallExpr, c callee, t *types.Signature, many *types.Tuple) string {
	held := make([]string, many.Len())
	for i := range held {
		held[i] = w.fresh("held")
	}
	args := w.spread(e, t, many, held)
	if c.receiver == "" && slices.Equal(args, held) {
		return ""
	}
	if c.receiver != "" {
		args = append([]string{c.receiver}, args...)
	}
	return "func()" + w.resultString(t) + " { " + strings.Join(held, ", ") + " := " + w.expr(e.Args[0]) + "; " +
		returned(t) + c.name + "(" + strings.Join(args, ", ") + ") }()"
}

// spread passes results of g, which are held in variables, to f as its parameters.
func (w *writer) spread(e *ast.CallExpr, t *types.Signature, many *types.Tuple, held []string) []string {
	compiled, raw := w.calls(e)
	args := slices.Clone(held)
	of := make([]types.Type, len(held))
	for i := range args {
		if to, _ := paramOf(t, i, false); !raw {
			args[i] = w.as(args[i], many.At(i).Type(), to)
		}
		of[i] = many.At(i).Type()
	}
	if !compiled {
		args = w.rest(t, args, of)
	}
	return args
}

// errorsAs writes errors.As, whose target has a type that only the host knows.
func (w *writer) errorsAs(e *ast.CallExpr) string {
	of, _ := pointee(w.typeOf(e.Args[1]))
	if types.IsInterface(of) {
		w.refuse(e, "errors.As can't look for an interface; look for a type")
		return ""
	}
	return w.host("Find") + "(" + w.expr(e.Args[0]) + ", " + w.describe(of) + ", " + w.expr(e.Args[1]) + ")"
}

func (w *writer) conversion(t types.Type, x ast.Expr) string {
	from := w.typeOf(x)
	if types.IsInterface(t) {
		// Where a conversion to an interface comes first in a && b the interpreter loses its way.
		value := w.value(x, t)
		switch {
		case types.IsInterface(from) || !w.plain(from) && !isNil(from):
			return value // is of the type already
		case w.erased(t):
			return w.host("Any") + "(" + value + ")"
		}
		return w.typeString(t) + "(" + value + ")"
	}
	name := w.typeString(t)
	switch types.Unalias(t).(type) {
	case *types.Basic, *types.Named:
	default:
		name = "(" + name + ")"
	}
	if _, ok := t.Underlying().(*types.Signature); ok {
		name = "(" + w.typeString(t) + ")"
	}
	s := w.expr(x)
	if !isNil(from) && w.info.Types[x].Value == nil && w.typeString(from) == w.typeString(t) {
		return w.grouped(x)
	}
	if strings.HasPrefix(name, "[") || strings.HasPrefix(name, "*") || strings.HasPrefix(name, "map") {
		name = "(" + name + ")"
	}
	return name + "(" + s + ")"
}

func (w *writer) builtin(e *ast.CallExpr, name string) string {
	switch name {
	case "min", "max":
		return w.extreme(e, name)
	case "recover":
		return w.fn.token + ".Recover()"
	case "new":
		if !w.info.Types[e.Args[0]].IsType() { // new(expression), since Go 1.26
			t, _ := pointee(w.typeOf(e))
			v := w.fresh("held")
			return "func() *" + w.typeString(t) + " { var " + v + " " + w.typeString(t) + " = " + w.value(e.Args[0], t) +
				"; return &" + v + " }()"
		}
	}
	args := make([]string, len(e.Args))
	for i, a := range e.Args {
		switch {
		case name == "panic" || name == "print" || name == "println":
			args[i] = w.value(a, emptyInterface)
		case name == "append" && i > 0 && isNil(w.typeOf(a)) && e.Ellipsis.IsValid():
			args[i] = w.typeString(w.typeOf(e)) + "(nil)"
		case name == "append" && i > 0 && !e.Ellipsis.IsValid():
			args[i] = w.value(a, w.typeOf(e).Underlying().(*types.Slice).Elem())
		case name == "delete" && i == 1:
			args[i] = w.value(a, w.typeOf(e.Args[0]).Underlying().(*types.Map).Key())
		default:
			args[i] = w.expr(a)
		}
	}
	if name == "append" && !e.Ellipsis.IsValid() {
		args = w.gathered(args, w.typesOf(e.Args), 1, w.typeOf(e))
	}
	return w.builtinOf(e, name, args)
}

// typesOf are the types of expressions, of a call with several results that one.
func (w *writer) typesOf(all []ast.Expr) []types.Type {
	of := make([]types.Type, len(all))
	for i, e := range all {
		of[i] = w.info.TypeOf(e)
		if _, many := of[i].(*types.Tuple); !many {
			of[i] = w.typeOf(e)
		}
	}
	return of
}

// builtinOf writes a call of a built-in function with arguments that are written already.
func (w *writer) builtinOf(e *ast.CallExpr, name string, args []string) string {
	switch name {
	case "clear":
		return w.clearOf(w.typeOf(e.Args[0]), args[0])
	case "panic":
		return w.host("Panic") + "(" + args[0] + `); panic("")` // the interpreter's own would wrap the value
	}
	if e.Ellipsis.IsValid() {
		args[len(args)-1] += "..."
	}
	return name + "(" + strings.Join(args, ", ") + ")"
}

// extreme writes min or max as a call: of the host for the types that numbers mostly have, else of a function.
func (w *writer) extreme(e *ast.CallExpr, name string) string {
	call := w.extremeOf(name, types.Default(w.typeOf(e)))
	s := w.expr(e.Args[0])
	for _, a := range e.Args[1:] {
		s = call + "(" + s + ", " + w.expr(a) + ")"
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

func (w *writer) clearOf(t types.Type, x string) string {
	ts := w.typeString(t)
	helper := "clearᐸ" + mangled(ts) + "ᐳ"
	if s, ok := t.Underlying().(*types.Slice); ok {
		w.helper(helper, "func "+helper+"(s "+ts+") { var zero "+w.typeString(s.Elem())+
			"; for i := range s { s[i] = zero } }")
	} else { // the host's also removes keys that are NaN
		w.helper(helper, "func "+helper+"(m "+ts+") { "+w.host("ClearMap")+"(m) }")
	}
	return helper + "(" + x + ")"
}

// helper has a made-up function written once.
func (w *writer) helper(name, source string) {
	if !w.helpers[name] {
		w.helpers[name] = true
		w.decls = append(w.decls, source)
	}
}
