package lower

import (
	_ "embed"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"sync"
)

//go:embed std.go.txt
var standardSource string

// library is generic source that is lowered with the recipes that use it.
type library struct {
	pkg       *types.Package
	info      *types.Info
	functions map[types.Object]*ast.FuncDecl
}

// standard is the generic part of the standard library, of which compiled code has no values.
var standard = sync.OnceValue(func() *library {
	files := token.NewFileSet()
	file, err := parser.ParseFile(files, "std.go", standardSource, parser.SkipObjectResolution)
	if err != nil {
		panic(err)
	}
	l := &library{functions: map[types.Object]*ast.FuncDecl{}, info: &types.Info{
		Types: map[ast.Expr]types.TypeAndValue{}, Defs: map[*ast.Ident]types.Object{},
		Uses: map[*ast.Ident]types.Object{}, Implicits: map[ast.Node]types.Object{},
		Instances: map[*ast.Ident]types.Instance{}, Selections: map[*ast.SelectorExpr]*types.Selection{},
	}}
	config := types.Config{GoVersion: "go1.26", IgnoreFuncBodies: false, Error: func(error) {}} // two have no bodies
	l.pkg, _ = config.Check("std", files, []*ast.File{file}, l.info)
	for _, d := range file.Decls {
		if f, ok := d.(*ast.FuncDecl); ok {
			l.functions[l.info.Defs[f.Name]] = f
		}
	}
	return l
})

// foreign gives the name of an instance of a generic function of another package.
func (w *writer) foreign(e *ast.SelectorExpr) string {
	o := w.info.Uses[e.Sel]
	args := list(w.info.Instances[e.Sel].TypeArgs)
	for i := range args {
		args[i] = w.env.subst(args[i])
	}
	name := o.Pkg().Name() + "_" + o.Name()
	if len(args) > 0 && fast[name] {
		switch element := w.typeString(args[len(args)-1]); element {
		case "int", "float64", "string":
			return w.host(name + "_" + element)
		}
	}
	if name == "errors_AsType" && !types.IsInterface(args[0]) {
		t := w.typeString(args[0])
		return "(func(err error) (v " + t + ", ok bool) { ok = " + w.host("Find") + "(err, " + w.describe(args[0]) +
			", &v); return })"
	}
	if f := standard().pkg.Scope().Lookup(name); f != nil {
		return w.instantiate(f, args)
	}
	w.refuse(e, o.Pkg().Name()+"."+o.Name()+" can't be run; write what it does as a function of the recipe")
	return o.Name()
}

// fast are the functions that the host has compiled for the types that data mostly has.
var fast = map[string]bool{
	"cmp_Compare": true, "slices_Sort": true, "slices_Contains": true, "slices_Index": true, "slices_Max": true,
	"slices_Min": true, "slices_BinarySearch": true, "slices_IsSorted": true, "slices_Equal": true,
	"slices_Reverse": true, "slices_Clone": true, "slices_Compact": true,
}
