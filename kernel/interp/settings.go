package interp

import (
	"encoding/json"
	"fmt"
	"go/ast"
	"go/types"
	"maps"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"tossline/kernel/interp/check"
	"tossline/kernel/spelling"
	"tossline/kernel/words"
)

// dateForm is how dates are written in tags and values.
const dateForm = "2006-01-02"

// maxText is the most bytes of a text setting, maxChosen the most entries of a list.
const (
	maxText   = 10_000
	maxChosen = 1000
)

// setting is one field of the recipe's Settings, without the lists of a season.
type setting struct {
	Setting
	kind  types.Type
	field *ast.Ident
	from  string // the list of the season that it is chosen from, or ""
	first bool   // starts at the first entry of that list
}

// findSettings reads the fields of the recipe's Settings, and reports those that can't be a control.
func (r *recipe) findSettings() []*setting {
	declared, ok := r.Package.Scope().Lookup("Settings").(*types.TypeName)
	if !ok {
		return nil
	}
	fields := r.settingsFields()
	if _, isStruct := declared.Type().Underlying().(*types.Struct); !isStruct || fields == nil {
		r.Problems = append(r.Problems, check.Problem{Pos: declared.Pos(),
			Message: "Settings is a struct whose fields are the controls"})
		return nil
	}
	var list []*setting
	for _, field := range fields.List {
		if len(field.Names) == 0 {
			r.Add(field, "a setting needs a name")
		}
		for _, name := range field.Names {
			if !name.IsExported() {
				r.Add(name, "the name of a setting starts with a capital letter: %s", words.Capital(name.Name))
				continue
			}
			s := &setting{field: name, kind: typeOf(r.Info.Defs[name])}
			s.Name, s.Label = name.Name, label(field, name.Name)
			if s.kind != nil && r.known(s.kind) && r.understand(s, field) {
				list = append(list, s)
			}
		}
	}
	return list
}

func (r *recipe) settingsFields() *ast.FieldList {
	for _, d := range r.File.Decls {
		general, ok := d.(*ast.GenDecl)
		if !ok {
			continue
		}
		for _, spec := range general.Specs {
			if t, ok := spec.(*ast.TypeSpec); ok && t.Name.Name == "Settings" {
				if s, ok := t.Type.(*ast.StructType); ok {
					return s.Fields
				}
			}
		}
	}
	return nil
}

// label is the comment of a field without its full stop.
func label(field *ast.Field, name string) string {
	text := strings.Join(strings.Fields(field.Doc.Text()), " ")
	if text == "" {
		text = strings.Join(strings.Fields(field.Comment.Text()), " ")
	}
	if text == "" {
		return inWords(name)
	}
	return strings.TrimSuffix(text, ".")
}

// understand finds the kind of a setting from its type and its tag, and checks the tag.
func (r *recipe) understand(s *setting, field *ast.Field) bool {
	var tag reflect.StructTag
	at := ast.Node(s.field)
	if field.Tag != nil {
		text, err := strconv.Unquote(field.Tag.Value)
		if err != nil {
			return false
		}
		tag, at = reflect.StructTag(text), field.Tag
	}
	fail := func(format string, values ...any) bool {
		r.Add(at, "setting "+s.Name+": "+format, values...)
		return false
	}
	s.Unit = tag.Get("unit")
	from, isFrom := tag.Lookup("from")
	choices, isChoices := tag.Lookup("choices")
	switch types.TypeString(s.kind, nil) {
	case "float64":
		s.Kind = "number"
	case "int":
		s.Kind = "integer"
	case "bool":
		s.Kind = "flag"
	case "time.Time":
		s.Kind = "date"
	case "string":
		s.Kind = "text"
		if isFrom || isChoices {
			s.Kind = "choice"
		}
	case "[]string":
		s.Kind = "choices"
		if !isFrom && !isChoices {
			return fail(`a list needs from:"players" or choices:"a,b" to choose from`)
		}
	default:
		return fail("a %s can't be a control; use float64, int, bool, string, []string or time.Time",
			r.typeName(s.kind))
	}
	for _, key := range tagsOf(tag) {
		if !slices.Contains(tagKeys, key) {
			hint := didYouMean(key, tagKeys)
			if key == "label" || key == "title" {
				hint = "; the comment behind a setting is its label"
			} else if hint == "" {
				hint = "; the tags are " + strings.Join(tagKeys, ", ")
			}
			return fail("no tag %q%s", key, hint)
		}
	}
	chosen := s.Kind == "choice" || s.Kind == "choices"
	if (isFrom || isChoices) && !chosen {
		return fail("a %s isn't chosen from a list", r.typeName(s.kind))
	}
	if isFrom {
		if !slices.Contains(lists, from) {
			return fail("no list %q%s; lists are %s", from, didYouMean(from, lists), strings.Join(lists, ", "))
		}
		s.from = from
	}
	if isChoices {
		for _, value := range strings.Split(choices, ",") {
			s.Choices = append(s.Choices, Choice{Value: strings.TrimSpace(value), Title: strings.TrimSpace(value)})
		}
	}
	for key, into := range map[string]**float64{"min": &s.Min, "max": &s.Max, "step": &s.Step} {
		if text, ok := tag.Lookup(key); ok {
			value, err := strconv.ParseFloat(text, 64)
			if err != nil || math.IsNaN(value) || math.IsInf(value, 0) {
				return fail("%s is %q, not a number", key, text)
			}
			*into = &value
		}
	}
	if s.Min != nil && s.Max != nil && *s.Min > *s.Max {
		return fail("min %v is above max %v", *s.Min, *s.Max)
	}
	initial, isInitial := tag.Lookup("default")
	if s.from != "" && s.Kind == "choice" && !isInitial {
		s.first = true
	}
	value, err := s.initial(initial, isInitial)
	if err != nil {
		return fail("default: %v", err)
	}
	s.Default = value
	return true
}

