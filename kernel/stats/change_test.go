package stats

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// R 4.2.2: power.t.test(n, delta, sd, strict = TRUE)$power.
func TestPower(t *testing.T) {
	for _, c := range []struct {
		n                     int
		difference, sd, power float64
	}{{20, 1, 1.5, 0.537786846675991}, {5, 0.5, 1, 0.107685989798184}, {2, 3, 1, 0.387400128526177},
		{300, 0.2, 1, 0.686376453580203}} {
		near(t, fmt.Sprintf("power of %d", c.n), Power(c.difference, c.sd, c.n), c.power, 1e-7)
	}
	// R: power.t.test(power = .8, delta = .5, sd = 1) gives n = 63.77.
	noise := NoiseOf(Values("x", "m", []float64{-1, 0, 1}))
	if p := ServesNeeded(0.5, noise, 0); p.Serves != 64 || !strings.Contains(p.Sentence, "64 serves on each side") {
		t.Errorf("%+v", p)
	}
	for name, p := range map[string]Plan{"no noise": ServesNeeded(1, NoiseOf(Sample{}), 0),
		"nothing": ServesNeeded(0, noise, 0), "tiny": ServesNeeded(1e-4, noise, 0)} {
		if p.Serves != 0 || p.Lack == "" {
			t.Errorf("%s: %+v", name, p)
		}
	}
}

// player serves in sessions: each has a day of its own, serves vary about it.
type player struct {
	random   *rand.Rand
	day, sd  float64
	sessions int
}

func (p *player) serve(mean float64, sessions ...int) Sample {
	var values []float64
	var names []string
	for _, serves := range sessions {
		p.sessions++
		day := mean + p.day*p.random.NormFloat64()
		for range serves {
			values = append(values, day+p.sd*p.random.NormFloat64())
			names = append(names, fmt.Sprintf("2026-01-%03d", p.sessions))
		}
	}
	return Values("Knee flexion", "deg", values).In(nil, names)
}

// The share of 1000 followed players in whom a change of a size is found, before: sessions, after: sessions.
func foundShare(size float64, before, after []int) (found, covered float64) {
	p := player{random: rand.New(rand.NewPCG(3, 4)), day: 1.5, sd: 3}
	const runs = 1000
	for range runs {
		c := ChangeOf(p.serve(60, before...), p.serve(60+size, after...), 0)
		if c.Verdict == Changed {
			found++
		}
		if !c.Difference.Excludes(size) {
			covered++
		}
	}
	return found / runs, covered / runs
}

// A player whose serve did not change is said to have changed in 5 % of follow-ups, however many serves a session has;
// serves taken as independent would say so far more often.
func TestFalseChangesAtTheNominalRate(t *testing.T) {
	for name, c := range map[string][2][]int{
		"even":        {{10, 10, 10, 10}, {10, 10}},
		"one after":   {{10, 10, 10, 10, 10, 10}, {12}},
		"uneven":      {{4, 20, 9, 15, 6}, {11, 3, 18}},
		"three alone": {{15, 15}, {15}},
	} {
		found, covered := foundShare(0, c[0], c[1])
		if found < 0.03 || found > 0.07 || covered < 0.93 || covered > 0.97 {
			t.Errorf("%s: changed in %.1f %%, interval covers %.1f %%", name, 100*found, 100*covered)
		}
	}
}

// The power that is stated is the one there is: planted changes are found that often.
func TestPlantedChangesAreFoundWithTheStatedPower(t *testing.T) {
	before, after := []int{10, 10, 10, 10, 10}, []int{10, 10, 10}
	se := math.Sqrt((1.5*1.5 + 9.0/10) * (1./5 + 1./3))
	for _, size := range []float64{2, 4} {
		found, covered := foundShare(size, before, after)
		if want := powerOf(size, se, 6); math.Abs(found-want) > 0.025 || covered < 0.93 || covered > 0.97 {
			t.Errorf("a change of %g was found in %.1f %%, want %.1f %%; covered %.1f %%", size, 100*found, 100*want,
				100*covered)
		}
	}
}

