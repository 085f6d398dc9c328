package lower

import (
	"reflect"

	"tossline/kernel/interp/lower/host"
)

// Trail tells where in a traced recipe a panic came from.
type Trail = host.Trail

// Place is one place of a trail.
type Place = host.Place

// Reason gives the value of a panic that came out of the interpreter as compiled code would have it.
func Reason(v any) any { return host.Reason(v) }

// Exports are the values that written code takes from package "host". What Traced writes needs a trail, and no program
// may run beside another one with the same.
func Exports(trail *Trail) map[string]map[string]reflect.Value { return host.Exports(trail) }

// host names a value of package host, and has it imported.
func (w *writer) host(name string) string {
	w.imports["host"] = "host"
	return "host." + name
}
