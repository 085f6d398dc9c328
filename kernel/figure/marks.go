package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"

	"tossline/datasets/landmark"
	"tossline/kernel/motion"
	"tossline/kernel/spatial"
)

// metres writes a length: "+0.12 m" where signed, with a true minus sign.
func metres(x float64, signed bool) string {
	text := fmt.Sprintf("%.2f", x)
	if signed && x > 0 && text != "0.00" {
		text = "+" + text
	}
	if text == "-0.00" {
		text = "0.00"
	}
	return strings.Replace(text, "-", "\u2212", 1) + " m"
}

// contact draws the player at contact, the vertical plane through the hitting shoulder along the direction of the
// serve, and how far from it the ball is met.
func (s *scene) contact() error {
	if err := s.stand(motion.Contact); err != nil {
		return err
	}
	const behind, front, top = -0.5, 1.0, 2.95
	s.panel.Planes = append(s.panel.Planes, Plane{Role: s.role, Name: "plane of the hitting shoulder",
		Corners: [4]Point{{behind, 0, 0}, {front, 0, 0}, {front, top, 0}, {behind, top, 0}}})
	v := motion.Compute(s.clip, motion.ContactForward, motion.ContactHeight, motion.ContactOffset)
	for _, part := range v {
		if part.Missing != "" {
			s.notes = append(s.notes, "Without a contact point: "+part.Missing+".")
			s.say("where the ball is met is not known (%s)", part.Missing)
			return nil
		}
	}
	at := Point{millimetres(v[0].Number), millimetres(v[1].Number), millimetres(v[2].Number)}
	s.meet(at, v[2].StandIn)
	return nil
}

// meet draws the point of contact and its distance from the plane.
func (s *scene) meet(at Point, standIn bool) {
	name := "contact"
	if standIn {
		name = "hitting hand, in place of the ball"
		s.notes = append(s.notes, "A hollow point is the hitting hand, which stands in for racket and ball.")
	}
	s.panel.Dots = append(s.panel.Dots, Dot{At: at, Role: s.role, RadiusP: 4.5, Hollow: standIn, Name: name})
	below := at[1] - 0.07 // clear of the ball
	s.panel.Dimensions = append(s.panel.Dimensions, Dimension{From: Point{at[0], below, 0},
		To: Point{at[0], below, at[2]}, Role: "ink", Label: metres(at[2], true)})
	side := "outside"
	if at[2] < 0 {
		side = "inside"
	}
	s.say("the ball is met %s %s the hitting shoulder", metres(math.Abs(at[2]), false), side)
}

// drop draws the racket at its lowest below the hitting shoulder.
func (s *scene) drop() error {
	from, to, err := s.between(motion.Trophy, motion.Contact)
	if err != nil {
		return err
	}
	low, standIn := landmark.RacketTip, false
	if !s.clip.Layout.Has(landmark.RacketTip) {
		low, standIn = s.hand(), true
	}
	tips, shoulders := motion.Path(s.clip, low, from, to), motion.Path(s.clip, landmark.RightShoulder, from, to)
	depth := func(i int) float64 { return shoulders[i].Y - tips[i].Y }
	i := largest(min(len(tips), len(shoulders)), depth)
	if i < 0 {
		return fmt.Errorf("%s: neither racket nor hitting hand is tracked from trophy to contact", s.panel.Caption)
	}
	what := "racket tip"
	if standIn {
		what = "hitting hand"
		s.notes = append(s.notes, "The hitting hand stands in for the racket.")
	}
	if err := s.standAt(s.frameTime(from, i), what+" lowest"); err != nil {
		return err
	}
	s.trail(tips, "way of the "+what+", trophy to contact")
	at, shoulder := s.place(tips[i]), s.place(shoulders[i])
	s.panel.Dots = append(s.panel.Dots, Dot{At: at, Role: s.role, RadiusP: 4, Hollow: standIn, Name: "lowest point"})
	s.level(shoulder[1])
	s.depth(at, shoulder[1], what)
	return nil
}

// level draws the height of the shoulder as a horizontal plane.
func (s *scene) level(height float64) {
	s.panel.Planes = append(s.panel.Planes, Plane{Role: s.role, Name: "height of the hitting shoulder",
		Corners: [4]Point{{-0.8, height, -0.4}, {0.4, height, -0.4}, {0.4, height, 0.4}, {-0.8, height, 0.4}}})
}

