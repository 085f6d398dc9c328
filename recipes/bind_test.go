package recipes_test

import (
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"reflect"
	"strings"
	"testing"

	"tossline/kernel/motion"
	"tossline/recipes"
)

// compiled is a recipe as the go command compiled it: its settings, and every step by name.
type compiled struct {
	settings any
	steps    map[string]any
}

// ran is what the steps of a recipe gave, in file order.
type ran struct {
	step  string
	value any
	err   error
}

// errInput is why a step did not run: a step that it takes a result of failed.
var errInput = errors.New("an input failed")

// run runs every step of a recipe, with its inputs bound by the names of its parameters as they stand in the source.
func (c compiled) run(t testing.TB, file string, season motion.Season) []ran {
	t.Helper()
	steps := stepsOf(t, file)
	if len(steps) != len(c.steps) {
		t.Fatalf("%s has %d steps, and %d are compiled", file, len(steps), len(c.steps))
	}
	return c.runSteps(t, steps, season)
}

func (c compiled) runSteps(t testing.TB, steps []declared, season motion.Season) []ran {
	t.Helper()
	known := map[string]ran{}
	var give func(step declared) ran
	give = func(step declared) ran {
		if r, ok := known[step.name]; ok {
			return r
		}
		r := ran{step: step.name}
		var in []reflect.Value
		for _, name := range step.inputs {
			switch name {
			case "season":
				in = append(in, reflect.ValueOf(season))
			case "settings":
				in = append(in, reflect.ValueOf(c.settings))
			default:
				from := give(named(t, steps, name))
				if from.err != nil {
					r.err = errInput
				}
				in = append(in, reflect.ValueOf(from.value))
			}
		}
		if r.err == nil {
			r.value, r.err = call(c.steps[step.name], in)
		}
		known[step.name] = r
		return r
	}
	var all []ran
	for _, step := range steps {
		all = append(all, give(step))
	}
	return all
}

// call calls a step. A panic is its error, as it is for an engine.
func call(step any, in []reflect.Value) (value any, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("panic: %v", r)
		}
	}()
	out := reflect.ValueOf(step).Call(in)
	if len(out) == 2 && !out[1].IsNil() {
		return nil, out[1].Interface().(error)
	}
	return out[0].Interface(), nil
}

// declared is a step as it stands in the source.
type declared struct {
	name   string
	inputs []string
	prose  string
}

func named(t testing.TB, steps []declared, input string) declared {
	t.Helper()
	for _, s := range steps {
		if strings.EqualFold(s.name, input) {
			return s
		}
	}
	t.Fatalf("no step gives %q", input)
	return declared{}
}

// parsed is the syntax of a shipped recipe.
func parsed(t testing.TB, file string) *ast.File {
	t.Helper()
	f, err := parser.ParseFile(token.NewFileSet(), file, sourceText(t, file), parser.ParseComments)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// sourceText is the text of a shipped recipe.
func sourceText(t testing.TB, file string) string {
	t.Helper()
	for _, r := range recipes.Shipped() {
		if r.File == file {
			return r.Source
		}
	}
	t.Fatalf("%s is not on the shelf", file)
	return ""
}

// stepsOf lists the exported functions of a shipped recipe.
func stepsOf(t testing.TB, file string) []declared {
	t.Helper()
	var steps []declared
	for _, d := range parsed(t, file).Decls {
		f, ok := d.(*ast.FuncDecl)
		if !ok || !f.Name.IsExported() {
			continue
		}
		s := declared{name: f.Name.Name, prose: f.Doc.Text()}
		for _, p := range f.Type.Params.List {
			for _, n := range p.Names {
				s.inputs = append(s.inputs, n.Name)
			}
		}
		steps = append(steps, s)
	}
	return steps
}
