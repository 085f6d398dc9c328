package lower

import (
	"go/ast"
	"go/types"
	"slices"
	"strings"
)

// most is how many instances of generic functions and types a recipe may have, largest how many parts a type argument
// may have: code that instantiates itself with ever larger types would never end.
const (
	most    = 500
	largest = 60
)

// instance is a generic function or type with its type arguments, to be written.
type instance struct {
	object types.Object
	args   []types.Type
	name   string
}

// instantiate gives the name of an instance, and has it written.
func (w *writer) instantiate(o types.Object, args []types.Type) string {
	for _, known := range w.instances[o] {
		if slices.EqualFunc(known.args, args, types.Identical) {
			return known.name
		}
	}
	in := instance{object: o, args: args, name: o.Name()}
	w.count++
	if w.count > most || slices.ContainsFunc(args, func(t types.Type) bool { return parts(t) > largest }) {
		w.endless(o)
		return in.name
	}
	all := make([]string, len(args))
	for i, t := range args {
		all[i] = types.TypeString(t, func(p *types.Package) string {
			if p == w.pkg {
				return ""
			}
			return p.Name()
		})
	}
	in.name = w.global(o.Name() + "ᐸ" + mangled(strings.Join(all, "ᐧ")) + "ᐳ")
	w.instances[o] = append(w.instances[o], in)
	w.pending = append(w.pending, in)
	return in.name
}

func (w *writer) endless(o types.Object) {
	w.refuse(at(o.Pos()), o.Name()+" is used with too many types, or with ever larger ones; write it for the types "+
		"that it is needed for")
}

// mangled makes a type a part of a name.
func mangled(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '[':
			return 'ᐸ'
		case r == ']':
			return 'ᐳ'
		case r == '*':
			return 'ᕽ'
		case r == '_' || r > 127 || '0' <= r && r <= '9' || 'A' <= r && r <= 'Z' || 'a' <= r && r <= 'z':
			return r
		}
		return 'ᐧ'
	}, s)
}

// parts counts the parts of a type, up to the most that a type argument may have. Names of other types end it.
func parts(t types.Type) int {
	n := 1
	add := func(t types.Type) {
		if n <= largest {
			n += parts(t)
		}
	}
	switch t := types.Unalias(t).(type) {
	case *types.Named:
		for i := range t.TypeArgs().Len() {
			add(t.TypeArgs().At(i))
		}
	case *types.Map:
		add(t.Key())
		add(t.Elem())
	case *types.Signature:
		add(t.Params())
		add(t.Results())
	case *types.Tuple:
		for i := range t.Len() {
			add(t.At(i).Type())
		}
	case *types.Struct:
		for i := range t.NumFields() {
			add(t.Field(i).Type())
		}
	case interface{ Elem() types.Type }:
		add(t.Elem())
	}
	return n
}

// writeInstances writes the instances that are wanted, and those that they want in turn.
func (w *writer) writeInstances() {
	for len(w.pending) > 0 && len(w.refused) == 0 {
		next := w.pending[0]
		w.pending = w.pending[1:]
		if next.object.Pkg() != w.pkg {
			w.library(standard().functions[next.object], next)
		} else if d := w.functions[next.object]; d != nil {
			w.env = bind(next.object.Type().(*types.Signature).TypeParams(), next.args)
			w.function(d, next.name)
		} else if named, ok := next.object.Type().(*types.Named); ok {
			w.env = bind(named.TypeParams(), next.args)
			w.typeDecl(next.object.Pos(), next.name, w.env.subst(named.Underlying()))
			for _, m := range w.methods[next.object] {
				w.env = bind(w.info.Defs[m.Name].(*types.Func).Signature().RecvTypeParams(), next.args)
				w.function(m, methodName(next.name, m.Name.Name))
			}
		}
		w.env = nil
	}
}

// library writes an instance of a function of the library. It has no positions in the recipe.
func (w *writer) library(d *ast.FuncDecl, in instance) {
	info, recipe := w.info, w.unplaced
	defer func() { w.info, w.unplaced = info, recipe }()
	w.info, w.unplaced = standard().info, true
	w.env = bind(in.object.Type().(*types.Signature).TypeParams(), in.args)
	w.findKept(d, nil)
	w.function(d, in.name)
}

// methodName is the name of the function that a method is in the written code.
func methodName(typeName, method string) string { return typeName + "ᐧ" + method }

func bind(params *types.TypeParamList, args []types.Type) *environment {
	e := &environment{map[*types.TypeParam]types.Type{}}
	for i, a := range args {
		e.of[params.At(i)] = a
	}
	return e
}

// instanceOf gives the name of the instance that an identifier stands for, or "".
func (w *writer) instanceOf(id *ast.Ident) string {
	in, ok := w.info.Instances[id]
	if !ok {
		return ""
	}
	args := list(in.TypeArgs)
	for i := range args {
		args[i] = w.env.subst(args[i])
	}
	return w.instantiate(w.info.Uses[id], args)
}