var (
	tagKeys = []string{"unit", "from", "choices", "min", "max", "step", "default"}
	lists   = []string{"players", "sessions", "measures", "hands", "serve types", "stance types", "levels", "tables"}
)

// columns are the columns of a season's particulars that the lists are taken from.
var columns = map[string]string{
	"players": "player", "sessions": "session", "hands": "hand", "serve types": "serve_type",
	"stance types": "stance_type", "levels": "level",
}

func tagsOf(tag reflect.StructTag) []string {
	var keys []string
	for rest := strings.TrimSpace(string(tag)); rest != ""; {
		key, after, found := strings.Cut(rest, ":")
		if !found {
			return append(keys, rest)
		}
		keys = append(keys, key)
		quoted, err := strconv.QuotedPrefix(after)
		if err != nil {
			return keys
		}
		rest = strings.TrimSpace(after[len(quoted):])
	}
	return keys
}

func didYouMean(name string, names []string) string {
	if best := spelling.Nearest(name, names); best != "" {
		return fmt.Sprintf("; did you mean %q?", best)
	}
	return ""
}

// initial turns the tag of a default into a JSON value.
func (s *setting) initial(text string, given bool) (json.RawMessage, error) {
	var value any
	switch s.Kind {
	case "number", "integer":
		number := 0.0
		if given {
			var err error
			if number, err = strconv.ParseFloat(text, 64); err != nil {
				return nil, fmt.Errorf("%q is not a number", text)
			}
		} else if s.Min != nil {
			number = max(number, *s.Min)
		}
		value = number
	case "flag":
		if given && text != "true" && text != "false" {
			return nil, fmt.Errorf("%q is neither true nor false", text)
		}
		value = text == "true"
	case "choices":
		list := []string{}
		if text != "" {
			for _, one := range strings.Split(text, ",") {
				list = append(list, strings.TrimSpace(one))
			}
		}
		value = list
	case "choice":
		if !given && len(s.Choices) > 0 {
			text = s.Choices[0].Value
		}
		value = text
	default:
		value = text
	}
	encoded, err := json.Marshal(value)
	if err != nil {
		return nil, err
	}
	if s.Kind == "choice" && given && text == "" {
		return encoded, nil
	}
	if s.Kind == "date" && text == "" || s.first || s.from != "" {
		return encoded, nil // checked against the season
	}
	_, err = s.parse(encoded, s.Choices)
	return encoded, err
}

// shown is the setting for the page, its choices filled from the season.
func (s *setting) shown(choices func(string) []Choice) Setting {
	out := s.Setting
	if s.from == "" || choices == nil {
		return out
	}
	list := choices(s.from)
	if s.first {
		if len(list) > 0 {
			out.Default, _ = json.Marshal(list[0].Value)
		}
	} else if s.Kind == "choice" {
		list = append([]Choice{{Title: none(s.from)}}, list...)
	}
	out.Choices = list
	return out
}

