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

// typeString writes a type. Instances of generic types and local types have names of their own; aliases disappear.
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
			f := t.Field(i)
			s := w.typeString(f.Type())
			if !f.Embedded() {
				s = f.Name() + " " + s
			}
			if t.Tag(i) != "" {
				s += " " + quote(t.Tag(i))
			}
			fields = append(fields, s)
		}
		return "struct{ " + strings.Join(fields, "; ") + " }"
	case *types.Interface:
		var methods []string
		for i := range t.NumMethods() {
			m := t.Method(i)
			methods = append(methods, m.Name()+w.signatureString(m.Signature()))
		}
		return "interface{ " + strings.Join(methods, "; ") + " }"
	case *types.TypeParam:
		return t.Obj().Name()
	}
	return t.String()
}

func (w *writer) signatureString(t *types.Signature) string {
	var params, results []string
	for i := range t.Params().Len() {
		p := w.typeString(t.Params().At(i).Type())
		if t.Variadic() && i == t.Params().Len()-1 {
			p = "..." + strings.TrimPrefix(p, "[]")
		}
		params = append(params, p)
	}
	for i := range t.Results().Len() {
		results = append(results, w.typeString(t.Results().At(i).Type()))
	}
	s := "(" + strings.Join(params, ", ") + ")"
	switch len(results) {
	case 0:
		return s
	case 1:
		return s + " " + results[0]
	}
	return s + " (" + strings.Join(results, ", ") + ")"
}

func (w *writer) namedString(t *types.Named) string {
	o := t.Obj()
	switch {
	case o.Pkg() == nil: // error, comparable
		return o.Name()
	case o.Pkg() == w.pkg && t.TypeArgs().Len() > 0:
		return w.instantiate(t.Origin().Obj(), list(t.TypeArgs()))
	case o.Pkg() == w.pkg:
		if name := w.names[o]; name != "" {
			return name
		}
		return o.Name()
	case t.TypeArgs().Len() > 0: // iter.Seq and its like have no methods: their underlying types do as well
		return w.typeString(t.Underlying())
	}
	return w.qualify(o.Pkg()) + "." + o.Name()
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

// fieldName is the name of a field in the written code: an embedded field goes by the name of its type there.
func (w *writer) fieldName(f *types.Var) string {
	if !f.Embedded() {
		return f.Name()
	}
	t := types.Unalias(w.env.subst(f.Type()))
	if p, ok := t.(*types.Pointer); ok {
		t = types.Unalias(p.Elem())
	}
	if n, ok := t.(*types.Named); ok && n.Obj().Pkg() == w.pkg {
		return w.namedString(n)
	}
	return f.Name()
}

func list(l *types.TypeList) []types.Type {
	all := make([]types.Type, l.Len())
	for i := range all {
		all[i] = l.At(i)
	}
	return all
}

func isInteger(t types.Type) bool { return isBasic(t, types.IsInteger) }
func isFloat(t types.Type) bool   { return isBasic(t, types.IsFloat) }

func isBasic(t types.Type, info types.BasicInfo) bool {
	b, ok := t.Underlying().(*types.Basic)
	return ok && b.Info()&info != 0
}
