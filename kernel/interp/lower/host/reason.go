package host

import (
	"reflect"
	"strings"
)

// Reason gives the value of a panic as compiled code would have it: where the interpreter fails in package reflect, it
// is an error of the run time.
func Reason(v any) any {
	if r, ok := v.(reflect.Value); ok && r.IsValid() && r.CanInterface() {
		v = r.Interface()
	}
	text := ""
	switch v := v.(type) {
	case *reflect.ValueError:
		if v.Kind != reflect.Invalid { // a place that holds another type than the recipe's: nothing of Go's
			return failure("the interpreter fails at this function; split it into smaller ones")
		}
		return failure("invalid memory address or nil pointer dereference")
	case string:
		text = v
	case error:
		text = v.Error()
	}
	if of, ok := strings.CutPrefix(text, "hash of unhashable type: "); ok {
		return failure("hash of unhashable type " + of)
	}
	if !strings.HasPrefix(text, "reflect") {
		return v
	}
	for _, r := range []struct{ part, reason string }{
		{"negative len", "makeslice: len out of range"},
		{"negative cap", "makeslice: cap out of range"},
		{"len > cap", "makeslice: cap out of range"},
		{"nil func", "invalid memory address or nil pointer dereference"},
		{"zero Value", "invalid memory address or nil pointer dereference"},
		{"nil interface", "invalid memory address or nil pointer dereference"},
		{"nil pointer", "invalid memory address or nil pointer dereference"},
		{"nil map", "assignment to entry in nil map"},
		{"Slice", "slice bounds out of range"},
		{"slice bounds", "slice bounds out of range"},
		{"index out of", "index out of range"},
		{"cannot convert slice", strings.NewReplacer("reflect: ", "", "to array with",
			"to array or pointer to array with").Replace(text)},
	} {
		if strings.Contains(text, r.part) {
			if strings.Contains(r.reason, "out of range") && strings.HasPrefix(outside, r.reason) {
				return told(r.reason)
			}
			return failure(r.reason)
		}
	}
	return v
}
