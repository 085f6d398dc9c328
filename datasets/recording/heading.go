package recording

import (
	"fmt"
	"math"

	"tossline/datasets/landmark"
	"tossline/kernel/motion"
)

// heading guesses the direction of the serve, as an angle from +X towards +Z.
//
// A hand that is higher than the head goes on, after its highest point, towards where the ball was hit.
func (in *interpreter) heading(t motion.Take) float64 {
	sum, n := vector{}, 0
	for _, name := range [...]landmark.Name{landmark.LeftHand, landmark.RightHand} {
		hand, head := t.Layout.Index(name), t.Layout.Index(landmark.Head)
		if hand < 0 || head < 0 {
			continue
		}
		for f := 1; f+int(0.1*t.Rate) < t.Len(); f++ {
			p, later := at(t, hand, f), at(t, hand, f+int(0.1*t.Rate))
			d := later.minus(p)
			if p[1] > at(t, head, f)[1]+0.25 && p[1] > at(t, hand, f-1)[1] && p[1] > later[1] && d[0]*d[0]+d[2]*d[2] > 0.09 {
				sum, n = sum.plus(vector{d[0], 0, d[2]}), n+1
			}
		}
	}
	if n == 0 {
		in.u.Forward = Fact[string]{"", Guessed, "no serve shows it"}
		in.note(Warn, "", "no serve shows its direction: say it")
		return 0
	}
	in.u.Forward = Fact[string]{"", Guessed, fmt.Sprintf("the hand goes that way after its highest point, in %d frames", n)}
	return math.Atan2(sum[2], sum[0])
}
