package interp

import (
	"fmt"
	"go/ast"
	"go/types"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"tossline/kernel/interp/check"
	"tossline/kernel/spelling"
	"tossline/kernel/words"
)

// maxSteps is the most steps that a recipe may have.
const maxSteps = 100

// recipe is a source that was checked, with its steps bound to each other.
type recipe struct {
	*check.Checked
	name     string
	source   string
	title    string
	prose    string
	steps    []*step // in file order
	settings []*setting
}

// step is an exported function.
type step struct {
	name    string
	title   string
	prose   string
	decl    *ast.FuncDecl
	inputs  []input // one for each parameter
	results int     // without the error
	fails   bool    // the last result is an error
	asked   bool    // some other step takes its result
}

// input is where a parameter's value comes from.
type input struct {
	given given
	from  *step // where given is a step
}

type given int

const (
	fromNowhere given = iota // a mistake, which was reported
	fromStep
	fromSeason
	fromSettings
	fromProgress
)

// read checks a source and finds its steps and settings. The error says that the program itself is broken.
func read(name, source string) (*recipe, error) {
	checked, err := check.File(name, source)
	if err != nil {
		return nil, err
	}
	r := &recipe{Checked: checked, name: name, source: source}
	r.title, r.prose = describe(checked.File.Doc, strings.TrimSuffix(name, ".go"))
	for _, f := range checked.Steps() {
		s := &step{name: f.Name.Name, decl: f}
		s.title, s.prose = describe(f.Doc, inWords(s.name))
		r.steps = append(r.steps, s)
	}
	if len(r.steps) > maxSteps {
		r.Add(r.steps[maxSteps].decl.Name, "a recipe has at most %d steps; this one has %d: write a name with a small "+
			"letter for a function that is no step", maxSteps, len(r.steps))
		r.steps = r.steps[:maxSteps]
	}
	r.settings = r.findSettings()
	r.bind()
	r.Sort()
	return r, nil
}

// describe takes the title and the prose from a doc comment. The title is its first paragraph, if that is one line
// which doesn't end in a full stop.
func describe(doc *ast.CommentGroup, otherwise string) (title, prose string) {
	text := strings.TrimSpace(doc.Text())
	first, rest, _ := strings.Cut(text, "\n\n")
	if first == "" || strings.Contains(first, "\n") || strings.HasSuffix(first, ".") {
		return otherwise, text
	}
	return strings.TrimPrefix(first, "# "), strings.TrimSpace(rest)
}

// inWords spells a name like PastTheLimit as "Past the limit".
func inWords(name string) string {
	var b strings.Builder
	before := ' '
	for i, letter := range name {
		next, _ := utf8.DecodeRuneInString(name[i+utf8.RuneLen(letter):])
		starts := i > 0 && unicode.IsUpper(letter) && (unicode.IsLower(before) || unicode.IsLower(next))
		switch {
		case letter == '_':
			letter = ' '
		case starts:
			b.WriteByte(' ')
			if !unicode.IsUpper(next) {
				letter = unicode.ToLower(letter)
			}
		}
		b.WriteRune(letter)
		before = letter
	}
	return b.String()
}

// lines gives the first and last line of a step, its comment included.
func (r *recipe) lines(s *step) (first, last int) {
	from := s.decl.Pos()
	if s.decl.Doc != nil {
		from = s.decl.Doc.Pos()
	}
	return r.Files.Position(from).Line, r.Files.Position(s.decl.End()).Line
}

// plan describes the recipe for the page.
func (r *recipe) plan(choices func(from string) []Choice) Plan {
	p := Plan{Title: r.title, Prose: r.prose, Steps: []PlanStep{}, Settings: []Setting{}}
	for _, s := range r.steps {
		shown := PlanStep{Name: s.name, Title: s.title, Prose: s.prose}
		shown.First, shown.Last = r.lines(s)
		for _, in := range s.inputs {
			if in.given == fromStep && !slices.Contains(shown.Inputs, in.from.name) {
				shown.Inputs = append(shown.Inputs, in.from.name)
			}
		}
		p.Steps = append(p.Steps, shown)
	}
	for _, s := range r.settings {
		p.Settings = append(p.Settings, s.shown(choices))
	}
	return p
}

// diagnostics gives the problems with their lines and steps.
func (r *recipe) diagnostics() []Diagnostic {
	out := []Diagnostic{}
	for _, p := range r.Problems {
		at := r.Files.Position(p.Pos)
		d := Diagnostic{Severity: "error", Line: max(at.Line, 1), Column: max(at.Column, 1), Message: p.Message}
		if p.Warning {
			d.Severity = "warning"
		}
		if p.End.IsValid() {
			end := r.Files.Position(p.End)
			d.EndLine, d.EndColumn = end.Line, end.Column
		}
		d.Step = r.stepAt(d.Line)
		out = append(out, d)
	}
	return out
}

// stepAt names the step that a line lies in.
func (r *recipe) stepAt(line int) string {
	for _, s := range r.steps {
		if first, last := r.lines(s); first <= line && line <= last {
			return s.name
		}
	}
	return ""
}

