package motion

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/datasets/landmark"
	"tossline/kernel/table"
)

// memory is a season of clips, with a cache of its own.
type memory struct {
	clips  []Clip
	mu     sync.Mutex
	kept   map[string]Value
	broken int // the clip that cannot be read; -1 for none
	asked  int // how often a clip was asked for
}

func newMemory(clips ...Clip) *memory {
	for k := range clips {
		clips[k].Serve = ServeID(fmt.Sprintf("serve-%d", k))
	}
	return &memory{clips: clips, kept: map[string]Value{}, broken: -1}
}

func (m *memory) Len() int { return len(m.clips) }

func (m *memory) Clip(i int) (Clip, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.asked++
	if i == m.broken {
		return Clip{}, errors.New("serve-1: its frames are not there")
	}
	return m.clips[i], nil
}

func (m *memory) Particulars() table.Table {
	serves, players, sessions := make([]string, m.Len()), make([]string, m.Len()), make([]string, m.Len())
	for k, c := range m.clips {
		serves[k], players[k], sessions[k] = string(c.Serve), []string{"Ada", "Bo"}[k%2], fmt.Sprintf("2026-03-%02d",
			1+k/2)
	}
	return table.New(table.Text("serve", serves), table.Text("player", players), table.Text("session", sessions))
}

func (m *memory) LeftOut() table.Table {
	return table.New(table.Text("player", []string{"Ada", "Bo"}),
		table.Text("session", []string{"2026-03-01", "2026-03-02"}),
		table.Text("left_out", []string{"cut off", "discarded"}))
}

func (m *memory) Cached(i int, of Measure) (Value, bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	v, ok := m.kept[fmt.Sprint(i, of.ID, of.Version)]
	return v, ok
}

func (m *memory) Keep(i int, of Measure, v Value) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.kept[fmt.Sprint(i, of.ID, of.Version)] = v
}

func seasonOf(m *memory) Season { return NewSeason(context.Background(), m, nil) }

// bodies are serves of bodies that differ in size, at different rates.
func bodies(n int) []Clip {
	clips := make([]Clip, n)
	for k := range clips {
		b := newBody()
		b.size = 0.8 + 0.05*float64(k%8)
		clips[k] = b.clip([]float64{100, 200, 240}[k%3])
	}
	return clips
}

func TestMeasureComputesEachServeOnce(t *testing.T) {
	m := newMemory(bodies(20)...)
	first, err := seasonOf(m).Measure(FrontKneeFlexion, ContactHeight)
	if err != nil {
		t.Fatal(err)
	}
	asked := m.asked
	again, err := seasonOf(m).Measure(FrontKneeFlexion, ContactHeight)
	if err != nil || asked != 20 || m.asked != asked {
		t.Errorf("clips were read %d times, then %d: %v", asked, m.asked-asked, err)
	}
	for k, v := range first.Numbers("contact_height_m") {
		alone := Compute(m.clips[k], ContactHeight)[0].Number
		if v != alone || v != again.Numbers("contact_height_m")[k] {
			t.Errorf("serve %d: %g in the season, %g alone, %g from the cache", k, v, alone,
				again.Numbers("contact_height_m")[k])
		}
	}
	if basis := first.Texts("contact_height_basis"); slices.ContainsFunc(basis,
		func(s string) bool { return s != "ball" }) {
		t.Errorf("computed from %v", basis)
	}
}

