package stats

import (
	"math"
	"testing"

	"tossline/kernel/table"
)

func serves() table.Table {
	nan := math.NaN()
	return table.New(
		table.Text("player", []string{"B", "B", "A", "A", "A", "A", "B"}),
		table.Text("session", []string{"2026-03-01", "2026-03-02", "2026-03-01", "2026-03-01",
			"2026-03-02", "2026-03-02", "2026-03-02"}),
		table.Number("drop_depth_m", "m", []float64{0.4, 0.5, 0.3, 0.35, nan, 0.31, 0.1}).Titled("Drop depth"),
		table.Text("drop_depth_basis", []string{"racket", "racket", "racket", "racket", "", "racket", "hand (stand-in)"}))
}

func TestOfColumn(t *testing.T) {
	s := Of(serves().Where("player", "A"), "drop_depth_m")
	if s.Title != "Drop depth" || s.Unit != "m" || s.Who != "A" || s.N() != 3 || s.StandIns != 0 {
		t.Errorf("%+v", s)
	}
	s = Of(serves(), "drop_depth_m")
	if s.N() != 5 || s.StandIns != 1 || s.Who != "" || len(s.ByPlayer()) != 2 {
		t.Errorf("a stand-in among others was kept, or not counted: %+v", s)
	}
	if s = Of(serves().Where("drop_depth_basis", "hand (stand-in)"), "drop_depth_m"); !s.StandIn || s.N() != 1 {
		t.Errorf("stand-ins alone were not kept: %+v", s)
	}
}

func TestDescribe(t *testing.T) {
	d := Describe(serves(), "drop_depth_m", "player")
	if d.Err() != nil {
		t.Fatal(d.Err())
	}
	near(t, "mean of A", d.Row(1).Number("mean"), 0.32, 1e-12)
	// R: t.test(c(.3, .35, .31))$conf.int
	near(t, "low of A", d.Row(1).Number("low"), 0.2542758939, 1e-9)
	if d.Row(0).Number("serves") != 2 || d.Row(0).Number("missing") != 0 || d.Row(1).Number("missing") != 1 {
		t.Errorf("%v serves, %v missing", d.Numbers("serves"), d.Numbers("missing"))
	}
	if whole := Describe(serves(), "drop_depth_m"); whole.Err() != nil || whole.Len() != 1 {
		t.Errorf("without groups: %v, %d rows", whole.Err(), whole.Len())
	}
	if Describe(serves(), "depth").Err() == nil || Describe(serves(), "player").Err() == nil {
		t.Error("an unknown column or one of texts was described")
	}
}

func TestMeans(t *testing.T) {
	nan := math.NaN()
	s := Values("Offset", "m", []float64{1, 2, 3, 7, 9, nan}).In(nil, []string{"a", "a", "a", "b", "b", "b"})
	e := s.MeanOfSessions()
	near(t, "mean of sessions", e.Value, 5, 1e-12)
	if m := s.SessionMeans(); m.N() != 2 || m.Sessions[1] != "b" || m.Values[1] != 8 {
		t.Errorf("session means %+v", m)
	}
	near(t, "half width", e.High-5, 12.706204736432095*math.Sqrt(18)/math.Sqrt2, 1e-9) // R: qt(.975, 1)
	for name, values := range map[string][]float64{"none": nil, "missing": {nan}, "one": {3}, "alike": {2, 2, 2}} {
		for _, e := range []Estimate{Values("x", "m", values).Mean(), Values("x", "m", values).MeanOfSessions()} {
			if e.Sure() || e.Lack == "" {
				t.Errorf("%s: %+v", name, e)
			}
			noNaN(t, e)
		}
	}
}

// NIST StRD, univariate: NumAcc1-4 certify mean and standard deviation; the last digits that NumAcc3 and 4 lose are
// those of their input in binary.
func TestAccuracyOfSpread(t *testing.T) {
	series := func(base float64) []float64 {
		v := []float64{base + .2}
		for range 500 {
			v = append(v, base+.1, base+.3)
		}
		return v
	}
	near(t, "NumAcc1", SD([]float64{10000001, 10000003, 10000002}), 1, 0)
	near(t, "NumAcc2", SD(series(1)), .1, 1e-14)
	near(t, "NumAcc3", SD(series(1e6)), .1, 1e-9)
	near(t, "NumAcc4", SD(series(1e7)), .1, 1e-8)
	near(t, "NumAcc4 mean", Mean(series(1e7)), 10000000.2, 1e-15)
}
