package export

import (
	"bytes"
	"context"
	"testing"

	_ "tossline/datasets/formats"
	"tossline/datasets/recording"
)

// TestFramesComeBack imports what was exported, in every format, and compares every number with the season's own.
func TestFramesComeBack(t *testing.T) {
	w := exported(t)
	c, err := w.Snapshot(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	for _, format := range []Format{CSV, Parquet, Arrow} {
		data := written(t, format, of(t, w, "frames"))
		p, err := recording.PrepareInput(context.Background(), recording.Input{Name: "frames", Data: bytes.NewReader(data),
			Size: int64(len(data))}, recording.Options{})
		if err != nil {
			t.Fatalf("%s: %v", format, err)
		}
		all := p.All()
		if len(all) != c.Rows() || p.Understanding.Format != string(format) {
			t.Fatalf("%s: %d recordings for %d serves, read as %s", format, len(all), c.Rows(), p.Understanding.Format)
		}
		for row, got := range all {
			clip, err := c.ClipOf(c.Row(row).ID)
			if err != nil {
				t.Fatal(err)
			}
			u := got.Understanding
			if u.Part != string(c.Row(row).ID) || got.Take.Rate != clip.Rate || u.Units.Source != recording.InFile ||
				u.Forward.Value != "+x" || u.Floor.Value != 0 || u.Up.Value != "+y" {
				t.Errorf("%s: %+v", format, u)
			}
			if names, want := got.Take.Layout.Names(), clip.Layout.Names(); len(names) != len(want) {
				t.Errorf("%s, serve %d: landmarks %v, want %v", format, row, names, want)
				continue
			}
			if len(got.Take.Frames) != len(clip.Frames) {
				t.Fatalf("%s, serve %d: %d values, want %d", format, row, len(got.Take.Frames), len(clip.Frames))
			}
			for i, want := range clip.Frames {
				if v := got.Take.Frames[i]; v != want && (v == v || want == want) {
					t.Fatalf("%s, serve %d: value %d is %v, want %v", format, row, i, v, want)
				}
			}
		}
	}
}
