package motion

import (
	"flag"
	"os"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the reference page anew")

// The reference page is what the registry says.
func TestReference(t *testing.T) {
	const name = "MEASURES.md"
	page := Reference()
	if *update {
		if err := os.WriteFile(name, []byte(page), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	written, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if string(written) != page {
		t.Errorf("%s is not what the registry says; run go generate ./kernel/motion", name)
	}
	for _, m := range All() {
		if !strings.Contains(page, "`"+m.Column()+"`") {
			t.Errorf("the page lacks %s", m.ID)
		}
	}
}

func TestNormsAreOfMeasures(t *testing.T) {
	shown := 0
	for _, n := range Norms() {
		m, ok := Lookup(n.Measure)
		if !ok || n.Quantity == "" || n.Sample == "" || n.Capture == "" || n.Source == "" || n.Read == "" {
			t.Errorf("the norm %+v is of no measure, or does not say where it is from", n)
		}
		for _, s := range NormsFor(m) {
			if s.Differs != "" {
				t.Errorf("%s is shown beside %s though its definition differs", s.Quantity, m.ID)
			}
		}
		shown += len(NormsFor(m))
	}
	if shown == 0 {
		t.Error("no norm is shown")
	}
}
