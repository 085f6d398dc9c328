package interp

import (
	"context"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"io"
	"maps"
	"reflect"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing/fstest"

	"github.com/traefik/yaegi/interp"

	"tossline/kernel/interp/lower"
	"tossline/kernel/interp/symbols"
)

// program is one version of a recipe in an interpreter of its own. After a stop or a panic it is broken, since the
// interpreter's functions then give zeros without a word; it is used no more.
type program struct {
	recipe     *recipe
	lowered    []byte
	machine    *interp.Interpreter
	trampoline *interp.Program
	next       func() // what the trampoline runs
	functions  map[string]reflect.Value
	output     *output
	broken     bool
}

// panicked is the value that a recipe panicked with.
type panicked struct{ value any }

// compile makes the interpreter ready for what a recipe was lowered to, and gives the package's variables their values.
// The trail is that of a traced one. The failure is a panic of those values.
func compile(ctx context.Context, r *recipe, lowered []byte, trail *lower.Trail, out io.Writer) (
	*program, *panicked, error) {
	p := &program{recipe: r, lowered: lowered, functions: map[string]reflect.Value{}, output: &output{}}
	p.output.to(out)
	p.machine = interp.New(interp.Options{
		Stdout: p.output, Stderr: io.Discard, SourcecodeFilesystem: fstest.MapFS{}, // no file is ever read
	})
	file, err := parser.ParseFile(p.machine.FileSet(), r.name, lowered, parser.ParseComments|parser.SkipObjectResolution)
	if err != nil {
		return nil, nil, fmt.Errorf("the recipe can't be made ready: %w", err)
	}
	if err := p.machine.Use(p.symbols(file, trail)); err != nil {
		return nil, nil, err
	}
	if _, err := p.machine.Eval(`import "tossline/trampoline"`); err != nil {
		return nil, nil, err
	}
	if p.trampoline, err = p.machine.Compile(`trampoline.Next()`); err != nil {
		return nil, nil, err
	}
	whole, err := p.machine.CompileAST(file)
	if err != nil {
		return nil, nil, fmt.Errorf("the interpreter can't run the recipe: %w", err)
	}
	var initial error
	failure, err := p.execute(ctx, func() { _, initial = p.machine.Execute(whole) })
	var inner interp.Panic
	if errors.As(initial, &inner) {
		failure = &panicked{inner.Value}
	} else if err == nil {
		err = initial
	}
	if failure != nil || err != nil {
		return nil, failure, err
	}
	for _, s := range r.steps {
		if p.functions[s.name], err = p.machine.Eval("recipe." + s.name); err != nil {
			return nil, nil, fmt.Errorf("step %s: %w", s.name, err)
		}
	}
	return p, nil, nil
}

// symbols gives the interpreter what the recipe imports, and no more.
func (p *program) symbols(file *ast.File, trail *lower.Trail) interp.Exports {
	exports := interp.Exports{"tossline/trampoline/trampoline": {
		"Next": reflect.ValueOf(func() { p.next() }),
	}}
	maps.Copy(exports, lower.Exports(trail))
	for _, spec := range file.Imports {
		path, _ := strconv.Unquote(spec.Path.Value)
		for name, values := range symbols.Symbols {
			if name[:strings.LastIndexByte(name, '/')] == path {
				exports[name] = values
			}
		}
	}
	return exports
}

// execute runs something that calls interpreted functions until its end, or the context's; nothing of it runs any more
// when it returns. The error is the cause of a stop.
func (p *program) execute(ctx context.Context, what func()) (*panicked, error) {
	var mu sync.Mutex // guards begun and stopped
	begun, stopped := false, false
	ended := make(chan struct{})
	var failure *panicked
	p.next = func() {
		mu.Lock()
		begun = !stopped
		mu.Unlock()
		if !begun {
			return
		}
		defer close(ended)
		func() {
			defer func() {
				if value := recover(); value != nil {
					failure = &panicked{value}
				}
			}()
			what()
		}()
		if ctx.Err() != nil {
			runtime.Goexit() // ExecuteWithContext has returned, and must not be given a result any more
		}
	}
	_, err := p.machine.ExecuteWithContext(ctx, p.trampoline)
	mu.Lock()
	stopped = true
	mu.Unlock()
	if begun {
		<-ended
	}
	switch {
	case ctx.Err() != nil:
		p.broken = true
		return nil, context.Cause(ctx)
	case err != nil:
		return nil, fmt.Errorf("the interpreter can't run the recipe: %w", err)
	case failure != nil:
		p.broken = true
	}
	return failure, nil
}

// call runs a step.
func (p *program) call(ctx context.Context, s *step, inputs []reflect.Value) ([]reflect.Value, *panicked, error) {
	var values []reflect.Value
	failure, err := p.execute(ctx, func() { values = p.functions[s.name].Call(inputs) })
	return values, failure, err
}

// at says what a panic means to the reader.
func (p *panicked) at(places []lower.Place) *StepError {
	e := &StepError{}
	switch v := lower.Reason(p.value).(type) {
	case error:
		e.Message = strings.TrimPrefix(strings.TrimPrefix(said(v), "runtime error: "), "reflect: ")
	case string:
		e.Message = strings.TrimPrefix(v, "reflect: ")
	default:
		e.Message = fmt.Sprint(v)
	}
	for i, at := range places[:min(len(places), maxTrace)] {
		if i == 0 {
			e.Line, e.Column = at.Line, at.Column
		}
		e.Trace = append(e.Trace, fmt.Sprintf("%s, line %d", at.Function, at.Line))
	}
	return e
}

// maxTrace is the most lines of a trace.
const maxTrace = 10

// output passes on what a recipe prints, to whichever run is under way.
type output struct {
	mu sync.Mutex
	w  io.Writer
}

func (o *output) to(w io.Writer) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.w = w
}

func (o *output) Write(b []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.w == nil {
		return len(b), nil
	}
	return o.w.Write(b)
}
