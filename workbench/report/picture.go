package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"tossline/kernel/stats"
)

// Picture is a drawing as SVG, for paper: no script, no font of its own.
type Picture struct {
	SVG  template.HTML // numbers and escaped texts alone
	Says string        // what is to be seen, for those who cannot see it
}

// The sheet that pictures are drawn on, in px of the screen, and its colours on white paper.
const (
	wide, tallPx = 330.0, 98.0
	left, right  = 34.0, 308.0
	top, bottom  = 8.0, 79.0

	clay, court, soft, line = "#b04a1f", "#1d5f78", "#5d6660", "#e2dfd6"
)

// sheet collects the parts of a picture; y runs over the values of low to high.
type sheet struct {
	strings.Builder
	low, high float64
}

// newSheet makes room for all values and intervals.
func newSheet(values []float64) *sheet {
	s := &sheet{low: stats.Quantile(values, 0), high: stats.Quantile(values, 1)}
	if margin := 0.06 * (s.high - s.low); margin > 0 {
		s.low, s.high = s.low-margin, s.high+margin
	} else {
		s.low, s.high = s.low-1, s.high+1
	}
	return s
}

// share is where a value lies between low and high.
func (s *sheet) share(value float64) float64 { return (value - s.low) / (s.high - s.low) }

func (s *sheet) dot(x, y, radius float64, colour string, opacity float64) {
	fmt.Fprintf(s, `<circle cx="%.1f" cy="%.1f" r="%.1f" fill="%s" fill-opacity="%.2f"/>`, x, y, radius, colour,
		opacity)
}

func (s *sheet) stroke(x1, y1, x2, y2, width float64, colour string) {
	fmt.Fprintf(s, `<line x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f" stroke="%s" stroke-width="%.1f"/>`, x1, y1, x2, y2,
		colour, width)
}

func (s *sheet) box(x, y, width, height float64, colour string) {
	fmt.Fprintf(s, `<rect x="%.1f" y="%.1f" width="%.1f" height="%.1f" fill="%s" fill-opacity="0.14"/>`, x, y, width,
		height, colour)
}

func (s *sheet) text(x, y float64, anchor, colour, words string) {
	fmt.Fprintf(s, `<text x="%.1f" y="%.1f" text-anchor="%s" fill="%s" font-size="8.5">%s</text>`, x, y, anchor, colour,
		template.HTMLEscapeString(words))
}

// picture closes the sheet.
func (s *sheet) picture(says string) Picture {
	svg := fmt.Sprintf(`<svg viewBox="0 0 %.0f %.0f" role="img" aria-label="%s">%s</svg>`, wide, tallPx,
		template.HTMLEscapeString(says), s.String())
	return Picture{SVG: template.HTML(svg), Says: says}
}

// picture draws a change over the sessions, and a difference as two rows of serves.
func (a *answer) picture(q Question) Picture {
	if a.kind == Changed {
		return a.course()
	}
	return a.rows(q)
}

// course draws each session's serves and mean, the sessions side by side, and behind them the mean of each block with
// its interval.
func (a *answer) course() Picture {
	blocks := []stats.Sample{a.other, a.own} // before, after
	s := newSheet(append(append([]float64(nil), a.other.Values...), a.own.Values...))
	y := func(v float64) float64 { return bottom - s.share(v)*(bottom-top) }
	s.scale(a.measure.Unit, y)
	columns := len(a.other.BySession()) + len(a.own.BySession())
	step := (right - left) / float64(max(columns, 1))
	place := 0
	for k, block := range blocks {
		colour := []string{court, clay}[k]
		days := block.BySession()
		from := left + step*float64(place)
		if e := block.MeanOfSessions(); e.Sure() {
			high, low := max(y(e.High), top), min(y(e.Low), bottom)
			s.box(from, high, step*float64(len(days)), low-high, colour)
			s.stroke(from, y(e.Value), from+step*float64(len(days)), y(e.Value), 1, colour)
		}
		for _, one := range days {
			x := left + step*(float64(place)+0.5)
			for i, v := range one.Values {
				if !math.IsNaN(v) {
					s.dot(x+0.5*step*spread(i), y(v), 1.5, colour, 0.3)
				}
			}
			s.dot(x, y(stats.Mean(one.Values)), 3, colour, 1)
			place++
		}
		if len(days) > 0 {
			s.text(from, tallPx-6, "start", colour, day(days[0].Who))
		}
	}
	return s.picture(fmt.Sprintf("%s, session by session: before %s, after %s.", a.measure.Title,
		meanInWords(a.other, a.measure.Unit), meanInWords(a.own, a.measure.Unit)))
}

// rows draws the serves of the player and of the reference, with the mean over sessions and its interval.
func (a *answer) rows(q Question) Picture {
	s := newSheet(append(append([]float64(nil), a.own.Values...), a.other.Values...))
	x := func(v float64) float64 { return left + s.share(v)*(right-left) }
	for k, side := range []stats.Sample{a.own, a.other} {
		y, colour, name := top+20+38*float64(k), []string{clay, court}[k], []string{q.Player, q.Reference}[k]
		s.text(left, y-12, "start", colour, name)
		for i, v := range side.Values {
			if !math.IsNaN(v) {
				s.dot(x(v), y+8*spread(i), 1.5, colour, 0.3)
			}
		}
		e := side.MeanOfSessions()
		if !e.Sure() {
			e = side.Mean()
		}
		if e.Sure() {
			s.stroke(max(x(e.Low), left), y, min(x(e.High), right), y, 2.5, colour)
		}
		if e.Has() {
			s.dot(x(e.Value), y, 4, colour, 1)
		}
	}
	s.stroke(left, bottom+4, right, bottom+4, 0.6, line)
	for _, v := range []float64{s.low, (s.low + s.high) / 2, s.high} {
		s.text(x(v), tallPx-6, "middle", soft, amount(v, a.measure.Unit))
	}
	return s.picture(fmt.Sprintf("%s: %s %s, %s %s.", a.measure.Title, q.Player,
		meanInWords(a.own, a.measure.Unit), q.Reference, meanInWords(a.other, a.measure.Unit)))
}

// scale writes the least and the largest value at the left.
func (s *sheet) scale(unit string, y func(float64) float64) {
	for _, v := range []float64{s.low, s.high} {
		s.stroke(left, y(v), right, y(v), 0.6, line)
		s.text(left-3, y(v)+3, "end", soft, strings.TrimSuffix(amount(v, unit), " "+unit))
	}
}

// spread moves the serves of a group apart, from -0.5 to 0.5, in a fixed way: the fractional parts of multiples of the
// golden ratio fill an interval evenly.
func spread(i int) float64 {
	_, part := math.Modf(float64(i+1) * 0.6180339887498949)
	return part - 0.5
}

func meanInWords(s stats.Sample, unit string) string {
	e := s.MeanOfSessions()
	if !e.Sure() {
		return amount(e.Value, unit)
	}
	return withInterval(e, unit)
}
