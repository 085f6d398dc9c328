// Package check parses and type-checks a recipe, as the Go compiler would, and refuses what recipes may not do.
//
// The types of the packages that a recipe may import come from package api, so that no Go toolchain is needed. All
// mistakes are reported at once, in the compiler's words and at their positions in the recipe.
package check

import (
	"cmp"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/scanner"
	"go/token"
	"go/types"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"tossline/kernel/interp/api"
)

// Dialect is the version of Go that recipes are written in.
const Dialect = "go1.26"

// Limits of a recipe's source.
const (
	MaxBytes   = 256 << 10
	MaxLines   = 5000
	MaxNesting = 200     // brackets within brackets
	MaxChain   = 1000    // operators, calls and selections in one expression
	MaxArray   = 1 << 20 // elements of an array type, those of arrays in it too
)

// maxSyntax bounds the syntax errors that are told, as the compiler does: one open string makes hundreds.
const maxSyntax = 10

// Problem is one remark about a source. End is not valid where only one position is known.
type Problem struct {
	Pos, End token.Pos
	Message  string
	Warning  bool // the recipe runs all the same
}

// Checked is a recipe as it was understood. File is never nil; what is known of a source with mistakes is kept, for
// the editor. It runs only when Problems has nothing but warnings.
type Checked struct {
	Files    *token.FileSet
	File     *ast.File
	Package  *types.Package
	Info     *types.Info
	Problems []Problem // in the order of their positions
}

// Sound says whether the recipe may run.
func (c *Checked) Sound() bool {
	return !slices.ContainsFunc(c.Problems, func(p Problem) bool { return !p.Warning })
}

// Steps are the functions that are steps of the recipe: the exported ones, in the order of the file.
func (c *Checked) Steps() []*ast.FuncDecl {
	var all []*ast.FuncDecl
	for _, d := range c.File.Decls {
		if f, ok := d.(*ast.FuncDecl); ok && f.Recv == nil && f.Name.IsExported() {
			all = append(all, f)
		}
	}
	return all
}

// Parameter is the name under which other steps take a step's first result: contacts for Contacts.
func Parameter(step string) string {
	first, size := utf8.DecodeRuneInString(step)
	return string(unicode.ToLower(first)) + step[size:]
}

// Add remarks on a node of the source.
func (c *Checked) Add(at ast.Node, format string, values ...any) {
	c.Problems = append(c.Problems, Problem{Pos: at.Pos(), End: at.End(), Message: fmt.Sprintf(format, values...)})
}

// Sort puts the problems in the order of their positions, one of each.
func (c *Checked) Sort() {
	slices.SortStableFunc(c.Problems, func(a, b Problem) int { return cmp.Compare(a.Pos, b.Pos) })
	c.Problems = slices.CompactFunc(c.Problems, func(a, b Problem) bool {
		return a.Pos == b.Pos && a.Message == b.Message
	})
}

// File checks one recipe; name is used in positions. The error says that the program itself is broken, never that the
// recipe is.
func File(name, source string) (*Checked, error) {
	offered, err := api.Load()
	if err != nil {
		return nil, err
	}
	c := &Checked{Files: token.NewFileSet(), Info: &types.Info{
		Types: map[ast.Expr]types.TypeAndValue{}, Defs: map[*ast.Ident]types.Object{},
		Uses: map[*ast.Ident]types.Object{}, Implicits: map[ast.Node]types.Object{},
		Instances: map[*ast.Ident]types.Instance{}, Selections: map[*ast.SelectorExpr]*types.Selection{},
		Scopes: map[ast.Node]*types.Scope{},
	}}
	if reason := tooLarge(source); reason != "" {
		c.refuseWhole(name, reason)
		return c, nil
	}
	c.File, err = parser.ParseFile(c.Files, name, source,
		parser.ParseComments|parser.SkipObjectResolution|parser.AllErrors)
	c.addSyntax(err)
	c.checkTypes(offered, err == nil)
	if err == nil {
		c.refuse(offered)
		c.warnOfFrameLoops()
	}
	c.Sort()
	return c, nil
}

