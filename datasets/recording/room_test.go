package recording_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	_ "tossline/datasets/formats"
	"tossline/datasets/recording"
)

// tableOf writes the points of so many frames as a table: wide, long by frames, or long by landmarks.
type tableOf struct {
	order  string
	column string                  // frame or time
	key    func(frame int) float64 // in that column
	takes  int                     // in one file; 0 without a column of takes
	mixed  bool                    // the rows of takes stand in turn
}

var roomPoints = []string{"left_hip", "right_hip", "left_knee", "right_knee", "ball"}

func (o tableOf) text(frames int) []byte {
	r := rand.New(rand.NewPCG(1, 2))
	var b bytes.Buffer
	if o.takes > 0 {
		b.WriteString("take,")
	}
	b.WriteString(o.column)
	if o.order == "wide" {
		for _, p := range roomPoints {
			fmt.Fprintf(&b, ",%s_x,%[1]s_y,%[1]s_z", p)
		}
	} else {
		b.WriteString(",marker,x,y,z")
	}
	row := func(take, frame, from, to int) {
		lead := ""
		if o.takes > 0 {
			lead = fmt.Sprintf("take%d,", take)
		}
		lead += fmt.Sprintf("%g", o.key(frame))
		if o.order == "wide" {
			b.WriteString("\n" + lead)
		}
		for p := from; p < to; p++ {
			if o.order != "wide" {
				if roomPoints[p] == "ball" && frame%3 == 0 {
					continue // a row that is left out
				}
				fmt.Fprintf(&b, "\n%s,%s", lead, roomPoints[p])
			}
			height := []float64{0.9, 0.9, 0.5, 0.5, 2}[p]
			fmt.Fprintf(&b, ",%.4f,%.4f,%.4f", r.Float64()/100, height+r.Float64()/100, float64(p%2)/4+r.Float64()/100)
		}
	}
	all := func(take int) {
		if o.order == "by landmark" {
			for p := range roomPoints {
				for f := range frames {
					row(take, f, p, p+1)
				}
			}
			return
		}
		for f := range frames {
			row(take, f, 0, len(roomPoints))
		}
	}
	switch {
	case o.mixed:
		for f := range frames {
			for take := range o.takes {
				row(take, f, 0, len(roomPoints))
			}
		}
	default:
		for take := range max(1, o.takes) {
			all(take)
		}
	}
	b.WriteString("\n")
	return b.Bytes()
}

// TestRoomsChangeNothing reads tables into memory and into rooms for their numbers: what comes out is the same, and in
// rooms the frames are where they are to be put down.
func TestRoomsChangeNothing(t *testing.T) {
	even := func(f int) float64 { return float64(f) / 100 }
	uneven := func(f int) float64 { return float64(f)/100 + 0.003*float64(f*f%7)/7 + float64(f/500) }
	gaps := func(f int) float64 { return float64(f + f/100*3) }
	count := func(f int) float64 { return float64(f) }
	for _, order := range []string{"wide", "by frame", "by landmark"} {
		for name, o := range map[string]tableOf{
			"even times":     {order: order, column: "time", key: even},
			"uneven times":   {order: order, column: "time", key: uneven},
			"left out":       {order: order, column: "frame", key: gaps},
			"several takes":  {order: order, column: "frame", key: count, takes: 3},
			"takes and gaps": {order: order, column: "frame", key: gaps, takes: 2},
			"uneven takes":   {order: order, column: "time", key: uneven, takes: 3},
			"takes in turn":  {order: order, column: "frame", key: gaps, takes: 3, mixed: true},
		} {
			t.Run(order+", "+name, func(t *testing.T) {
				text := o.text(1500)
				prepare := func(raw, frames []float32) *recording.Prepared {
					p, err := recording.PrepareInput(context.Background(), recording.Input{Name: "take.csv",
						Data: bytes.NewReader(text), Size: int64(len(text)), RawRoom: raw, FrameRoom: frames},
						recording.Options{RateHz: rateUnlessTimed(o.column), Units: "m", Up: "+y", Forward: "+x"})
					if err != nil {
						t.Fatal(err)
					}
					return p
				}
				frames := make([]float32, 0, 1<<20)
				inRooms, inMemory := prepare(make([]float32, 0, 1<<21), frames), prepare(nil, nil)
				if a, b := inRooms.All(), inMemory.All(); len(a) != max(1, o.takes) || len(a) != len(b) {
					t.Fatalf("%d and %d recordings", len(a), len(b))
				}
				if &inRooms.Take.Frames[0] != &frames[:1][0] {
					t.Error("the frames are not in their room")
				}
				for i, want := range inMemory.All() {
					got := inRooms.All()[i]
					if !reflect.DeepEqual(got.Understanding, want.Understanding) {
						t.Errorf("understood %+v, want %+v", got.Understanding, want.Understanding)
					}
					if i := differ(got.Take.Frames, want.Take.Frames); i >= 0 {
						t.Errorf("value %d differs of %d and %d", i, len(got.Take.Frames), len(want.Take.Frames))
					}
				}
			})
		}
	}
}

func rateUnlessTimed(column string) float64 {
	if strings.HasPrefix(column, "time") {
		return 0
	}
	return 100
}

// differ gives the first index at which values differ, -1 where none does.
func differ(a, b []float32) int {
	for i := range max(len(a), len(b)) {
		if i >= len(a) || i >= len(b) || math.Float32bits(a[i]) != math.Float32bits(b[i]) && (a[i] == a[i] || b[i] == b[i]) {
			return i
		}
	}
	return -1
}
