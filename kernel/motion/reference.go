package motion

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

//go:generate go test . -run TestReference -update

// Reference is the reference page of events, measures, curves and norms, in Markdown, written from the registry alone.
func Reference() string {
	var page strings.Builder
	page.WriteString(referenceHead)
	page.WriteString("\n## Events\n\n| event | with racket and ball | stand-in, marked |\n|---|---|---|\n")
	for _, e := range EventDefinitions() {
		row(&page, inWords(e.Kind), e.Definition, orDash(e.StandIn))
	}
	for _, chapter := range Chapters() {
		fmt.Fprintf(&page, "\n## %s\n", chapter.Title)
		for _, m := range chapter.Measures {
			m.describe(&page)
		}
	}
	page.WriteString("\n## Curves\n\nQuantities over the whole serve, for comparing its course. Nothing stands " +
		"in.\n\n| column | what it is | positive | needs |\n|---|---|---|---|\n")
	for _, c := range Curves() {
		row(&page, "`"+c.Column()+"`", c.Definition, orDash(c.Sign), c.Needs)
	}
	fmt.Fprintf(&page, "\n## Published means\n\nShown beside a measure only where the definitions match. %s\n\n"+
		"| measure | mean (SD) | what was measured | of whom, how | source | shown |\n|---|---|---|---|---|---|\n",
		NormCaution)
	for _, n := range norms {
		m, _ := Lookup(n.Measure)
		shown := "yes"
		if n.Differs != "" {
			shown = "no: " + n.Differs
		}
		row(&page, m.Title, n.meanAndSD()+" "+m.Unit, n.Quantity, n.Sample+"; "+n.Capture, n.Source+" ("+n.Read+")",
			shown)
	}
	return page.String()
}

const referenceHead = `# Events and measures

Written from the program's own list of measures; don't edit it by hand.

Positions are in the frame of Wu & Cavanagh (1995): X horizontal in the direction of the serve, Y up, Z to the right;
metres and seconds. Left-handers are mirrored, so that the hitting side is the right one for everyone, the front leg the
left one. Lateral values are positive towards the hitting side, away from the head.

Trunk and pelvis are those of shoulders and hips alone, whatever else is tracked, so that recordings compare. The centre
of mass has the segments of de Leva (1996), the means of women and men, with head, hands and feet as points.

Coordinates are filled over gaps of at most 0.1 s (0.04 s for hitting arm and racket) by cubic splines, and filtered by a
Butterworth low-pass of second order run forward and backward, its cutoff corrected for both passes (Winter). The hitting
arm and the racket are filtered up to contact alone, as if they went on along the parabola through their last 0.04 s and
0.02 s. Peaks and instants are refined between frames.

*Noise* is by how much (root mean square) 3 mm of white noise on every coordinate at 200 Hz moves a value, the events
held. *One camera* names the views from which a single camera gives the measure; elsewhere it is refused. A value is
missing, with its reason, where something that it needs is not there. What was computed from a stand-in says so.

What is fast needs frames. Against modelled serves of which the truth is known, filmed at 200, 100 and 50 Hz, racket speed
is off by 0.3, 0.6 and 1.7 m/s (root mean square), long-axis speed by 65, 70 and 370 deg/s, and the height of a contact
point that only the racket tells by 0.006, 0.02 and 0.17 m.
`

// describe writes the section of a measure.
func (m Measure) describe(page *strings.Builder) {
	fmt.Fprintf(page, "\n### %s\n\n`%s`", m.Title, m.Column())
	if m.Unit != "" {
		fmt.Fprintf(page, ", in %s", m.Unit)
	}
	fmt.Fprintf(page, ". %s\n\n", m.Definition)
	camera, noise := "none", "none: only events count"
	if m.Camera != "" {
		camera = m.Camera
	}
	if m.Noise > 0 {
		noise = strconv.FormatFloat(m.Noise, 'g', -1, 64) + " " + m.Unit
	} else if m.Unit == "" {
		noise = "a class"
	}
	for _, line := range [][2]string{{"Sign", m.Sign}, {"Needs", m.Needs}, {"One camera", camera}, {"Noise", noise},
		{"Source", m.Source}, {"Version", strconv.Itoa(m.Version)}} {
		if line[1] != "" {
			fmt.Fprintf(page, "* %s: %s\n", line[0], line[1])
		}
	}
}

func (n Norm) meanAndSD() string {
	mean := strconv.FormatFloat(n.Mean, 'g', -1, 64)
	if math.IsNaN(n.SD) {
		return mean
	}
	return fmt.Sprintf("%s (%s)", mean, strconv.FormatFloat(n.SD, 'g', -1, 64))
}

func row(page *strings.Builder, cells ...string) {
	page.WriteString("| " + strings.Join(cells, " | ") + " |\n")
}

func orDash(text string) string {
	if text == "" {
		return "–"
	}
	return text
}
