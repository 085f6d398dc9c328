package season

import (
	"cmp"
	"context"
	"path/filepath"
	"strings"

	"tossline/datasets/recording"
	"tossline/kernel/words"
)

// Settings of a season that more than one part of the program knows.
const (
	nameSetting = "name"          // what the season is called
	mapsSetting = "landmark_maps" // see recording.Maps
)

// Name is what the season is called: its setting "name", or else what its folder is called, so that harbour-lane is
// Harbour lane.
func (s *Season) Name(ctx context.Context) (string, error) {
	name, err := s.Setting(ctx, nameSetting)
	return cmp.Or(name, titled(filepath.Base(s.dir))), err
}

func titled(folder string) string {
	name := strings.NewReplacer("-", " ", "_", " ").Replace(folder)
	if name == "" || name == "." || name == string(filepath.Separator) {
		return "Season"
	}
	return words.Capital(name)
}

// LandmarkMaps are the landmark maps by hand that earlier imports kept.
func (s *Season) LandmarkMaps(ctx context.Context) (recording.Maps, error) {
	text, err := s.Setting(ctx, mapsSetting)
	if err != nil {
		return nil, err
	}
	return recording.ParseMaps(text)
}

// KeepLandmarkMap keeps the landmark map by hand of a marker set for later imports. An empty map keeps nothing.
func (w *Writer) KeepLandmarkMap(ctx context.Context, set string, byHand map[string]string) error {
	if len(byHand) == 0 {
		return nil
	}
	maps, err := w.LandmarkMaps(ctx)
	if err != nil {
		return err
	}
	maps.Keep(set, byHand)
	return w.SetSetting(ctx, mapsSetting, maps.Text())
}
