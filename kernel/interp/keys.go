package interp

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"go/ast"
	"go/types"
	"maps"
	"slices"
)

// keys gives for each step a hash of all that its results depend on: its code and the code that it reaches, the
// settings that these read, the results that it takes, and the season. Two runs in which a step has one key give it
// the same results.
func (r *recipe) keys(stamp string, settings map[string]any) map[*step]string {
	code := r.index()
	keys := map[*step]string{}
	var key func(s *step) string
	key = func(s *step) string {
		if known, ok := keys[s]; ok {
			return known
		}
		h := sha256.New()
		reached := code.from(s.decl)
		for _, part := range reached.parts {
			fmt.Fprintf(h, "code %q\n", r.text(part))
		}
		for _, path := range slices.Sorted(maps.Keys(reached.imports)) {
			fmt.Fprintf(h, "import %q\n", path)
		}
		for _, name := range slices.Sorted(maps.Keys(settings)) {
			if reached.settings[name] || reached.settings[allSettings] {
				fmt.Fprintf(h, "setting %s %#v\n", name, settings[name])
			}
		}
		for i, in := range s.inputs {
			fmt.Fprintf(h, "input %d %d ", i, in.given)
			switch in.given {
			case fromStep:
				fmt.Fprintln(h, key(in.from))
			case fromSeason:
				fmt.Fprintf(h, "%q\n", stamp)
			default:
				fmt.Fprintln(h)
			}
		}
		keys[s] = hex.EncodeToString(h.Sum(nil)[:16])
		return keys[s]
	}
	for _, s := range r.steps {
		key(s)
	}
	return keys
}

// text is the source of a declaration, without the comment above it.
func (r *recipe) text(n ast.Node) string {
	return r.source[r.Files.Position(n.Pos()).Offset:r.Files.Position(n.End()).Offset]
}

// allSettings stands for the use of the settings as a whole.
const allSettings = "*"

// index knows which declaration declares what.
type index struct {
	recipe  *recipe
	decl    map[types.Object]ast.Decl
	methods map[types.Object][]ast.Decl // of a type
}

func (r *recipe) index() index {
	x := index{recipe: r, decl: map[types.Object]ast.Decl{}, methods: map[types.Object][]ast.Decl{}}
	for _, d := range r.File.Decls {
		switch d := d.(type) {
		case *ast.FuncDecl:
			object := r.Info.Defs[d.Name]
			if d.Recv == nil {
				x.decl[object] = d
			} else if of := receiver(object); of != nil {
				x.methods[of] = append(x.methods[of], d)
			}
		case *ast.GenDecl:
			for _, spec := range d.Specs {
				switch spec := spec.(type) {
				case *ast.TypeSpec:
					x.decl[r.Info.Defs[spec.Name]] = d
				case *ast.ValueSpec:
					for _, name := range spec.Names {
						x.decl[r.Info.Defs[name]] = d
					}
				}
			}
		}
	}
	return x
}

// receiver is the type that a method belongs to.
func receiver(method types.Object) types.Object {
	f, ok := method.(*types.Func)
	if !ok {
		return nil
	}
	t := f.Signature().Recv().Type()
	if p, ok := t.(*types.Pointer); ok {
		t = p.Elem()
	}
	if named, ok := t.(*types.Named); ok {
		return named.Origin().Obj()
	}
	return nil
}

// reach is what a step's code leads to.
type reach struct {
	parts    []ast.Decl // in the order of their positions
	imports  map[string]bool
	settings map[string]bool // fields that are read
}

// from follows the code from one declaration. The type Settings itself isn't followed: its fields count one by one.
func (x index) from(start ast.Decl) reach {
	found := reach{imports: map[string]bool{}, settings: map[string]bool{}}
	seen := map[ast.Decl]bool{}
	var visit func(ast.Decl)
	visit = func(d ast.Decl) {
		if seen[d] {
			return
		}
		seen[d] = true
		found.parts = append(found.parts, d)
		whole := map[*ast.Ident]bool{} // settings of which a field is selected, or which are handed on
		ast.Inspect(d, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.SelectorExpr:
				if id, ok := ast.Unparen(n.X).(*ast.Ident); ok && x.isSettings(id) {
					found.settings[n.Sel.Name] = true
					whole[id] = true
				}
			case *ast.CallExpr:
				x.handedOn(n, whole)
			case *ast.Ident:
				object := x.recipe.Info.Uses[n]
				if object == nil {
					return true
				}
				if name, ok := object.(*types.PkgName); ok {
					found.imports[name.Imported().Path()] = true
				}
				if v, ok := object.(*types.Var); ok && !v.IsField() && x.isSettings(n) && !whole[n] {
					found.settings[allSettings] = true
				}
				for _, method := range x.methods[object] {
					visit(method)
				}
				if next := x.decl[object]; next != nil && object.Name() != "Settings" {
					visit(next)
				}
			}
			return true
		})
	}
	visit(start)
	slices.SortFunc(found.parts, func(a, b ast.Decl) int { return int(a.Pos() - b.Pos()) })
	return found
}

// handedOn notes settings that are an argument of one of the recipe's own functions, which is followed itself.
func (x index) handedOn(call *ast.CallExpr, whole map[*ast.Ident]bool) {
	name, ok := ast.Unparen(call.Fun).(*ast.Ident)
	if !ok || x.decl[x.recipe.Info.Uses[name]] == nil {
		return
	}
	if _, isFunction := x.recipe.Info.Uses[name].(*types.Func); !isFunction {
		return
	}
	for _, argument := range call.Args {
		if id, ok := ast.Unparen(argument).(*ast.Ident); ok {
			whole[id] = true
		}
	}
}

func (x index) isSettings(id *ast.Ident) bool {
	t := x.recipe.Info.TypeOf(id)
	for {
		pointer, ok := t.(*types.Pointer)
		if !ok {
			break
		}
		t = pointer.Elem()
	}
	named, ok := t.(*types.Named)
	return ok && named.Obj().Pkg() == x.recipe.Package && named.Obj().Name() == "Settings"
}
