package main

import (
	"bytes"
	"compress/gzip"
	"encoding/gob"
	"go/ast"
	"go/format"
	"go/token"
	"maps"
	"os"
	"slices"
	"strings"

	"golang.org/x/tools/go/packages"

	"tossline/kernel/interp/api"
)

// writeDocs writes the doc comments of all packages, compressed, by the names that api.Doc takes.
func writeDocs(name string) error {
	loaded, err := packages.Load(&packages.Config{Mode: packages.NeedName | packages.NeedFiles | packages.NeedSyntax},
		append([]string{"builtin"}, api.Packages...)...)
	if err != nil {
		return err
	}
	docs := documentation{}
	for _, p := range loaded {
		for _, f := range p.Syntax {
			docs.put(p.PkgPath, f.Doc)
			for _, d := range f.Decls {
				docs.declaration(p, d)
			}
		}
	}
	var packed bytes.Buffer
	z, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return err
	}
	if err := gob.NewEncoder(z).Encode(docs.sorted()); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	return os.WriteFile(name, packed.Bytes(), 0o644)
}

// documentation is the text of doc comments by the name of what they describe.
type documentation map[string]string

// sorted has names and texts one after the other, so that the same comments give the same bytes.
func (d documentation) sorted() []string {
	var out []string
	for _, name := range slices.Sorted(maps.Keys(d)) {
		out = append(out, name, d[name])
	}
	return out
}

// put keeps the first comment that says something.
func (d documentation) put(name string, comments ...*ast.CommentGroup) {
	for _, c := range comments {
		if text := strings.TrimSpace(c.Text()); text != "" {
			d[name] = text
			return
		}
	}
}

func (d documentation) declaration(p *packages.Package, decl ast.Decl) {
	switch decl := decl.(type) {
	case *ast.FuncDecl:
		name := p.PkgPath + "."
		if decl.Recv != nil {
			name += receiver(decl.Recv.List[0].Type) + "."
		}
		name += decl.Name.Name
		if !decl.Name.IsExported() && p.PkgPath != "builtin" {
			return
		}
		d.put(name, decl.Doc)
		if p.PkgPath == "builtin" { // has no types to tell how it is called
			d[name] = header(p.Fset, decl) + "\n\n" + d[name]
		}
	case *ast.GenDecl:
		for _, s := range decl.Specs {
			switch s := s.(type) {
			case *ast.ValueSpec:
				for _, id := range s.Names {
					d.put(p.PkgPath+"."+id.Name, s.Doc, s.Comment, alone(decl))
				}
			case *ast.TypeSpec:
				d.put(p.PkgPath+"."+s.Name.Name, s.Doc, s.Comment, alone(decl))
				d.members(p.PkgPath+"."+s.Name.Name+".", s.Type)
			}
		}
	}
}

// alone is the comment of a declaration that declares one thing; that of a group describes none of its members.
func alone(decl *ast.GenDecl) *ast.CommentGroup {
	if len(decl.Specs) > 1 {
		return nil
	}
	return decl.Doc
}

// members puts the fields of a struct, or the methods of an interface.
func (d documentation) members(prefix string, typ ast.Expr) {
	var list *ast.FieldList
	switch typ := typ.(type) {
	case *ast.StructType:
		list = typ.Fields
	case *ast.InterfaceType:
		list = typ.Methods
	default:
		return
	}
	for _, f := range list.List {
		for _, id := range f.Names {
			if id.IsExported() {
				d.put(prefix+id.Name, f.Doc, f.Comment)
			}
		}
	}
}

// receiver is the name of the type that a method belongs to.
func receiver(typ ast.Expr) string {
	switch typ := typ.(type) {
	case *ast.StarExpr:
		return receiver(typ.X)
	case *ast.IndexExpr:
		return receiver(typ.X)
	case *ast.IndexListExpr:
		return receiver(typ.X)
	case *ast.Ident:
		return typ.Name
	}
	return ""
}

// header is the declaration of a function without its body and comment.
func header(fset *token.FileSet, decl *ast.FuncDecl) string {
	bare := *decl
	bare.Doc, bare.Body = nil, nil
	var out bytes.Buffer
	format.Node(&out, fset, &bare)
	return out.String()
}