// none is what an empty choice from a list means to the reader.
func none(from string) string {
	if from == "sessions" {
		return "any"
	}
	return "none"
}

// values checks what was asked for against the settings, and gives each setting's value by name. What was not asked for
// takes its default.
func (r *recipe) values(asked map[string]json.RawMessage, choices func(string) []Choice) (map[string]any, error) {
	out := map[string]any{}
	for _, s := range r.settings {
		shown := s.shown(choices)
		raw, given := asked[s.Name]
		if !given {
			raw = shown.Default
		}
		value, err := s.parse(raw, shown.Choices)
		if err != nil {
			return nil, fmt.Errorf("setting %s: %w", s.Name, err)
		}
		out[s.Name] = value
	}
	for _, name := range slices.Sorted(maps.Keys(asked)) {
		if _, found := out[name]; !found {
			return nil, fmt.Errorf("the recipe has no setting %q%s", name,
				didYouMean(name, slices.Sorted(maps.Keys(out))))
		}
	}
	return out, nil
}

// parse checks one JSON value and turns it into that of the field.
func (s *setting) parse(raw json.RawMessage, choices []Choice) (any, error) {
	switch s.Kind {
	case "number":
		x, err := decode[float64](raw, "a number")
		if err != nil {
			return nil, err
		}
		return x, s.inRange(x)
	case "integer":
		x, err := decode[float64](raw, "a number")
		if err != nil {
			return nil, err
		}
		if x != math.Trunc(x) || math.Abs(x) > 1<<53 {
			return nil, fmt.Errorf("%v is not a whole number", x)
		}
		return int(x), s.inRange(x)
	case "flag":
		return decode[bool](raw, "true or false")
	case "choices":
		list, err := decode[[]string](raw, "a list of texts")
		if err != nil {
			return nil, err
		}
		if len(list) > maxChosen {
			return nil, fmt.Errorf("%d entries; the most is %d", len(list), maxChosen)
		}
		for _, one := range list {
			if err := s.among(one, choices); err != nil {
				return nil, err
			}
		}
		return list, nil
	}
	text, err := decode[string](raw, "a text")
	if err != nil {
		return nil, err
	}
	switch {
	case len(text) > maxText || !utf8.ValidString(text):
		return nil, fmt.Errorf("a text of %d bytes; the most is %d", len(text), maxText)
	case s.Kind == "date" && text == "":
		return time.Time{}, nil
	case s.Kind == "date":
		day, err := time.Parse(dateForm, text)
		if err != nil {
			return nil, fmt.Errorf("%q is not a date like 2026-03-14", text)
		}
		return day, nil
	case s.Kind == "choice":
		return text, s.among(text, choices)
	}
	return text, nil
}

func decode[T any](raw json.RawMessage, wanted string) (T, error) {
	var value T
	if err := json.Unmarshal(raw, &value); err != nil || string(raw) == "null" {
		return value, fmt.Errorf("%s is not %s", raw, wanted)
	}
	return value, nil
}

func (s *setting) inRange(x float64) error {
	if (s.Min == nil || x >= *s.Min) && (s.Max == nil || x <= *s.Max) {
		return nil
	}
	unit := s.Unit
	if unit != "" {
		unit = " " + unit
	}
	switch {
	case s.Min == nil:
		return fmt.Errorf("%v is out of range; it goes up to %v%s", x, *s.Max, unit)
	case s.Max == nil:
		return fmt.Errorf("%v is out of range; it goes from %v%s up", x, *s.Min, unit)
	}
	return fmt.Errorf("%v is out of range; it goes from %v to %v%s", x, *s.Min, *s.Max, unit)
}

// among says whether a text is one of the choices. An empty one is where the default is.
func (s *setting) among(text string, choices []Choice) error {
	if s.from != "" && text == "" && len(choices) == 0 {
		return nil // the season is empty
	}
	if slices.ContainsFunc(choices, func(c Choice) bool { return c.Value == text }) {
		return nil
	}
	names := make([]string, 0, len(choices))
	for _, c := range choices {
		if c.Value != "" {
			names = append(names, c.Value)
		}
	}
	which := "no choice"
	if s.from != "" {
		which = "none of the season's " + s.from
	}
	suggestion := didYouMean(text, names)
	if suggestion == "" && len(names) > 0 && len(names) <= 12 {
		suggestion = "; choose from " + strings.Join(names, ", ")
	}
	return fmt.Errorf("%q is %s%s", text, which, suggestion)
}
