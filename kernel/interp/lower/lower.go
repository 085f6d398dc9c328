// Package lower turns a recipe in today's Go into Go that the interpreter runs correctly, or refuses it with its
// position.
//
// The interpreter knows the language as of some years ago, and some of it not quite right. This package writes the
// checked recipe anew in the part of Go that the interpreter does right: constants are folded, names are made unique,
// generic code is instantiated, loops are given the variables that they have since Go 1.22, and what is evaluated first
// stands first. Types with names become what they are made of, and methods functions; what lies in an interface is
// held there by package host together with its type. Deferred calls and panics are the host's too. What can't be said
// in that part is refused; REFUSED.md lists it.
//
// The text that comes out carries the positions of the recipe, so that whatever the interpreter says about the one
// holds for the other.
package lower

import (
	"go/ast"
	"go/token"
	"go/types"
	"strings"
)

// Refusal is a place in a recipe that can't be run correctly, and what to write instead.
type Refusal struct {
	Pos, End token.Pos
	Message  string
}

// File lowers one checked file. The file must have been parsed with its comments and checked without errors, with all
// maps of info filled. The source is empty where anything is refused.
func File(files *token.FileSet, file *ast.File, pkg *types.Package, info *types.Info) ([]byte, []Refusal) {
	w := newWriter(files, file, pkg, info)
	w.exact = seesPanics(info) && !hides(info, "len", "cap", "int", "int64", "uint64")
	return w.lower(file)
}

// Traced lowers a file so that it leaves a trail: after a panic the trail knows every function that was under way and
// its statement, which the interpreter doesn't. What it writes is slow; it is meant for running a failed step again.
func Traced(files *token.FileSet, file *ast.File, pkg *types.Package, info *types.Info) ([]byte, []Refusal) {
	w := newWriter(files, file, pkg, info)
	w.traced, w.exact = true, !hides(info, "len", "cap", "int", "int64", "uint64")
	return w.lower(file)
}

func (w *writer) lower(file *ast.File) (source []byte, refused []Refusal) {
	if w.exact {
		w.wanted = findWanted(file)
	}
	w.file(file)
	w.checkCycles()
	if len(w.refused) > 0 {
		return nil, w.refused
	}
	return []byte(w.source(file)), nil
}

// writer holds what is known about the file while it is written.
type writer struct {
	files   *token.FileSet
	pkg     *types.Package
	info    *types.Info
	refused []Refusal
	traced  bool
	exact   bool // the text of a panic is told to the last number
	wanted  map[*ast.IndexExpr]bool

	statements int // that have been written

	unplaced bool // what is being written isn't of the recipe

	taken   map[string]bool         // names that no made-up name may have
	locals  map[string]int          // names inside the declaration that is being written: the next number of each
	names   map[types.Object]string // of package-level and local types, and of local variables
	imports map[string]string       // name by path, of the packages that the written code uses
	aliases map[string]string       // name by path, as imported in the recipe

	kept      map[types.Object]bool          // local variables that closures hold, or whose address is taken
	recursive map[types.Object]bool          // functions that may call themselves, by others too
	functions map[types.Object]*ast.FuncDecl // generic functions
	methods   map[types.Object][]*ast.FuncDecl
	instances map[types.Object][]instance
	pending   []instance
	count     int            // of instances
	unfolding []*types.Named // whose underlying types are being written

	described  []*description // types that lie in interfaces
	dispatches []*dispatch    // methods that are called of interfaces
	declared   map[string]*declared
	types      []string // written type declarations
	decls      []string // written functions
	vars       []string // written variables
	helpers    map[string]bool

	env  *environment
	fn   *function
	decl *ast.FuncDecl // that is being written

	converted ast.Expr // that was last given the type that is wanted
}

func newWriter(files *token.FileSet, file *ast.File, pkg *types.Package, info *types.Info) *writer {
	w := &writer{
		files: files, pkg: pkg, info: info,
		taken: map[string]bool{}, locals: map[string]int{}, names: map[types.Object]string{}, imports: map[string]string{},
		aliases: map[string]string{}, declared: map[string]*declared{}, kept: map[types.Object]bool{},
		recursive: map[types.Object]bool{}, functions: map[types.Object]*ast.FuncDecl{},
		methods: map[types.Object][]*ast.FuncDecl{}, instances: map[types.Object][]instance{}, helpers: map[string]bool{},
	}
	for _, name := range types.Universe.Names() {
		w.taken[name] = true
	}
	for _, name := range pkg.Scope().Names() {
		w.taken[name] = true
	}
	for _, spec := range file.Imports {
		object := info.Implicits[spec]
		if spec.Name != nil {
			object = info.Defs[spec.Name]
		}
		if imported, ok := object.(*types.PkgName); ok {
			w.aliases[imported.Imported().Path()] = imported.Name()
			w.taken[imported.Name()] = true
		}
	}
	w.taken["host"] = true
	ast.Inspect(file, func(n ast.Node) bool { // made-up names look like this
		if id, ok := n.(*ast.Ident); ok && strings.ContainsAny(id.Name, "ᐧᐸᐳ") {
			w.taken[id.Name] = true
		}
		return true
	})
	return w
}

// refuse notes that a node can't be run correctly.
func (w *writer) refuse(at ast.Node, message string) {
	for _, r := range w.refused {
		if r.Pos == at.Pos() && r.Message == message {
			return
		}
	}
	w.refused = append(w.refused, Refusal{at.Pos(), at.End(), message})
}

// fresh makes a name that nothing else has inside the declaration that is being written.
func (w *writer) fresh(base string) string {
	name := w.unused(base)
	w.locals[name] = 2
	return name
}

// global makes a name that nothing else has.
func (w *writer) global(base string) string {
	name := w.unused(base)
	w.taken[name] = true
	return name
}

func (w *writer) unused(base string) string {
	name := base
	for n := max(2, w.locals[base]); w.taken[name] || w.locals[name] != 0; n++ {
		name = base + "ᐧ" + itoa(n)
		w.locals[base] = n + 1
	}
	return name
}

// source puts the written declarations together.
func (w *writer) source(file *ast.File) string {
	var b strings.Builder
	b.WriteString(w.mark(file.Package) + "package " + file.Name.Name + "\n")
	for _, path := range sorted(w.imports) {
		b.WriteString("import " + w.imports[path] + " " + quote(path) + "\n")
	}
	b.WriteString("var " + depthVariable + " int\n")
	for _, part := range [][]string{w.types, w.descriptions(), w.decls, w.dispatchers(), w.vars} {
		for _, d := range part {
			b.WriteString(d + "\n")
		}
	}
	return b.String()
}

// mark is a comment that gives what follows the position of the recipe.
func (w *writer) mark(pos token.Pos) string {
	if !pos.IsValid() || w.unplaced {
		return ""
	}
	p := w.files.PositionFor(pos, false)
	return "/*line " + p.Filename + ":" + itoa(p.Line) + ":" + itoa(p.Column) + "*/"
}
