package figure_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"tossline/datasets/landmark"
	"tossline/kernel/figure"
	"tossline/kernel/motion"
	"tossline/kernel/result"
	"tossline/kernel/table"
)

// place is a point of the court: the way of the serve, height, to the player's right.
type place [3]float64

// statue is a player who stands still, so that filters change nothing and every distance is known; the racket meets
// a point 0.15 m outside the hitting shoulder, hangs 0.35 m below it and the front knee is bent by a right angle.
func statue() map[landmark.Name]place {
	return map[landmark.Name]place{
		landmark.HeadTop: {0.3, 1.8, 0}, landmark.Head: {0.3, 1.69, 0}, landmark.C7: {0.25, 1.5, 0},
		landmark.LeftShoulder: {0.3, 1.4, -0.2}, landmark.RightShoulder: {0.3, 1.4, 0.2},
		landmark.LeftElbow: {0.4, 1.6, -0.3}, landmark.RightElbow: {0.3, 1.6, 0.4},
		landmark.LeftWrist: {0.5, 1.8, -0.3}, landmark.RightWrist: {0.3, 1.8, 0.3},
		landmark.LeftHand: {0.5, 1.9, -0.3}, landmark.RightHand: {0.3, 1.9, 0.32},
		landmark.LeftHip: {0.3, 0.9, -0.1}, landmark.RightHip: {0.3, 0.9, 0.1},
		landmark.LeftKnee: {0.3, 0.5, -0.1}, landmark.RightKnee: {0.3, 0.5, 0.1},
		landmark.LeftAnkle: {-0.1, 0.5, -0.1}, landmark.RightAnkle: {0.3, 0.1, 0.1},
		landmark.RacketGrip: {0.3, 1.9, 0.32}, landmark.RacketThroat: {0.2, 2, 0.34},
		landmark.RacketLeft: {0.4, 2.5, 0.25}, landmark.RacketRight: {0.4, 2.5, 0.45},
		landmark.RacketTip: {0.1, 1.05, 0.3},
	}
}

var (
	racket = []landmark.Name{landmark.RacketGrip, landmark.RacketThroat, landmark.RacketLeft, landmark.RacketRight,
		landmark.RacketTip}
	instants = map[motion.EventKind]float64{motion.Start: 0.3, motion.Release: 0.5, motion.Trophy: 0.9,
		motion.LowPoint: 1.1, motion.Takeoff: 1.2, motion.Contact: 1.3, motion.Landing: 1.5, motion.Finish: 1.7}
)

// filmed is a clip of the statue at 100 Hz, without some landmarks.
func filmed(without ...landmark.Name) motion.Clip {
	points := statue()
	for _, n := range without {
		delete(points, n)
	}
	return clipOf(points, motion.HandRight)
}

func clipOf(points map[landmark.Name]place, hand motion.Hand) motion.Clip {
	var names []landmark.Name
	for _, n := range landmark.Standard {
		if _, ok := points[n]; ok {
			names = append(names, n)
		}
	}
	c := motion.Clip{Events: motion.Events{}, HeightM: 1.8}
	c.Rate, c.Layout, c.Hand = 100, landmark.NewLayout(names), hand
	for range 200 {
		for _, n := range names {
			for _, x := range points[n] {
				c.Frames = append(c.Frames, float32(x))
			}
		}
	}
	for kind, at := range instants {
		c.Events[kind] = motion.Event{TimeS: at, Method: "known"}
	}
	return c
}

// leftHanded is the statue in a mirror, as a camera would record a left-hander.
func leftHanded() motion.Clip {
	points := map[landmark.Name]place{}
	for n, p := range statue() {
		points[n.Mirror()] = place{p[0], p[1], -p[2]}
	}
	return clipOf(points, motion.HandLeft)
}

// serves is a season of clips, whose ids are a, b, c ...
type serves []motion.Clip

func (s serves) Len() int                               { return len(s) }
func (s serves) Clip(i int) (motion.Clip, error)        { return s[i], nil }
func (s serves) LeftOut() table.Table                   { return table.New() }
func (s serves) Keep(int, motion.Measure, motion.Value) {}
func (s serves) Cached(int, motion.Measure) (motion.Value, bool) {
	return motion.Value{}, false
}

