// Package api is what recipes may import: which packages, which of their objects, their types and what is written about
// them. The types and texts are generated from the packages themselves, as are the values in package symbols; a test
// fails when they are out of date.
package api

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"encoding/gob"
	"fmt"
	"go/token"
	"go/types"
	"regexp"
	"strings"
	"sync"

	"golang.org/x/tools/go/gcexportdata"
)

//go:generate go run ../generate

// Packages lists the import paths that recipes may use.
var Packages = []string{
	"bytes", "cmp", "errors", "fmt", "iter", "maps", "math", "math/rand/v2", "regexp", "slices", "sort", "strconv",
	"strings", "time", "unicode", "unicode/utf8",
	"github.com/apache/arrow/go/v17/arrow", "github.com/apache/arrow/go/v17/arrow/array",
	"github.com/go-echarts/go-echarts/v2/charts", "github.com/go-echarts/go-echarts/v2/opts",
	"github.com/go-echarts/go-echarts/v2/types",
	"tossline/datasets/landmark", "tossline/kernel/chart", "tossline/kernel/figure", "tossline/kernel/motion",
	"tossline/kernel/result", "tossline/kernel/stats", "tossline/kernel/table",
}

// Unoffered matches the names in a package that have no values for the interpreter, and is nil where all have: recipes
// read Arrow's arrays, and build tables by package table.
func Unoffered(path string) *regexp.Regexp {
	if strings.HasPrefix(path, "github.com/apache/arrow/") {
		return builders
	}
	return nil
}

var builders = regexp.MustCompile("Builder|Reader")

const (
	unrepeatable = "a result may depend on the season and the settings alone"
	unseeded     = "its numbers differ from run to run; use rand.New(rand.NewPCG(1, 2)) and its methods"
	noWaiting    = "recipes don't wait"
)

// Refused gives the reason why recipes may not use an object of an allowed package, such as "time.Now".
var Refused = map[string]string{
	"time.Now": unrepeatable, "time.Since": unrepeatable, "time.Until": unrepeatable,
	"time.Sleep": noWaiting, "time.After": noWaiting, "time.AfterFunc": noWaiting, "time.Tick": noWaiting,
	"time.NewTimer": noWaiting, "time.NewTicker": noWaiting, "time.Timer": noWaiting, "time.Ticker": noWaiting,
	"time.LoadLocation": "a recipe reads no files", "time.Local": unrepeatable,
	"iter.Pull": "it runs beside the step", "iter.Pull2": "it runs beside the step",
	"math/rand/v2.Int": unseeded, "math/rand/v2.IntN": unseeded, "math/rand/v2.Int32": unseeded,
	"math/rand/v2.Int32N": unseeded, "math/rand/v2.Int64": unseeded, "math/rand/v2.Int64N": unseeded,
	"math/rand/v2.Uint": unseeded, "math/rand/v2.UintN": unseeded, "math/rand/v2.Uint32": unseeded,
	"math/rand/v2.Uint32N": unseeded, "math/rand/v2.Uint64": unseeded, "math/rand/v2.Uint64N": unseeded,
	"math/rand/v2.Float32": unseeded, "math/rand/v2.Float64": unseeded, "math/rand/v2.ExpFloat64": unseeded,
	"math/rand/v2.NormFloat64": unseeded, "math/rand/v2.Perm": unseeded, "math/rand/v2.Shuffle": unseeded,
	"math/rand/v2.N": unseeded,
}

//go:embed types.gz
var bundle []byte

// Types are the packages as the checker needs them, and the positions of their objects.
type Types struct {
	Files    *token.FileSet
	Packages map[string]*types.Package
}

// Load reads the types, once.
var Load = sync.OnceValues(func() (Types, error) {
	unpacked, err := gzip.NewReader(bytes.NewReader(bundle))
	if err != nil {
		return Types{}, err
	}
	exported := map[string][]byte{}
	if err := gob.NewDecoder(unpacked).Decode(&exported); err != nil {
		return Types{}, err
	}
	t := Types{Files: token.NewFileSet(), Packages: map[string]*types.Package{}}
	all := map[string]*types.Package{}
	for _, path := range Packages {
		p, err := gcexportdata.Read(bytes.NewReader(exported[path]), t.Files, all, path)
		if err != nil {
			return Types{}, fmt.Errorf("the types of %s: %w", path, err)
		}
		t.Packages[path] = p
	}
	return t, nil
})

// Import gives an allowed package, and an error in words for any other.
func (t Types) Import(path string) (*types.Package, error) {
	if p := t.Packages[path]; p != nil {
		return p, nil
	}
	return nil, fmt.Errorf("recipes may not import %q", path)
}

// Has says whether the interpreter has what an object of an allowed package names. Generic ones have no values: they
// are lowered.
func (t Types) Has(object types.Object) bool {
	if generic, ok := object.Type().(interface{ TypeParams() *types.TypeParamList }); ok &&
		generic.TypeParams().Len() > 0 {
		return true
	}
	if constraint, ok := object.Type().Underlying().(*types.Interface); ok && !constraint.IsMethodSet() {
		return true
	}
	unoffered := Unoffered(object.Pkg().Path())
	return object.Exported() && (unoffered == nil || !unoffered.MatchString(object.Name()))
}
