package engine

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"

	"tossline/datasets/catalogue"
	"tossline/datasets/frames"
	"tossline/datasets/landmark"
	"tossline/kernel/motion"
)

// TestManyMeasuresTakeMoreThanOneMessage keeps more values than a message takes, and finds them all in several.
func TestManyMeasuresTakeMoreThanOneMessage(t *testing.T) {
	const serves = 50_000
	measures := motion.All()[:12]
	season := manyServes(t, serves)
	for _, m := range measures {
		for i := range serves {
			season.Keep(i, m, motion.Value{Number: float64(i), Basis: "body"})
		}
	}
	var pipe bytes.Buffer
	r := &reporter{w: NewWriter(&pipe), id: 3, season: season}
	if err := errors.Join(r.measured(), r.measured()); err != nil {
		t.Fatal(err)
	}
	messages, found := 0, map[string]int{}
	for in := NewReader(&pipe, MaxAnswer); ; messages++ {
		f, err := in.Read()
		if err == io.EOF {
			break
		}
		if err != nil || f.Kind != KindMeasured || f.ID != 3 {
			t.Fatal(f.Kind, f.ID, err)
		}
		size := 0
		for _, p := range f.Parts {
			size += len(p.Bytes)
			m, err := catalogue.DecodeMeasured(p.Bytes)
			if err != nil {
				t.Fatal(err)
			}
			found[m.Measure] += len(m.Keys)
		}
		if size > measuredMessage+size/len(f.Parts) {
			t.Errorf("a message of %d bytes", size)
		}
	}
	if messages < 2 {
		t.Errorf("%d messages", messages)
	}
	for _, m := range measures {
		if found[m.ID] != serves {
			t.Errorf("%s came for %d serves", m.ID, found[m.ID])
		}
	}
}

// manyServes is a season of so many serves of one frame each.
func manyServes(t *testing.T, serves int) *catalogue.Catalogue {
	layout := []landmark.Name{landmark.Head}
	path := filepath.Join(t.TempDir(), "frames.arrow")
	var file bytes.Buffer
	if err := frames.Write(&file, frames.Facts{RateHz: 50, Landmarks: layout}, make([]float32, 3*serves)); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, file.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	content := catalogue.Content{Season: "s", Recordings: []catalogue.Recording{{ID: "r", Frames: serves, RateHz: 50}}}
	for i := range serves {
		content.Serves = append(content.Serves, catalogue.Serve{ID: motion.ServeID(fmt.Sprint(i)), First: i, Last: i})
	}
	return catalogue.New(content, catalogue.Access{
		Frames: func(catalogue.Recording) (*frames.File, error) {
			f, err := os.Open(path)
			if err != nil {
				return nil, err
			}
			return frames.Open(f)
		},
		Measured: func(string) []byte { return nil },
	})
}
