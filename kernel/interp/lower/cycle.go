package lower

import (
	"go/types"
	"strings"
)

// declared is a struct type that has been written.
type declared struct {
	pos        at
	underlying types.Type
	contains   map[string]bool // names of other such types
	nested     bool            // it contains itself inside of a struct without a name
}

// checkCycles refuses structs that contain each other: the interpreter knows only those right that contain themselves.
func (w *writer) checkCycles() {
	for name, d := range w.declared {
		d.contains = map[string]bool{}
		w.containedIn(d.underlying, name, d, false)
	}
	for _, name := range sorted(w.declared) {
		d := w.declared[name]
		delete(d.contains, name)
		if d.nested || w.reaches(name, name, map[string]bool{}) {
			plain, _, _ := strings.Cut(name, "ᐸ")
			w.refuse(d.pos, plain+" contains itself by way of another struct, which can't be run; "+
				"hold the one in the other by its index or its name")
		}
	}
}

// reaches tells whether a struct contains another one, by way of others too.
func (w *writer) reaches(from, to string, seen map[string]bool) bool {
	seen[from] = true
	for next := range w.declared[from].contains {
		if next == to || !seen[next] && w.declared[next] != nil && w.reaches(next, to, seen) {
			return true
		}
	}
	return false
}

// containedIn notes the structs that a type is made of.
func (w *writer) containedIn(t types.Type, name string, d *declared, nested bool) {
	switch t := types.Unalias(t).(type) {
	case *types.Named:
		if w.own(t) == nil || types.IsInterface(t) {
			return
		}
		if _, ok := t.Underlying().(*types.Struct); ok {
			of := w.typeName(t)
			d.contains[of] = true
			d.nested = d.nested || nested && of == name
			return
		}
		w.containedIn(t.Underlying(), name, d, nested)
	case *types.Map:
		w.containedIn(t.Key(), name, d, nested)
		w.containedIn(t.Elem(), name, d, nested)
	case *types.Signature:
		w.containedIn(t.Params(), name, d, nested)
		w.containedIn(t.Results(), name, d, nested)
	case *types.Tuple:
		for i := range t.Len() {
			w.containedIn(t.At(i).Type(), name, d, nested)
		}
	case *types.Struct:
		for i := range t.NumFields() {
			w.containedIn(t.Field(i).Type(), name, d, d.underlying != types.Type(t))
		}
	case interface{ Elem() types.Type }:
		w.containedIn(t.Elem(), name, d, nested)
	}
}
