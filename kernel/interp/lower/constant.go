package lower

import (
	"go/constant"
	"go/types"
)

// constant writes a constant of a type. Literals that have that type of themselves stand alone.
func (w *writer) constant(v constant.Value, t types.Type) string {
	t = types.Default(t)
	name := w.typeString(t)
	s := v.ExactString()
	switch u := t.Underlying().(*types.Basic); {
	case u.Info()&types.IsInteger != 0:
		s = constant.ToInt(v).ExactString()
	case u.Info()&types.IsFloat != 0:
		s = floatString(v)
	case u.Info()&types.IsComplex != 0:
		s = "complex(" + floatString(constant.Real(v)) + ", " + floatString(constant.Imag(v)) + ")"
	case u.Info()&types.IsString != 0:
		s = quote(constant.StringVal(v))
	}
	switch name {
	case "int", "float64", "string", "bool", "complex128":
		return s
	}
	return name + "(" + s + ")"
}

func floatString(v constant.Value) string {
	f, _ := constant.Float64Val(constant.ToFloat(v))
	return float(f)
}
