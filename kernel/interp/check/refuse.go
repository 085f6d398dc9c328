package check

import (
	"go/ast"
	"go/token"
	"go/types"
	"strconv"
	"strings"

	"tossline/kernel/interp/api"
)

const (
	noConcurrency = "recipes have no goroutines and channels: they would outlive a step and break the safety of its " +
		"memory; seasons and tables use all cores by themselves"
	noDirectives = "recipes take no directives for the compiler"
)

// refuse adds what is good Go but not for recipes.
func (c *Checked) refuse(offered api.Types) {
	if c.File.Name.Name != "recipe" {
		c.Add(c.File.Name, "a recipe is of package recipe, not %s", c.File.Name.Name)
	}
	c.refuseComments()
	c.refuseImports()
	for _, d := range c.File.Decls {
		f, ok := d.(*ast.FuncDecl)
		if ok && f.Recv == nil && f.Name.Name == "init" {
			c.Add(f.Name, "recipes have no init; give a variable its value where it is declared")
		}
		if ok && f.Body == nil {
			c.Add(f.Name, "missing function body")
		}
	}
	sizes := map[types.Type]int64{}
	ast.Inspect(c.File, func(n ast.Node) bool {
		c.refuseSyntax(n, sizes)
		return true
	})
	c.refuseObjects(offered)
	c.refuseAssignments()
}

func (c *Checked) refuseComments() {
	for _, group := range c.File.Comments {
		for _, comment := range group.List {
			text := comment.Text
			if strings.HasPrefix(text, "//go:") || strings.HasPrefix(text, "//line ") ||
				strings.HasPrefix(text, "/*line ") || strings.HasPrefix(text, "// +build") {
				c.Add(comment, noDirectives)
			}
		}
	}
}

func (c *Checked) refuseImports() {
	for _, spec := range c.File.Imports {
		path, _ := strconv.Unquote(spec.Path.Value)
		if spec.Name != nil && (spec.Name.Name == "." || spec.Name.Name == "_") {
			c.Add(spec, "import %q under a name", path)
		}
	}
}

func (c *Checked) refuseSyntax(n ast.Node, sizes map[types.Type]int64) {
	switch n := n.(type) {
	case *ast.GoStmt, *ast.SelectStmt, *ast.SendStmt, *ast.ChanType:
		c.Add(n, noConcurrency)
	case *ast.UnaryExpr:
		if n.Op == token.ARROW {
			c.Add(n, noConcurrency)
		}
	case *ast.ArrayType, *ast.CompositeLit, *ast.StructType:
		if t := c.Info.TypeOf(n.(ast.Expr)); t != nil && elements(t, sizes) > MaxArray {
			c.Add(n, "a value of more than %d elements is too large; use make", MaxArray)
		}
	}
}

// elements counts what a value of a type holds without pointing to it, up to a little more than MaxArray. A type that
// contains itself, which is a mistake of its own, counts once.
func elements(t types.Type, sizes map[types.Type]int64) int64 {
	if n, known := sizes[t]; known {
		return n
	}
	sizes[t] = 1
	switch u := t.Underlying().(type) {
	case *types.Array:
		if n := min(u.Len(), MaxArray+1); n > 0 {
			sizes[t] = min(n*elements(u.Elem(), sizes), MaxArray+1)
		}
	case *types.Struct:
		n := int64(1)
		for f := range u.Fields() {
			n = min(n+elements(f.Type(), sizes), MaxArray+1)
		}
		sizes[t] = n
	}
	return sizes[t]
}

// refuseObjects refuses objects of allowed packages that recipes may not use, and that the interpreter doesn't have.
func (c *Checked) refuseObjects(offered api.Types) {
	for id, object := range c.Info.Uses {
		if b, ok := object.(*types.Builtin); ok && (b.Name() == "print" || b.Name() == "println") {
			c.Add(id, "%s is for the making of Go itself; use fmt.P%s", b.Name(), b.Name()[1:])
			continue
		}
		if handsOutMemory(object) {
			c.Add(id, "recipes may not use %s: it hands out memory that tables share; tables have Numbers, Texts and Row",
				object.Name())
			continue
		}
		if object.Pkg() == nil || object.Pkg() == c.Package || object.Parent() != object.Pkg().Scope() {
			continue
		}
		name := object.Pkg().Name() + "." + object.Name()
		if reason := api.Refused[object.Pkg().Path()+"."+object.Name()]; reason != "" {
			c.Add(id, "recipes may not use %s: %s", name, reason)
		} else if !offered.Has(object) {
			c.Add(id, "recipes may not use %s", name)
		}
	}
}

// handsOutMemory tells whether an object is one of Arrow's methods by which a recipe could change what other steps
// hold, too: those that give slices and buffers, or free them.
func handsOutMemory(object types.Object) bool {
	f, ok := object.(*types.Func)
	if !ok || f.Pkg() == nil || f.Signature().Recv() == nil ||
		!strings.HasPrefix(f.Pkg().Path(), "github.com/apache/arrow/") {
		return false
	}
	for result := range f.Signature().Results().Variables() {
		if _, slice := result.Type().Underlying().(*types.Slice); slice {
			return true
		}
	}
	switch f.Name() {
	case "Data", "Dictionary", "Retain", "Release", "Reset", "SetDictionary":
		return true
	}
	return false
}

// refuseAssignments refuses to change a variable of the package in a function: what a step gives would then depend on
// which steps ran before it.
func (c *Checked) refuseAssignments() {
	for _, d := range c.File.Decls {
		f, ok := d.(*ast.FuncDecl)
		if !ok || f.Body == nil {
			continue
		}
		ast.Inspect(f.Body, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.AssignStmt:
				if n.Tok != token.DEFINE {
					for _, left := range n.Lhs {
						c.refuseChange(left)
					}
				}
			case *ast.IncDecStmt:
				c.refuseChange(n.X)
			case *ast.RangeStmt:
				if n.Tok == token.ASSIGN {
					c.refuseChange(n.Key)
					c.refuseChange(n.Value)
				}
			case *ast.UnaryExpr:
				if n.Op == token.AND {
					c.refuseChange(n.X)
				}
			case *ast.CallExpr:
				c.refuseClearing(n)
			}
			return true
		})
	}
}

func (c *Checked) refuseClearing(call *ast.CallExpr) {
	id, ok := ast.Unparen(call.Fun).(*ast.Ident)
	if !ok || len(call.Args) == 0 {
		return
	}
	if b, ok := c.Info.Uses[id].(*types.Builtin); ok {
		switch b.Name() {
		case "clear", "delete", "copy":
			c.refuseChange(call.Args[0])
		}
	}
}

func (c *Checked) refuseChange(target ast.Expr) {
	root := target
	for {
		switch e := root.(type) {
		case *ast.ParenExpr:
			root = e.X
		case *ast.IndexExpr:
			root = e.X
		case *ast.SliceExpr:
			root = e.X
		case *ast.StarExpr:
			root = e.X
		case *ast.SelectorExpr:
			if id, ok := e.X.(*ast.Ident); ok {
				if _, isPackage := c.Info.Uses[id].(*types.PkgName); isPackage {
					c.Add(target, "%s belongs to its package; a recipe doesn't change it", types.ExprString(e))
					return
				}
			}
			root = e.X
		case *ast.Ident:
			if v, ok := c.Info.Uses[e].(*types.Var); ok && v.Parent() == c.Package.Scope() {
				c.Add(target, "%s is shared by all steps, so no function may change it: what a step gives would "+
					"depend on the steps before; pass it as a result", e.Name)
			}
			return
		default:
			return
		}
	}
}
