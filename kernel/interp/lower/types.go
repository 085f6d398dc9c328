package lower

import (
	"go/ast"
	"go/types"
	"strings"
)

// environment gives the type parameters of the code that is being written their types.
type environment struct {
	of map[*types.TypeParam]types.Type
}

func (e *environment) subst(t types.Type) types.Type {
	if e == nil || len(e.of) == 0 || t == nil {
		return t
	}
	switch t := t.(type) {
	case *types.TypeParam:
		if r := e.of[t]; r != nil {
			return r
		}
	case *types.Alias:
		return e.subst(types.Unalias(t))
	case *types.Slice:
		return types.NewSlice(e.subst(t.Elem()))
	case *types.Array:
		return types.NewArray(e.subst(t.Elem()), t.Len())
	case *types.Pointer:
		return types.NewPointer(e.subst(t.Elem()))
	case *types.Map:
		return types.NewMap(e.subst(t.Key()), e.subst(t.Elem()))
	case *types.Chan:
		return types.NewChan(t.Dir(), e.subst(t.Elem()))
	case *types.Named:
		if t.TypeArgs().Len() == 0 {
			return t
		}
		args := make([]types.Type, t.TypeArgs().Len())
		for i := range args {
			args[i] = e.subst(t.TypeArgs().At(i))
		}
		if r, err := types.Instantiate(nil, t.Origin(), args, false); err == nil {
			return r
		}
	case *types.Signature:
		return types.NewSignatureType(nil, nil, nil, e.tuple(t.Params()), e.tuple(t.Results()), t.Variadic())
	case *types.Tuple:
		return e.tuple(t)
	case *types.Struct:
		fields, tags := make([]*types.Var, t.NumFields()), make([]string, t.NumFields())
		for i := range fields {
			f := t.Field(i)
			fields[i] = types.NewField(f.Pos(), f.Pkg(), f.Name(), e.subst(f.Type()), f.Embedded())
			tags[i] = t.Tag(i)
		}
		return types.NewStruct(fields, tags)
	case *types.Interface:
		methods := make([]*types.Func, t.NumExplicitMethods())
		for i := range methods {
			m := t.ExplicitMethod(i)
			methods[i] = types.NewFunc(m.Pos(), m.Pkg(), m.Name(), e.subst(m.Type()).(*types.Signature))
		}
		embedded := make([]types.Type, t.NumEmbeddeds())
		for i := range embedded {
			embedded[i] = e.subst(t.EmbeddedType(i))
		}
		return types.NewInterfaceType(methods, embedded).Complete()
	}
	return t
}

func (e *environment) tuple(t *types.Tuple) *types.Tuple {
	vars := make([]*types.Var, t.Len())
	for i := range vars {
		v := t.At(i)
		vars[i] = types.NewParam(v.Pos(), v.Pkg(), v.Name(), e.subst(v.Type()))
	}
	return types.NewTuple(vars...)
}

// typeOf is the type of an expression, with the type parameters of the instance replaced.
func (w *writer) typeOf(e ast.Expr) types.Type {
	return w.env.subst(w.info.TypeOf(e))
}

// typeString writes the type that values of a type have in the written code. Named structs keep their names; all other
// named types of the recipe become what they are made of, and its interfaces become the empty one. Package host keeps
// the types of what lies in an interface.
func (w *writer) typeString(t types.Type) string {
	switch t := types.Unalias(t).(type) {
	case *types.Basic:
		return types.Default(t).(*types.Basic).Name()
	case *types.Named:
		return w.namedString(t)
	case *types.Slice:
		return "[]" + w.typeString(t.Elem())
	case *types.Array:
		return "[" + itoa(int(t.Len())) + "]" + w.typeString(t.Elem())
	case *types.Pointer:
		return "*" + w.typeString(t.Elem())
	case *types.Map:
		return "map[" + w.typeString(t.Key()) + "]" + w.typeString(t.Elem())
	case *types.Chan:
		return "chan " + w.typeString(t.Elem())
	case *types.Signature:
		return "func" + w.signatureString(t)
	case *types.Struct:
		var fields []string
		for i := range t.NumFields() {
			s := fieldName(t, i) + " " + w.typeString(t.Field(i).Type())
			if t.Tag(i) != "" {
				s += " " + quote(t.Tag(i))
			}
			fields = append(fields, s)
		}
		return "struct{ " + strings.Join(fields, "; ") + " }"
	case *types.Interface:
		return "interface{}"
	}
	return t.String()
}

func (w *writer) signatureString(t *types.Signature) string {
	var params []string
	for i := range t.Params().Len() {
		params = append(params, w.paramString(t, i))
	}
	return "(" + strings.Join(params, ", ") + ")" + w.resultString(t)
}

// paramString writes the type of a parameter.
func (w *writer) paramString(t *types.Signature, i int) string {
	s := w.typeString(t.Params().At(i).Type())
	if t.Variadic() && i == t.Params().Len()-1 {
		s = "..." + strings.TrimPrefix(s, "[]")
	}
	return s
}

