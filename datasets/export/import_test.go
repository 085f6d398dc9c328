package export

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"tossline/datasets/catalogue"
	_ "tossline/datasets/formats"
	"tossline/datasets/frames"
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

// TestC3DComesBack writes every recording as C3D and imports it again.
func TestC3DComesBack(t *testing.T) {
	w := exported(t)
	c, err := w.Snapshot(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	nan := float32(math.NaN())
	signals := []frames.Signal{
		{Name: "Fz", Unit: "N", RateHz: 200, Values: make([]float32, 200)},
		{Name: "EMG", Unit: "V", RateHz: 200, Values: []float32{1, nan, -0.25}},
		{Name: "odd", RateHz: 130, Values: []float32{1}},
	}
	for i := range signals[0].Values {
		signals[0].Values[i] = float32(i) / 3
	}
	folder := t.TempDir()
	paths, left, err := SaveC3D(folder, c, func(string) ([]frames.Signal, error) { return signals, nil })
	if err != nil || len(paths) != 2 || len(left) != 2 {
		t.Fatalf("%v, left out %v, %v", paths, left, err)
	}
	for i, path := range paths {
		p, err := recording.Prepare(context.Background(), path, recording.Options{})
		if err != nil {
			t.Fatal(err)
		}
		take, err := c.Take(i)
		if err != nil {
			t.Fatal(err)
		}
		u := &p.Understanding
		if u.Player.Value != "Tuva Brandt" || u.Session.Value != "2026-03-14" || u.Hand.Value != "left" ||
			u.RateHz != take.Rate || !reflect.DeepEqual(p.Take.Layout.Names(), take.Layout.Names()) {
			t.Errorf("%+v, landmarks %v", u, p.Take.Layout.Names())
		}
		lost := 0
		for k, want := range take.Frames {
			if v := p.Take.Frames[k]; v != want && (v == v || want == want) {
				if lost++; v == v || k/3 != 7/3 { // a place of which something is missing is missing in C3D
					t.Fatalf("%s: value %d is %v, want %v", path, k, v, want)
				}
			}
		}
		if len(u.Signals) != 2 || u.Signals[0].Name != "Fz" || u.Signals[1].Unit != "V" || u.Signals[0].RateHz != 200 ||
			!reflect.DeepEqual(u.Signals[0].Values[:200], signals[0].Values) || u.Signals[1].Values[2] != -0.25 {
			t.Errorf("signals %+v", u.Signals)
		}
		if len(u.Marks) == 0 || u.Marks[0].Name != "contact" || math.Abs(u.Marks[0].TimeS-(0.3+1.0/3)) > 1e-6 {
			t.Errorf("marks %+v", u.Marks)
		}
	}
	if names, _ := filepath.Glob(filepath.Join(folder, "*.c3d")); len(names) != 2 {
		entries, _ := os.ReadDir(folder)
		t.Errorf("the folder has %v", entries)
	}
}

// Names are taken by every system, tell parts apart, and stay when their files are exported again.
func TestNamesOfC3DFiles(t *testing.T) {
	long := strings.Repeat("é", 150)
	for _, c := range []struct{ file, want string }{
		{"take.bvh", "take"},
		{"take.v2.csv.gz", "take.v2"},
		{"multi.csv: Ann A, T1", "multi Ann A, T1"},
		{"multi.csv: Ann A, T1.5", "multi Ann A, T1.5"},
		{"multi.csv.gz: a/b: c?", "multi a_b_ c_"},
		{"take: 3.csv", "take_ 3"},
		{"Nul.csv", "_Nul"},
		{"nul.2.csv", "_nul.2"},
		{"nullify.csv", "nullify"},
		{".csv", ""},
		{".hidden.csv", "hidden"},
		{"a" + long + ".csv", "a" + long[:198]},
		{"a\tb.csv", "a_b"},
	} {
		got := C3DName(c.file)
		if again := C3DName(got + ".c3d"); got != c.want || again != got {
			t.Errorf("%q: %q, then %q, want %q", c.file, got, again, c.want)
		}
	}
	var all []catalogue.Recording
	for i, file := range []string{"day.csv: noon", "Day.csv: Noon", "day.csv: late", ".csv"} {
		all = append(all, catalogue.Recording{ID: fmt.Sprint("id", i), File: file})
	}
	want := []string{"day noon-id0.c3d", "Day Noon-id1.c3d", "day late.c3d", "-id3.c3d"}
	if got := c3dFiles(all); !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}
