package language

import (
	"cmp"
	"go/ast"
	"go/types"
	"slices"
	"strings"

	"tossline/kernel/interp/check"
)

// steps are the recipe's steps that give a result: one without is still being written.
func (r *reading) steps() []*ast.FuncDecl {
	return slices.DeleteFunc(r.Steps(), func(f *ast.FuncDecl) bool { return f.Type.Results.NumFields() == 0 })
}

// bound is the step that an object, if it is a parameter of another step, is bound to.
func (r *reading) bound(obj types.Object) *ast.FuncDecl {
	if _, ok := obj.(*types.Var); !ok {
		return nil
	}
	for _, user := range r.steps() {
		for _, field := range user.Type.Params.List {
			for _, id := range field.Names {
				if id.Pos() != obj.Pos() {
					continue
				}
				for _, step := range r.steps() {
					if step != user && check.Parameter(step.Name.Name) == obj.Name() {
						return step
					}
				}
			}
		}
	}
	return nil
}

// gives is the type of a step's first result as the recipe writes it.
func (r *reading) gives(step *ast.FuncDecl) string {
	t := step.Type.Results.List[0].Type
	return strings.TrimSpace(r.source[r.offset(t.Pos()):r.offset(t.End())])
}

// parameters are what a step can take, where id is the name of one of its parameters; with their types, where it has
// none yet.
func (r *reading) parameters(id *ast.Ident, field *ast.Field, around []ast.Node) (items []Item, ok bool) {
	step := enclosingStep(around)
	if step == nil || len(around) < 2 || around[1] != ast.Node(step.Type.Params) {
		return nil, false
	}
	named := slices.Contains(field.Names, id)
	if _, untyped := field.Type.(*ast.BadExpr); untyped {
		named = false
	} else if !named && (field.Type != id || len(field.Names) > 0) {
		return nil, false
	}
	taken := map[string]bool{}
	for _, f := range step.Type.Params.List {
		for _, other := range f.Names {
			taken[other.Name] = other != id
		}
	}
	items = []Item{}
	put := func(name, typ, doc string) {
		if taken[name] {
			return
		}
		item := Item{Label: name, Kind: "variable", Detail: typ, Doc: doc}
		if !named && typ != "" {
			item.Label = name + " " + typ
			item.Detail = ""
		}
		items = append(items, item)
	}
	for _, other := range r.steps() {
		if other != step {
			put(check.Parameter(other.Name.Name), r.gives(other), "The first result of step "+other.Name.Name+": "+
				paragraph(other.Doc.Text()))
		}
	}
	put("season", "motion.Season", "The season of the page.")
	if r.Package != nil && r.Package.Scope().Lookup("Settings") != nil {
		put("settings", "Settings", "The settings of the page.")
	}
	put("progress", "func(done, total int)", "Tells the page how far a long step is.")
	slices.SortStableFunc(items, func(a, b Item) int { return cmp.Compare(a.Label, b.Label) })
	return items, true
}

// enclosingStep is the exported function among the nodes.
func enclosingStep(around []ast.Node) *ast.FuncDecl {
	for _, n := range around {
		if f, ok := n.(*ast.FuncDecl); ok && f.Recv == nil && f.Name.IsExported() {
			return f
		}
	}
	return nil
}