// With variances of 1.5² + 3²/10 per session, known from 10 of them, 3 new sessions show a change of 4 with 88 %, 2
// with 75 % (noncentral t); a plan knows the variances from the serves so far only.
func TestSessionsNeeded(t *testing.T) {
	p := player{random: rand.New(rand.NewPCG(21, 22)), day: 1.5, sd: 3}
	plan := SessionsNeeded(4, p.serve(60, 12, 8, 10, 11, 9, 10, 10, 10, 9, 12), 10)
	if plan.Sessions < 1 || plan.Serves != 10*plan.Sessions || plan.Power < 0.8 ||
		!strings.Contains(plan.Sentence, "new session") {
		t.Fatalf("%+v", plan)
	}
	if plan.Sessions < 2 || plan.Sessions > 4 {
		t.Errorf("%d sessions", plan.Sessions)
	}
	flat := Values("Drop depth", "m", []float64{1, 1, 1, 1}).In(nil, []string{"a", "a", "b", "b"})
	for name, none := range map[string]Plan{"nothing": SessionsNeeded(1, Sample{}, 0),
		"one session": SessionsNeeded(1, p.serve(60, 20), 0), "no noise": SessionsNeeded(1, flat, 0),
		"tiny": SessionsNeeded(0.01, p.serve(60, 8, 8, 8), 0)} {
		if none.Lack == "" || none.Sessions != 0 {
			t.Errorf("%s: %+v", name, none)
		}
		noNaN(t, none)
	}
}

func TestChangeVerdicts(t *testing.T) {
	steady := player{random: rand.New(rand.NewPCG(1, 1)), day: 0.5, sd: 2}
	rough := player{random: rand.New(rand.NewPCG(1, 2)), day: 3, sd: 2}
	flat := Values("Drop depth", "m", []float64{1, 1, 1, 1}).In(nil, []string{"a", "a", "b", "b"})
	days := Values("Drop depth", "m", []float64{1, 1.2, 3, 3.1}).In(nil, []string{"a", "a", "b", "b"})
	cases := []struct {
		name          string
		before, after Sample
		worthwhile    float64
		verdict       Verdict
		says          string
	}{
		{"plain change", steady.serve(60, 10, 10, 10), steady.serve(75, 10, 10), 2, Changed, "by more than the 2"},
		{"small change", steady.serve(60, 60, 60, 60), steady.serve(65, 60, 60, 60), 20, Changed, "but by less"},
		{"nothing", steady.serve(60, 20, 20, 20, 20), steady.serve(60, 20, 20, 20), 4, NotShown, "would have shown"},
		{"rough days", rough.serve(60, 8, 8, 8, 8, 8, 8), rough.serve(60, 8, 8), 4, NeedsMore, "more sessions after ("},
		{"hopeless", days, days, 0.1, NeedsMore, "won't settle it"},
		{"two days", steady.serve(60, 8), steady.serve(70, 8), 2, NeedsMore, "1 more session would do"},
		{"none after", steady.serve(60, 8), Sample{}, 2, NeedsMore, "No serve after has a value"},
		{"nothing at all", Sample{}, Sample{}, 2, NeedsMore, "No serve before has a value"},
		{"no noise", flat, flat, 2, NeedsMore, "never differ"},
		{"no sessions", Values("x", "", []float64{1, 2, 3, 4}), Values("x", "", []float64{11, 12, 13}), 0, Changed,
			"3 serves"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got := ChangeOf(c.before, c.after, c.worthwhile)
			if got.Verdict != c.verdict || !strings.Contains(got.Sentence, c.says) {
				t.Errorf("%s: %s; want %s, with %q", got.Verdict, got.Sentence, c.verdict, c.says)
			}
			noNaN(t, got)
		})
	}
}
