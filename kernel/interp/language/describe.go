package language

import (
	"go/ast"
	"go/token"
	"go/types"
	"strings"
	"sync"

	"tossline/kernel/interp/api"
)

// declaration is how an object is declared, in one line, bodies of types left out.
func (r *reading) declaration(obj types.Object) string {
	typ := types.TypeString(obj.Type(), r.qualify)
	switch obj := obj.(type) {
	case *types.PkgName:
		return "package " + obj.Imported().Path()
	case *types.Const:
		return "const " + r.name(obj) + " " + typ + " = " + obj.Val().String()
	case *types.TypeName:
		if obj.IsAlias() {
			return "type " + r.name(obj) + " = " + typ
		}
		return "type " + typ + " " + r.shape(obj.Type())
	case *types.Func:
		name := r.name(obj)
		if recv := obj.Signature().Recv(); recv != nil {
			name = "(" + types.TypeString(recv.Type(), r.qualify) + ") " + obj.Name()
		}
		return "func " + name + strings.TrimPrefix(typ, "func")
	case *types.Var:
		if obj.IsField() {
			return "field " + obj.Name() + " " + typ
		}
		return "var " + r.name(obj) + " " + typ
	case *types.Builtin:
		header, _, _ := strings.Cut(api.Doc("builtin."+obj.Name()), "\n")
		return header
	case *types.Nil:
		return "nil"
	}
	return obj.Name()
}

// detail is what a declaration says besides the name and what it is.
func (r *reading) detail(obj types.Object) string {
	typ := types.TypeString(obj.Type(), r.qualify)
	switch obj := obj.(type) {
	case *types.PkgName:
		return obj.Imported().Path()
	case *types.Const:
		return typ + " = " + obj.Val().String()
	case *types.TypeName:
		return r.shape(obj.Type())
	case *types.Func:
		return strings.TrimPrefix(typ, "func")
	case *types.Builtin:
		return strings.TrimPrefix(r.declaration(obj), "func "+obj.Name())
	case *types.Nil:
		return ""
	}
	return typ
}

// kind is what a completion calls an object.
func kind(obj types.Object) string {
	switch obj := obj.(type) {
	case *types.PkgName:
		return "namespace"
	case *types.Const, *types.Nil:
		return "constant"
	case *types.TypeName:
		return "type"
	case *types.Func:
		if obj.Signature().Recv() != nil {
			return "method"
		}
		return "function"
	case *types.Builtin:
		return "function"
	case *types.Var:
		if obj.IsField() {
			return "property"
		}
	}
	return "variable"
}

// shape is what kind of type a type is: its underlying type, without what structs and interfaces hold.
func (r *reading) shape(t types.Type) string {
	switch u := t.Underlying().(type) {
	case *types.Struct:
		return "struct"
	case *types.Interface:
		return "interface"
	default:
		return types.TypeString(u, r.qualify)
	}
}

// name is how the recipe calls an object of a package.
func (r *reading) name(obj types.Object) string {
	if p := obj.Pkg(); p != nil && obj.Parent() == p.Scope() && r.qualify(p) != "" {
		return r.qualify(p) + "." + obj.Name()
	}
	return obj.Name()
}

// qualify names packages as their own source does, and the recipe's not at all.
func (r *reading) qualify(p *types.Package) string {
	if p == r.Package {
		return ""
	}
	return p.Name()
}

// doc is the doc comment of an object.
func (r *reading) doc(obj types.Object) string {
	switch obj := obj.(type) {
	case *types.PkgName:
		return api.Doc(obj.Imported().Path())
	case *types.Builtin:
		_, doc, _ := strings.Cut(api.Doc("builtin."+obj.Name()), "\n\n")
		return doc
	}
	obj = origin(obj)
	switch {
	case obj.Pkg() == nil:
		return api.Doc("builtin." + obj.Name())
	case obj.Pkg() == r.Package:
		return r.ownDoc(obj)
	case obj.Parent() == obj.Pkg().Scope():
		return api.Doc(obj.Pkg().Path() + "." + obj.Name())
	}
	if owner := members(obj.Pkg())[obj]; owner != "" {
		return api.Doc(obj.Pkg().Path() + "." + owner + "." + obj.Name())
	}
	return ""
}

// origin is the object of a generic type that one of an instance comes from.
func origin(obj types.Object) types.Object {
	switch obj := obj.(type) {
	case *types.Func:
		return obj.Origin()
	case *types.Var:
		return obj.Origin()
	}
	return obj
}

// members gives for every method and field of a package's types the name of its type.
func members(p *types.Package) map[types.Object]string {
	memberMu.Lock()
	defer memberMu.Unlock()
	if owners, ok := memberOwners[p]; ok {
		return owners
	}
	owners := map[types.Object]string{}
	for _, name := range p.Scope().Names() {
		t, ok := p.Scope().Lookup(name).(*types.TypeName)
		if !ok || t.IsAlias() {
			continue
		}
		if named, ok := t.Type().(*types.Named); ok {
			for m := range named.Methods() {
				owners[m] = name
			}
		}
		switch u := t.Type().Underlying().(type) {
		case *types.Struct:
			for f := range u.Fields() {
				owners[f] = name
			}
		case *types.Interface:
			for m := range u.ExplicitMethods() {
				owners[m] = name
			}
		}
	}
	memberOwners[p] = owners
	return owners
}

var (
	memberMu     sync.Mutex // guards memberOwners
	memberOwners = map[*types.Package]map[types.Object]string{}
)

// ownDoc is the comment above, or beside, what the recipe itself declares.
func (r *reading) ownDoc(obj types.Object) string {
	if r.comments == nil {
		r.findComments()
	}
	return strings.TrimSpace(r.comments[obj.Pos()].Text())
}

// findComments keeps for each declared name its first comment.
func (r *reading) findComments() {
	r.comments = map[token.Pos]*ast.CommentGroup{}
	at := func(id *ast.Ident, comments ...*ast.CommentGroup) {
		for _, c := range comments {
			if c != nil && r.comments[id.Pos()] == nil {
				r.comments[id.Pos()] = c
			}
		}
	}
	ast.Inspect(r.File, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.FuncDecl:
			at(n.Name, n.Doc)
		case *ast.GenDecl:
			for _, s := range n.Specs {
				switch s := s.(type) {
				case *ast.TypeSpec:
					at(s.Name, s.Doc, s.Comment, lone(n))
				case *ast.ValueSpec:
					for _, id := range s.Names {
						at(id, s.Doc, s.Comment, lone(n))
					}
				}
			}
		case *ast.Field:
			for _, id := range n.Names {
				at(id, n.Doc, n.Comment)
			}
		}
		return true
	})
}

// lone is the comment of a declaration without parentheses.
func lone(d *ast.GenDecl) *ast.CommentGroup {
	if d.Lparen != token.NoPos {
		return nil
	}
	return d.Doc
}

// paragraph is the beginning of a text, to its first empty line.
func paragraph(text string) string {
	first, _, _ := strings.Cut(text, "\n\n")
	return first
}
