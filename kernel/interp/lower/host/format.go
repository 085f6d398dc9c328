package host

import (
	"cmp"
	"fmt"
	"io"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Format prints a value of a type of the recipe as package fmt prints such values.
func (b boxed) Format(f fmt.State, verb rune) {
	if f.Flag('#') && verb == 'v' {
		panic("a recipe can't print its own types with %#v")
	}
	p := printer{f, verb, fmt.FormatString(f, verb)}
	p.value(b.t, reflect.ValueOf(b.v), 0, true)
}

// typeVerb is what prints a type or an address.
var typeVerb = regexp.MustCompile(`%[-+# 0-9.*\[\]]*([Tp]|#[-+# 0-9.*\[\]]*v|#v)`)

// TellsType tells whether a format prints a type or an address. Of a value of the recipe only the host knows these.
func TellsType(format string) bool {
	return typeVerb.MatchString(strings.ReplaceAll(format, "%%", ""))
}

// Format gives a format that isn't known before the recipe runs.
func Format(format string) string {
	if TellsType(format) {
		panic("a format that is put together can't print types, with %T, %#v or %p; write it where it is used")
	}
	return format
}

// Printable gives strings of a type of the recipe as mere strings: fmt.Sprint puts spaces between all others.
func Printable(x any) any {
	if b, ok := x.(boxed); ok && reflect.TypeOf(b.v) != nil && reflect.TypeOf(b.v).Kind() == reflect.String {
		return fmt.Sprint(b)
	}
	return x
}

type printer struct {
	fmt.State
	verb   rune
	format string // the whole verb, with its flags
}

// value prints a value. Of what lies in unexported fields no method is called: seen tells whether it may be.
func (p printer) value(t *Type, v reflect.Value, depth int, seen bool) {
	if v.IsValid() && v.Kind() == reflect.Interface {
		if v.IsNil() {
			p.text("<nil>")
			return
		}
		v = v.Elem()
		if b, ok := v.Interface().(boxed); ok {
			p.value(b.t, reflect.ValueOf(b.v), depth, seen)
		} else {
			p.leaf(v, seen)
		}
		return
	}
	if t == nil {
		p.leaf(v, seen)
		return
	}
	if seen && t.text != nil && strings.ContainsRune("vsxXq", p.verb) {
		if text, ok := p.textOf(t, v); ok {
			fmt.Fprintf(p, p.format, text)
		} else {
			p.text(text)
		}
		return
	}
	var parts []*Type
	if t.parts != nil {
		parts = t.parts()
	}
	switch v.Kind() {
	case reflect.Struct:
		p.text("{")
		for i, name := range t.fields {
			if i > 0 {
				p.text(" ")
			}
			if p.Flag('+') && p.verb == 'v' {
				p.text(name + ":")
			}
			first, _ := utf8.DecodeRuneInString(name)
			p.value(parts[i], v.Field(i), depth+1, seen && unicode.IsUpper(first))
		}
		p.text("}")
	case reflect.Slice, reflect.Array:
		if v.Type().Elem().Kind() == reflect.Uint8 && strings.ContainsRune("sqxX", p.verb) {
			p.leaf(v, seen)
			return
		}
		p.text("[")
		for i := range v.Len() {
			if i > 0 {
				p.text(" ")
			}
			p.value(parts[0], v.Index(i), depth+1, seen)
		}
		p.text("]")
	case reflect.Map:
		p.text("map[")
		keys := v.MapKeys()
		slices.SortStableFunc(keys, order)
		for i, k := range keys {
			if i > 0 {
				p.text(" ")
			}
			p.value(parts[0], k, depth+1, seen)
			p.text(":")
			p.value(parts[1], v.MapIndex(k), depth+1, seen)
		}
		p.text("]")
	case reflect.Pointer:
		if depth == 0 && !v.IsNil() {
			switch v.Elem().Kind() {
			case reflect.Struct, reflect.Slice, reflect.Array, reflect.Map:
				p.text("&")
				p.value(parts[0], v.Elem(), depth+1, seen)
				return
			}
		}
		fmt.Fprintf(p, p.format, v.Interface())
	default:
		p.leaf(v, false)
	}
}

// textOf calls the method Error or String. Where that panics it gives what is printed instead, and false.
func (p printer) textOf(t *Type, v reflect.Value) (text string, ok bool) {
	defer func() {
		if r := recover(); r != nil {
			text = "<nil>"
			if v.Kind() != reflect.Pointer || !v.IsNil() {
				method := "String"
				if t.methods["Error() string"] {
					method = "Error"
				}
				text = fmt.Sprintf("%%!%c(PANIC=%s method: %v)", p.verb, method, r)
			}
			ok = false
		}
	}()
	return t.text(boxed{t, v.Interface()}), true
}

func (p printer) text(s string) { io.WriteString(p, s) }

// leaf prints what compiled code knows.
func (p printer) leaf(v reflect.Value, seen bool) {
	if seen {
		fmt.Fprintf(p, p.format, v.Interface())
		return
	}
	s := fmt.Sprintf(p.format, hidden{v.Interface()})
	p.text(strings.TrimSuffix(strings.TrimPrefix(strings.TrimPrefix(s, "{"), "v:"), "}"))
}

// hidden has an unexported field, in which fmt calls no methods.
type hidden struct{ v any }

// order is the order of map keys when they are printed.
func order(a, b reflect.Value) int {
	switch a.Kind() {
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		return cmp.Compare(a.Int(), b.Int())
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64, reflect.Uintptr:
		return cmp.Compare(a.Uint(), b.Uint())
	case reflect.String:
		return cmp.Compare(a.String(), b.String())
	case reflect.Float32, reflect.Float64:
		return cmp.Compare(a.Float(), b.Float())
	case reflect.Bool:
		return cmp.Compare(truth(a), truth(b))
	case reflect.Struct:
		for i := range a.NumField() {
			if c := order(a.Field(i), b.Field(i)); c != 0 {
				return c
			}
		}
	case reflect.Array:
		for i := range a.Len() {
			if c := order(a.Index(i), b.Index(i)); c != 0 {
				return c
			}
		}
	case reflect.Interface:
		if a.Elem().Kind() == b.Elem().Kind() {
			return order(a.Elem(), b.Elem())
		}
		return cmp.Compare(a.Elem().Kind(), b.Elem().Kind())
	}
	return 0
}

func truth(b reflect.Value) int {
	if b.Bool() {
		return 1
	}
	return 0
}
