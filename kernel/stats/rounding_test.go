package stats

import (
	"strings"
	"testing"
)

// What differs by the same everywhere, but for the rounding of the last digit, has no spread to measure by.
func TestSpreadThatIsRoundingIsNone(t *testing.T) {
	var first, second, near []float64
	for i := range 500 {
		v := float64(i)/7 + 40
		first, second, near = append(first, v), append(second, v+2), append(near, 1e9+float64(i%2)*1e-7)
	}
	for name, e := range map[string]Estimate{
		"paired":    Paired(Values("ours", "deg", first), Values("theirs", "deg", second)).Effect,
		"two sides": HedgesG(Values("ours", "", near), Values("theirs", "", first[:2])),
		"apart":     HedgesG(Values("ours", "", []float64{3, 3, 3}), Values("theirs", "", []float64{5, 5, 5})),
	} {
		sure := name == "two sides" // the other side has some
		if e.Sure() != sure || !sure && !strings.Contains(e.Lack, "spread") {
			t.Errorf("%s: %v, lacking %q", name, e, e.Lack)
		}
	}
	if a := AgreementOf(Values("ours", "deg", first), Values("theirs", "deg", second)); a.Bias.Value > -1.999 {
		t.Errorf("agreement: %v", a)
	}
}
