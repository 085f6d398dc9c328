package host

import (
	"encoding/json"
	"fmt"
	"reflect"
	"sort"
	"strings"
)

// Type describes a type of a recipe. The interpreter knows named types only by what they are made of, and forgets even
// that where a value lies in an interface; so lowered code keeps the type beside the value there.
type Type struct {
	name    string
	plain   bool // known to compiled code by itself, never boxed
	is      reflect.Type
	methods map[string]bool // "Name(parameters) results"
	fields  []string        // of a struct
	parts   func() []*Type  // of the fields, the key and element, or the element; nil for what compiled code can print
	text    func(any) string
	unwrap  func(any) error
	same    func(any, error) bool
}

// NewType makes a description. Zero points to a value of the type.
func NewType(name string, plain bool, zero any) *Type {
	return &Type{name: name, plain: plain, is: reflect.TypeOf(zero).Elem()}
}

// Methods names the methods of the type.
func (t *Type) Methods(keys ...string) *Type {
	t.methods = map[string]bool{}
	for _, k := range keys {
		t.methods[k] = true
	}
	return t
}

// Fields names the fields of a struct.
func (t *Type) Fields(names ...string) *Type { t.fields = names; return t }

// Parts gives the types of the fields, of key and element, or of the element.
func (t *Type) Parts(parts func() []*Type) *Type { t.parts = parts; return t }

// Text gives the method Error or String.
func (t *Type) Text(f func(any) string) *Type { t.text = f; return t }

// Unwrap gives the method Unwrap of an error.
func (t *Type) Unwrap(f func(any) error) *Type { t.unwrap = f; return t }

// Same gives the method Is of an error.
func (t *Type) Same(f func(any, error) bool) *Type { t.same = f; return t }

// boxed is a value of a type of the recipe inside an interface. Two are equal where types and values are.
type boxed struct {
	t *Type
	v any
}

// Box puts a value into an interface.
func Box(t *Type, v any) any { return boxed{t, v} }

// BoxError puts a value into an error.
func BoxError(t *Type, v any) error { return boxed{t, v} }

// BoxStringer puts a value into a Stringer.
func BoxStringer(t *Type, v any) fmt.Stringer { return boxed{t, v} }

func (b boxed) Error() string {
	if b.t.text == nil {
		return fmt.Sprint(b)
	}
	return b.t.text(b)
}

func (b boxed) String() string { return b.Error() }

func (b boxed) Unwrap() error {
	if b.t.unwrap == nil {
		return nil
	}
	return b.t.unwrap(b)
}

func (b boxed) Is(target error) bool { return b.t.same != nil && b.t.same(b, target) }

// MarshalJSON writes the value.
func (b boxed) MarshalJSON() ([]byte, error) { return json.Marshal(b.v) }

// Open gives the type of a value in an interface, nil for one that compiled code knows.
func Open(x any) *Type {
	if b, ok := x.(boxed); ok {
		return b.t
	}
	return nil
}

// Any gives a value as an interface.
func Any(x any) any { return x }

// Is tells whether an interface holds a value of a type.
func Is(x any, t *Type) bool {
	b, ok := x.(boxed)
	if ok {
		return b.t == t
	}
	return t.plain && x != nil && reflect.TypeOf(x) == t.is
}

// As copies the value of an interface to where out points, if it is of the type.
func As(x any, t *Type, out any) bool {
	if !Is(x, t) {
		return false
	}
	if b, ok := x.(boxed); ok {
		x = b.v
	}
	v := reflect.ValueOf(out).Elem()
	if x == nil {
		v.SetZero()
	} else {
		v.Set(reflect.ValueOf(x))
	}
	return true
}

// To is As for a type assertion that must hold. From names the type of the interface.
func To(x any, from string, t *Type, out any) {
	if !As(x, t, out) {
		panic(mismatch(from + " is " + nameOf(x) + ", not " + t.name))
	}
}

// Lacks panics because an interface doesn't hold a type with the methods of another one, which are given as keys.
func Lacks(x any, from, to string, methods ...string) {
	if x == nil {
		panic(mismatch("interface is nil, not " + to))
	}
	for _, key := range methods {
		if Method(x, key) == nil {
			name, _, _ := strings.Cut(key, "(")
			panic(mismatch(nameOf(x) + " is not " + to + ": missing method " + name))
		}
	}
	panic(mismatch(nameOf(x) + " is not " + to))
}

func nameOf(x any) string {
	if b, ok := x.(boxed); ok {
		return b.t.name
	}
	if x == nil {
		return "nil"
	}
	return reflect.TypeOf(x).String()
}

// AsError gives what an interface holds as an error.
func AsError(x any) (error, bool) {
	if b, ok := x.(boxed); ok && !b.t.methods["Error() string"] {
		return nil, false
	}
	err, ok := x.(error)
	return err, ok
}

// AsStringer gives what an interface holds as a Stringer.
func AsStringer(x any) (fmt.Stringer, bool) {
	if b, ok := x.(boxed); ok && !b.t.methods["String() string"] {
		return nil, false
	}
	s, ok := x.(fmt.Stringer)
	return s, ok
}

// Method gives a method of what an interface holds, as a function, or nil. The key is "Name(parameters) results".
func Method(x any, key string) any {
	if x == nil {
		return nil
	}
	if b, ok := x.(boxed); ok {
		if b.t.methods[key] {
			return b.t
		}
		return nil
	}
	name, _, _ := strings.Cut(key, "(")
	m := reflect.ValueOf(x).MethodByName(name)
	if !m.IsValid() || name+strings.TrimPrefix(m.Type().String(), "func") != key {
		return nil
	}
	return m.Interface()
}

// Bound is Method for a call.
func Bound(x any, key string) any {
	m := Method(x, key)
	if m == nil {
		panic(failure("invalid memory address or nil pointer dereference"))
	}
	return m
}

// Equal compares two interfaces.
func Equal(x, y any) bool { return x == y }

// Find looks in a chain of errors for one of a type, and copies it to where out points.
func Find(err error, t *Type, out any) bool {
	for err != nil {
		if As(err, t, out) {
			return true
		}
		if x, ok := err.(interface{ As(any) bool }); ok && x.As(out) {
			return true
		}
		switch x := err.(type) {
		case interface{ Unwrap() error }:
			err = x.Unwrap()
		case interface{ Unwrap() []error }:
			for _, e := range x.Unwrap() {
				if Find(e, t, out) {
					return true
				}
			}
			return false
		default:
			return false
		}
	}
	return false
}

// Sorter makes a sort.Interface of its three methods.
func Sorter(length func() int, less func(i, j int) bool, swap func(i, j int)) sort.Interface {
	return sorter{length, less, swap}
}

type sorter struct {
	length func() int
	less   func(i, j int) bool
	swap   func(i, j int)
}

func (s sorter) Len() int           { return s.length() }
func (s sorter) Less(i, j int) bool { return s.less(i, j) }
func (s sorter) Swap(i, j int)      { s.swap(i, j) }
