package lower

import (
	"go/types"
	"regexp"
	"strings"
)

// as writes the conversion of a value to the type that is wanted: nothing mostly, but what goes into an interface is
// given its type there.
func (w *writer) as(x string, from, to types.Type) string {
	if isNil(from) || to == nil {
		return x
	}
	if !types.IsInterface(to) {
		if _, ok := to.Underlying().(*types.Struct); ok && w.typeString(from) != w.typeString(to) {
			return w.typeString(to) + "(" + x + ")"
		}
		return x
	}
	erased := w.erased(to)
	if types.IsInterface(from) {
		if !erased && w.erased(from) {
			return w.asserted(x, from, to)
		}
		return x
	}
	from = types.Default(from)
	if w.plain(from) {
		return x
	}
	if erased {
		return w.host("Box") + "(" + w.describe(from) + ", " + x + ")"
	}
	switch types.TypeString(to, nil) {
	case "error":
		return w.host("BoxError") + "(" + w.describe(from) + ", " + x + ")"
	case "fmt.Stringer":
		return w.host("BoxStringer") + "(" + w.describe(from) + ", " + x + ")"
	case "sort.Interface":
		receiver := w.fresh("receiver")
		var methods []string
		for _, name := range []string{"Len", "Less", "Swap"} {
			o, _, _ := types.LookupFieldOrMethod(from, true, w.pkg, name)
			methods = append(methods, w.methodValue(w.member(receiver, from, name), o.(*types.Func).Signature()))
		}
		return "func(" + receiver + " " + w.typeString(from) + ") " + w.typeString(to) + " { return " + w.host("Sorter") +
			"(" + strings.Join(methods, ", ") + ") }(" + x + ")"
	}
	w.refuseType(from, to)
	return x
}

// refuseType refuses to give compiled code a type of the recipe as one of its interfaces.
func (w *writer) refuseType(from, to types.Type) {
	w.refuse(w.converted, w.spelled(from)+" can't be used as "+w.spelled(to)+
		"; recipes may implement error, fmt.Stringer, sort.Interface, and interfaces of their own")
}

// spelled is a type as it reads in messages.
func (w *writer) spelled(t types.Type) string {
	return types.TypeString(t, func(p *types.Package) string { return p.Name() })
}

// description is a type that may lie in an interface.
type description struct {
	t    types.Type
	name string // the variable that describes it to the host
	text string // its declaration
	more string // what completes it, which may lead back to it
}

// describe gives the name of the description of a type.
func (w *writer) describe(t types.Type) string {
	t = types.Unalias(t)
	for _, d := range w.described {
		if types.Identical(d.t, t) {
			return d.name
		}
	}
	d := &description{t: t, name: w.global("typeᐧ" + mangled(w.spelled(t)))}
	w.described = append(w.described, d)
	w.writeDescription(d)
	return d.name
}

// descriptions gives the declarations of all descriptions, and the function that completes them before anything else of
// the recipe runs.
func (w *writer) descriptions() []string {
	var all []string
	complete := ""
	for _, d := range w.described {
		all = append(all, d.text)
		if d.more != "" {
			complete += "\n" + d.name + d.more
		}
	}
	if complete != "" {
		all = append(all, "func describeᐧ() bool {"+complete+"\nreturn true }", "var describedᐧ = describeᐧ()")
	}
	return all
}

