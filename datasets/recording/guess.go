package recording

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"tossline/datasets/landmark"
	"tossline/kernel/words"
)

// metres gives the length of a unit in metres.
var metres = map[string]float64{"mm": 0.001, "cm": 0.01, "m": 1, "in": 0.0254, "ft": 0.3048}

// unitNames lists the units in the order of trying.
var unitNames = []string{"m", "mm", "cm", "in", "ft"}

// unitSynonyms are what files and people write.
var unitSynonyms = map[string]string{
	"mm": "mm", "millimeter": "mm", "millimeters": "mm", "millimetre": "mm", "millimetres": "mm",
	"cm": "cm", "centimeter": "cm", "centimeters": "cm", "centimetre": "cm", "centimetres": "cm",
	"m": "m", "meter": "m", "meters": "m", "metre": "m", "metres": "m",
	"in": "in", "inch": "in", "inches": "in", "ft": "ft", "foot": "ft", "feet": "ft",
}

// A grown or growing player is between these heights, in metres.
const (
	shortest = 1.2
	tallest  = 2.2
)

// metresOf gives the length of a unit in metres: of "mm", or of so many of them, "2.35 mm".
func metresOf(text string) (float64, bool) {
	fields := strings.Fields(strings.ToLower(text))
	if len(fields) == 0 || len(fields) > 2 {
		return 0, false
	}
	n := 1.0
	if len(fields) == 2 {
		var err error
		if n, err = strconv.ParseFloat(fields[0], 64); err != nil || !(n > 0) || n > 1e9 {
			return 0, false
		}
	}
	m, ok := metres[unitSynonyms[fields[len(fields)-1]]]
	return n * m, ok
}

// unitText is a unit in the form that Options.Units takes: its name, else so many millimetres.
func unitText(m float64) string {
	for _, name := range unitNames {
		if metres[name] == m {
			return name
		}
	}
	return strconv.FormatFloat(1000*m, 'g', 6, 64) + " mm"
}

// units settles the units: by a length that is known, else what was said, what the file says, or those in which the
// body has a person's size. A size that cannot be a person's forbids the import when the units were said, because
// every number would be wrong.
func (in *interpreter) units() error {
	if in.raw.Settled && in.options.Units == "" && in.options.Length == nil {
		in.u.Units, in.scale = Fact[string]{"m", InFile, ""}, 1
		return nil
	}
	size, how := in.size()
	said, source := in.options.Units, Said
	switch {
	case in.options.Length != nil:
		return in.byLength(*in.options.Length)
	case said == "" && in.raw.Planar:
		return in.byHeight(size, how)
	case said == "":
		said, source = in.raw.Units, InFile
	}
	if said != "" {
		m, ok := metresOf(said)
		switch {
		case ok:
			return in.checkUnits(m, source, size, how)
		case source == Said:
			return Refuse("say mm, cm, m, in or ft", "the units %s are not known", Quote(said))
		}
		in.note(Warn, "", "the file gives its units as %s, which is not known: they are guessed", Quote(said))
	}
	if size == 0 {
		return Refuse("say the units", "the units cannot be guessed: no frame shows two points apart")
	}
	unit := in.unitOfFall()
	if _, segments := in.points.stature(); segments == 0 && unit != "" {
		in.setUnits(metres[unit], Guessed, fmt.Sprintf("in %s the ball falls as it must", spoken(unit)))
		return nil
	}
	unit = bestUnit(size)
	in.setUnits(metres[unit], Guessed, fmt.Sprintf("in %s the player is %.2f m tall by %s", spoken(unit),
		size*metres[unit], how))
	if tall := size * metres[unit]; tall < shortest || tall > tallest {
		in.note(Warn, "", "no unit makes the player 1.2 to 2.2 m tall: %s, the nearest, gives %s m by %s; say the units",
			spoken(unit), significant(tall), how)
	}
	return nil
}

func (in *interpreter) setUnits(m float64, source Ground, evidence string) {
	in.u.Units, in.scale = Fact[string]{unitText(m), source, evidence}, m
}