// resultString writes the types of the results, with a space before.
func (w *writer) resultString(t *types.Signature) string {
	var results []string
	for i := range t.Results().Len() {
		results = append(results, w.typeString(t.Results().At(i).Type()))
	}
	switch len(results) {
	case 0:
		return ""
	case 1:
		return " " + results[0]
	}
	return " (" + strings.Join(results, ", ") + ")"
}

func (w *writer) namedString(t *types.Named) string {
	o := t.Obj()
	if o.Pkg() == nil || o.Pkg() != w.pkg && t.TypeArgs().Len() == 0 {
		if o.Pkg() == nil {
			return o.Name() // error
		}
		return w.qualify(o.Pkg()) + "." + o.Name()
	}
	if _, ok := t.Underlying().(*types.Struct); ok {
		return w.typeName(t)
	}
	for _, outer := range w.unfolding {
		if types.Identical(outer, t) {
			w.refuse(at(o.Pos()), o.Name()+" contains itself, and isn't a struct; make it a struct with a field")
			return "interface{}"
		}
	}
	w.unfolding = append(w.unfolding, t)
	defer func() { w.unfolding = w.unfolding[:len(w.unfolding)-1] }()
	return w.typeString(t.Underlying())
}

// typeName is the name of a type of the recipe in the written code, where its methods have it too.
func (w *writer) typeName(t *types.Named) string {
	if t.TypeArgs().Len() > 0 {
		return w.instantiate(t.Origin().Obj(), list(t.TypeArgs()))
	}
	if name := w.names[t.Obj()]; name != "" {
		return name
	}
	return t.Obj().Name()
}

// fieldName is the name of a field in the written code, which has no embedding.
func fieldName(t *types.Struct, i int) string {
	if name := t.Field(i).Name(); name != "_" {
		return name
	}
	return "_ᐧ" + itoa(i)
}

// pointee is the type that a pointer points to, or the type itself.
func pointee(t types.Type) (of types.Type, pointer bool) {
	if p, ok := t.Underlying().(*types.Pointer); ok {
		return p.Elem(), true
	}
	return t, false
}

// own is a type as one that the recipe declares, or nil.
func (w *writer) own(t types.Type) *types.Named {
	if n, ok := types.Unalias(t).(*types.Named); ok && n.Obj().Pkg() == w.pkg {
		return n
	}
	return nil
}

// erased tells whether an interface type is the empty one in the written code.
func (w *writer) erased(t types.Type) bool {
	n, ok := types.Unalias(t).(*types.Named)
	return types.IsInterface(t) && (!ok || n.Obj().Pkg() == w.pkg)
}

// plain tells whether compiled code knows a type as the recipe does: no type of the recipe and no struct of its own is
// a part of it.
func (w *writer) plain(t types.Type) bool {
	switch t := types.Unalias(t).(type) {
	case *types.Named:
		if t.Obj().Pkg() == w.pkg {
			return false
		}
		for i := range t.TypeArgs().Len() {
			if !w.plain(t.TypeArgs().At(i)) {
				return false
			}
		}
		return t.TypeArgs().Len() == 0
	case *types.Slice:
		return w.plain(t.Elem())
	case *types.Array:
		return w.plain(t.Elem())
	case *types.Pointer:
		return w.plain(t.Elem())
	case *types.Map:
		return w.plain(t.Key()) && w.plain(t.Elem())
	case *types.Signature:
		return w.plain(t.Params()) && w.plain(t.Results())
	case *types.Tuple:
		for i := range t.Len() {
			if !w.plain(t.At(i).Type()) {
				return false
			}
		}
		return true
	case *types.Struct:
		return false
	case *types.Interface:
		return t.Empty()
	}
	return true
}

// nameable tells whether written code can name a type: all packages of its parts are imported in the recipe.
func (w *writer) nameable(t types.Type) bool {
	switch t := types.Unalias(t).(type) {
	case *types.Named:
		o := t.Obj()
		return o.Pkg() == nil || o.Pkg() == w.pkg || o.Exported() && w.aliases[o.Pkg().Path()] != "" ||
			t.TypeArgs().Len() > 0
	case *types.Map:
		return w.nameable(t.Key()) && w.nameable(t.Elem())
	case *types.Signature:
		return w.nameable(t.Params()) && w.nameable(t.Results())
	case *types.Tuple:
		for i := range t.Len() {
			if !w.nameable(t.At(i).Type()) {
				return false
			}
		}
	case *types.Basic, *types.Struct, *types.Interface, *types.TypeParam:
	case interface{ Elem() types.Type }:
		return w.nameable(t.Elem())
	}
	return true
}

// qualify gives the name by which the written code knows another package.
func (w *writer) qualify(p *types.Package) string {
	if name := w.imports[p.Path()]; name != "" {
		return name
	}
	name := w.aliases[p.Path()]
	if name == "" {
		name = w.global(p.Name())
	}
	w.imports[p.Path()] = name
	return name
}

func list(l *types.TypeList) []types.Type {
	all := make([]types.Type, l.Len())
	for i := range all {
		all[i] = l.At(i)
	}
	return all
}

func isFloat(t types.Type) bool { return isBasic(t, types.IsFloat) }

func isBasic(t types.Type, info types.BasicInfo) bool {
	b, ok := t.Underlying().(*types.Basic)
	return ok && b.Info()&info != 0
}
