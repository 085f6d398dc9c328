// Package language answers the editor of the page about the source of a recipe: what can stand at the cursor, what
// something is, how it is called, where it comes from, how gofmt would write it.
//
// Sources are as a writer leaves them: mostly broken somewhere. What can be understood of one is answered; where
// nothing can, the answer is empty. Offsets count bytes from 0, lines and columns count from 1, columns in bytes.
package language

import (
	"go/ast"
	"go/token"
	"slices"
	"unicode"
	"unicode/utf8"

	"tossline/kernel/interp/check"
)

// Completions are what can stand in place of the identifier or path that begins at From and ends at the cursor.
type Completions struct {
	From  int    `json:"from"`
	Items []Item `json:"items"`
}

// Item is one completion.
type Item struct {
	Label  string `json:"label"` // what is put in
	Kind   string `json:"kind"`  // namespace, function, method, property, variable, constant, type, keyword
	Detail string `json:"detail,omitempty"`
	Doc    string `json:"doc,omitempty"` // the first paragraph of its doc comment
}

// Hover describes what stands from From to To: its declaration, an empty line, its doc comment. Text is empty where
// there is nothing to say.
type Hover struct {
	From int    `json:"from"`
	To   int    `json:"to"`
	Text string `json:"text"`
}

// Signature is the function that is called around the cursor. Label is empty where none is.
type Signature struct {
	Label  string   `json:"label"` // as declared: "Where(column string, values ...string) table.Table"
	Doc    string   `json:"doc,omitempty"`
	Params []string `json:"params"` // as they stand in Label
	Active int      `json:"active"` // which of them the cursor is at; past the last one where there are too many
}

// Definition is where something is declared in the recipe. Line is 0 where it is declared elsewhere, or nowhere.
type Definition struct {
	Line   int `json:"line"`
	Column int `json:"column"`
}

// reading is a source, parsed and checked as far as it goes.
type reading struct {
	*check.Checked
	source string
	base   int // position of offset 0

	comments map[token.Pos]*ast.CommentGroup // of what the recipe declares, by its name's position; made when asked for
}

// read reads a source. It gives nil where that is impossible.
func read(source string) *reading {
	checked, err := check.File("recipe.go", source)
	if err != nil {
		return nil
	}
	return &reading{Checked: checked, source: source, base: checked.Files.File(checked.File.FileStart).Base()}
}

// offset is where a position lies in the source.
func (r *reading) offset(p token.Pos) int { return int(p) - r.base }

// pos is the position of an offset.
func (r *reading) pos(offset int) token.Pos { return token.Pos(r.base + offset) }

// identifier is the one from an offset to another, with the nodes around it, innermost first; nil where there is none.
func (r *reading) identifier(from, to int) (id *ast.Ident, around []ast.Node) {
	ast.PreorderStack(r.File, nil, func(n ast.Node, stack []ast.Node) bool {
		if here, ok := n.(*ast.Ident); ok && n.Pos() == r.pos(from) && n.End() == r.pos(to) {
			id, around = here, slices.Clone(stack)
			slices.Reverse(around)
		}
		return id == nil
	})
	return id, around
}

// word is the identifier around an offset, empty where there is none.
func word(source string, offset int) (from, to int) {
	from, to = offset, offset
	for from > 0 {
		c, n := utf8.DecodeLastRuneInString(source[:from])
		if !inName(c) {
			break
		}
		from -= n
	}
	for to < len(source) {
		c, n := utf8.DecodeRuneInString(source[to:])
		if !inName(c) {
			break
		}
		to += n
	}
	return from, to
}

func inName(c rune) bool { return c == '_' || unicode.IsLetter(c) || unicode.IsDigit(c) }
