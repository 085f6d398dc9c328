package language

import (
	"go/ast"
	"go/token"
	"go/types"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/tools/go/types/typeutil"

	"tossline/kernel/interp/api"
)

// placeholder stands at the cursor while a source is read for completion, so that "season." is an expression.
const placeholder = "cursor_"

// Complete gives what can stand at an offset: members after a dot, packages in an import, fields in a literal, steps
// among the parameters of a step, and else all that is declared.
func Complete(source string, offset int) Completions {
	if offset < 0 || offset > len(source) {
		return Completions{Items: []Item{}}
	}
	from, to := word(source, offset)
	out := Completions{From: from, Items: []Item{}}
	if in := literalAt(source, offset); in != nil {
		if in.kind == token.STRING {
			out.From, out.Items = imports(source, offset)
		}
		return out
	}
	if from == to || token.IsKeyword(source[from:to]) {
		source = source[:to] + placeholder + source[to:]
		to += len(placeholder)
	}
	r := read(source)
	if r == nil {
		return out
	}
	id, around := r.identifier(from, to)
	if id == nil {
		return out
	}
	out.Items = r.candidates(id, around)
	for i := range out.Items {
		out.Items[i].Doc = paragraph(out.Items[i].Doc)
	}
	return out
}

// literalAt is the comment, string or number that an offset lies in.
func literalAt(source string, offset int) *lexeme {
	for _, t := range tokens(source) {
		if t.from >= offset {
			break
		}
		text := source[t.from:t.to]
		open := false // whether it goes on behind its last byte
		switch t.kind {
		case token.COMMENT:
			open = strings.HasPrefix(text, "//")
		case token.STRING, token.CHAR:
			open = len(text) < 2 || text[len(text)-1] != text[0]
		case token.INT, token.FLOAT, token.IMAG:
			open = true
		default:
			continue
		}
		if offset < t.to || open && offset == t.to {
			return &t
		}
	}
	return nil
}

// imports are the packages that can be imported where the path of an import lies at an offset.
func imports(source string, offset int) (from int, items []Item) {
	items = []Item{}
	r := read(source)
	if r == nil {
		return offset, items
	}
	here := r.importAt(offset)
	if here == nil {
		for _, spec := range r.File.Imports { // a path that is not closed
			if spec.Path.End() == r.pos(offset) {
				here = spec
			}
		}
	}
	if here == nil {
		return offset, items
	}
	for _, path := range api.Packages {
		taken := slices.ContainsFunc(r.File.Imports, func(s *ast.ImportSpec) bool {
			return s != here && s.Path.Value == strconv.Quote(path)
		})
		if !taken {
			items = append(items, Item{Label: path, Kind: "namespace", Doc: paragraph(api.Doc(path))})
		}
	}
	return r.offset(here.Path.Pos()) + 1, items
}

// candidates are what can stand in place of an identifier, by the nodes around it, innermost first.
func (r *reading) candidates(id *ast.Ident, around []ast.Node) []Item {
	switch parent := around[0].(type) {
	case *ast.SelectorExpr:
		if parent.Sel == id {
			return r.selectable(parent.X)
		}
	case *ast.FuncDecl, *ast.TypeSpec, *ast.File, *ast.ImportSpec, *ast.BranchStmt, *ast.LabeledStmt:
		if !isType(parent, id) {
			return []Item{}
		}
	case *ast.Field:
		if items, ok := r.parameters(id, parent, around); ok {
			return items
		}
	case *ast.CompositeLit:
		if parent.Type != id {
			if items, ok := r.keys(id, parent); ok {
				return items
			}
		}
	case *ast.KeyValueExpr:
		if lit, ok := around[1].(*ast.CompositeLit); ok && parent.Key == id {
			if items, ok := r.keys(id, lit); ok {
				return items
			}
		}
	}
	return r.visible(id)
}

// isType tells whether an identifier is the type that a declaration is about, not its name.
func isType(decl ast.Node, id *ast.Ident) bool {
	spec, ok := decl.(*ast.TypeSpec)
	return ok && spec.Type == id
}