func (s serves) Particulars() table.Table {
	var ids, players, sessions []string
	for i := range s {
		ids = append(ids, string(rune('a'+i)))
		players, sessions = append(players, "Ada"), append(sessions, "2026-03-14")
	}
	return table.New(table.Text("serve", ids), table.Text("player", players), table.Text("session", sessions))
}

func seasonOf(clips ...motion.Clip) motion.Season {
	return motion.NewSeason(context.Background(), serves(clips), nil)
}

// drawn is what the page would draw.
func drawn(t *testing.T, f figure.Figure) figure.Drawing {
	t.Helper()
	if f.Err() != nil {
		t.Fatal(f.Err())
	}
	encoded, attached, err := f.EncodeResult()
	if err != nil || len(attached) != 0 || encoded.Kind != result.KindFigure {
		t.Fatalf("kind %q, %d attachments: %v", encoded.Kind, len(attached), err)
	}
	var d figure.Drawing
	if err := json.Unmarshal(encoded.Figure, &d); err != nil {
		t.Fatal(err)
	}
	if encoded.Serves != len(d.Panels) {
		t.Errorf("%d serves in %d panels", encoded.Serves, len(d.Panels))
	}
	return d
}

func near(a, b figure.Point) bool {
	return math.Abs(a[0]-b[0]) < 0.0015 && math.Abs(a[1]-b[1]) < 0.0015 && math.Abs(a[2]-b[2]) < 0.0015
}

func TestContactIsMeasuredFromThePlaneOfTheShoulder(t *testing.T) {
	d := drawn(t, figure.Contact(seasonOf(filmed()), "a"))
	p := d.Panels[0]
	if len(p.Planes) != 1 || len(p.Dots) != 1 || len(p.Dimensions) != 1 {
		t.Fatalf("%d planes, %d dots, %d dimensions", len(p.Planes), len(p.Dots), len(p.Dimensions))
	}
	for _, c := range p.Planes[0].Corners {
		if c[2] != 0 {
			t.Errorf("a corner of the plane lies %g m beside the shoulder", c[2])
		}
	}
	if at := p.Dots[0].At; !near(at, figure.Point{0.1, 2.5, 0.15}) || p.Dots[0].Hollow {
		t.Errorf("the ball is met at %v", p.Dots[0])
	}
	offset := p.Dimensions[0]
	if offset.From[2] != 0 || math.Abs(offset.To[2]-0.15) > 0.0015 || offset.From[0] != offset.To[0] ||
		offset.From[1] != offset.To[1] || offset.Label != "+0.15 m" {
		t.Errorf("the offset is drawn as %v", offset)
	}
	shoulders := p.Segments[slices.IndexFunc(p.Segments, func(l figure.Line) bool {
		return l.Part == "line of the shoulders"
	})]
	if !near(shoulders.From, figure.Point{0, 1.4, -0.4}) || !near(shoulders.To, figure.Point{0, 1.4, 0}) {
		t.Errorf("the line of the shoulders goes from %v to %v", shoulders.From, shoulders.To)
	}
	const words = "Ada, 14 March 2026, serve 1, at contact, from behind: the ball is met 0.15 m outside the hitting " +
		"shoulder."
	if d.Summary != words || d.Note != "" || p.Mirrored || d.View != figure.FromBehind {
		t.Errorf("summary %q, note %q, view %v", d.Summary, d.Note, d.View)
	}
}

func TestContactInsideTheShoulder(t *testing.T) {
	points := statue()
	points[landmark.RacketLeft], points[landmark.RacketRight] = place{0.4, 2.5, 0}, place{0.4, 2.5, 0.2}
	d := drawn(t, figure.Contact(seasonOf(clipOf(points, motion.HandRight)), "a"))
	if label := d.Panels[0].Dimensions[0].Label; label != "\u22120.10 m" {
		t.Errorf("labelled %q", label)
	}
	if !strings.Contains(d.Summary, "0.10 m inside the hitting shoulder") {
		t.Error(d.Summary)
	}
}

