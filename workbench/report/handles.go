package report

import (
	"fmt"
	"math"

	"tossline/kernel/motion"
	"tossline/kernel/stats"
	"tossline/kernel/words"
)

// Handles lists what a player does on purpose, before or while the serve is loaded: where the ball is tossed, how the
// tossing arm and the legs load, how the player stands. A finding is looked at beside each of them.
func Handles() []motion.Measure {
	return []motion.Measure{motion.TossApexLateral, motion.TossApexForward, motion.TossApex, motion.TossArmElevation,
		motion.FrontKneeFlexion, motion.BackKneeFlexion, motion.StanceStart, motion.SeparationTrophy,
		motion.TempoReleaseTrophy}
}

// A tie is named when the correlation is no smaller than worth, and when one noise of the handle goes with no less than
// part of the finding.
const (
	worth = 0.3
	part  = 0.1
)

// tied names the handle that goes most with a finding, serve by serve within the player's sessions; "" where none does.
// Every session has an own level, so that what drifted together over the season is no tie.
func tied(p parts, a *answer) string {
	var ties []stats.WithinCorrelation
	var tried []motion.Measure
	var chances []float64
	for _, h := range Handles() {
		if !p.player.Has(h.Column()) || h.ID == a.base() {
			continue
		}
		x, y := sample(p.player, h), sample(p.player, a.measure)
		w := stats.Within(x.In(x.Sessions, nil), y.In(y.Sessions, nil))
		ties, tried, chances = append(ties, w), append(tried, h), append(chances, w.P)
	}
	best := -1
	for k, chance := range stats.Holm(chances) {
		r := math.Abs(ties[k].Within.Value)
		if chance <= 0.05 && r >= worth && (best < 0 || r > math.Abs(ties[best].Within.Value)) {
			best = k
		}
	}
	if best < 0 {
		return ""
	}
	step := noiseOf(p, tried[best])
	if math.Abs(step*ties[best].Slope.Value) < part*math.Abs(a.estimate.Value) {
		return ""
	}
	return tieInWords(a, tried[best], step, ties[best])
}

// tieInWords tells what goes with one step of a handle.
func tieInWords(a *answer, h motion.Measure, step float64, w stats.WithinCorrelation) string {
	slope := w.Slope
	slope.Value, slope.Low, slope.High = slope.Value*step, slope.Low*step, slope.High*step
	low, high := math.Abs(slope.Low), math.Abs(slope.High)
	return fmt.Sprintf("From serve to serve within a session it goes with %s (r = %s, 95 %% interval %s to %s, %s): "+
		"serves with %s more of it have %s (95 %% interval %s to %s). That proves nothing until it is tried.",
		inside(h.Title), amount(w.Within.Value, ""), amount(w.Within.Low, ""), amount(w.Within.High, ""),
		words.Count(w.Within.N, "serve"), amount(step, h.Unit), moreOrLess(slope.Value, a.measure.Unit),
		amount(min(low, high), a.measure.Unit), amount(max(low, high), a.measure.Unit))
}
