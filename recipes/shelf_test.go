package recipes_test

import (
	"context"
	"reflect"
	"strings"
	"testing"

	"tossline/kernel/motion"
	"tossline/kernel/table"
	"tossline/recipes"
	contactoffset "tossline/recipes/contactoffset"
	dataquality "tossline/recipes/dataquality"
	diditchange "tossline/recipes/diditchange"
	dropdepth "tossline/recipes/dropdepth"
	jumpdriftlanding "tossline/recipes/jumpdriftlanding"
	kneeflex "tossline/recipes/kneeflex"
	load "tossline/recipes/load"
	playerbesidereference "tossline/recipes/playerbesidereference"
	seasonataglance "tossline/recipes/seasonataglance"
	testahunch "tossline/recipes/testahunch"
	tossconsistency "tossline/recipes/tossconsistency"
	trophyposition "tossline/recipes/trophyposition"
	waytocontact "tossline/recipes/waytocontact"
)

// The players of the demo that the recipes are run for.
const (
	drifting = "Tuva Brandt" // meets the ball farther and farther outside
	leader   = "Theo Marsh"
)

// shelf is every shipped recipe as it was compiled, with the settings of the tests.
func shelf() map[string]compiled {
	return map[string]compiled{
		"contact_offset.go": {
			contactoffset.Settings{Player: drifting, Reference: leader, Limit: 0.1},
			map[string]any{"Spread": contactoffset.Spread, "Behind": contactoffset.Behind,
				"Season": contactoffset.Season, "Trend": contactoffset.Trend, "Place": contactoffset.Place,
				"Players": contactoffset.Players,
				"LeftOut": contactoffset.LeftOut, "Contacts": contactoffset.Contacts}},
		"knee_flex.go": {
			kneeflex.Settings{Player: "Oskar Lind", Reference: leader, Limit: 50},
			map[string]any{"Spread": kneeflex.Spread, "Deepest": kneeflex.Deepest, "Season": kneeflex.Season,
				"Trend": kneeflex.Trend,
				"Legs":  kneeflex.Legs, "Players": kneeflex.Players, "LeftOut": kneeflex.LeftOut,
				"Loading": kneeflex.Loading}},
		"drop_depth.go": {
			dropdepth.Settings{Player: drifting, Reference: leader, Limit: 0.4},
			map[string]any{"Spread": dropdepth.Spread, "Lowest": dropdepth.Lowest, "Season": dropdepth.Season,
				"Trend": dropdepth.Trend,
				"Shape": dropdepth.Shape, "Players": dropdepth.Players, "LeftOut": dropdepth.LeftOut,
				"Drops": dropdepth.Drops}},
		"season_at_a_glance.go": {
			seasonataglance.Settings{Measure: "racket_speed", Player: drifting},
			map[string]any{"Summary": seasonataglance.Summary, "Roster": seasonataglance.Roster,
				"Sessions": seasonataglance.Sessions, "Spread": seasonataglance.Spread,
				"Course": seasonataglance.Course, "Players": seasonataglance.Players,
				"Measurable": seasonataglance.Measurable, "LeftOut": seasonataglance.LeftOut,
				"Serves": seasonataglance.Serves}},
		"player_beside_reference.go": {
			playerbesidereference.Settings{Player: drifting, Reference: leader, Curve: "Front knee flexion"},
			map[string]any{"Basis": playerbesidereference.Basis, "Largest": playerbesidereference.Largest,
				"InWords": playerbesidereference.InWords, "Contact": playerbesidereference.Contact,
				"Compared": playerbesidereference.Compared, "Bands": playerbesidereference.Bands,
				"Parting": playerbesidereference.Parting, "Phases": playerbesidereference.Phases,
				"LeftOut": playerbesidereference.LeftOut, "Courses": playerbesidereference.Courses,
				"Serves": playerbesidereference.Serves}},
		"did_it_change.go": {
			diditchange.Settings{Player: "Oskar Lind", Measure: "front_knee_flexion", Until: "2026-05-09",
				After: "2026-06-20"},
			map[string]any{"Answer": diditchange.Answer, "Sessions": diditchange.Sessions, "Trend": diditchange.Trend,
				"Blocks": diditchange.Blocks, "Noise": diditchange.Noise, "Everything": diditchange.Everything,
				"LeftOut": diditchange.LeftOut, "Serves": diditchange.Serves}},
		"test_a_hunch.go": {
			testahunch.Settings{First: "contact_offset", Second: "long_axis_speed"},
			map[string]any{"Answer": testahunch.Answer, "Within": testahunch.Within, "Slopes": testahunch.Slopes,
				"Players": testahunch.Players,
				"Pooled":  testahunch.Pooled, "Fallacy": testahunch.Fallacy, "LeftOut": testahunch.LeftOut,
				"Serves": testahunch.Serves}},
		"trophy_position.go": {
			trophyposition.Settings{Player: drifting, Reference: leader},
			map[string]any{"Position": trophyposition.Position, "Behind": trophyposition.Behind,
				"Reach": trophyposition.Reach, "Shoulders": trophyposition.Shoulders, "Legs": trophyposition.Legs,
				"Compare": trophyposition.Compare, "LeftOut": trophyposition.LeftOut, "Poses": trophyposition.Poses}},
		"way_to_contact.go": {
			waytocontact.Settings{Player: drifting, Reference: leader},
			map[string]any{"LowPoint": waytocontact.LowPoint, "Contact": waytocontact.Contact,
				"OnEdge": waytocontact.OnEdge, "Fall": waytocontact.Fall, "Rotation": waytocontact.Rotation,
				"Within": waytocontact.Within, "Sequence": waytocontact.Sequence, "Orders": waytocontact.Orders,
				"Players": waytocontact.Players, "LeftOut": waytocontact.LeftOut, "Swings": waytocontact.Swings}},
		"jump_drift_landing.go": {
			jumpdriftlanding.Settings{Player: drifting, Reference: leader},
			map[string]any{"Height": jumpdriftlanding.Height, "Season": jumpdriftlanding.Season,
				"Drift": jumpdriftlanding.Drift, "Landing": jumpdriftlanding.Landing,
				"Outside": jumpdriftlanding.Outside, "Within": jumpdriftlanding.Within, "Heel": jumpdriftlanding.Heel,
				"Players": jumpdriftlanding.Players, "LeftOut": jumpdriftlanding.LeftOut,
				"Jumps": jumpdriftlanding.Jumps}},
		"toss_consistency.go": {
			tossconsistency.Settings{Player: drifting, Reference: leader},
			map[string]any{"Above": tossconsistency.Above, "Spread": tossconsistency.Spread,
				"Directions": tossconsistency.Directions, "Sessions": tossconsistency.Sessions,
				"Follow": tossconsistency.Follow, "Within": tossconsistency.Within,
				"LeftOut": tossconsistency.LeftOut, "Tosses": tossconsistency.Tosses}},
		"data_quality.go": {
			dataquality.Settings{},
			map[string]any{"NotMeasured": dataquality.NotMeasured, "Events": dataquality.Events,
				"Doubtful": dataquality.Doubtful, "Moments": dataquality.Moments,
				"Completeness": dataquality.Completeness, "Reasons": dataquality.Reasons,
				"Recordings": dataquality.Recordings, "Noise": dataquality.Noise, "Missing": dataquality.Missing,
				"Serves": dataquality.Serves}},
		"load.go": {
			load.Settings{Player: drifting},
			map[string]any{"Weeks": load.Weeks, "Sessions": load.Sessions, "Players": load.Players,
				"Young": load.Young, "LeftOut": load.LeftOut, "Weekly": load.Weekly, "Serves": load.Serves}},
	}
}