func TestDropHangsBelowTheShoulder(t *testing.T) {
	d := drawn(t, figure.Drop(seasonOf(filmed()), "a"))
	p := d.Panels[0]
	depth := p.Dimensions[0]
	if !near(depth.From, figure.Point{-0.2, 1.4, 0.1}) || !near(depth.To, figure.Point{-0.2, 1.05, 0.1}) ||
		depth.Label != "0.35 m" || d.View != figure.FromSide {
		t.Errorf("the depth is drawn as %v, %s", depth, d.View.Name)
	}
	if p.Instant != "racket tip lowest" || !strings.Contains(d.Summary, "racket tip hangs 0.35 m below") {
		t.Errorf("at %q: %s", p.Instant, d.Summary)
	}
	for _, c := range p.Planes[0].Corners {
		if math.Abs(c[1]-1.4) > 0.0015 {
			t.Errorf("the height of the shoulder is drawn at %g m", c[1])
		}
	}
	if len(p.Trails) != 1 || len(p.Trails[0].Points) != 41 {
		t.Errorf("the tip's way has %d parts", len(p.Trails))
	}
}

// The tip's way goes down and up again: the figure stands where it is lowest.
func TestDropStandsWhereTheRacketIsLowest(t *testing.T) {
	clip := filmed()
	tip, width := clip.Layout.Index(landmark.RacketTip), 3*clip.Layout.Len()
	for i := range clip.Len() {
		off := float64(i)/clip.Rate - 1
		clip.Frames[i*width+3*tip+1] = float32(0.9 + 2*off*off)
	}
	p := drawn(t, figure.Drop(seasonOf(clip), "a")).Panels[0]
	if lowest := p.Dots[0].At; math.Abs(lowest[1]-0.9) > 0.005 || p.Dimensions[0].Label != "0.50 m" {
		t.Errorf("lowest at %v, labelled %s", lowest, p.Dimensions[0].Label)
	}
	way := p.Trails[0].Points
	if way[0][1] <= p.Dots[0].At[1] || way[len(way)-1][1] <= way[0][1] {
		t.Errorf("the way starts at %v and ends at %v", way[0], way[len(way)-1])
	}
}

func TestKneesShowTheFlexionOfTheFrontKnee(t *testing.T) {
	d := drawn(t, figure.Knees(seasonOf(filmed()), "a"))
	p := d.Panels[0]
	if len(p.Angles) != 1 || p.Angles[0].Label != "90°" {
		t.Fatalf("angles %v", p.Angles)
	}
	angle := p.Angles[0]
	if !near(angle.At, figure.Point{0, 0.5, -0.3}) || !near(angle.To, figure.Point{-0.4, 0.5, -0.3}) ||
		!near(angle.From, figure.Point{0, 0.14, -0.3}) {
		t.Errorf("the angle at %v spans from %v to %v", angle.At, angle.From, angle.To)
	}
	if !strings.HasSuffix(d.Summary, "the front knee is bent by 90°.") {
		t.Error(d.Summary)
	}
}

func TestLeftHandersAreMirrored(t *testing.T) {
	for name, make := range map[string]func(motion.Season, ...string) figure.Figure{
		"contact": figure.Contact, "drop": figure.Drop, "knees": figure.Knees,
	} {
		right, left := drawn(t, make(seasonOf(filmed()), "a")), drawn(t, make(seasonOf(leftHanded()), "a"))
		if !left.Panels[0].Mirrored || !strings.Contains(left.Note, "Left-handers are mirrored.") {
			t.Errorf("%s: mirrored %v, note %q", name, left.Panels[0].Mirrored, left.Note)
		}
		left.Panels[0].Mirrored, left.Note = false, ""
		if r, l := fmt.Sprint(right), fmt.Sprint(left); r != l {
			t.Errorf("%s: right-handed\n%s\nleft-handed\n%s", name, r, l)
		}
	}
}

