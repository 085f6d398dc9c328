package report

import (
	"fmt"
	"math"
	"time"

	"tossline/kernel/stats"
	"tossline/kernel/table"
	"tossline/kernel/words"
)

// always stands on every page.
const always = "Technique numbers describe; they do not diagnose. Pain is for a licensed clinician. For players " +
	"under 18 the workload rules of the national body come first. This page is personal data: mind who gets it."

// The sizes from which a difference between player and reference is worth a caution.
const (
	otherAge     = 3.0  // years
	otherHeightM = 0.05 // m
	muchMissing  = 0.2  // share of serves
)

// cautions are those that every page has, and those that the data call for.
func cautions(q Question, p parts, findings []*answer) []string {
	list := []string{always}
	if age, known := ageOf(p.player); !known || age <= 18 {
		list = append(list, q.Player+" is or may be under 18: the means of adults are no targets. Leg drive and the "+
			"turn of shoulder over shoulder come late (Whiteside et al. 2013).")
	}
	if p.reference.Len() > 0 {
		list = append(list, unlike(q, p)...)
	}
	single := false
	for _, a := range findings {
		single = single || a.single
		if n := a.own.StandIns + a.other.StandIns; n > 0 {
			list = append(list, fmt.Sprintf("%s: %s left out, because a stand-in was measured.", a.measure.Title,
				words.Count(n, "serve")))
		}
		if share := missingShare(sample(p.player, a.measure)); share > muchMissing {
			list = append(list, fmt.Sprintf("%s is missing from %.0f %% of the player's serves; ask whether those are "+
				"like the others.", a.measure.Title, 100*share))
		}
	}
	if single {
		list = append(list, fmt.Sprintf("Single serves are compared with the reference's: with fewer than %d sessions "+
			"of each, what the day did is taken for what the player does.", enough))
	}
	return list
}

// unlike says in what the reference is another kind of player.
func unlike(q Question, p parts) []string {
	var list []string
	if years := born(p.player) - born(p.reference); math.Abs(years) >= otherAge {
		list = append(list, fmt.Sprintf("%s is %s: some of the difference is age.", q.Reference, olderOrYounger(years)))
	}
	if d := tall(p.reference) - tall(p.player); math.Abs(d) >= otherHeightM {
		side := "taller"
		if d < 0 {
			side = "shorter"
		}
		list = append(list, fmt.Sprintf("%s is %.2f m %s: heights and lengths differ for that alone.", q.Reference,
			math.Abs(d), side))
	}
	return list
}

func olderOrYounger(years float64) string {
	if years < 0 {
		return words.Count(int(-years), "year") + " younger"
	}
	return words.Count(int(years), "year") + " older"
}

// ageOf is what a player reaches in the year of the last session.
func ageOf(serves table.Table) (age float64, known bool) {
	days := serves.OrderBy("-session").Distinct("session")
	if len(days) == 0 {
		return 0, false
	}
	last, err := time.Parse(time.DateOnly, days[0])
	age = float64(last.Year()) - born(serves)
	return age, err == nil && !math.IsNaN(age)
}

// born is the year of birth, NaN where it isn't known.
func born(serves table.Table) float64 { return particular(serves, "birth_year") }

// tall is the standing height in metres, NaN where it isn't known.
func tall(serves table.Table) float64 { return particular(serves, "height_m") }

func particular(serves table.Table, column string) float64 {
	if !serves.Has(column) {
		return math.NaN()
	}
	return stats.Median(serves.Numbers(column))
}

// missingShare is the share of serves without a value, those from stand-ins left aside.
func missingShare(s stats.Sample) float64 {
	serves := len(s.Values) - s.StandIns
	if serves == 0 {
		return 0
	}
	return 1 - float64(s.N())/float64(serves)
}