func (w *writer) writeDescription(d *description) {
	locals, fn := w.locals, w.fn
	defer func() { w.locals, w.fn = locals, fn }()
	w.locals, w.fn = map[string]int{}, &function{}
	plain := "false"
	if w.plain(d.t) {
		plain = "true"
	}
	d.text = "var " + d.name + " = " + w.host("NewType") + "(" + quote(w.spelled(d.t)) + ", " + plain + ", new(" +
		w.typeString(d.t) + "))"
	if plain == "true" {
		return
	}
	s := ""
	var keys []string
	methods := types.NewMethodSet(d.t)
	for i := range methods.Len() {
		keys = append(keys, quote(methodKey(methods.At(i).Obj().(*types.Func))))
	}
	if len(keys) > 0 {
		s += ".Methods(" + strings.Join(keys, ", ") + ")"
	}
	var parts []types.Type
	switch u := d.t.Underlying().(type) {
	case *types.Struct:
		var names []string
		for i := range u.NumFields() {
			names = append(names, quote(u.Field(i).Name()))
			parts = append(parts, u.Field(i).Type())
		}
		s += ".Fields(" + strings.Join(names, ", ") + ")"
	case *types.Map:
		parts = []types.Type{u.Key(), u.Elem()}
	case interface{ Elem() types.Type }:
		parts = []types.Type{u.Elem()}
	}
	if len(parts) > 0 {
		var names []string
		for _, p := range parts {
			if types.IsInterface(p) || w.plain(p) {
				names = append(names, "nil")
			} else {
				names = append(names, w.describe(p))
			}
		}
		of := "[]*" + w.host("Type")
		s += ".Parts(func() " + of + " { return " + of + "{" + strings.Join(names, ", ") + "} })"
	}
	text := false
	for _, m := range []struct{ key, name, set, params, args, result string }{
		{"Error() string", "Error", "Text", "", "", "string"},
		{"String() string", "String", "Text", "", "", "string"},
		{"Unwrap() error", "Unwrap", "Unwrap", "", "", "error"},
		{"Is(error) bool", "Is", "Same", ", target error", "target", "bool"},
	} {
		selection := methods.Lookup(w.pkg, m.name)
		if selection == nil || methodKey(selection.Obj().(*types.Func)) != m.key || m.set == "Text" && text {
			continue
		}
		text = text || m.set == "Text"
		s += "." + m.set + "(func(x interface{}" + m.params + ") " + m.result + " { var v " + w.typeString(d.t) + "; " +
			w.host("As") + "(x, " + d.name + ", &v); return " + w.invoke("v", d.t, m.name, m.args) + " })"
	}
	d.more = s
}

// invoke writes the call of a method of x.
func (w *writer) invoke(x string, t types.Type, name, args string) string {
	c := w.member(x, t, name)
	if c.receiver != "" {
		if args != "" {
			args = ", " + args
		}
		args = c.receiver + args
	}
	return c.name + "(" + args + ")"
}

// emptyInterfaces are the ways in which go/types writes what reflect writes as "interface {}".
var emptyInterfaces = regexp.MustCompile(`interface\{\}|\bany\b`)

// methodKey tells methods apart: "Name(parameters) results", as package reflect writes them.
func methodKey(f *types.Func) string {
	name := func(t types.Type) string {
		s := types.TypeString(t, func(p *types.Package) string { return p.Name() })
		return emptyInterfaces.ReplaceAllString(s, "interface {}")
	}
	t := f.Signature()
	var params, results []string
	for i := range t.Params().Len() {
		p := name(t.Params().At(i).Type())
		if t.Variadic() && i == t.Params().Len()-1 {
			p = "..." + strings.TrimPrefix(p, "[]")
		}
		params = append(params, p)
	}
	for i := range t.Results().Len() {
		results = append(results, name(t.Results().At(i).Type()))
	}
	s := f.Name() + "(" + strings.Join(params, ", ") + ")"
	switch len(results) {
	case 0:
		return s
	case 1:
		return s + " " + results[0]
	}
	return s + " (" + strings.Join(results, ", ") + ")"
}

// dispatch is a method that is called of an interface of the recipe: a function that looks at the type inside.
type dispatch struct {
	method *types.Func
	key    string
	name   string
	text   string
}

// dispatch gives the name of the function that calls a method of an interface.
func (w *writer) dispatch(f *types.Func) string {
	key := methodKey(f)
	for _, d := range w.dispatches {
		if d.key == key {
			return d.name
		}
	}
	d := &dispatch{f, key, w.global("callᐧ" + f.Name()), ""}
	w.dispatches = append(w.dispatches, d)
	return d.name
}

// writeDispatches writes the functions that call methods of interfaces, for all types that may lie there.
func (w *writer) writeDispatches() {
	for i := 0; i < len(w.dispatches); i++ {
		d := w.dispatches[i]
		w.locals, w.fn = map[string]int{"x": 2}, &function{}
		t := d.method.Signature()
		params, args := w.pass(t)
		s := "func " + d.name + "(" + strings.Join(append([]string{"x interface{}"}, params...), ", ") + ")" +
			w.resultString(t) + " { switch " + w.host("Open") + "(x) {"
		end := "; return"
		if t.Results().Len() > 0 {
			end = ""
		}
		for j := 0; j < len(w.described); j++ {
			of := w.described[j]
			selection := types.NewMethodSet(of.t).Lookup(d.method.Pkg(), d.method.Name())
			if w.plain(of.t) || selection == nil || methodKey(selection.Obj().(*types.Func)) != d.key {
				continue
			}
			s += "\ncase " + of.name + ": var v " + w.typeString(of.t) + "; " + w.host("As") + "(x, " + of.name + ", &v); " +
				returned(t) + w.invoke("v", of.t, d.method.Name(), strings.Join(args, ", ")) + end
		}
		s += "\n}; " + returned(t) + w.host("Bound") + "(x, " + quote(d.key) + ").(" + w.typeString(t) + ")(" +
			strings.Join(args, ", ") + ") }"
		d.text = s
	}
	w.fn = nil
}

