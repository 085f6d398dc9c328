package interp

import (
	"bytes"
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

	"tossline/kernel/interp/check"
	"tossline/kernel/interp/lower"
	"tossline/kernel/interp/symbols"
	"tossline/kernel/table"
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
	trace      *trace
	broken     bool
}

// refuse turns a refusal of the lowering into a problem.
func (r *recipe) refuse(refusal lower.Refusal) {
	r.Problems = append(r.Problems, check.Problem{Pos: refusal.Pos, End: refusal.End, Message: refusal.Message})
}

// compile makes the interpreter ready, and gives the package's variables their values.
func compile(ctx context.Context, r *recipe, lowered []byte, out io.Writer) (*program, error) {
	p := &program{recipe: r, lowered: lowered, functions: map[string]reflect.Value{}, output: &output{}, trace: &trace{}}
	p.output.to(out)
	p.machine = interp.New(interp.Options{
		Stdout: p.output, Stderr: p.trace, SourcecodeFilesystem: fstest.MapFS{}, // no file is ever read
	})
	file, err := parser.ParseFile(p.machine.FileSet(), r.name, lowered, parser.ParseComments|parser.SkipObjectResolution)
	if err != nil {
		return nil, fmt.Errorf("the recipe can't be made ready: %w", err)
	}
	if err := p.machine.Use(p.symbols(file)); err != nil {
		return nil, err
	}
	if _, err := p.machine.Eval(`import "tossline/trampoline"`); err != nil {
		return nil, err
	}
	if p.trampoline, err = p.machine.Compile(`trampoline.Next()`); err != nil {
		return nil, err
	}
	whole, err := p.machine.CompileAST(file)
	if err != nil {
		return nil, fmt.Errorf("the interpreter can't run the recipe: %w", err)
	}
	var initial error
	failure, err := p.execute(ctx, func() { _, initial = p.machine.Execute(whole) })
	var inner interp.Panic
	if errors.As(initial, &inner) {
		failure = r.explain(inner.Value, p.trace.places())
	} else if err == nil {
		err = initial
	}
	if failure != nil {
		err = fmt.Errorf("%s:%d: %s", r.name, failure.Line, failure.Message)
	}
	if err != nil {
		return nil, err
	}
	for _, s := range r.steps {
		if p.functions[s.name], err = p.machine.Eval("recipe." + s.name); err != nil {
			return nil, fmt.Errorf("step %s: %w", s.name, err)
		}
	}
	return p, nil
}

// symbols gives the interpreter what the recipe imports, and no more.
func (p *program) symbols(file *ast.File) interp.Exports {
	exports := interp.Exports{"tossline/trampoline/trampoline": {
		"Next": reflect.ValueOf(func() { p.next() }),
	}}
	maps.Copy(exports, lower.Exports())
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
// when it returns. A failure is a panic's; the error is the cause of a stop.
func (p *program) execute(ctx context.Context, what func()) (*StepError, error) {
	p.trace.reset()
	var mu sync.Mutex // guards begun and stopped
	begun, stopped := false, false
	ended := make(chan struct{})
	var panicked any
	p.next = func() {
		mu.Lock()
		begun = !stopped
		mu.Unlock()
		if !begun {
			return
		}
		defer close(ended)
		func() {
			defer func() { panicked = recover() }()
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
	case panicked != nil:
		p.broken = true
		return p.recipe.explain(panicked, p.trace.places()), nil
	}
	return nil, nil
}

// call runs a step. A failure is the step's; the error ends the run.
func (p *program) call(ctx context.Context, s *step, inputs []reflect.Value) ([]reflect.Value, *StepError, error) {
	var values []reflect.Value
	failure, err := p.execute(ctx, func() { values = p.functions[s.name].Call(inputs) })
	if err != nil || failure != nil {
		return nil, failure, err
	}
	if !s.fails {
		return values, nil, nil
	}
	last := values[len(values)-1]
	values = values[:len(values)-1]
	if failed, ok := last.Interface().(error); ok && failed != nil {
		if errors.Is(failed, context.Canceled) && ctx.Err() != nil {
			return nil, nil, context.Cause(ctx)
		}
		first, _ := p.recipe.lines(s)
		return nil, &StepError{Message: failed.Error(), Line: first}, nil
	}
	return values, nil, nil
}

// explain says what a panic means to the reader.
func (r *recipe) explain(value any, places []place) *StepError {
	e := &StepError{}
	switch v := value.(type) {
	case *table.Error:
		e.Message = v.Error()
	case error:
		e.Message = strings.TrimPrefix(strings.TrimPrefix(v.Error(), "runtime error: "), "reflect: ")
	case string:
		e.Message = strings.TrimPrefix(v, "reflect: ")
	default:
		e.Message = fmt.Sprint(v)
	}
	for i, at := range places {
		if i == 0 {
			e.Line, e.Column = at.line, at.column
		}
		if i == maxTrace {
			break
		}
		e.Trace = append(e.Trace, fmt.Sprintf("%s, line %d", r.functionAt(at.line), at.line))
	}
	return e
}

// maxTrace is the most lines of a trace.
const maxTrace = 10

// functionAt names the function that a line lies in.
func (r *recipe) functionAt(line int) string {
	for _, d := range r.File.Decls {
		f, ok := d.(*ast.FuncDecl)
		if ok && r.Files.Position(f.Pos()).Line <= line && line <= r.Files.Position(f.End()).Line {
			return f.Name.Name
		}
	}
	return "package"
}

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

// trace collects where a panic passed: the interpreter writes a line for each.
type trace struct {
	mu   sync.Mutex
	text bytes.Buffer
}

type place struct{ line, column int }

func (t *trace) Write(b []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.text.Len() < 64<<10 {
		t.text.Write(b)
	}
	return len(b), nil
}

func (t *trace) reset() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.text.Reset()
}

// places reads the lines "contact.go:12:3: panic", innermost first.
func (t *trace) places() []place {
	t.mu.Lock()
	defer t.mu.Unlock()
	var list []place
	for line := range strings.Lines(t.text.String()) {
		fields := strings.SplitN(line, ":", 4)
		if len(fields) < 3 {
			continue
		}
		row, err := strconv.Atoi(fields[1])
		column, err2 := strconv.Atoi(fields[2])
		if err == nil && err2 == nil && (len(list) == 0 || list[len(list)-1].line != row) {
			list = append(list, place{row, column})
		}
	}
	return list
}