func (in *interpreter) checkUnits(m float64, source Ground, size float64, how string) error {
	tall, unit := size*m, unitText(m)
	if size == 0 {
		in.setUnits(m, source, "")
		return nil
	}
	if tall >= 0.6 && tall <= 3 {
		in.setUnits(m, source, fmt.Sprintf("the player is %.2f m tall by %s", tall, how))
		return nil
	}
	text := fmt.Sprintf("in %s the player would be %s m tall by %s", spoken(unit), significant(tall), how)
	if _, segments := in.points.stature(); segments == 0 {
		if in.setUnits(m, source, text); in.unitOfFall() == unit {
			in.u.Units.Evidence = fmt.Sprintf("in %s the ball falls as it must", spoken(unit))
		} else {
			in.note(Warn, "", "%s, which is no good measure of a player: the units are taken as they were said", text)
		}
		return nil
	}
	best := bestUnit(size)
	switch {
	case metres[best] == m && source == Said:
		return Refuse("no other unit fits better: look at which points stand for which landmarks, or leave the units to be "+
			"guessed", "%s", text)
	case metres[best] == m:
		in.setUnits(m, source, text)
		in.note(Warn, "", "%s, and no other unit fits better: look at which points stand for which landmarks", text)
		return nil
	case source == Said:
		return Refuse(fmt.Sprintf("in %s it would be %s m: say %s, or leave the units to be guessed", spoken(best),
			significant(size*metres[best]), best), "%s", text)
	}
	in.setUnits(metres[best], Guessed, fmt.Sprintf("the file says %s, but %s", unit, text))
	in.note(Warn, "", "the file says its units are %s, but %s: taken as %s", unit, text, best)
	return nil
}

// byLength takes the units from a length that somebody measured.
func (in *interpreter) byLength(l Length) error {
	if !(l.M > 0.01) || l.M > 30 {
		return Refuse("say metres, such as 0.43", "a length of %v m is impossible", l.M)
	}
	var ends [2]int
	for i, name := range [...]string{l.From, l.To} {
		c, err := in.points.channel(name)
		if err != nil {
			return err
		}
		ends[i] = c
	}
	var lengths []float64
	for _, f := range in.points.frames(2000) {
		if d := in.points.at(ends[0], f).distance(in.points.at(ends[1], f)); d > 0 {
			lengths = append(lengths, d)
		}
	}
	if len(lengths) == 0 {
		return Refuse("name two others", "no frame shows %s and %s apart", l.From, l.To)
	}
	d := quantile(lengths, in.points.typical())
	in.setUnits(l.M/d, Said, fmt.Sprintf("%s and %s are %v m apart, and %s in the file", l.From, l.To, l.M,
		significant(d)))
	size, how := in.size()
	if tall := size * in.scale; size > 0 && (tall < shortest || tall > tallest) {
		in.note(Warn, "", "by this length the player is %.2f m tall by %s", tall, how)
	}
	return nil
}

// usualHeight stands for the height of a player of whom it is not known, in metres.
const usualHeight = 1.75

// byHeight takes the length of a picture's unit from the player's height.
func (in *interpreter) byHeight(size float64, how string) error {
	if size == 0 {
		return Refuse("say a length that is known",
			"the scale of the picture cannot be found: no frame shows two points apart")
	}
	tall, source := in.options.HeightM, Said
	if tall == 0 {
		tall, source = in.raw.HeightM, InFile
	}
	if tall == 0 {
		tall, source = usualHeight, Guessed
		in.note(Warn, "", "the scale of the picture is guessed: it makes the player %.2f m tall; say the height, or a "+
			"length that is known", usualHeight)
	}
	in.setUnits(tall/size, source, fmt.Sprintf("the player is %.2f m tall, and %s in the picture by %s", tall,
		significant(size), how))
	return nil
}

// significant writes three digits of a number, and no exponent as long as it can be read without.
func significant(v float64) string {
	text := strconv.FormatFloat(v, 'g', 3, 64)
	if rounded, err := strconv.ParseFloat(text, 64); err == nil && math.Abs(rounded) > 1e-6 && math.Abs(rounded) < 1e9 {
		return strconv.FormatFloat(rounded, 'f', -1, 64)
	}
	return text
}

