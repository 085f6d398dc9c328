package host

// Place is where a function was when a recipe panicked.
type Place struct {
	Function     string // "Spread", "Rows.Sum"; for a function literal the function around
	Line, Column int
}

// Trail follows a traced recipe through its statements.
type Trail struct {
	now *Frame
}

// Frame is one call of a function of the recipe.
type Frame struct {
	trail  *Trail
	caller *Frame
	place  Place
}

// Places are the functions that were under way when the recipe panicked, innermost first, each at the statement that it
// had come to. A call that went too deep had come to none: the one before is innermost.
func (t *Trail) Places() []Place {
	var all []Place
	for f := t.now; f != nil; f = f.caller {
		if f.place.Line > 0 {
			all = append(all, f.place)
		}
	}
	return all
}

// enter begins a call.
func (t *Trail) enter(function string) *Frame {
	t.now = &Frame{t, t.now, Place{Function: function}}
	return t.now
}

// At notes the statement that is next.
func (f *Frame) At(line, column int) {
	f.place.Line, f.place.Column = line, column
	f.trail.now = f
}

// Leave ends the call, once the results are known.
func (f *Frame) Leave() { f.trail.now = f.caller }

// Deep ends a recursion that goes too far: the stack would end the process, and a panic takes time by the square of how
// deep it is.
func Deep() {
	panic(failure("a function of the recipe calls itself more than 1000 times deep"))
}
