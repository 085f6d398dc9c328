package figure

import (
	"encoding/json"
	"fmt"
	"strings"

	"tossline/kernel/motion"
	"tossline/kernel/result"
)

// Figure is one or more serves drawn side by side, an immutable value. A serve that cannot be drawn is the figure's
// error, told when it is shown.
type Figure struct {
	drawing Drawing
	err     error
}

// Err is what keeps the figure from being drawn, or nil.
func (f Figure) Err() error { return f.err }

// Drawing is what the page draws.
func (f Figure) Drawing() Drawing { return f.drawing }

// EncodeResult implements result.Encoder.
func (f Figure) EncodeResult() (result.Result, []result.Attachment, error) {
	if f.err != nil {
		return result.Result{}, nil, f.err
	}
	if len(f.drawing.Panels) == 0 {
		return result.Result{}, nil, fmt.Errorf("the figure is empty: make it with Contact, Drop, Knees or At")
	}
	encoded, err := json.Marshal(f.drawing)
	if err != nil {
		return result.Result{}, nil, fmt.Errorf("writing the figure: %w", err)
	}
	return result.Result{Kind: result.KindFigure, Figure: encoded, Serves: len(f.drawing.Panels)}, nil, nil
}

// The sides from which a serve is looked at.
var (
	FromBehind  = View{Name: "from behind", Azimuth: 0}
	FromSide    = View{Name: "from the hitting side", Azimuth: 90}
	FromInFront = View{Name: "from in front", Azimuth: 180}
)

// Contact shows serves at contact from behind, with the vertical plane through the hitting shoulder, the line of the
// shoulders and the contact offset. Serves are given by id: first the one to look at, then those to compare it with; ""
// stands for none.
func Contact(season motion.Season, serves ...string) Figure {
	return draw(season, serves, FromBehind, (*scene).contact)
}

// Drop shows serves from the hitting side at the instant when the racket tip hangs lowest below the hitting shoulder,
// with the drop depth and the tip's way from trophy to contact. Serves are given as in Contact.
func Drop(season motion.Season, serves ...string) Figure {
	return draw(season, serves, FromSide, (*scene).drop)
}

// Knees shows serves from the hitting side at the instant when the front knee is most bent between release and contact,
// with its flexion. Serves are given as in Contact.
func Knees(season motion.Season, serves ...string) Figure {
	return draw(season, serves, FromSide, (*scene).knees)
}

// At shows serves at an event from a side, without a measure. Serves are given as in Contact.
func At(season motion.Season, event motion.EventKind, from View, serves ...string) Figure {
	return draw(season, serves, from, func(s *scene) error { return s.stand(event) })
}

// maxPanels is how many serves fit beside each other.
const maxPanels = 4

// draw makes a figure with a panel for each serve.
func draw(season motion.Season, serves []string, from View, compose func(*scene) error) Figure {
	var wanted []string
	for _, id := range serves {
		if id != "" {
			wanted = append(wanted, id)
		}
	}
	switch {
	case len(wanted) == 0:
		return Figure{err: fmt.Errorf("there is no serve to draw")}
	case len(wanted) > maxPanels:
		return Figure{err: fmt.Errorf("%d serves are too many to draw side by side; the most is %d",
			len(wanted), maxPanels)}
	}
	f := Figure{drawing: Drawing{View: from, HeightP: 380}}
	var said []string
	for i, id := range wanted {
		s, err := newScene(season, id, i > 0, from)
		if err == nil {
			err = compose(s)
		}
		if err != nil {
			return Figure{err: err}
		}
		f.drawing.Panels = append(f.drawing.Panels, s.panel)
		said = append(said, s.sentence())
		f.note(s)
	}
	f.drawing.Summary = strings.Join(said, " ")
	f.drawing.bound()
	return f
}

// note adds what a reader must know of a panel to the words under the figure, once.
func (f *Figure) note(s *scene) {
	for _, words := range s.notes {
		if !strings.Contains(f.drawing.Note, words) {
			f.drawing.Note = strings.TrimSpace(f.drawing.Note + " " + words)
		}
	}
}

// bound finds the box around everything that is drawn.
func (d *Drawing) bound() {
	d.Low, d.High = Point{0, 0, 0}, Point{0, 0, 0}
	grow := func(p Point, by float64) {
		for k := range p {
			d.Low[k], d.High[k] = min(d.Low[k], p[k]-by), max(d.High[k], p[k]+by)
		}
	}
	for _, panel := range d.Panels {
		for _, lines := range [][]Line{panel.Grounds, panel.Segments} {
			for _, l := range lines {
				grow(l.From, 0)
				grow(l.To, 0)
			}
		}
		for _, plane := range panel.Planes {
			for _, c := range plane.Corners {
				grow(c, 0)
			}
		}
		for _, trail := range panel.Trails {
			for _, p := range trail.Points {
				grow(p, 0)
			}
		}
		for _, ring := range panel.Rings {
			grow(ring.At, ring.RadiusM)
		}
		for _, dot := range panel.Dots {
			grow(dot.At, 0.04)
		}
	}
}
