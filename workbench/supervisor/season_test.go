package supervisor

import (
	"context"
	"errors"
	"maps"
	"path/filepath"
	"strings"
	"testing"

	"tossline/datasets/demo"
	"tossline/datasets/season"
	"tossline/kernel/interp"
	"tossline/kernel/motion"
)

// oneTake is a season folder with one recording of the demo.
func oneTake(t *testing.T) string {
	t.Helper()
	folder := filepath.Join(t.TempDir(), "One take")
	w, err := season.Create(folder, "test")
	if err != nil {
		t.Fatal(err)
	}
	enough := errors.New("one is enough")
	err = demo.Generate(t.Context(), demo.DefaultSeed, func(take demo.Take) error {
		_, err := w.AddRecording(t.Context(), season.Import{
			File: take.Name, SourceSHA256: strings.Repeat("0", 64), Format: "demo",
			RateHz: take.Rate, Layout: take.Layout, Frames: take.Frames, Hand: take.Hand,
			Player: take.Player.Name, Session: take.Session, HeightM: take.Player.HeightM,
			Serves: motion.Cut(take.Take).Serves,
		})
		return errors.Join(err, enough)
	})
	if !errors.Is(err, enough) || w.Close() != nil {
		t.Fatal(err)
	}
	return folder
}

// What a recipe does to the season that it was given stays in its engine.
func TestARecipeCannotChangeTheSeason(t *testing.T) {
	folder := oneTake(t)
	opened, err := season.Open(folder)
	if err != nil {
		t.Fatal(err)
	}
	defer opened.Close()
	list, err := opened.Snapshot(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	before := kept(t, folder)
	s := start(t, Options{Season: func(context.Context) (Snapshot, error) {
		return Snapshot{Folder: folder, Catalogue: list}, nil
	}})
	const first = `
// Speed measures after Bad has done what it does.
func Speed(bad int, season motion.Season) (table.Table, error) { return season.Measure(motion.RacketSpeed) }

func first(season motion.Season) motion.Clip {
	clip, err := season.Clip(motion.ServeID(season.Particulars().Texts("serve")[0]))
	if err != nil {
		panic(err)
	}
	return clip
}

`
	speeds := func(t *testing.T, change string) string {
		t.Helper()
		s.Release("rogue.go") // and with it the results that are held
		bad := "func Bad(season motion.Season) int { " + change + "; return 1 }"
		got, err := s.run(t, recipeOf("tossline/kernel/motion tossline/kernel/table", first+bad))
		if ended, ok := errors.AsType[*Ending](err); ok {
			if !strings.Contains(ended.Error(), "frames of the season, which can't be changed") {
				t.Error(ended)
			}
			return ""
		}
		speed := got.steps()["Speed"]
		if err != nil || speed.State != interp.Done || len(speed.Attachments) != 1 {
			t.Fatalf("%v, %+v, %+v, %s", err, speed, speed.Error, got.remarks())
		}
		return string(speed.Attachments[0].Bytes)
	}
	want := speeds(t, "")
	for _, c := range []struct {
		name, change string
		ends         bool // the engine ends
	}{
		{"a frame", "first(season).Frames[0] = 1e9", true},
		{"all frames", "clear(first(season).Frames)", true},
		{"events", "events := first(season).Events; clear(events)", false},
		{"times of events", "events := first(season).Events; for k := range events { events[k] = motion.Event{} }", false},
		{"names of landmarks", "names := first(season).Layout.Names(); names[0], names[1] = names[1], names[0]", false},
		{"measures", "all := motion.All(); all[0], all[1] = all[1], all[0]", false},
		{"chapters", "all := motion.Chapters(); all[0].Measures[0].ID = motion.RacketSpeed.ID", false},
		{"players", "players := season.Players(); players[0] = \"x\"", false},
		{"another measure of the name", "m := motion.FrontKneeFlexion; m.ID = motion.RacketSpeed.ID; season.Measure(m)",
			false},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := speeds(t, c.change)
			if c.ends != (got == "") || got != "" && got != want {
				t.Errorf("the speeds take %d bytes, took %d", len(got), len(want))
			}
			if speeds(t, "") != want {
				t.Error("the speeds of the next engine differ")
			}
		})
	}
	if after := kept(t, folder); !maps.Equal(before, after) {
		t.Error("the season's files have changed")
	}
}
