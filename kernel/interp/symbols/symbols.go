// Package symbols holds the values of all that recipes may import, for the interpreter. It is generated, like the types
// in package api.
package symbols

import "reflect"

// Symbols holds the values by "path/name" of their package and by object.
var Symbols = map[string]map[string]reflect.Value{}