func TestWhatIsNotTracked(t *testing.T) {
	for _, c := range []struct {
		name    string
		make    func(motion.Season, ...string) figure.Figure
		without []landmark.Name
		missing string // of the body
		note    string
		summary string
		hollow  bool
	}{
		{"contact without a racket", figure.Contact, racket, "",
			"A hollow point is the hitting hand, which stands in for racket and ball.", "0.12 m outside", true},
		{"drop without a racket", figure.Drop, racket, "", "The hitting hand stands in for the racket.",
			"the hitting hand hangs \u22120.50 m below", true},
		{"contact without hand and racket", figure.Contact,
			append([]landmark.Name{landmark.RightHand, landmark.RightWrist}, racket...), "hitting arm",
			"Without a contact point", "where the ball is met is not known", false},
		{"contact without legs", figure.Contact, []landmark.Name{landmark.LeftKnee, landmark.RightAnkle},
			"back leg, front leg", "", "0.15 m outside", false},
		{"contact without the hips", figure.Contact, []landmark.Name{landmark.LeftHip, landmark.RightHip},
			"line of the hips, trunk, back leg, front leg", "", "0.15 m outside", false},
	} {
		d := drawn(t, c.make(seasonOf(filmed(c.without...)), "a"))
		p := d.Panels[0]
		if got := strings.Join(p.Missing, ", "); got != c.missing {
			t.Errorf("%s: missing %q, want %q", c.name, got, c.missing)
		}
		if !strings.Contains(d.Note, c.note) || !strings.Contains(d.Summary, c.summary) {
			t.Errorf("%s: note %q, summary %q", c.name, d.Note, d.Summary)
		}
		if hollow := slices.ContainsFunc(p.Dots, func(d figure.Dot) bool { return d.Hollow }); hollow != c.hollow {
			t.Errorf("%s: hollow %v", c.name, hollow)
		}
	}
}

// Of a head and a racket as much is drawn as is there.
func TestHeadsAndRacketsInPart(t *testing.T) {
	count := func(without ...landmark.Name) (rings []figure.Ring, rackets int) {
		p := drawn(t, figure.At(seasonOf(filmed(without...)), motion.Contact, figure.FromSide, "a")).Panels[0]
		for _, l := range p.Segments {
			if l.Part == "racket" {
				rackets++
			}
		}
		return p.Rings, rackets
	}
	for _, c := range []struct {
		name    string
		without []landmark.Name
		at      figure.Point
		rackets int
	}{
		{"all", nil, figure.Point{0, 1.69, -0.2}, 17},
		{"no throat", []landmark.Name{landmark.RacketThroat}, figure.Point{0, 1.69, -0.2}, 17},
		{"tip alone", racket[:4], figure.Point{0, 1.69, -0.2}, 1},
		{"no tip", racket[4:], figure.Point{0, 1.69, -0.2}, 0},
		{"top and neck", []landmark.Name{landmark.Head}, figure.Point{-0.018, 1.6915, -0.2}, 17},
		{"top alone", []landmark.Name{landmark.Head, landmark.C7}, figure.Point{0, 1.69, -0.2}, 17},
	} {
		rings, rackets := count(c.without...)
		if len(rings) != 1 || !near(rings[0].At, c.at) || rackets != c.rackets {
			t.Errorf("%s: head %v, %d lines of the racket", c.name, rings, rackets)
		}
	}
	if rings, _ := count(landmark.Head, landmark.HeadTop); len(rings) != 0 {
		t.Errorf("without a head: %v", rings)
	}
}