// selectable are the members of what stands before a dot.
func (r *reading) selectable(x ast.Expr) []Item {
	if id, ok := x.(*ast.Ident); ok {
		if p, ok := r.Info.Uses[id].(*types.PkgName); ok {
			return r.offered(p.Imported())
		}
	}
	value, ok := r.Info.Types[x]
	if !ok || value.Type == nil || value.Type == types.Typ[types.Invalid] {
		return []Item{}
	}
	items := []Item{}
	if !value.IsType() {
		for _, f := range r.fields(value.Type) {
			items = append(items, r.item(f))
		}
	}
	for _, s := range typeutil.IntuitiveMethodSet(value.Type, nil) {
		if m := s.Obj(); m.Exported() || m.Pkg() == r.Package {
			items = append(items, r.item(m))
		}
	}
	return items
}

// offered are the objects of a package that recipes may use.
func (r *reading) offered(p *types.Package) []Item {
	items := []Item{}
	for _, name := range p.Scope().Names() {
		if obj := p.Scope().Lookup(name); obj.Exported() && api.Refused[p.Path()+"."+name] == "" {
			items = append(items, r.item(obj))
		}
	}
	return items
}

// fields are those that can be selected from a value of type t, promoted ones after those that hide them.
func (r *reading) fields(t types.Type) []*types.Var {
	var all []*types.Var
	seen := map[string]bool{}
	level := []types.Type{t}
	for depth := 0; len(level) > 0 && depth < 8; depth++ {
		var next []types.Type
		for _, t := range level {
			if p, ok := t.Underlying().(*types.Pointer); ok {
				t = p.Elem()
			}
			s, ok := t.Underlying().(*types.Struct)
			if !ok {
				continue
			}
			for f := range s.Fields() {
				if f.Embedded() {
					next = append(next, f.Type())
				}
				if !seen[f.Name()] && (f.Exported() || f.Pkg() == r.Package) {
					seen[f.Name()] = true
					all = append(all, f)
				}
			}
		}
		level = next
	}
	return all
}

// keys are the fields of a struct literal that it doesn't set yet; not ok where its elements have no keys.
func (r *reading) keys(id *ast.Ident, lit *ast.CompositeLit) (items []Item, ok bool) {
	t := r.Info.TypeOf(lit)
	if t == nil {
		return nil, false
	}
	if p, ok := t.Underlying().(*types.Pointer); ok { // of []*T{{...}}
		t = p.Elem()
	}
	s, ok := t.Underlying().(*types.Struct)
	if !ok {
		return nil, false
	}
	taken := map[string]bool{}
	for _, e := range lit.Elts {
		pair, ok := e.(*ast.KeyValueExpr)
		if !ok {
			if e != id {
				return nil, false
			}
			continue
		}
		if key, ok := pair.Key.(*ast.Ident); ok && key != id {
			taken[key.Name] = true
		}
	}
	items = []Item{}
	for f := range s.Fields() {
		if !taken[f.Name()] && (f.Exported() || f.Pkg() == r.Package) {
			items = append(items, r.item(f))
		}
	}
	return items, true
}

// visible are all that can be named at an identifier, innermost first, and the keywords.
func (r *reading) visible(id *ast.Ident) []Item {
	items := []Item{}
	if r.Package == nil {
		return items
	}
	inner := r.Package.Scope().Innermost(id.Pos())
	if inner == nil {
		inner = r.Package.Scope()
	}
	for scope := inner; scope != nil; scope = scope.Parent() {
		for _, name := range scope.Names() {
			found, obj := inner.LookupParent(name, id.Pos())
			if found == scope && obj.Pos() != id.Pos() && !silent[name] {
				items = append(items, r.item(obj))
			}
		}
	}
	for _, word := range keywords {
		items = append(items, Item{Label: word, Kind: "keyword"})
	}
	return items
}

// keywords are those that recipes may use.
var keywords = []string{"break", "case", "const", "continue", "default", "defer", "else", "fallthrough", "for", "func",
	"goto", "if", "import", "interface", "map", "range", "return", "struct", "switch", "type", "var"}

// silent are predeclared functions whose output nobody sees.
var silent = map[string]bool{"print": true, "println": true}

// item makes the completion of an object.
func (r *reading) item(obj types.Object) Item {
	return Item{Label: obj.Name(), Kind: kind(obj), Detail: r.detail(obj), Doc: r.doc(obj)}
}