func TestMeasureSaysWhatItCannotRead(t *testing.T) {
	m := newMemory(bodies(3)...)
	m.broken = 1
	if _, err := seasonOf(m).Measure(ContactHeight); err == nil || !strings.Contains(err.Error(), "serve-1") {
		t.Errorf("a serve without frames gives %v", err)
	}
	if _, err := seasonOf(m).Measure(Measure{ID: "grace"}); err == nil || !strings.Contains(err.Error(), "grace") {
		t.Errorf("a measure of another program gives %v", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := NewSeason(ctx, m, nil).Measure(ContactHeight); !errors.Is(err, context.Canceled) {
		t.Errorf("a season whose context has ended gives %v", err)
	}
}

func TestSeasonsAreNarrowed(t *testing.T) {
	s := seasonOf(newMemory(bodies(6)...))
	for _, c := range []struct {
		name    string
		season  Season
		serves  string
		leftOut string
	}{
		{"whole", s, "serve-0 serve-1 serve-2 serve-3 serve-4 serve-5", "cut off discarded"},
		{"one player", s.Of("Bo"), "serve-1 serve-3 serve-5", "discarded"},
		{"nobody named", s.Of(""), "serve-0 serve-1 serve-2 serve-3 serve-4 serve-5", "cut off discarded"},
		{"from a day on", s.Between("2026-03-02", ""), "serve-2 serve-3 serve-4 serve-5", "discarded"},
		{"one player on one day", s.Of("Ada").Between("2026-03-01", "2026-03-01"), "serve-0", "cut off"},
		{"one player and another", s.Of("Ada").Of("Bo"), "", ""},
	} {
		events, err := c.season.Events()
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(events.Texts("serve"), " "); got != c.serves || c.season.Len() != events.Len() {
			t.Errorf("%s: %s, want %s", c.name, got, c.serves)
		}
		if got := strings.Join(c.season.LeftOut().Texts("left_out"), " "); got != c.leftOut {
			t.Errorf("%s: left out %s, want %s", c.name, got, c.leftOut)
		}
	}
}

func TestEventsOfASeason(t *testing.T) {
	clips := bodies(2)
	clips[1].Events = ApplyCorrections(clips[1].Events,
		[]Correction{{Kind: Trophy, TimeS: 1.85}, {Kind: Landing, Absent: true}})
	events, err := seasonOf(newMemory(clips...)).Events()
	if err != nil {
		t.Fatal(err)
	}
	trophy, landing := events.Numbers("trophy_s"), events.Numbers("landing_s")
	if trophy[0] != bodyTrophy || trophy[1] != 1.85 || landing[0] != bodyLanding || !math.IsNaN(landing[1]) {
		t.Errorf("trophy %v, landing %v", trophy, landing)
	}
	if by := events.Texts("trophy_by_hand"); by[0] != "no" || by[1] != "yes" {
		t.Errorf("set by a person: %v", by)
	}
	if how := events.Texts("landing_method"); how[0] != "known" || how[1] != "" {
		t.Errorf("landing found by %q", how)
	}
}

func TestCurvesFollowTheBody(t *testing.T) {
	b := newBody()
	m := newMemory(b.clip(200), b.clip(120))
	for _, c := range []struct {
		curve     Curve
		at        func(t float64) float64
		tolerance float64
	}{
		{FrontKneeCurve, b.frontKnee.at, 0.1},
		{BackKneeCurve, b.backKnee.at, 0.1},
		{ElbowCurve, b.elbow.at, 0.4},
		{ShoulderTiltCurve, b.shoulderTilt.at, 0.1},
		{PelvisTiltCurve, b.hipTilt.at, 0.1},
		{SeparationCurve, func(t float64) float64 { return b.hipHeading.at(t) - b.shoulderHeading.at(t) }, 0.1},
		{TrunkForwardCurve, b.forward.at, 0.1},
		{TrunkSidewaysCurve, b.sideways.at, 0.1},
		{PelvisHeightCurve, b.y.at, 0.001},
		{ExternalRotationCurve, func(t float64) float64 { return -b.axial.at(t) }, 0.5},
		{LongAxisCurve, b.axial.slope, 12},
		{RacketSpeedCurve, b.faceSpeed, 0.25},
		{RacketDepthCurve, func(t float64) float64 { return b.shoulder(t).Y - b.pose(t)[landmark.RacketTip].Y }, 0.004},
		{HandDepthCurve, func(t float64) float64 { return b.shoulder(t).Y - b.pose(t)[landmark.RightHand].Y }, 0.003},
		{HandSpeedCurve, func(t float64) float64 {
			const h = 1e-4
			return r3.Norm(r3.Sub(b.pose(t + h)[landmark.RightHand], b.pose(t - h)[landmark.RightHand])) / (2 * h)
		}, 0.15},
	} {
		curves, err := seasonOf(m).Curves(c.curve, 41, Release, Trophy, Contact, Finish)
		if err != nil {
			t.Fatal(err)
		}
		phases := curves.Numbers("phase_pct")
		for i, v := range curves.Numbers(c.curve.Column()) {
			at := bodyRelease + phases[i]/100*(bodyFinish-bodyRelease)
			if want := c.at(at); math.Abs(v-want) > c.tolerance || v != v {
				t.Errorf("%s at %.3f s = %g, want %g", c.curve.Column(), at, v, want)
			}
		}
	}
}

// A serve with a late trophy lies on the others once it is registered on it.
func TestCurvesAreRegisteredOnEvents(t *testing.T) {
	late := newBody()
	for _, c := range []*curve{&late.frontKnee, &late.y} {
		for k := range c.bumps {
			c.bumps[k].at += 0.1
		}
	}
	clip := late.clip(200)
	clip.Events[Trophy] = Event{TimeS: bodyTrophy + 0.1}
	m := newMemory(newBody().clip(200), clip)
	curves, err := seasonOf(m).Curves(FrontKneeCurve, 101, Release, Trophy, Contact)
	if err != nil {
		t.Fatal(err)
	}
	knee := curves.Numbers("front_knee_deg")
	for k := range 2 {
		most := slices.Max(knee[k*101 : (k+1)*101])
		at := float64(slices.Index(knee[k*101:(k+1)*101], most))
		mean := 100 * (bodyTrophy + 0.05 - bodyRelease) / (bodyContact - bodyRelease)
		if math.Abs(at-mean) > 1 {
			t.Errorf("serve %d is most bent at %g %%, the mean trophy is at %.1f %%", k, at, mean)
		}
	}
}

func TestCurvesSayWhy(t *testing.T) {
	m := newMemory(newBody().clip(200, without(racketAndBall...)...), newBody().clip(200))
	delete(m.clips[1].Events, Contact)
	curves, err := seasonOf(m).Curves(RacketSpeedCurve, 5, Trophy, Contact)
	if err != nil {
		t.Fatal(err)
	}
	if why := curves.Texts("racket_speed_course_missing"); why[0] != "no racket" || why[9] != "no contact" {
		t.Errorf("missing because of %q and %q", why[0], why[9])
	}
	for _, c := range []struct {
		curve  Curve
		points int
		events []EventKind
		says   string
	}{
		{Curve{ID: "mood"}, 5, []EventKind{Trophy, Contact}, "mood"},
		{ElbowCurve, 1, []EventKind{Trophy, Contact}, "ask for 2"},
		{ElbowCurve, 5, []EventKind{Trophy}, "at least two events"},
		{ElbowCurve, 5, []EventKind{Contact, Trophy}, "order of time"},
	} {
		if _, err := seasonOf(m).Curves(c.curve, c.points, c.events...); err == nil ||
			!strings.Contains(err.Error(), c.says) {
			t.Errorf("%s over %v: %v", c.curve.ID, c.events, err)
		}
	}
}