// tooLarge is why a source isn't even parsed.
func tooLarge(source string) string {
	if len(source) > MaxBytes {
		return fmt.Sprintf("the recipe has %d KiB; the most is %d KiB", len(source)>>10, MaxBytes>>10)
	}
	if n := strings.Count(source, "\n"); n > MaxLines {
		return fmt.Sprintf("the recipe has %d lines; the most is %d", n, MaxLines)
	}
	if strings.IndexByte(source, 0) >= 0 {
		return "the recipe is no text: it has a zero byte"
	}
	nesting, chain := deepest(source)
	if nesting > MaxNesting {
		return fmt.Sprintf("brackets are nested more than %d deep", MaxNesting)
	}
	if chain > MaxChain {
		return fmt.Sprintf("an expression has more than %d operators, calls and selections", MaxChain)
	}
	return ""
}

// deepest counts the brackets open at once, and the signs before one operand, which nest as well; and what is chained
// in the longest expression, each link of which nests all that stand before it.
func deepest(source string) (nesting, chain int) {
	files := token.NewFileSet()
	var s scanner.Scanner
	s.Init(files.AddFile("", files.Base(), len(source)), []byte(source), func(token.Position, string) {}, 0)
	open, signs, links := 0, 0, 0
	for {
		_, kind, _ := s.Scan()
		switch kind {
		case token.EOF:
			return nesting, chain
		case token.LPAREN, token.LBRACK, token.LBRACE:
			open++
		case token.RPAREN, token.RBRACK, token.RBRACE:
			open--
			signs = 0
		case token.ADD, token.SUB, token.MUL, token.NOT, token.XOR, token.AND, token.ARROW, token.MAP, token.CHAN,
			token.FUNC:
			signs++
		case token.IDENT, token.INT, token.FLOAT, token.STRING, token.CHAR, token.SEMICOLON:
			signs = 0
		}
		switch {
		case kind == token.SEMICOLON || kind == token.COMMA || kind == token.LBRACE || kind == token.RBRACE:
			links = 0
		case kind.Precedence() > token.LowestPrec, kind == token.PERIOD, kind == token.RPAREN, kind == token.RBRACK:
			links++
		}
		nesting, chain = max(nesting, open+signs), max(chain, links)
	}
}

func (c *Checked) refuseWhole(name, reason string) {
	f := c.Files.AddFile(name, -1, 1)
	start := f.Pos(0)
	c.File = &ast.File{Package: start, FileStart: start, FileEnd: start,
		Name: &ast.Ident{NamePos: start, Name: "recipe"}}
	c.Package = types.NewPackage("recipe", "recipe")
	c.Problems = []Problem{{Pos: start, Message: reason}}
}

func (c *Checked) addSyntax(err error) {
	var list scanner.ErrorList
	if !errors.As(err, &list) {
		return
	}
	list.RemoveMultiples() // one a line: what follows on it follows from it
	whole := c.Files.File(c.File.FileStart)
	for _, e := range list[:min(len(list), maxSyntax)] {
		at := whole.Pos(min(max(e.Pos.Offset, 0), whole.Size()))
		c.Problems = append(c.Problems, Problem{Pos: at, Message: "syntax error: " + e.Msg})
	}
}

// checkTypes runs the type checker. Of a source that doesn't parse only its knowledge is kept, not its complaints.
func (c *Checked) checkTypes(offered api.Types, complain bool) {
	config := types.Config{Importer: offered, GoVersion: Dialect, Error: func(err error) {
		var e types.Error
		if !complain || !errors.As(err, &e) {
			return
		}
		c.Problems = append(c.Problems, Problem{Pos: e.Pos, Message: plain(e.Msg)})
	}}
	c.Package, _ = config.Check("recipe", c.Files, []*ast.File{c.File}, c.Info)
}

// plain is a message of the type checker in the compiler's words, or ours where a package is not offered.
func plain(message string) string {
	if _, reason, found := strings.Cut(message, " ("); found && strings.HasPrefix(message, "could not import ") {
		return strings.TrimSuffix(reason, ")")
	}
	return message
}
