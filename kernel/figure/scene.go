package figure

import (
	"fmt"
	"math"
	"strings"
	"time"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/datasets/landmark"
	"tossline/kernel/motion"
	"tossline/kernel/spatial"
	"tossline/kernel/table"
)

// scene is one panel under construction.
type scene struct {
	clip   motion.Clip
	player string
	role   string
	view   View
	pose   map[landmark.Name]r3.Vec
	origin r3.Vec // under the hitting shoulder
	panel  Panel
	said   []string
	notes  []string
}

func newScene(season motion.Season, id string, reference bool, from View) (*scene, error) {
	clip, err := season.Clip(motion.ServeID(id))
	if err != nil {
		return nil, err
	}
	s := &scene{clip: clip, view: from, role: "clay"}
	s.player, s.panel.Caption = describe(season.Particulars(), id)
	if reference {
		s.role = "court"
	}
	s.panel.Serve, s.panel.Role = id, s.role
	s.panel.Mirrored = clip.Hand == motion.HandLeft
	if s.panel.Mirrored {
		s.notes = append(s.notes, "Left-handers are mirrored.")
	}
	return s, nil
}

// describe names a serve: its player, and "Tuva Brandt, 14 March 2026, serve 31", counted in the player's session.
func describe(particulars table.Table, id string) (player, caption string) {
	if !particulars.Has("serve") || !particulars.Has("player") || !particulars.Has("session") {
		return id, id
	}
	serves, players, sessions := particulars.Texts("serve"), particulars.Texts("player"), particulars.Texts("session")
	at := -1
	for i := range serves {
		if serves[i] == id {
			at = i
		}
	}
	if at < 0 {
		return id, id
	}
	number := 0
	for i := range at + 1 {
		if players[i] == players[at] && sessions[i] == sessions[at] {
			number++
		}
	}
	var words []string
	for _, w := range []string{players[at], dayInWords(sessions[at]), fmt.Sprintf("serve %d", number)} {
		if w != "" {
			words = append(words, w)
		}
	}
	return players[at], strings.Join(words, ", ")
}

func dayInWords(iso string) string {
	day, err := time.Parse(time.DateOnly, iso)
	if err != nil {
		return iso
	}
	return day.Format("2 January 2006")
}

// eventWords are the events as a caption has them.
var eventWords = map[motion.EventKind]string{motion.Start: "start", motion.Release: "release", motion.Trophy: "trophy",
	motion.LowPoint: "low point", motion.Takeoff: "takeoff", motion.Contact: "contact", motion.Landing: "landing",
	motion.Finish: "finish"}

// stand draws the player at an event.
func (s *scene) stand(event motion.EventKind) error {
	e, ok := s.clip.Events[event]
	if !ok {
		return s.notFound(event)
	}
	if e.StandIn && !e.ByHand {
		s.notes = append(s.notes, "The instant of "+eventWords[event]+
			" is found from the body, without racket and ball.")
	}
	return s.standAt(e.TimeS, eventWords[event])
}

func (s *scene) notFound(event motion.EventKind) error {
	return fmt.Errorf("%s: the %s was not found, so it cannot be drawn", s.panel.Caption, eventWords[event])
}

// standAt draws the player at a time of the recording.
func (s *scene) standAt(timeS float64, instant string) error {
	s.pose, s.panel.Instant = motion.PoseAt(s.clip, timeS), instant
	shoulder, ok := s.pose[landmark.RightShoulder]
	if !ok {
		return fmt.Errorf("%s: the hitting shoulder is not tracked at %s, so the figure cannot be drawn",
			s.panel.Caption, instant)
	}
	s.origin = r3.Vec{X: shoulder.X, Z: shoulder.Z}
	s.ground()
	s.body()
	s.racket()
	return nil
}

// place turns a point of the court into one of the panel.
func (s *scene) place(p r3.Vec) Point {
	q := r3.Sub(p, s.origin)
	return Point{millimetres(q.X), millimetres(q.Y), millimetres(q.Z)}
}

func millimetres(x float64) float64 { return math.Round(x*1000) / 1000 }

func (s *scene) ground() {
	s.panel.Grounds = []Line{
		{From: Point{0, 0, -0.9}, To: Point{0, 0, 0.9}, Role: "line", WidthP: 2, Part: "court"},
		{From: Point{-0.7, 0, 0}, To: Point{1.1, 0, 0}, Role: "line", WidthP: 2, Part: "court"},
	}
}

// limb is a chain of landmarks that is drawn joined.
type limb struct {
	part  string
	joins []landmark.Name
}

// limbs are those of a mirrored player: right is the hitting side, left the front leg's.
var limbs = []limb{
	{"line of the shoulders", []landmark.Name{landmark.LeftShoulder, landmark.RightShoulder}},
	{"line of the hips", []landmark.Name{landmark.LeftHip, landmark.RightHip}},
	{"trunk", []landmark.Name{landmark.RightShoulder, landmark.RightHip}},
	{"trunk", []landmark.Name{landmark.LeftShoulder, landmark.LeftHip}},
	{"hitting arm", []landmark.Name{landmark.RightShoulder, landmark.RightElbow, landmark.RightWrist}},
	{"tossing arm", []landmark.Name{landmark.LeftShoulder, landmark.LeftElbow, landmark.LeftWrist}},
	{"back leg", []landmark.Name{landmark.RightHip, landmark.RightKnee, landmark.RightAnkle}},
	{"front leg", []landmark.Name{landmark.LeftHip, landmark.LeftKnee, landmark.LeftAnkle}},
}

