package demo_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"tossline/datasets/catalogue"
	"tossline/datasets/demo"
	"tossline/datasets/season"
	"tossline/kernel/motion"
	"tossline/kernel/table"
)

// made is the default season as Create makes it, opened as any other: made once for all tests of this package.
var made = sync.OnceValues(func() (*madeSeason, error) {
	dir, err := os.MkdirTemp("", "demo-")
	if err != nil {
		return nil, err
	}
	cleanUp = func() { os.RemoveAll(dir) }
	m := &madeSeason{dir: filepath.Join(dir, "Harbour Lane")}
	return m, m.make()
})

type madeSeason struct {
	dir       string
	season    *season.Season
	catalogue *catalogue.Catalogue
	measures  table.Table
	truth     map[string][]demo.Serve // by take
}

func (m *madeSeason) make() error {
	ctx := context.Background()
	err := demo.Create(ctx, m.dir, "test", demo.DefaultSeed, nil)
	if err != nil {
		return err
	}
	text, err := os.ReadFile(filepath.Join(m.dir, demo.TruthName))
	if err != nil {
		return err
	}
	if err := json.Unmarshal(text, &m.truth); err != nil {
		return err
	}
	if m.season, err = season.Open(m.dir); err != nil {
		return err
	}
	if m.catalogue, err = m.season.Snapshot(ctx); err != nil {
		return err
	}
	m.measures, err = motion.NewSeason(ctx, m.catalogue, nil).Measure(motion.All()...)
	return err
}

// cleanUp removes what made made.
var cleanUp = func() {}

func TestMain(m *testing.M) {
	code := m.Run()
	cleanUp()
	os.Exit(code)
}

