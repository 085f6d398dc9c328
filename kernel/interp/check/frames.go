package check

import (
	"go/ast"
	"go/types"
)

const loopsOverFrames = "this loop runs over frames in the interpreter, many times slower than compiled code; " +
	"season.Measure and season.Curves run over the frames of all serves compiled, on all cores"

// warnOfFrameLoops points at the loops that make a recipe slow: those that look at the single frames of a serve.
func (c *Checked) warnOfFrameLoops() {
	ast.Inspect(c.File, func(n ast.Node) bool {
		switch loop := n.(type) {
		case *ast.ForStmt:
			if c.readsFrames(loop.Body) {
				c.warn(loop, loop.Body)
				return false
			}
		case *ast.RangeStmt:
			if c.isPath(loop.X) || c.readsFrames(loop.Body) {
				c.warn(loop, loop.Body)
				return false
			}
		}
		return true
	})
}

func (c *Checked) warn(loop ast.Node, body *ast.BlockStmt) {
	c.Problems = append(c.Problems, Problem{Pos: loop.Pos(), End: body.Lbrace, Message: loopsOverFrames, Warning: true})
}

// readsFrames says whether the body of a loop looks at the body at one time after the other, or into a path of points.
func (c *Checked) readsFrames(body *ast.BlockStmt) bool {
	found := false
	ast.Inspect(body, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.CallExpr:
			if name, ok := n.Fun.(*ast.SelectorExpr); ok {
				if f, ok := c.Info.Uses[name.Sel].(*types.Func); ok && f.FullName() == "tossline/kernel/motion.PoseAt" {
					found = true
				}
			}
		case *ast.IndexExpr:
			found = found || c.isPath(n.X)
		}
		return !found
	})
	return found
}

// isPath says whether an expression is the path of a landmark, a position for each frame.
func (c *Checked) isPath(e ast.Expr) bool {
	t := c.Info.TypeOf(e)
	return t != nil && types.TypeString(t.Underlying(), nil) == "[]gonum.org/v1/gonum/spatial/r3.Vec"
}
