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
	w.findKept(file, nil)
	w.findRecursive(file)
	var plain []*ast.FuncDecl
	for _, d := range file.Decls {
		switch d := d.(type) {
		case *ast.FuncDecl:
			if d.Body == nil {
				w.refuse(d, "missing function body")
				continue
			}
			o := w.info.Defs[d.Name]
			switch of := receiver(o); {
			case of != nil && of.TypeParams().Len() > 0:
				w.methods[of.Obj()] = append(w.methods[of.Obj()], d)
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
		name := d.Name.Name
		if of := receiver(w.info.Defs[d.Name]); of != nil {
			name = methodName(w.typeName(of), name)
		}
		w.function(d, name)
	}
	w.variables(file)
	for rest := -1; rest != len(w.pending)+w.unwritten() && len(w.refused) == 0; {
		w.writeInstances()
		w.writeDispatches()
		rest = len(w.pending) + w.unwritten()
	}
}

// receiver is the type that a function is a method of, or nil.
func receiver(o types.Object) *types.Named {
	f, ok := o.(*types.Func)
	if !ok || f.Signature().Recv() == nil {
		return nil
	}
	t, _ := pointee(f.Signature().Recv().Type())
	return types.Unalias(t).(*types.Named).Origin()
}

// namedType writes a type declaration, unless it is generic, or leaves no trace.
func (w *writer) namedType(s *ast.TypeSpec) {
	if named, ok := w.info.Defs[s.Name].Type().(*types.Named); ok && s.TypeParams == nil && !s.Assign.IsValid() {
		w.typeDecl(s.Pos(), w.typeName(named), named.Underlying())
	}
}

func (w *writer) typeDecl(pos token.Pos, name string, underlying types.Type) {
	if _, ok := underlying.(*types.Struct); ok {
		w.declared[name] = &declared{pos: at(pos), underlying: underlying}
		w.types = append(w.types, w.mark(pos)+"type "+name+" "+w.typeString(underlying))
	}
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
						w.vars = append(w.vars, w.mark(id.Pos())+"var "+id.Name+" "+w.typeString(o.Type()))
					}
				}
			}
		}
	}
	for _, in := range w.info.InitOrder {
		w.locals, w.fn = map[string]int{}, &function{}
		var names []string
		for _, v := range in.Lhs {
			names = append(names, v.Name())
		}
		s := w.mark(in.Lhs[0].Pos()) + "var " + strings.Join(names, ", ")
		if len(names) == 1 {
			t := in.Lhs[0].Type()
			s += " " + w.typeString(t) + " = " + w.value(in.Rhs, t)
		} else {
			s += " = " + w.expr(in.Rhs)
		}
		w.vars = append(w.vars, s)
		w.fn = nil
	}
}

// function is the function that is being written.
type function struct {
	outer     *function
	results   *types.Tuple // with the type parameters replaced
	named     []string     // the variables of the results, if they have any
	defers    string       // the variable of its deferred calls, if it has any
	token     string       // the variable of the panic that it may recover
	frame     string       // the variable of its place in the trail, if it is traced
	leave     string       // what is done before it returns
	targets   []*target
	rangeBody *rangeBody // where this is the body of a range over a function
}

// function writes a function or method declaration.
func (w *writer) function(d *ast.FuncDecl, name string) {
	w.locals = map[string]int{}
	t := w.info.Defs[d.Name].(*types.Func).Signature()
	var params []string
	if r := t.Recv(); r != nil {
		params = append(params, w.local(r)+" "+w.typeString(w.env.subst(r.Type())))
	}
	w.decl = d
	w.decls = append(w.decls, w.mark(d.Pos())+"func "+name+w.body(t, params, d.Body, w.recursive[w.info.Defs[d.Name]]))
	w.decl = nil
}

// body writes the parameters, results and statements of a function. Params are written before its own.
func (w *writer) body(t *types.Signature, params []string, body *ast.BlockStmt, recursive bool) string {
	outer := w.fn
	defer func() { w.fn = outer }()
	w.fn = &function{outer: outer, results: w.env.tuple(t.Results())}
	for i := range t.Params().Len() {
		s := w.typeString(w.env.subst(t.Params().At(i).Type()))
		if t.Variadic() && i == t.Params().Len()-1 {
			s = "..." + strings.TrimPrefix(s, "[]")
		}
		params = append(params, w.local(t.Params().At(i))+" "+s)
	}
	defers, recovers := w.unwinds(body)
	var results []string
	declared := "" // results are variables of the body: the interpreter's would be where the caller puts them
	for i := range t.Results().Len() {
		r := t.Results().At(i)
		s := w.typeString(w.fn.results.At(i).Type())
		if r.Name() != "" || defers {
			name := w.local(r)
			w.fn.named = append(w.fn.named, name)
			declared += "var " + name + " " + s + "; "
		}
		results = append(results, s)
	}
	s := "(" + strings.Join(params, ", ") + ") "
	if len(results) > 0 {
		s += "(" + strings.Join(results, ", ") + ") "
	}
	s += "{ " + declared
	if recovers {
		w.fn.token = w.fresh("token")
		s += w.fn.token + " := " + w.host("Token") + "(); "
	}
	s += w.enter(recursive, defers)
	end := w.closing(body.Rbrace)
	if !defers {
		text := w.stmts(body.List)
		if len(results) == 0 {
			text += "\n" + w.fn.leave
		}
		return s + text + end
	}
	w.fn.defers = w.fresh("defers")
	s += w.host("Run") + "(func(" + w.fn.defers + " *" + w.host("Defers") + ") {" + w.stmts(body.List) + end + "); " +
		w.fn.leave + "return " + strings.Join(w.fn.named, ", ")
	return s + " }"
}

// local gives a local variable its name: that of the recipe where nothing else has it.
func (w *writer) local(o types.Object) string {
	name := o.Name()
	if name == "_" || name == "" {
		name = "unnamed"
	}
	w.names[o] = w.fresh(name)
	return w.names[o]
}
