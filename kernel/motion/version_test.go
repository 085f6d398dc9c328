package motion

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"tossline/datasets/landmark"
)

// A value that changes has another version, or seasons would go on showing the old one from their caches. The file holds
// the versions and values of some serves; -update writes new ones where the version was raised.
func TestVersionsRiseWithValues(t *testing.T) {
	const name = "testdata/values.golden"
	random := rand.New(rand.NewPCG(61, 62))
	noisy := func(rate float64, names ...landmark.Name) Clip {
		return withNoise(newBody().clip(rate, names...), 0.003, random)
	}
	clips := []struct {
		name string
		clip Clip
	}{
		{"200 Hz", noisy(200)},
		{"50 Hz", noisy(50)},
		{"no ball", noisy(120, without(landmark.Ball)...)},
		{"hand alone", noisy(100, without(racketAndBall...)...)},
		{"left-handed, with gaps", torn(torn(leftHanded(noisy(240)), landmark.RightKnee, 1.6, 1.67),
			landmark.LeftElbow, 2.3, 2.33)},
	}
	written, err := os.ReadFile(name)
	if err != nil && !*update {
		t.Fatal(err)
	}
	before := map[string]string{}
	for line := range strings.Lines(string(written)) {
		key, value, _ := strings.Cut(strings.TrimSpace(line), " = ")
		before[key] = value
	}
	var page strings.Builder
	for _, c := range clips {
		for k, v := range Compute(c.clip, All()...) {
			m := All()[k]
			key := fmt.Sprintf("%s, %s, version %d", c.name, m.ID, m.Version)
			now := fmt.Sprintf("%.9g %s%s", v.Number, v.BasisText(), v.Missing)
			fmt.Fprintf(&page, "%s = %s\n", key, now)
			old, known := before[key]
			switch {
			case known && !sameValue(old, now):
				t.Errorf("%s is %s, was %s: raise its version, or that of all methods", key, now, old)
			case !known && !*update:
				t.Errorf("%s is not in %s: run go test ./kernel/motion -run Versions -update", key, name)
			}
		}
	}
	if *update && !t.Failed() {
		if err := os.WriteFile(name, []byte(page.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// sameValue compares what is written of two values: numbers to 1e-6, what processors may round otherwise aside.
func sameValue(a, b string) bool {
	var x, y float64
	one, other, _ := strings.Cut(a, " ")
	fmt.Sscan(one, &x)
	then, otherThen, _ := strings.Cut(b, " ")
	fmt.Sscan(then, &y)
	close := math.Abs(x-y) <= 1e-6*max(1, math.Abs(x)) || math.IsNaN(x) && math.IsNaN(y)
	return close && other == otherThen
}