func TestServesAreDrawnSideBySide(t *testing.T) {
	taller := statue()
	for n, p := range taller {
		taller[n] = place{p[0] + 3, p[1] * 1.1, p[2] - 2}
	}
	d := drawn(t, figure.Contact(seasonOf(filmed(), clipOf(taller, motion.HandRight)), "b", "", "a"))
	var said []string
	for _, p := range d.Panels {
		said = append(said, p.Serve+" "+p.Role+" "+p.Caption)
	}
	want := "b clay Ada, 14 March 2026, serve 2|a court Ada, 14 March 2026, serve 1"
	if got := strings.Join(said, "|"); got != want {
		t.Errorf("%s, want %s", got, want)
	}
	for _, p := range d.Panels {
		for _, l := range slices.Concat(p.Grounds, p.Segments) {
			for _, end := range []figure.Point{l.From, l.To} {
				for k := range end {
					if end[k] < d.Low[k] || end[k] > d.High[k] {
						t.Fatalf("%s of %s reaches %v, the bounds are %v and %v", l.Part, p.Serve, end, d.Low, d.High)
					}
				}
			}
		}
	}
	if d.High[0] > 2 || d.Low[2] < -2 {
		t.Errorf("panels are not counted from their own shoulder: %v to %v", d.Low, d.High)
	}
}

func TestInstantsThatAreFoundFromTheBody(t *testing.T) {
	clip := filmed()
	clip.Events[motion.Contact] = motion.Event{TimeS: 1.3, StandIn: true}
	d := drawn(t, figure.At(seasonOf(clip), motion.Contact, figure.FromInFront, "a"))
	if !strings.Contains(d.Note, "The instant of contact is found from the body") {
		t.Errorf("note %q", d.Note)
	}
	clip.Events[motion.Contact] = motion.Event{TimeS: 1.3, StandIn: true, ByHand: true}
	if d = drawn(t, figure.At(seasonOf(clip), motion.Contact, figure.FromInFront, "a")); d.Note != "" {
		t.Errorf("set by a person: note %q", d.Note)
	}
}

func TestFiguresThatCannotBeDrawn(t *testing.T) {
	lacks := func(kind motion.EventKind) motion.Clip {
		c := filmed()
		delete(c.Events, kind)
		return c
	}
	at := func(kind motion.EventKind) func(motion.Season, ...string) figure.Figure {
		return func(s motion.Season, serves ...string) figure.Figure {
			return figure.At(s, kind, figure.FromBehind, serves...)
		}
	}
	for _, c := range []struct {
		name   string
		make   func(motion.Season, ...string) figure.Figure
		clip   motion.Clip
		serves []string
		want   string
	}{
		{"no serve", figure.Contact, filmed(), nil, "there is no serve to draw"},
		{"no serve named", figure.Contact, filmed(), []string{"", ""}, "there is no serve to draw"},
		{"too many", figure.Contact, filmed(), []string{"a", "a", "a", "a", "a"}, "5 serves are too many"},
		{"a stranger", figure.Contact, filmed(), []string{"z"}, `no serve "z"`},
		{"no contact", figure.Contact, lacks(motion.Contact), []string{"a"}, "serve 1: the contact was not found"},
		{"no trophy", figure.Drop, lacks(motion.Trophy), []string{"a"}, "serve 1: the trophy was not found"},
		{"no release", figure.Knees, lacks(motion.Release), []string{"a"}, "serve 1: the release was not found"},
		{"no landing", at(motion.Landing), lacks(motion.Landing), []string{"a"}, "serve 1: the landing was not found"},
		{"no shoulder", figure.Contact, filmed(landmark.RightShoulder), []string{"a"},
			"serve 1: the hitting shoulder is not tracked at contact"},
		{"no front leg", figure.Knees, filmed(landmark.LeftKnee), []string{"a"},
			"serve 1: the front leg is not tracked from release to contact"},
		{"no racket, no hand", figure.Drop,
			filmed(append([]landmark.Name{landmark.RightHand, landmark.RightWrist}, racket...)...), []string{"a"},
			"serve 1: neither racket nor hitting hand is tracked"},
	} {
		f := c.make(seasonOf(c.clip), c.serves...)
		_, _, err := f.EncodeResult()
		if err == nil || !strings.Contains(err.Error(), c.want) || !errors.Is(err, f.Err()) {
			t.Errorf("%s: %v, want %s", c.name, err, c.want)
		}
	}
	if _, _, err := (figure.Figure{}).EncodeResult(); err == nil || !strings.Contains(err.Error(), "empty") {
		t.Errorf("a figure of nothing: %v", err)
	}
}