// bind finds for each parameter of each step where its value comes from.
func (r *recipe) bind() {
	byName := map[string]*step{}
	for _, s := range r.steps {
		byName[s.name] = s
	}
	for _, s := range r.steps {
		r.shape(s)
	}
	for _, s := range r.steps {
		if s.decl.Type.TypeParams != nil {
			r.Add(s.decl.Name, "a step has no type parameters; write its name with a small letter if it is no step")
			continue
		}
		for _, field := range s.decl.Type.Params.List {
			if _, variadic := field.Type.(*ast.Ellipsis); variadic {
				r.Add(field, "a step takes no variable number of parameters: each is bound by its name")
			}
			if len(field.Names) == 0 {
				r.Add(field, "a parameter of a step needs a name, which says where its value comes from")
			}
			for _, name := range field.Names {
				s.inputs = append(s.inputs, r.origin(name, byName))
			}
		}
	}
	r.refuseCircles()
}

// shape finds out what a step gives.
func (r *recipe) shape(s *step) {
	signature, ok := typeOf(r.Info.Defs[s.decl.Name]).(*types.Signature)
	if !ok {
		return
	}
	s.results = signature.Results().Len()
	if s.results > 0 && signature.Results().At(s.results-1).Type() == types.Universe.Lookup("error").Type() {
		s.fails = true
		s.results--
	}
	if s.results == 0 {
		r.Add(s.decl.Name, "%s gives nothing to show; return a table, a chart, a figure, an estimate, a number or a "+
			"text, or write its name with a small letter if it is no step", s.name)
	}
}

func typeOf(object types.Object) types.Type {
	if object == nil {
		return nil
	}
	return object.Type()
}

// origin finds the source of one parameter.
func (r *recipe) origin(name *ast.Ident, byName map[string]*step) input {
	wanted := typeOf(r.Info.Defs[name])
	if wanted == nil || !r.known(wanted) {
		return input{} // the type checker has said so
	}
	has := func(what string) bool { return types.TypeString(wanted, nil) == what }
	switch name.Name {
	case "season":
		if !has("tossline/kernel/motion.Season") {
			r.Add(name, "season is a motion.Season, not %s", r.typeName(wanted))
			return input{}
		}
		return input{given: fromSeason}
	case "progress":
		if !has("func(done int, total int)") && !has("func(int, int)") {
			r.Add(name, "progress is a func(done, total int), not %s", r.typeName(wanted))
			return input{}
		}
		return input{given: fromProgress}
	case "settings":
		if !has("recipe.Settings") {
			r.Add(name, "settings is the recipe's Settings, not %s", r.typeName(wanted))
			return input{}
		}
		return input{given: fromSettings}
	}
	from := byName[words.Capital(name.Name)]
	if from == nil {
		r.Add(name, "no step gives %s%s", name.Name, r.nearest(name.Name))
		return input{}
	}
	signature, ok := typeOf(r.Info.Defs[from.decl.Name]).(*types.Signature)
	if !ok || from.results == 0 {
		return input{}
	}
	if gives := signature.Results().At(0).Type(); !types.AssignableTo(gives, wanted) {
		r.Add(name, "%s is the result of step %s, a %s, and not %s", name.Name, from.name, r.typeName(gives),
			r.typeName(wanted))
		return input{}
	}
	from.asked = true
	return input{given: fromStep, from: from}
}

// known says whether the type checker could make sense of a type.
func (r *recipe) known(t types.Type) bool {
	basic, ok := t.Underlying().(*types.Basic)
	return !ok || basic.Kind() != types.Invalid
}

func (r *recipe) typeName(t types.Type) string {
	return types.TypeString(t, func(p *types.Package) string {
		if p == r.Package {
			return ""
		}
		return p.Name()
	})
}

// nearest suggests what a parameter may have been meant to be called.
func (r *recipe) nearest(name string) string {
	names := []string{"season", "settings", "progress"}
	for _, s := range r.steps {
		names = append(names, check.Parameter(s.name))
	}
	if best := spelling.Nearest(name, names); best != "" {
		return fmt.Sprintf("; did you mean %s?", best)
	}
	return "; parameters are named after steps, or season, settings, progress"
}

// refuseCircles reports steps that need each other.
func (r *recipe) refuseCircles() {
	const unseen, open, closed = 0, 1, 2
	state := map[*step]int{}
	var path []string
	var visit func(*step)
	visit = func(s *step) {
		state[s] = open
		path = append(path, s.name)
		for i, in := range s.inputs {
			if in.given != fromStep {
				continue
			}
			switch state[in.from] {
			case unseen:
				visit(in.from)
			case open:
				circle := append(path[slices.Index(path, in.from.name):], in.from.name)
				r.Add(r.parameter(s, i), "these steps need each other's results: %s",
					strings.Join(circle, " ← "))
				s.inputs[i] = input{}
			}
		}
		path = path[:len(path)-1]
		state[s] = closed
	}
	for _, s := range r.steps {
		if state[s] == unseen {
			visit(s)
		}
	}
}

// parameter is the name of parameter i of a step.
func (r *recipe) parameter(s *step, i int) *ast.Ident {
	for _, field := range s.decl.Type.Params.List {
		if i < len(field.Names) {
			return field.Names[i]
		}
		i -= len(field.Names)
	}
	return s.decl.Name
}
