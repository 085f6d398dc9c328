package lower

import (
	"reflect"

	"tossline/kernel/interp/lower/host"
)

// Exports are the values that written code takes from package "host".
func Exports() map[string]map[string]reflect.Value { return host.Exports() }

// host names a value of package host, and has it imported.
func (w *writer) host(name string) string {
	w.imports["host"] = "host"
	return "host." + name
}
