// Beside the lab
//
// What a colleague measured of the same serves, beside ours.
package recipe

import (
	"tossline/kernel/motion"
	"tossline/kernel/stats"
	"tossline/kernel/table"
)

// Settings of this recipe.
type Settings struct {
	Lab string `from:"tables"` // The table that the colleague sent: serve, knee_deg.
}

// Both has the front knee's flexion as we measured it and as they did, by serve.
func Both(season motion.Season, settings Settings) (table.Table, error) {
	ours, err := season.Measure(motion.FrontKneeFlexion)
	if err != nil {
		return table.Table{}, err
	}
	theirs, err := season.Table(settings.Lab)
	if err != nil {
		return table.Table{}, err
	}
	both := ours.Join(theirs, "serve").WithNumber("apart_deg", "deg", func(r table.Row) float64 {
		return r.Number("knee_deg") - r.Number("front_knee_flexion_deg")
	})
	return both.Pick("serve", "player", "front_knee_flexion_deg", "knee_deg", "apart_deg"), both.Err()
}

// Agreement is how far the two lie apart.
func Agreement(both table.Table) stats.Agreement {
	return stats.AgreementOf(stats.Of(both, "front_knee_flexion_deg"), stats.Of(both, "knee_deg"))
}

// Other is a table that nobody sent.
func Other(season motion.Season) (table.Table, error) { return season.Table("plates") }