func (s *scene) depth(at Point, shoulder float64, what string) {
	depth := motion.Compute(s.clip, motion.DropDepth)[0]
	if depth.Missing != "" {
		s.say("no drop depth (%s)", depth.Missing)
		return
	}
	s.panel.Dimensions = append(s.panel.Dimensions, Dimension{From: Point{at[0], shoulder, at[2]},
		To: at, Role: "ink", Label: metres(depth.Number, false)})
	s.say("the %s hangs %s below the hitting shoulder", what, metres(depth.Number, false))
}

// knees draws the legs where the front knee is most bent.
func (s *scene) knees() error {
	from, to, err := s.between(motion.Release, motion.Contact)
	if err != nil {
		return err
	}
	hips, knees := motion.Path(s.clip, landmark.LeftHip, from, to), motion.Path(s.clip, landmark.LeftKnee, from, to)
	ankles := motion.Path(s.clip, landmark.LeftAnkle, from, to)
	i := largest(min(len(hips), len(knees), len(ankles)), func(i int) float64 {
		return spatial.Flexion(hips[i], knees[i], ankles[i])
	})
	if i < 0 {
		return fmt.Errorf("%s: the front leg is not tracked from release to contact", s.panel.Caption)
	}
	if err := s.standAt(s.frameTime(from, i), "deepest front knee"); err != nil {
		return err
	}
	s.kneeAngle(hips[i], knees[i], ankles[i])
	return nil
}

// kneeAngle draws the flexion of the front knee: from the thigh's own line, carried on, to the shank.
func (s *scene) kneeAngle(hip, knee, ankle r3.Vec) {
	flexion := motion.Compute(s.clip, motion.FrontKneeFlexion)[0]
	if flexion.Missing != "" {
		s.say("no knee flexion (%s)", flexion.Missing)
		return
	}
	onward := r3.Add(knee, r3.Scale(0.36, r3.Unit(r3.Sub(knee, hip))))
	s.panel.Grounds = append(s.panel.Grounds,
		Line{From: s.place(knee), To: s.place(onward), Role: "ink", WidthP: 1.2, Dashed: true,
			Part: "thigh, carried on"})
	label := fmt.Sprintf("%.0f\u00b0", flexion.Number)
	s.panel.Angles = append(s.panel.Angles, Angle{At: s.place(knee), From: s.place(onward), To: s.place(ankle),
		RadiusM: 0.2, Role: "ink", Label: label})
	s.say("the front knee is bent by %s", label)
}

// between gives the times of two events.
func (s *scene) between(from, to motion.EventKind) (fromS, toS float64, err error) {
	for _, kind := range []motion.EventKind{from, to} {
		if _, ok := s.clip.Events[kind]; !ok {
			return 0, 0, s.notFound(kind)
		}
	}
	return s.clip.Events[from].TimeS, s.clip.Events[to].TimeS, nil
}

// frameTime is the time of frame i of a path that starts at fromS.
func (s *scene) frameTime(fromS float64, i int) float64 {
	return (math.Ceil(fromS*s.clip.Rate-1e-6) + float64(i)) / s.clip.Rate
}

// hand is the hitting hand's landmark in the recording.
func (s *scene) hand() landmark.Name {
	name := landmark.RightHand
	if s.clip.Hand == motion.HandLeft {
		name = name.Mirror()
	}
	if s.clip.Layout.Has(name) {
		return landmark.RightHand
	}
	return landmark.RightWrist
}

// trail draws the way of a point, interrupted where it is not tracked.
func (s *scene) trail(path []r3.Vec, name string) {
	var points []Point
	flush := func() {
		if len(points) > 1 {
			s.panel.Trails = append(s.panel.Trails, Trail{Points: points, Role: s.role, WidthP: 1.4, Name: name})
		}
		points = nil
	}
	for _, p := range path {
		if spatial.Missing(p) {
			flush()
			continue
		}
		points = append(points, s.place(p))
	}
	flush()
}

// largest is the index below n at which value is largest, or -1 where it is NaN throughout.
func largest(n int, value func(i int) float64) int {
	best := -1
	for i := range n {
		if v := value(i); !math.IsNaN(v) && (best < 0 || v > value(best)) {
			best = i
		}
	}
	return best
}