func harbourLane(t *testing.T) *madeSeason {
	t.Helper()
	if testing.Short() {
		t.Skip("making the whole season takes seconds")
	}
	m, err := made()
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// known is one complete serve of the season, with what the program found of it.
type known struct {
	demo.Serve
	take    demo.Take // without frames
	found   *catalogue.Serve
	measure map[string]float64 // computed from the racket or the body itself, not from a stand-in
	lacks   map[string]string  // why a measure is missing, by column
}

// known pairs every serve of the truth with the one that the season has at its time of contact. A serve of the season
// that is none of the truth is an error.
func (m *madeSeason) known(t *testing.T) (all []known) {
	t.Helper()
	used := map[motion.ServeID]bool{}
	for _, r := range m.catalogue.Recordings() {
		player := slices.IndexFunc(demo.Players(), func(p demo.Player) bool { return p.Name == r.Player })
		take := demo.Take{Name: r.File, Player: demo.Players()[player], Session: r.Session}
		for _, s := range m.truth[r.File] {
			k := known{Serve: s, take: take, measure: map[string]float64{}, lacks: map[string]string{}}
			if found := m.at(r.ID, s.Truth.Events[motion.Contact]); found != nil && !used[found.ID] {
				used[found.ID] = true
				k.found = found
				m.measured(&k)
			}
			if !s.Truth.CutOff {
				all = append(all, k)
			}
		}
	}
	for i := range m.catalogue.Len() {
		if s := m.catalogue.Serve(i); !used[s.ID] {
			t.Errorf("serve %s of %s is none", s.ID, m.catalogue.Recordings()[s.Recording].File)
		}
	}
	return all
}

// at is the serve of a recording whose contact is within a tenth of a second of a time.
func (m *madeSeason) at(recording string, contactS float64) *catalogue.Serve {
	for i := range m.catalogue.Len() {
		s := m.catalogue.Serve(i)
		if m.catalogue.Recordings()[s.Recording].ID == recording && math.Abs(s.ContactS()-contactS) < 0.1 {
			return &s
		}
	}
	return nil
}

func (m *madeSeason) measured(k *known) {
	row := m.measures.Row(k.found.Position)
	for _, measure := range motion.All() {
		v, ok := m.catalogue.Cached(k.found.Position, measure)
		switch {
		case !ok:
			panic("the measure was not kept")
		case v.Missing != "":
			k.lacks[measure.Column()] = v.Missing
		case !v.StandIn:
			k.measure[measure.Column()] = row.Number(measure.Column())
		}
	}
}

// differences are how far what was found lies from the truth.
type differences []float64

// within is the size that a share of the differences does not exceed.
func (d differences) within(share float64) float64 {
	sizes := slices.Clone(d)
	for i := range sizes {
		sizes[i] = math.Abs(sizes[i])
	}
	slices.Sort(sizes)
	return sizes[int(math.Ceil(share*float64(len(sizes))))-1]
}

// TestFoundAgreesWithTruth holds events and measures, found through the season folder from noisy recordings with gaps,
// against the noiseless model. Every serve is found and none invented. The tolerances hold for 95 serves of 100, and
// three times as much for 99.
func TestFoundAgreesWithTruth(t *testing.T) {
	events := map[motion.EventKind]differences{}
	measures := map[string]differences{}
	lacking := map[string]int{}
	all := harbourLane(t).known(t)
	for _, k := range all {
		if k.found == nil {
			t.Errorf("%s: the serve with contact at %.2f s is lost", k.take.Name, k.Truth.Events[motion.Contact])
			continue
		}
		if len(k.Truth.Missing) > 0 {
			continue
		}
		for kind, at := range k.Truth.Events {
			if e, ok := k.found.Events[kind]; ok {
				events[kind] = append(events[kind], e.TimeS-at)
			} else {
				lacking[string(kind)]++
			}
		}
		for column, want := range k.Truth.Measures {
			if v, ok := k.measure[column]; ok {
				measures[column] = append(measures[column], v-want)
			} else {
				lacking[column]++
			}
		}
	}
	// Seconds. The model's start is where the first joint begins to turn; a hand is seen to move a little later.
	for kind, tolerance := range map[motion.EventKind]float64{
		motion.Start: 0.02, motion.Release: 0.010, motion.Trophy: 0.018, motion.LowPoint: 0.005, motion.Takeoff: 0.009,
		motion.Contact: 0.0005, motion.Landing: 0.007, motion.Finish: 0.02,
	} {
		checkDifferences(t, string(kind), events[kind], tolerance)
	}
	for column, tolerance := range map[string]float64{
		"front_knee_flexion_deg": 0.5, "back_knee_flexion_deg": 1.3, "drop_depth_m": 0.004, "contact_offset_m": 0.002,
		"contact_forward_m": 0.003, "contact_height_m": 0.002, "racket_speed_m_s": 0.9, "long_axis_speed_deg_s": 130,
	} {
		checkDifferences(t, column, measures[column], tolerance)
	}
	for what, n := range lacking {
		if n > len(all)/20 {
			t.Errorf("%s is missing from %d of %d serves whose recordings lack nothing", what, n, len(all))
		}
	}
}

func checkDifferences(t *testing.T, what string, d differences, tolerance float64) {
	t.Helper()
	if len(d) == 0 {
		t.Errorf("%s was found in no serve", what)
		return
	}
	if most := d.within(0.95); most > tolerance {
		t.Errorf("%s is off by %.4g in one serve of 20, want at most %g", what, most, tolerance)
	}
	if most := d.within(0.99); most > 3*tolerance {
		t.Errorf("%s is off by %.4g in one serve of 100, want at most %g", what, most, 3*tolerance)
	}
}

// A reading of a season: a measure of a serve, if there is one.
type reading func(k known, column string) (float64, bool)

func byTruth(k known, column string) (float64, bool) { return k.Truth.Measures[column], true }

func byProgram(k known, column string) (float64, bool) {
	v, ok := k.measure[column]
	return v, ok
}

// sessions are the dates of the season, in order.
func sessions(all []known) (dates []string) {
	for _, k := range all {
		dates = append(dates, k.take.Session)
	}
	slices.Sort(dates)
	return slices.Compact(dates)
}

// TestSeasonHoldsWhatItSays looks for everything that the package comment says there is to find: in the truth, and in
// what the program measured.
func TestSeasonHoldsWhatItSays(t *testing.T) {
	all := harbourLane(t).known(t)
	if len(all) != 1012 {
		t.Errorf("%d complete serves, want 1,012", len(all))
	}
	for name, read := range map[string]reading{"truth": byTruth, "measured": byProgram} {
		t.Run(name, func(t *testing.T) { checkFindings(t, findings{all, sessions(all), read}) })
	}
}

type findings struct {
	all   []known
	dates []string
	read  reading
}

const (
	offset   = "contact_offset_m"
	flexion  = "front_knee_flexion_deg"
	rotation = "long_axis_speed_deg_s"
	drop     = "drop_depth_m"
	speed    = "racket_speed_m_s"
)

// course gives the values of a column for the serves of a player, with the number of the session of each.
func (f findings) course(player, column string) (session, values []float64) {
	for _, k := range f.all {
		if v, ok := f.read(k, column); ok && k.take.Player.Name == player {
			session = append(session, float64(slices.Index(f.dates, k.take.Session)))
			values = append(values, v)
		}
	}
	return session, values
}

// pairs gives the values of two columns for the serves that have both.
func (f findings) pairs(x, y string, keep func(known) bool) (xs, ys []float64) {
	for _, k := range f.all {
		vx, okX := f.read(k, x)
		vy, okY := f.read(k, y)
		if okX && okY && keep(k) {
			xs, ys = append(xs, vx), append(ys, vy)
		}
	}
	return xs, ys
}

func checkFindings(t *testing.T, f findings) {
	last := float64(len(f.dates) - 1)
	if d := last * slope(f.course("Tuva Brandt", offset)); d < 0.11 || d > 0.19 {
		t.Errorf("Tuva Brandt's contact drifts by %.3f m over the season, want 0.11 to 0.19", d)
	}
	var before, after []float64
	when, flexed := f.course("Oskar Lind", flexion)
	for i, v := range flexed {
		switch {
		case when[i] < 6:
			before = append(before, v)
		case when[i] > 6:
			after = append(after, v)
		}
	}
	if d := mean(after) - mean(before); d < 11 || d > 17 {
		t.Errorf("Oskar Lind's front knee flexes by %.1f deg more after the block, want about 14", d)
	}
	for _, column := range []string{offset, flexion, rotation, drop} {
		x, y := f.course("Noor Salim", column)
		if d := last * slope(x, y) / deviation(y); math.Abs(d) > 0.65 {
			t.Errorf("Noor Salim's %s changes by %.2f standard deviations, want noise", column, d)
		}
	}
	for _, p := range demo.Players() {
		s := slope(f.pairs(offset, rotation, func(k known) bool { return k.take.Player.Name == p.Name }))
		if s > -2000 || s < -4200 {
			t.Errorf("%s: %.0f deg/s for each metre farther outside, want about -3100", p.Name, s)
		}
	}
	if pooled := slope(f.pairs(offset, rotation, func(known) bool { return true })); pooled < 0 {
		t.Errorf("over all serves the slope is %.0f deg/s a metre, want it turned by the differences between players", pooled)
	}
	adult := func(k known) bool { return k.take.Player.BirthYear < 2008 }
	_, fast := f.pairs(speed, speed, adult)
	_, slow := f.pairs(speed, speed, func(k known) bool { return !adult(k) })
	if mean(fast) < mean(slow)+6 {
		t.Errorf("adults swing at %.1f m/s, juniors at %.1f", mean(fast), mean(slow))
	}
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

func deviation(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += (v - mean(x)) * (v - mean(x))
	}
	return math.Sqrt(sum / float64(len(x)-1))
}

func slope(x, y []float64) float64 {
	sxy, sxx := 0.0, 0.0
	mx, my := mean(x), mean(y)
	for i := range x {
		sxy += (x[i] - mx) * (y[i] - my)
		sxx += (x[i] - mx) * (x[i] - mx)
	}
	return sxy / sxx
}

func TestSeasonIsWholeAndFlawed(t *testing.T) {
	missing := map[string]int{}
	for _, k := range harbourLane(t).known(t) {
		for _, m := range k.Truth.Missing {
			missing[m]++
		}
		e := k.Truth.Events
		if d := e[motion.LowPoint] - e[motion.Trophy]; d < 0.15 || d > 0.3 {
			t.Errorf("%s: %.3f s from trophy to low point", k.take.Name, d)
		}
	}
	for what, least := range map[string]int{demo.NoRacket: 8, demo.GapAtContact: 5, demo.FrontLegLost: 2, demo.NoBall: 2} {
		if missing[what] < least || missing[what] > 20 {
			t.Errorf("%d serves with %s, want %d to 20", missing[what], what, least)
		}
	}
}

// TestSeasonSaysWhatItLacks finds that no measure is given where the recording can't have it.
func TestSeasonSaysWhatItLacks(t *testing.T) {
	cannot := map[string][]string{
		demo.NoRacket:     {drop, speed},
		demo.GapAtContact: {offset, speed},
		demo.FrontLegLost: {flexion},
	}
	for _, k := range harbourLane(t).known(t) {
		for _, what := range k.Truth.Missing {
			for _, column := range cannot[what] {
				if v, ok := k.measure[column]; ok {
					t.Errorf("%s at %.2f s: %s of %.3f, with %s", k.take.Name, k.Truth.Events[motion.Contact], column, v, what)
				}
			}
		}
	}
}

// TestSeasonIsNamed finds what a reader sees first: the name of the academy, that it is made up, and the particulars.
func TestSeasonIsNamed(t *testing.T) {
	m := harbourLane(t)
	for key, want := range map[string]string{"name": "Harbour Lane", "demo": "yes"} {
		if got, err := m.season.Setting(context.Background(), key); err != nil || got != want {
			t.Errorf("setting %s is %q, %v, want %q", key, got, err, want)
		}
	}
	count := map[string]int{}
	for i := range m.catalogue.Len() {
		s := m.catalogue.Serve(i)
		count["type "+s.Type]++
		count["side "+s.CourtSide]++
		count["outcome "+s.Outcome]++
		count[fmt.Sprint("speed known ", s.BallSpeedMS > 0)]++
	}
	for _, what := range []string{"type flat", "type slice", "type kick", "side deuce", "side ad", "outcome in",
		"outcome net", "outcome long", "outcome wide", "speed known true"} {
		if count[what] < 25 {
			t.Errorf("%d serves of %s", count[what], what)
		}
	}
	for _, what := range []string{"type ", "side ", "outcome ", "speed known false"} {
		if count[what] > 0 {
			t.Errorf("%d serves of which nothing is said: %q", count[what], what)
		}
	}
}

// TestCreateRefuses tries places where no season can be made. What an earlier Create left when it was killed goes.
func TestCreateRefuses(t *testing.T) {
	parent := t.TempDir()
	full := filepath.Join(parent, "full")
	file := filepath.Join(full, "file")
	old, fresh := filepath.Join(parent, ".making-1"), filepath.Join(parent, ".making-2")
	for _, dir := range []string{full, old, fresh} {
		if err := os.Mkdir(dir, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(file, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	yesterday := time.Now().Add(-24 * time.Hour)
	if err := os.Chtimes(old, yesterday, yesterday); err != nil {
		t.Fatal(err)
	}
	stopped, stop := context.WithCancel(context.Background())
	stop()
	for name, c := range map[string]struct {
		ctx context.Context
		dir string
	}{
		"folder with something in it": {context.Background(), full},
		"below a file":                {context.Background(), filepath.Join(file, "demo")},
		"stopped":                     {stopped, filepath.Join(parent, "demo")},
	} {
		if err := demo.Create(c.ctx, c.dir, "test", 1, nil); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	entries, err := os.ReadDir(parent)
	if err != nil || len(entries) != 2 || entries[0].Name() != ".making-2" || entries[1].Name() != "full" {
		t.Errorf("left over: %v, %v", entries, err)
	}
}