// withPlayers is the settings with Player and Reference among those that a season has.
func withPlayers(settings any, players []string) any {
	changed := reflect.New(reflect.TypeOf(settings)).Elem()
	changed.Set(reflect.ValueOf(settings))
	for k, field := range []string{"Player", "Reference"} {
		if f := changed.FieldByName(field); f.IsValid() {
			f.SetString("")
			if k < len(players) {
				f.SetString(players[k])
			}
		}
	}
	return changed.Interface()
}

// oneServe is the demo season with a single serve.
func oneServe(t testing.TB) motion.Season {
	return motion.NewSeason(context.Background(), first{sourceOf(t)}, nil)
}

func sourceOf(t testing.TB) motion.Source {
	t.Helper()
	demoSeason(t) // skips where it must
	source, err := harbour()
	if err != nil {
		t.Fatal(err)
	}
	return source
}

// first is the first serve of a source.
type first struct{ motion.Source }

func (f first) Len() int                 { return 1 }
func (f first) Particulars() table.Table { return f.Source.Particulars().First(1) }

// Every recipe on the shelf has a title and prose, every step a heading and a sentence, and what was left out is told.
func TestRecipesReadWell(t *testing.T) {
	for _, r := range recipes.Shipped() {
		t.Run(r.File, func(t *testing.T) {
			doc := parsed(t, r.File).Doc.Text()
			lines := strings.SplitN(doc, "\n", 3)
			if len(lines) < 3 || lines[1] != "" || strings.HasSuffix(lines[0], ".") {
				t.Errorf("the recipe starts with no title: %q", doc)
			}
			if _, compiled := shelf()[r.File]; !compiled {
				t.Error("not among the compiled recipes of the tests")
			}
			left := false
			for _, s := range stepsOf(t, r.File) {
				parts := strings.SplitN(strings.TrimSpace(s.prose), "\n\n", 2)
				if len(parts) < 2 || strings.HasSuffix(parts[0], ".") || strings.Contains(parts[0], "\n") {
					t.Errorf("step %s has no heading and prose: %q", s.name, s.prose)
				}
				left = left || s.name == "LeftOut" || s.name == "Missing"
			}
			if !left {
				t.Error("no step tells what was left out")
			}
			for k, line := range strings.Split(r.Source, "\n") {
				if len([]rune(strings.ReplaceAll(line, "\t", "    "))) > 120 {
					t.Errorf("line %d is longer than 120 columns", k+1)
				}
			}
		})
	}
}