// spoken is a unit within a sentence.
func spoken(unit string) string {
	switch unit {
	case "in":
		return "inches"
	case "ft":
		return "feet"
	}
	return unit
}

// size is the player's height in the file's units and how it was estimated.
func (in *interpreter) size() (float64, string) {
	if h, n := in.points.stature(); n > 0 {
		return h, "the length of " + words.Count(n, "segment")
	}
	return in.points.extent(), "the spread of all points"
}

// bestUnit is the unit in which size is nearest to a person's, by ratio.
func bestUnit(size float64) string {
	best, distance := "", math.Inf(1)
	for _, u := range unitNames {
		if d := math.Abs(math.Log(size * metres[u] / 1.7)); d < distance {
			best, distance = u, d
		}
	}
	return best
}

// axis is a direction of the file: "+x", "-y", "z" or "0.8,0,-0.6".
func parseAxis(text string) (vector, bool) {
	text = strings.ToLower(strings.TrimSpace(text))
	sign := 1.0
	switch {
	case strings.HasPrefix(text, "-") && len(text) == 2:
		sign, text = -1, text[1:]
	case strings.HasPrefix(text, "+") && len(text) == 2:
		text = text[1:]
	}
	if k := strings.Index("xyz", text); len(text) == 1 && k >= 0 {
		v := vector{}
		v[k] = sign
		return v, true
	}
	parts := strings.FieldsFunc(text, func(c rune) bool { return c == ',' || c == ' ' || c == ';' })
	if len(parts) != 3 {
		return vector{}, false
	}
	v := vector{}
	for k := range v {
		n, err := strconv.ParseFloat(parts[k], 64)
		if err != nil {
			return vector{}, false
		}
		v[k] = n
	}
	if l := v.length(); !(l > 1e-6) || math.IsInf(l, 0) {
		return vector{}, false
	}
	return v.unit(), true
}

// axisText is the inverse of parseAxis.
func axisText(v vector) string {
	for k, name := range [...]string{"x", "y", "z"} {
		if v[k] > 1-1e-9 {
			return "+" + name
		}
		if v[k] < -1+1e-9 {
			return "-" + name
		}
	}
	var parts []string
	for k := range v {
		parts = append(parts, strconv.FormatFloat(math.Round(v[k]*1e4)/1e4+0, 'f', -1, 64))
	}
	return strings.Join(parts, ",")
}

// up settles the vertical: what was said, what the file says, else the axis along which the head is above the feet.
func (in *interpreter) up() error {
	if in.raw.Settled && in.options.Up == "" {
		in.setUp(vector{0, 1, 0}, InFile, "")
		return nil
	}
	guess, share, ok := in.headOverFeet()
	evidence := fmt.Sprintf("the head is above the feet along %s in %.0f %% of the frames", axisText(guess), 100*share)
	said, source := in.options.Up, Said
	if said == "" {
		said, source = in.raw.UpIs, InFile
	}
	if said != "" {
		v, valid := parseAxis(said)
		switch {
		case valid && ok && v.dot(guess) < 0.5 && source == InFile && share > 0.8:
			in.note(Warn, "", "the file says that %s points up, but %s: %s is taken", said, evidence, axisText(guess))
		case valid:
			if ok && v.dot(guess) < 0.5 {
				in.note(Warn, "", "%s was said to point up, but %s", said, evidence)
			}
			in.setUp(v, source, "")
			return nil
		case source == Said:
			return Refuse("say an axis, such as +y or -z", "the vertical %s is not known", Quote(said))
		}
	}
	if !ok {
		in.note(Warn, "", "nothing shows which axis points up: +y is taken; say it if that is wrong")
		in.setUp(vector{0, 1, 0}, Guessed, "nothing shows it; +y is the usual axis")
		return nil
	}
	if share < 0.8 {
		in.note(Warn, "", "the vertical is uncertain: %s", evidence)
	}
	in.setUp(guess, Guessed, evidence)
	return nil
}

func (in *interpreter) setUp(v vector, source Ground, evidence string) {
	in.upward = v
	in.u.Up = Fact[string]{axisText(v), source, evidence}
}