func (w *writer) dispatchers() []string {
	all := make([]string, len(w.dispatches))
	for i, d := range w.dispatches {
		all[i] = d.text
	}
	return all
}

// unwritten counts what may still be wanted by what has been written.
func (w *writer) unwritten() int { return len(w.described) + len(w.dispatches) }

// assertion writes x.(T), with the second result or without.
func (w *writer) assertion(x string, from, to types.Type, comma bool) string {
	if comma {
		return w.assertFunction("as", to) + "(" + x + ")"
	}
	return w.asserted(x, from, to)
}

// asserted writes x.(T) that must hold.
func (w *writer) asserted(x string, from, to types.Type) string {
	name := w.spelled(from)
	if i, ok := from.(*types.Interface); ok && i.Empty() || name == "any" {
		name = "interface {}"
	}
	return w.assertFunction("to", to) + "(" + x + ", " + quote(name) + ")"
}

// checkImplemented refuses to ask for an interface of compiled code that types of the recipe have the methods of.
func (w *writer) checkImplemented(to types.Type) {
	for _, name := range w.pkg.Scope().Names() {
		o, ok := w.pkg.Scope().Lookup(name).(*types.TypeName)
		if ok && types.Implements(types.NewPointer(o.Type()), to.Underlying().(*types.Interface)) {
			w.refuse(at(o.Pos()), w.spelled(o.Type())+" can't be found to be a "+w.spelled(to)+
				"; ask for an interface of the recipe's own")
		}
	}
}

// assertFunction gives the name of a function that asserts a type: "is" tells whether it holds, "as" gives the value
// too, "to" panics where it doesn't.
func (w *writer) assertFunction(kind string, to types.Type) string {
	to = types.Unalias(to)
	d := w.describe(to)
	name := kind + strings.TrimPrefix(d, "type")
	ts := w.typeString(to)
	is, as := w.host("Is")+"(x, "+d+")", w.host("As")+"(x, "+d+", &v)"
	if types.IsInterface(to) {
		as = ""
		keys := ""
		methods := to.Underlying().(*types.Interface)
		for i := range methods.NumMethods() {
			keys += ", " + quote(methodKey(methods.Method(i)))
		}
		switch types.TypeString(to, nil) {
		case "error":
			as = "v, ok = " + w.host("AsError") + "(x)"
		case "fmt.Stringer":
			as = "v, ok = " + w.host("AsStringer") + "(x)"
		default:
			if !w.erased(to) {
				w.checkImplemented(to)
				as = "v, ok = x.(" + ts + ")"
				break
			}
			as = "v = x; ok = x != nil"
			for i := range methods.NumMethods() {
				as += " && " + w.host("Method") + "(x, " + quote(methodKey(methods.Method(i))) + ") != nil"
			}
			as += "; if !ok { v = nil }"
		}
		w.helper("as"+name[2:], "func as"+name[2:]+"(x interface{}) (v "+ts+", ok bool) { "+as+"; return }")
		switch kind {
		case "is":
			w.helper(name, "func "+name+"(x interface{}) bool { _, ok := as"+name[2:]+"(x); return ok }")
		case "to":
			w.helper(name, "func "+name+"(x interface{}, from string) "+ts+" { v, ok := as"+name[2:]+"(x); if !ok { "+
				w.host("Lacks")+"(x, from, "+quote(w.spelled(to))+keys+") }; return v }")
		}
		return name
	}
	switch kind {
	case "is":
		w.helper(name, "func "+name+"(x interface{}) bool { return "+is+" }")
	case "as":
		w.helper(name, "func "+name+"(x interface{}) (v "+ts+", ok bool) { ok = "+as+"; return }")
	case "to":
		w.helper(name, "func "+name+"(x interface{}, from string) (v "+ts+") { "+w.host("To")+"(x, from, "+d+
			", &v); return }")
	}
	return name
}
