package api_test

import (
	"go/types"
	"slices"
	"strings"
	"testing"

	"golang.org/x/tools/go/packages"

	"tossline/kernel/interp/api"
	"tossline/kernel/interp/symbols"
)

// TestGenerated compares what was generated of our own packages with the packages as they are now.
func TestGenerated(t *testing.T) {
	var ours []string
	for _, path := range api.Packages {
		if strings.HasPrefix(path, "tossline/") {
			ours = append(ours, path)
		}
	}
	now, err := packages.Load(&packages.Config{Mode: packages.NeedName | packages.NeedTypes | packages.NeedImports |
		packages.NeedExportFile}, ours...)
	if err != nil {
		t.Fatal(err)
	}
	kept, err := api.Load()
	if err != nil {
		t.Fatal(err)
	}
	if len(now) != len(ours) {
		t.Fatalf("%d packages, want %d", len(now), len(ours))
	}
	for _, p := range now {
		if len(p.Errors) > 0 {
			t.Fatal(p.Errors[0])
		}
		have, want := describe(kept.Packages[p.PkgPath]), describe(p.Types)
		for name, text := range want {
			if have[name] != text {
				t.Errorf("%s.%s changed; run go generate ./kernel/interp/api\nhave %s\nwant %s", p.PkgPath, name,
					have[name], text)
			}
		}
		for name := range have {
			if want[name] == "" {
				t.Errorf("%s.%s is gone; run go generate ./kernel/interp/api", p.PkgPath, name)
			}
		}
		for _, name := range p.Types.Scope().Names() {
			_, found := symbols.Symbols[p.PkgPath+"/"+p.Types.Name()][name]
			if o := p.Types.Scope().Lookup(name); kept.Has(o) && !found && !lowered(o) {
				t.Errorf("%s.%s has no value for the interpreter; run go generate ./kernel/interp/api", p.PkgPath, name)
			}
		}
	}
}

// lowered says whether an object is generic, or a constraint: those have no values.
func lowered(o types.Object) bool {
	if t, ok := o.Type().(interface{ TypeParams() *types.TypeParamList }); ok && t.TypeParams().Len() > 0 {
		return true
	}
	i, ok := o.Type().Underlying().(*types.Interface)
	return ok && !i.IsMethodSet()
}

// describe writes down every exported object, with its methods and fields.
func describe(p *types.Package) map[string]string {
	out := map[string]string{}
	path := func(p *types.Package) string { return p.Path() }
	for _, name := range p.Scope().Names() {
		o := p.Scope().Lookup(name)
		if !o.Exported() {
			continue
		}
		text := types.ObjectString(o, path)
		if t, ok := o.(*types.TypeName); ok {
			text += " = " + types.TypeString(t.Type().Underlying(), path)
			var methods []string
			for m := range types.NewMethodSet(types.NewPointer(t.Type())).Methods() {
				if m.Obj().Exported() {
					methods = append(methods, types.ObjectString(m.Obj(), path))
				}
			}
			slices.Sort(methods)
			text += "\n" + strings.Join(methods, "\n")
		}
		out[name] = text
	}
	return out
}

func TestRefusedExist(t *testing.T) {
	kept, err := api.Load()
	if err != nil {
		t.Fatal(err)
	}
	for name := range api.Refused {
		dot := strings.LastIndexByte(name, '.')
		if p := kept.Packages[name[:dot]]; p == nil || p.Scope().Lookup(name[dot+1:]) == nil {
			t.Errorf("%s is refused and does not exist", name)
		}
	}
}