// headOverFeet gives the axis that runs from the feet to the head, and in which share of frames it does so.
func (in *interpreter) headOverFeet() (axis vector, share float64, ok bool) {
	p := in.points
	high := []landmark.Name{landmark.HeadTop, landmark.Head, landmark.C7, landmark.LeftShoulder, landmark.RightShoulder}
	low := []landmark.Name{landmark.LeftAnkle, landmark.RightAnkle, landmark.LeftToe, landmark.RightToe,
		landmark.LeftHeel, landmark.RightHeel}
	if p.mean0(low) {
		low = []landmark.Name{landmark.LeftKnee, landmark.RightKnee, landmark.LeftHip, landmark.RightHip}
	}
	var spines []vector
	sum := vector{}
	for _, f := range p.frames(500) {
		v := p.mean(f, high...).minus(p.mean(f, low...))
		if !v.missing() && v.length() > 0 {
			spines = append(spines, v.unit())
			sum = sum.plus(v.unit())
		}
	}
	if len(spines) == 0 {
		return vector{}, 0, false
	}
	k := 0
	for j := range sum {
		if math.Abs(sum[j]) > math.Abs(sum[k]) {
			k = j
		}
	}
	axis[k] = math.Copysign(1, sum[k])
	n := 0
	for _, v := range spines {
		if v.dot(axis) > math.Sqrt2/2 {
			n++
		}
	}
	return axis, float64(n) / float64(len(spines)), true
}

// mean0 reports whether the take has none of the landmarks.
func (p *points) mean0(names []landmark.Name) bool {
	for _, n := range names {
		if p.has(n) {
			return false
		}
	}
	return true
}

// soles are the landmarks that tell where the court is, and how high they are above it when the foot stands, in
// metres. Ankles are used only where a recording has neither toes nor heels.
var soles = [...]struct {
	names  []landmark.Name
	height float64
}{
	{[]landmark.Name{landmark.LeftToe, landmark.RightToe, landmark.LeftHeel, landmark.RightHeel}, 0.02},
	{[]landmark.Name{landmark.LeftAnkle, landmark.RightAnkle}, 0.08},
}

// lowestFeet gives the height of the lowest foot's sole above the file's zero, in metres, frame by frame.
func (in *interpreter) lowestFeet() []float64 {
	for _, s := range soles {
		var lowest []float64
		for _, f := range in.points.frames(2000) {
			low := math.Inf(1)
			for _, name := range s.names {
				if c, ok := in.points.index[name]; ok {
					if h := in.points.at(c, f).dot(in.upward)*in.scale - s.height; h < low {
						low = h
					}
				}
			}
			if !math.IsInf(low, 0) {
				lowest = append(lowest, low)
			}
		}
		if len(lowest) > 0 {
			return lowest
		}
	}
	return nil
}

// floor settles the height of the court above the file's zero, in metres.
func (in *interpreter) floor() {
	if in.options.FloorM != nil {
		in.u.Floor = Fact[float64]{*in.options.FloorM, Said, ""}
		return
	}
	if in.raw.Settled {
		in.u.Floor = Fact[float64]{0, InFile, ""}
		return
	}
	lowest := in.lowestFeet()
	if len(lowest) == 0 {
		in.u.Floor = Fact[float64]{0, Guessed, "there are no feet: the file's zero is taken for the court"}
		in.note(Warn, "", "without feet the height of the court is unknown: the file's zero is taken for it")
		return
	}
	h := quantile(lowest, 0.05)
	if math.Abs(h) < 0.05 {
		in.u.Floor = Fact[float64]{0, InFile, fmt.Sprintf(
			"the feet stand within %.2f m of the file's zero, which is taken for the court", math.Abs(h))}
		return
	}
	h = math.Round(h*1000) / 1000
	in.u.Floor = Fact[float64]{h, Guessed, fmt.Sprintf("the feet stand %.2f m %s the file's zero", math.Abs(h), side(h))}
}

func side(height float64) string {
	if height < 0 {
		return "below"
	}
	return "above"
}
