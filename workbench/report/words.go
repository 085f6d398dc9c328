package report

import (
	"fmt"
	"math"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"tossline/kernel/stats"
	"tossline/kernel/table"
	"tossline/kernel/words"
)

// headline is the finding in a line: "Contact offset: 0.078 m more since 30 May 2026".
func headline(q Question, a *answer) string {
	text := fmt.Sprintf("%s: %s ", a.measure.Title, moreOrLess(a.estimate.Value, a.measure.Unit))
	if a.kind == Changed {
		return text + "since " + day(firstSession(a.own))
	}
	return text + "than " + q.Reference
}

// firstSession is the date of a sample's first session.
func firstSession(s stats.Sample) string {
	if by := s.BySession(); len(by) > 0 {
		return by[0].Who
	}
	return ""
}

// differsInWords is the comparison with the reference in sentences.
func differsInWords(q Question, a *answer, c stats.Comparison) string {
	if !c.Difference.Sure() {
		return fmt.Sprintf("%s could not be compared with that of the reference. %s", a.measure.Title,
			c.Difference.Lack)
	}
	unit := a.measure.Unit
	noun := "session"
	if a.single {
		noun = "serve"
	}
	text := fmt.Sprintf("%s: %s %s (%s), %s %s (%s). The difference is %s", a.measure.Title, q.Player,
		amount(c.First.Value, unit), words.Count(c.First.N, noun), q.Reference, amount(c.Second.Value, unit),
		words.Count(c.Second.N, noun), withInterval(c.Difference, unit))
	if times := math.Abs(c.Difference.Value) / a.noise; a.noise > 0 {
		text += fmt.Sprintf(", %.1f times the noise", times)
	}
	return text + "."
}

// work is what to work on.
func work(q Question, p parts, a *answer) string {
	var text string
	if a.kind == Changed {
		text = fmt.Sprintf("%s. Was it meant? If so, keep it. If not, the way back is %s.", a.measure.Title,
			moreOrLess(-a.estimate.Value, a.measure.Unit))
	} else {
		text = fmt.Sprintf("%s. The way to %s is %s. The reference is a choice and no norm: player and coach say "+
			"whether to go there.", a.measure.Title, q.Reference, moreOrLess(-a.estimate.Value, a.measure.Unit))
	}
	if tie := tied(p, a); tie != "" {
		text += " " + tie
	}
	return text
}

// soon is how many new sessions are near enough to plan for.
const soon = 3

// check is how the finding will be checked next time. Where the change that counts takes more than a few sessions, it
// also says which larger one a few would show.
func check(p parts, a *answer) string {
	soFar := sample(p.player, a.measure)
	if a.kind == Changed && len(a.own.BySession()) >= 2 {
		soFar = a.own
	}
	plan := stats.SessionsNeeded(a.noise, soFar, 0)
	text := fmt.Sprintf("%s, from %s now. The change that counts is %s.", a.measure.Title,
		amount(soFar.MeanOfSessions().Value, a.measure.Unit), amount(a.noise, a.measure.Unit))
	if plan.Lack != "" {
		text += " " + plan.Lack
	} else {
		text += fmt.Sprintf(" It would show with a chance of %.0f %% after %s of %s.", 100*plan.Power,
			words.Count(plan.Sessions, "new session"), words.Count(plan.Serves/plan.Sessions, "serve"))
	}
	if plan.Lack == "" && plan.Sessions <= soon || len(soFar.BySession()) < 2 {
		return text
	}
	for _, times := range []float64{1.5, 2, 2.5, 3, 4, 5} {
		if larger := stats.SessionsNeeded(times*a.noise, soFar, 0); larger.Lack == "" && larger.Sessions <= soon {
			return fmt.Sprintf("%s A change of %s would show after %d.", text, amount(times*a.noise, a.measure.Unit),
				larger.Sessions)
		}
	}
	return text
}

// withInterval is "−0.082 m (95 % interval −0.11 to −0.05 m)".
// Its decimals are those of the unit, and more where both ends would look alike.
func withInterval(e stats.Estimate, unit string) string {
	places := usual[unit]
	for places < 6 && written(e.Low, unit, places) == written(e.High, unit, places) {
		places++
	}
	return fmt.Sprintf("%s (95 %% interval %s to %s)", written(e.Value, unit, places), written(e.Low, unit, places),
		written(e.High, unit, places))
}

// moreOrLess is "0.078 m more".
func moreOrLess(x float64, unit string) string {
	if x < 0 {
		return amount(-x, unit) + " less"
	}
	return amount(x, unit) + " more"
}

// usual is how many decimals a unit deserves.
var usual = map[string]int{"m": 3, "s": 3, "deg": 1, "m/s": 1, "%": 1, "": 2}

// amount writes a number with the decimals that its unit deserves.
func amount(x float64, unit string) string { return written(x, unit, usual[unit]) }

// written writes a number with its unit and a true minus sign.
func written(x float64, unit string, places int) string {
	text := strings.TrimSpace(fmt.Sprintf("%.*f %s", places, x, unit))
	return strings.NewReplacer("-", "\u2212", " deg", "°").Replace(text)
}

// span is the time that serves are of: "7 February to 19 September 2026".
func span(serves table.Table) string {
	days := serves.OrderBy("session").Distinct("session")
	if len(days) == 0 {
		return ""
	}
	first, last := day(days[0]), day(days[len(days)-1])
	if first == last {
		return first
	}
	if year := " " + days[len(days)-1][:4]; strings.HasSuffix(first, year) {
		first = strings.TrimSuffix(first, year)
	}
	return first + " to " + last
}

// day is a date in words; what is no date stays as it is.
func day(date string) string {
	when, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return when.Format("2 January 2006")
}

// inside is a title within a sentence: "Contact offset" becomes "contact offset".
func inside(title string) string {
	first, size := utf8.DecodeRuneInString(title)
	return string(unicode.ToLower(first)) + title[size:]
}
