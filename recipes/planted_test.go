package recipes_test

import (
	"testing"

	"tossline/kernel/motion"
	"tossline/kernel/stats"
	diditchange "tossline/recipes/diditchange"
	testahunch "tossline/recipes/testahunch"
)

// What the demo season holds by design is found, and what it does not hold isn't.
func TestChangesOfTheDemoAreFound(t *testing.T) {
	season := demoSeason(t)
	for _, c := range []struct {
		name     string
		settings diditchange.Settings
		verdict  stats.Verdict
		truth    float64
	}{
		// 0.013 m a session: the second six sessions lie six sessions, 0.078 m, above the first six
		{"a contact that drifts outside", diditchange.Settings{Player: "Tuva Brandt", Measure: "contact_offset"},
			stats.Changed, 0.078},
		// 14 degrees after the block of leg work, half of which show on 30 May
		{"a block of leg work", diditchange.Settings{Player: "Oskar Lind", Measure: "front_knee_flexion",
			Until: "2026-05-09", After: "2026-06-20"}, stats.Changed, 14},
		{"a player who changed nothing", diditchange.Settings{Player: "Noor Salim", Measure: "front_knee_flexion",
			Counts: 4}, stats.NotShown, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			answer := answerOf(t, season, c.settings)
			if answer.Verdict != c.verdict {
				t.Errorf("%s, want %s: %s", answer.Verdict, c.verdict, answer.Sentence)
			}
			if answer.Difference.Excludes(c.truth) {
				t.Errorf("the interval leaves out the truth, %g: %s", c.truth, answer.Sentence)
			}
		})
	}
}

func answerOf(t *testing.T, season motion.Season, settings diditchange.Settings) stats.Change {
	t.Helper()
	serves, err := diditchange.Serves(season, settings)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := diditchange.Answer(serves, settings)
	if err != nil {
		t.Fatal(err)
	}
	return answer
}

// Among all measures of a player who changed nothing, none is said to have changed.
func TestNoChangeIsInvented(t *testing.T) {
	settings := diditchange.Settings{Player: "Noor Salim", Measure: "contact_offset"}
	serves, err := diditchange.Serves(demoSeason(t), settings)
	if err != nil {
		t.Fatal(err)
	}
	changed := diditchange.Everything(serves, settings).Where("verdict", string(stats.Changed))
	for i := range changed.Len() {
		t.Errorf("%s is said to have changed", changed.Row(i).Text("measure"))
	}
}

// The hunch that is planted in the demo holds within players and turns round when they are pooled.
func TestPoolingMisleadsInTheDemo(t *testing.T) {
	settings := testahunch.Settings{First: "contact_offset", Second: "long_axis_speed"}
	serves, err := testahunch.Serves(demoSeason(t), settings)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := testahunch.Answer(serves, settings)
	if err != nil {
		t.Fatal(err)
	}
	if answer.Within.High >= 0 || answer.Pooled.Low <= 0 {
		t.Errorf("within %+v, pooled %+v; want one below zero and one above", answer.Within, answer.Pooled)
	}
}

// Blocks that overlap are refused with words.
func TestBlocksMustFollow(t *testing.T) {
	_, err := diditchange.Serves(demoSeason(t), diditchange.Settings{Player: "Tuva Brandt",
		Until: "2026-05-09", After: "2026-05-09"})
	if err == nil {
		t.Error("the second block begins in the first, and nobody says so")
	}
}
