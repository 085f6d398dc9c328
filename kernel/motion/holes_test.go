package motion

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Whatever is missing from a take, cutting and measuring it does not fail; what is found lies in the take, and a
// measure is a number or says why not. Every four bytes of holes take one landmark, or one of its coordinates, away
// for a while.
func FuzzHoles(f *testing.F) {
	random := rand.New(rand.NewPCG(9, 10))
	for _, n := range []int{0, 4, 40, 400} {
		holes := make([]byte, n)
		for i := range holes {
			holes[i] = byte(random.Uint32())
		}
		f.Add(holes)
	}
	whole := newBody().clip(100)
	f.Fuzz(func(t *testing.T, holes []byte) {
		c := whole
		c.Frames = append([]float32(nil), whole.Frames...)
		for ; len(holes) >= 4; holes = holes[4:] {
			c.punch(int(holes[0])%c.Layout.Len(), holes[1]%4, int(holes[2])*2, int(holes[3])/4)
		}
		c.Hand = HandUnknown
		for _, s := range Cut(c.Take).Serves {
			serve := c
			serve.Events, serve.First, serve.Hand = s.Events, s.First, HandRight
			serve.Frames = c.Frames[s.First*3*c.Layout.Len() : (s.Last+1)*3*c.Layout.Len()]
			checkFound(t, serve)
		}
		c.Hand = HandRight
		checkFound(t, c)
	})
}

// punch takes a landmark away for some frames: all of it when coordinate is 3.
func (c *Clip) punch(place int, coordinate byte, from, frames int) {
	for i := from; i < min(from+frames, c.Len()); i++ {
		for k := range byte(3) {
			if coordinate == 3 || coordinate == k {
				c.Frames[(i*c.Layout.Len()+place)*3+int(k)] = float32(math.NaN())
			}
		}
	}
}

func checkFound(t *testing.T, c Clip) {
	t.Helper()
	for kind, e := range c.Events {
		if !(e.TimeS >= float64(c.First)/c.Rate-1e-9 && e.TimeS <= float64(c.First+c.Len())/c.Rate) {
			t.Errorf("%s at %g s is outside its serve", kind, e.TimeS)
		}
	}
	for k, v := range Compute(c, All()...) {
		if math.IsNaN(v.Number) != (v.Missing != "") || math.IsInf(v.Number, 0) || v.Missing == "" && v.Basis == "" {
			t.Errorf("%s is %+v", All()[k].ID, v)
		}
	}
}

// Wherever a person puts events, in the serve or far from it, in order or not, a measure is a number or says why not.
func TestEventsAnywhere(t *testing.T) {
	random := rand.New(rand.NewPCG(71, 72))
	c := newBody().clip(100)
	for range 300 {
		serve := c
		serve.First = 1000 * random.IntN(2)
		serve.Events = Events{}
		for _, kind := range EventKinds {
			if at := 6*random.Float64() - 1; random.IntN(8) > 0 {
				serve.Events[kind] = Event{TimeS: at * math.Pow(10, float64(random.IntN(3))), ByHand: true}
			}
		}
		for k, v := range Compute(serve, All()...) {
			if math.IsNaN(v.Number) != (v.Missing != "") || math.IsInf(v.Number, 0) || v.Missing == "" && v.Basis == "" {
				t.Errorf("%s is %+v with the events %v", All()[k].ID, v, serve.Events)
			}
		}
	}
}