// ends are drawn where they are tracked and not missed where they are not.
var ends = []limb{
	{"hitting arm", []landmark.Name{landmark.RightWrist, landmark.RightHand}},
	{"tossing arm", []landmark.Name{landmark.LeftWrist, landmark.LeftHand}},
	{"back foot", []landmark.Name{landmark.RightAnkle, landmark.RightToe}},
	{"front foot", []landmark.Name{landmark.LeftAnkle, landmark.LeftToe}},
	{"back foot", []landmark.Name{landmark.RightHeel, landmark.RightToe}},
	{"front foot", []landmark.Name{landmark.LeftHeel, landmark.LeftToe}},
}

const bodyWidth = 3.4 // px of a limb

func (s *scene) body() {
	missing := map[string]bool{}
	for _, l := range limbs {
		if !s.join(l, bodyWidth) && !missing[l.part] {
			missing[l.part] = true
			s.panel.Missing = append(s.panel.Missing, l.part)
		}
	}
	for _, l := range ends {
		s.join(l, bodyWidth*0.8)
	}
	s.head()
}

// join draws what is tracked of a limb, and reports whether that is all of it.
func (s *scene) join(l limb, width float64) bool {
	whole := true
	for i := 1; i < len(l.joins); i++ {
		from, okFrom := s.pose[l.joins[i-1]]
		to, okTo := s.pose[l.joins[i]]
		if !okFrom || !okTo {
			whole = false
			continue
		}
		s.panel.Segments = append(s.panel.Segments,
			Line{From: s.place(from), To: s.place(to), Role: s.role, WidthP: width, Part: l.part})
	}
	return whole
}

// headRadius is half the height of a head, about a fifteenth of the body's (Drillis & Contini 1966: the head with the
// neck is 0.130 of stature or 0.182 with it; a circle of 0.11 m suits an adult).
const headRadius = 0.11

func (s *scene) head() {
	centre, ok := s.pose[landmark.Head]
	top, okTop := s.pose[landmark.HeadTop]
	neck, okNeck := s.pose[landmark.C7]
	switch {
	case ok:
	case okTop && okNeck:
		centre = r3.Add(top, r3.Scale(headRadius/max(r3.Norm(r3.Sub(neck, top)), 0.01), r3.Sub(neck, top)))
	case okTop:
		centre = r3.Sub(top, r3.Vec{Y: headRadius})
	default:
		return
	}
	s.panel.Rings = append(s.panel.Rings, Ring{At: s.place(centre), RadiusM: headRadius, Role: s.role, WidthP: 3})
}

// racket draws as much of the racket as is tracked: from the hand to the throat, and the head around its edges.
func (s *scene) racket() {
	hand, ok := s.first(landmark.RacketGrip, landmark.RightHand, landmark.RightWrist)
	tip, okTip := s.pose[landmark.RacketTip]
	if !ok || !okTip {
		return
	}
	left, okLeft := s.pose[landmark.RacketLeft]
	right, okRight := s.pose[landmark.RacketRight]
	if !okLeft || !okRight {
		s.line(hand, tip, "racket", 2.2)
		return
	}
	throat, ok := s.pose[landmark.RacketThroat]
	if !ok {
		throat = r3.Add(hand, r3.Scale(0.5, r3.Sub(tip, hand)))
	}
	s.line(hand, throat, "racket", 2.6)
	rim := oval(throat, right, tip, left)
	for i := range rim {
		s.line(rim[i], rim[(i+1)%len(rim)], "racket", 1.6)
	}
}

// oval is a closed line through the four ends of a racket's head.
func oval(throat, right, tip, left r3.Vec) []r3.Vec {
	centre := spatial.Middle(spatial.Middle(throat, tip), spatial.Middle(left, right))
	along, across := r3.Scale(0.5, r3.Sub(tip, throat)), r3.Scale(0.5, r3.Sub(right, left))
	const corners = 16
	rim := make([]r3.Vec, corners)
	for i := range rim {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / corners)
		rim[i] = r3.Add(centre, r3.Add(r3.Scale(cos, along), r3.Scale(sin, across)))
	}
	return rim
}

func (s *scene) line(from, to r3.Vec, part string, width float64) {
	s.panel.Segments = append(s.panel.Segments,
		Line{From: s.place(from), To: s.place(to), Role: s.role, WidthP: width, Part: part})
}

func (s *scene) first(names ...landmark.Name) (r3.Vec, bool) {
	for _, n := range names {
		if p, ok := s.pose[n]; ok {
			return p, true
		}
	}
	return r3.Vec{}, false
}

// say adds to what is told of the panel to those who cannot see it.
func (s *scene) say(format string, args ...any) {
	s.said = append(s.said, fmt.Sprintf(format, args...))
}

func (s *scene) sentence() string {
	words := fmt.Sprintf("%s, at %s, %s", s.panel.Caption, s.panel.Instant, s.view.Name)
	if len(s.said) > 0 {
		words += ": " + strings.Join(s.said, "; ")
	}
	return words + "."
}
