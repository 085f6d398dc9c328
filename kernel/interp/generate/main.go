// Command generate writes what package api holds of the packages that recipes may import: their types, and their values
// for the interpreter. Run it in the folder of package api: go generate ./kernel/interp/api
//
// With an argument it leaves the values of other packages than those under that path, which take longest, as they are:
// go -C kernel/interp/api run ../generate tossline/kernel/stats
package main

import (
	"bytes"
	"compress/gzip"
	"encoding/gob"
	"fmt"
	"go/token"
	"log"
	"os"
	"path"
	"strings"

	"github.com/traefik/yaegi/extract"
	"golang.org/x/tools/go/gcexportdata"
	"golang.org/x/tools/go/packages"

	"tossline/kernel/interp/api"
)

func main() {
	log.SetFlags(0)
	if err := writeTypes("types.gz"); err != nil {
		log.Fatal(err)
	}
	if err := writeDocs("docs.gz"); err != nil {
		log.Fatal(err)
	}
	for _, p := range api.Packages {
		if len(os.Args) > 1 && !strings.HasPrefix(p, os.Args[1]) {
			continue
		}
		if err := writeSymbols(p); err != nil {
			log.Fatalf("%s: %v", p, err)
		}
	}
}

// writeTypes writes the export data of all packages, compressed.
func writeTypes(name string) error {
	fset := token.NewFileSet()
	loaded, err := packages.Load(&packages.Config{Fset: fset, Mode: packages.NeedName | packages.NeedTypes |
		packages.NeedImports | packages.NeedSyntax | packages.NeedTypesInfo}, api.Packages...)
	if err != nil {
		return err
	}
	if packages.PrintErrors(loaded) > 0 {
		return fmt.Errorf("the packages don't compile")
	}
	files := anonymous(fset)
	exported := map[string][]byte{}
	for _, p := range loaded {
		var out bytes.Buffer
		if err := gcexportdata.Write(&out, files, p.Types); err != nil {
			return err
		}
		exported[p.PkgPath] = out.Bytes()
	}
	var packed bytes.Buffer
	z, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return err
	}
	if err := gob.NewEncoder(z).Encode(exported); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	return os.WriteFile(name, packed.Bytes(), 0o644)
}

// anonymous has the files of fset under their base names: no path of this machine may travel with the types.
func anonymous(fset *token.FileSet) *token.FileSet {
	out := token.NewFileSet()
	fset.Iterate(func(f *token.File) bool {
		out.AddFile(path.Base(f.Name()), f.Base(), f.Size()).SetLines(f.Lines())
		return true
	})
	return out
}

// writeSymbols writes the values of one package as Go code.
func writeSymbols(importPath string) error {
	ex := extract.Extractor{Dest: "symbols"}
	if unoffered := api.Unoffered(importPath); unoffered != nil {
		ex.Exclude = []string{unoffered.String()}
	}
	var out bytes.Buffer
	if _, err := ex.Extract(importPath, "", &out); err != nil {
		return err
	}
	name := "../symbols/" + strings.NewReplacer("/", "_", ".", "_", "-", "_").Replace(trim(importPath)) + ".go"
	return os.WriteFile(name, out.Bytes(), 0o644)
}

// trim shortens the path of a package for a file name.
func trim(importPath string) string {
	if strings.HasPrefix(importPath, "github.com/") {
		return path.Base(path.Dir(importPath)) + "_" + path.Base(importPath)
	}
	return strings.TrimPrefix(importPath, "tossline/")
}
