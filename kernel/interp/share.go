package interp

import "reflect"

// copied gives a step its own slices, maps and structs: what it does to the result of another step must not reach that
// step's other takers, nor the next run. Tables, charts and whatever else hides its fields are shared: nothing changes
// them.
func copied(v reflect.Value) reflect.Value { return copier{}.copy(v) }

// copier holds what was copied by where it was, since values can contain themselves.
type copier map[origin]reflect.Value

type origin struct {
	at     uintptr
	length int
	kind   reflect.Type
}

func (c copier) copy(v reflect.Value) reflect.Value {
	if !v.IsValid() || !deep(v.Type()) {
		return v
	}
	switch v.Kind() {
	case reflect.Slice:
		return c.once(v, v.Len(), func() reflect.Value { return reflect.MakeSlice(v.Type(), v.Len(), v.Len()) }, c.items)
	case reflect.Map:
		return c.once(v, 0, func() reflect.Value { return reflect.MakeMapWithSize(v.Type(), v.Len()) }, c.entries)
	case reflect.Pointer:
		return c.once(v, 0, func() reflect.Value { return reflect.New(v.Type().Elem()) }, c.pointed)
	case reflect.Interface:
		out := reflect.New(v.Type()).Elem()
		if !v.IsNil() {
			out.Set(c.copy(v.Elem()))
		}
		return out
	}
	out := reflect.New(v.Type()).Elem()
	out.Set(v)
	c.parts(out)
	return out
}

// once copies what a slice, map or pointer leads to, unless it has been copied already.
func (c copier) once(
	v reflect.Value, length int, empty func() reflect.Value, fill func(out, v reflect.Value),
) reflect.Value {
	if v.IsNil() {
		return v
	}
	here := origin{v.Pointer(), length, v.Type()}
	if done, ok := c[here]; ok {
		return done
	}
	out := empty()
	c[here] = out
	fill(out, v)
	return out
}

func (c copier) items(out, v reflect.Value) {
	reflect.Copy(out, v)
	if deep(v.Type().Elem()) {
		for i := range v.Len() {
			out.Index(i).Set(c.copy(v.Index(i)))
		}
	}
}

func (c copier) entries(out, v reflect.Value) {
	for entries := v.MapRange(); entries.Next(); {
		out.SetMapIndex(entries.Key(), c.copy(entries.Value()))
	}
}

func (c copier) pointed(out, v reflect.Value) {
	out.Elem().Set(v.Elem())
	c.parts(out.Elem())
}

// parts replaces the fields of a struct, or the elements of an array, by copies.
func (c copier) parts(v reflect.Value) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				v.Field(i).Set(c.copy(v.Field(i)))
			}
		}
	case reflect.Array:
		for i := range v.Len() {
			v.Index(i).Set(c.copy(v.Index(i)))
		}
	default:
		v.Set(c.copy(v))
	}
}

// deep says whether a value of a type leads to memory that a recipe could change. The interpreter's own types have no
// names; pointers to others are to charts and the like.
func deep(t reflect.Type) bool {
	switch t.Kind() {
	case reflect.Slice, reflect.Map, reflect.Interface:
		return true
	case reflect.Pointer:
		return t.Elem().PkgPath() == ""
	case reflect.Array:
		return deep(t.Elem())
	case reflect.Struct:
		for i := range t.NumField() {
			if f := t.Field(i); f.IsExported() && deep(f.Type) {
				return true
			}
		}
	}
	return false
}
