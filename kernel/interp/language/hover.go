package language

import (
	"go/ast"
	"go/types"
	"strconv"
	"strings"

	"tossline/kernel/interp/api"
)

// HoverAt describes what stands at an offset: an identifier, or the path of an import.
func HoverAt(source string, offset int) Hover {
	r := read(source)
	if r == nil || offset < 0 || offset > len(source) {
		return Hover{}
	}
	if spec := r.importAt(offset); spec != nil {
		path, err := strconv.Unquote(spec.Path.Value)
		if err != nil || api.Doc(path) == "" {
			return Hover{}
		}
		return Hover{r.offset(spec.Path.Pos()), r.offset(spec.Path.End()), "package " + path + "\n\n" + api.Doc(path)}
	}
	id, obj := r.identifierAt(offset)
	if obj == nil {
		return Hover{}
	}
	text := r.declaration(obj)
	if step := r.bound(obj); step != nil {
		text += "\n\nThe first result of step " + step.Name.Name + ": " + paragraph(step.Doc.Text())
	} else if doc := r.doc(obj); doc != "" {
		text += "\n\n" + doc
	}
	return Hover{r.offset(id.Pos()), r.offset(id.End()), strings.TrimSpace(text)}
}

// DefinitionAt is where the recipe declares what stands at an offset. A parameter of a step leads to the step whose
// result it takes.
func DefinitionAt(source string, offset int) Definition {
	r := read(source)
	if r == nil || offset < 0 || offset > len(source) {
		return Definition{}
	}
	_, obj := r.identifierAt(offset)
	if obj == nil {
		return Definition{}
	}
	at := obj.Pos()
	if step := r.bound(obj); step != nil {
		at = step.Name.Pos()
	} else if named := r.settings(obj); named != nil {
		at = named.Pos()
	} else if obj.Pkg() != r.Package || !at.IsValid() {
		return Definition{}
	}
	p := r.Files.PositionFor(at, false)
	return Definition{p.Line, p.Column}
}

// settings is the type of the recipe that a parameter of a step is given a value of: that of its settings.
func (r *reading) settings(obj types.Object) types.Object {
	if obj.Name() != "settings" || obj.Pkg() != r.Package {
		return nil
	}
	named, ok := obj.Type().(*types.Named)
	if !ok || named.Obj().Pkg() != r.Package {
		return nil
	}
	return named.Obj()
}

// identifierAt is the identifier at an offset and what it stands for; both nil where there is none.
func (r *reading) identifierAt(offset int) (*ast.Ident, types.Object) {
	from, to := word(r.source, offset)
	if from == to {
		return nil, nil
	}
	id, _ := r.identifier(from, to)
	if id == nil {
		return nil, nil
	}
	return id, r.Info.ObjectOf(id)
}

// importAt is the import whose path an offset lies in, nil where there is none.
func (r *reading) importAt(offset int) *ast.ImportSpec {
	for _, spec := range r.File.Imports {
		if p := r.pos(offset); spec.Path.Pos() < p && p < spec.Path.End() {
			return spec
		}
	}
	return nil
}
