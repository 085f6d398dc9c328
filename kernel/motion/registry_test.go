package motion

import (
	"math"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"
)

// Every registered measure is listed once and describes itself.
func TestMeasuresDescribeThemselves(t *testing.T) {
	listed := map[string]bool{}
	units := map[string]bool{"m": true, "deg": true, "deg/s": true, "m/s": true, "s": true, "%": true, "": true}
	name := regexp.MustCompile(`^[a-z][a-z_]*[a-z]$`)
	for _, m := range All() {
		if listed[m.ID] {
			t.Errorf("%s is listed twice", m.ID)
		}
		listed[m.ID] = true
		if found, ok := Lookup(m.ID); !ok || found != m {
			t.Errorf("%s is looked up as %v", m.ID, found)
		}
		for what, text := range map[string]string{"title": m.Title, "definition": m.Definition, "needs": m.Needs,
			"source": m.Source} {
			if text == "" || strings.TrimSpace(text) != text {
				t.Errorf("%s has the %s %q", m.ID, what, text)
			}
		}
		if !name.MatchString(m.ID) || !units[m.Unit] || m.Version < 1 || !strings.HasSuffix(m.Definition, ".") {
			t.Errorf("%s is badly registered: %+v", m.ID, m)
		}
	}
	for id := range byID {
		if !listed[id] {
			t.Errorf("%s is in no chapter", id)
		}
	}
	for id := range shown {
		if byID[id] == nil {
			t.Errorf("something is shown of %s, which is no measure", id)
		}
	}
}

// Noise of 3 mm moves each measure by what is said of it: by no more than a quarter over that, nor by less than half.
func TestNoiseMovesMeasuresAsStated(t *testing.T) {
	all := All()
	c := newBody().clip(200)
	clean := Compute(c, all...)
	random := rand.New(rand.NewPCG(21, 22))
	const draws = 150
	squares := make([]float64, len(all))
	for range draws {
		for k, v := range Compute(withNoise(c, 0.003, random), all...) {
			d := v.Number - clean[k].Number
			squares[k] += d * d
		}
	}
	for k, m := range all {
		if m.Unit == "" {
			continue // a class: it changes or it does not
		}
		if moved := math.Sqrt(squares[k] / draws); !(moved <= 1.25*m.Noise && moved >= 0.5*m.Noise) {
			t.Errorf("%s: noise moves it by %.4g %s, stated %.4g", m.ID, moved, m.Unit, m.Noise)
		}
	}
}

// A recording of one camera gives the measures that its view allows, with the very values, and refuses the rest with
// the view as the reason.
func TestOneCamera(t *testing.T) {
	all := All()
	c := newBody().clip(200)
	whole := Compute(c, all...)
	for _, view := range []struct {
		name string
		clip Clip
		why  string
	}{
		{"behind", changed(c, noX), behindViewOnly},
		{"side", changed(c, noZ), sideViewOnly},
	} {
		for k, v := range Compute(view.clip, all...) {
			m := all[k]
			switch allowed := strings.Contains(m.Camera, view.name); {
			case allowed && (v.Missing != "" || math.Abs(v.Number-whole[k].Number) > 1e-9):
				t.Errorf("%s from %s: %g (%s), in space %g", m.ID, view.name, v.Number, v.Missing, whole[k].Number)
			case !allowed && v.Missing != view.why:
				t.Errorf("%s from %s: %g (%q), want the reason %q", m.ID, view.name, v.Number, v.Missing, view.why)
			}
		}
	}
}
