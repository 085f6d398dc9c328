package lower

import (
	"go/ast"
	"go/token"
	"go/types"
	"strings"
)

// at is a place of the recipe.
type at token.Pos

func (p at) Pos() token.Pos { return token.Pos(p) }
func (p at) End() token.Pos { return token.Pos(p) }

// file writes all declarations.
func (w *writer) file(file *ast.File) {
	var plain []*ast.FuncDecl
	for _, d := range file.Decls {
		switch d := d.(type) {
		case *ast.FuncDecl:
			o := w.info.Defs[d.Name]
			switch generic := receiver(o); {
			case generic != nil:
				w.methods[generic] = append(w.methods[generic], d)
			case d.Type.TypeParams != nil:
				w.functions[o] = d
			default:
				plain = append(plain, d)
			}
		case *ast.GenDecl:
			if d.Tok == token.TYPE {
				for _, s := range d.Specs {
					w.namedType(s.(*ast.TypeSpec))
				}
			}
		}
	}
	for _, d := range plain {
		w.function(d, d.Name.Name)
	}
	w.variables(file)
	w.writeInstances()
}

// receiver is the generic type that a function is a method of, or nil.
func receiver(o types.Object) types.Object {
	f, ok := o.(*types.Func)
	if !ok || f.Signature().Recv() == nil || f.Signature().RecvTypeParams().Len() == 0 {
		return nil
	}
	t := types.Unalias(f.Signature().Recv().Type())
	if p, ok := t.(*types.Pointer); ok {
		t = types.Unalias(p.Elem())
	}
	return t.(*types.Named).Origin().Obj()
}

// namedType writes a type declaration, unless it is generic, an alias, or a constraint: those leave no trace.
func (w *writer) namedType(s *ast.TypeSpec) {
	o := w.info.Defs[s.Name]
	named, ok := o.Type().(*types.Named)
	if !ok || s.TypeParams != nil || s.Assign.IsValid() {
		return
	}
	if i, ok := named.Underlying().(*types.Interface); ok && !i.IsMethodSet() {
		return
	}
	name := o.Name()
	if n := w.names[o]; n != "" {
		name = n
	}
	w.typeDecl(s.Pos(), name, named.Underlying())
}

func (w *writer) typeDecl(pos token.Pos, name string, underlying types.Type) {
	w.types = append(w.types, w.mark(pos)+"type "+name+" "+w.typeString(underlying))
}

// variables writes the variables of the package in the order of their initialization.
func (w *writer) variables(file *ast.File) {
	initialized := map[types.Object]bool{}
	for _, in := range w.info.InitOrder {
		for _, v := range in.Lhs {
			initialized[v] = true
		}
	}
	for _, d := range file.Decls {
		if g, ok := d.(*ast.GenDecl); ok && g.Tok == token.VAR {
			for _, s := range g.Specs {
				for _, id := range s.(*ast.ValueSpec).Names {
					if o := w.info.Defs[id]; o != nil && !initialized[o] && id.Name != "_" {
						w.decls = append(w.decls, w.mark(id.Pos())+"var "+id.Name+" "+w.typeString(o.Type()))
					}
				}
			}
		}
	}
	for _, in := range w.info.InitOrder {
		var names []string
		for _, v := range in.Lhs {
			names = append(names, v.Name())
		}
		w.locals, w.fn = map[string]bool{}, w.newFunction(nil)
		s := w.mark(in.Lhs[0].Pos()) + "var " + strings.Join(names, ", ")
		if len(names) == 1 {
			s += " " + w.typeString(in.Lhs[0].Type())
		}
		w.decls = append(w.decls, s+" = "+w.expr(in.Rhs))
		w.fn = nil
	}
}

// function is the function that is being written.
type function struct {
	outer     *function
	results   *types.Tuple
	named     []string // the named results
	targets   []*target
	rangeBody *rangeBody // where this is the body of a range over a function
}

func (w *writer) newFunction(results *types.Tuple) *function {
	return &function{outer: w.fn, results: results}
}

// function writes a function or method declaration.
func (w *writer) function(d *ast.FuncDecl, name string) {
	o := w.info.Defs[d.Name].(*types.Func)
	w.locals = map[string]bool{}
	s := w.mark(d.Pos()) + "func "
	if r := o.Signature().Recv(); r != nil {
		s += "(" + w.local(r) + " " + w.typeString(w.env.subst(r.Type())) + ") "
	}
	w.decls = append(w.decls, s+name+w.body(o.Signature(), d.Body))
}

// body writes the parameters, results and statements of a function.
func (w *writer) body(t *types.Signature, body *ast.BlockStmt) string {
	outer := w.fn
	defer func() { w.fn = outer }()
	w.fn = w.newFunction(t.Results())
	var params, results []string
	for i := range t.Params().Len() {
		p := t.Params().At(i)
		s := w.typeString(w.env.subst(p.Type()))
		if t.Variadic() && i == t.Params().Len()-1 {
			s = "..." + strings.TrimPrefix(s, "[]")
		}
		params = append(params, w.local(p)+" "+s)
	}
	for i := range t.Results().Len() {
		r := t.Results().At(i)
		s := w.typeString(w.env.subst(r.Type()))
		if r.Name() != "" {
			name := w.local(r)
			w.fn.named = append(w.fn.named, name)
			s = name + " " + s
		}
		results = append(results, s)
	}
	s := "(" + strings.Join(params, ", ") + ") "
	if len(results) > 0 {
		s += "(" + strings.Join(results, ", ") + ") "
	}
	return s + "{" + w.stmts(body.List) + "\n" + w.mark(body.Rbrace) + "}"
}

// local gives a local variable its name: that of the recipe where nothing else has it.
func (w *writer) local(o types.Object) string {
	name := o.Name()
	if name == "_" || name == "" {
		return w.fresh("ᐧ")
	}
	w.names[o] = w.fresh(name)
	return w.names[o]
}
