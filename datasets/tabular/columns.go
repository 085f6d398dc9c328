package tabular

import (
	"maps"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"tossline/datasets/recording"
)

// role is what a column is for.
type role uint8

const (
	ignored role = iota
	coordinate
	clock     // seconds, or what scale makes of them
	counter   // number of the frame
	pointName // of a long table
	axisValue // of a long table
	player
	session
	hand
	height
	takeLabel // tells several takes in one file apart
)

// Column is one column of the table, understood.
type Column struct {
	Title string
	role  role
	point int     // of coordinate: index of the point
	axis  int     // of coordinate and axisValue: 0, 1, 2
	scale float64 // of clock: seconds in a unit; 0 where the title does not say
}

// IsClock reports whether the column tells times.
func (c Column) IsClock() bool { return c.role == clock }

// IsName reports whether the column names the point of a row.
func (c Column) IsName() bool { return c.role == pointName }

// Header is what a table says of itself. Units may be nil; Said holds what stands beside the table ("rate" to "120").
type Header struct {
	Titles, Units []string
	Said          map[string]string
	Line          int // for messages; 0 where there are no lines
}

// Layout is what the columns of a table are for.
type Layout struct {
	Columns []Column
	Long    bool  // a row for each point and frame
	Key     int   // column that orders the rows, -1 without
	Width   int   // values of a row
	Dest    []int // by column: place in the row's values, -1 for other columns
	Run     []int // by column: how many columns from here on have neighbouring places
	About   []int // columns of particulars: they hold one value for a whole recording

	header Header
	points []string // of a wide table
	ours   bool     // frames that this program exported
	planar bool     // there is no z
	units  string
	notes  []recording.Note
}

// words that columns are called. Titles are compared in lower case without blanks, underscores, dots and hyphens.
var (
	roleWords = map[string]role{
		"time": clock, "t": clock, "timestamp": clock, "times": clock, "seconds": clock, "sec": clock, "elapsed": clock,
		"timesec": clock, "timeseconds": clock, "frametime": clock, "elapsedtime": clock, "timems": clock,
		"milliseconds": clock, "timestampms": clock, "ms": clock, "timeus": clock, "timestampus": clock,
		"timens": clock, "timestampns": clock, "elapsedms": clock, "us": clock, "ns": clock,
		"frame": counter, "frames": counter, "frameno": counter, "framenumber": counter, "frame#": counter,
		"frameindex": counter, "coords": counter, "frameid": counter, "framenr": counter,
		"sample": counter, "index": counter, "idx": counter,
		"landmark": pointName, "marker": pointName, "point": pointName, "joint": pointName, "keypoint": pointName,
		"bodypart": pointName, "landmarkname": pointName, "markername": pointName, "label": pointName,
		"jointname": pointName, "pointname": pointName,
		"player": player, "athlete": player, "subject": player, "person": player, "playername": player,
		"session": session, "date": session, "sessiondate": session,
		"hand": hand, "hittinghand": hand, "handedness": hand, "hittingside": hand,
		"height": height, "heightm": height, "heightcm": height, "stature": height, "bodyheight": height,
		"trial": takeLabel, "take": takeLabel, "serve": takeLabel, "rep": takeLabel, "repetition": takeLabel,
		"recording": takeLabel, "file": takeLabel, "clip": takeLabel,
	}
	// clockScales gives the seconds in a unit of time, by the unit or by a title that names it.
	clockScales = map[string]float64{"s": 1, "sec": 1, "seconds": 1, "times": 1, "timesec": 1, "timeseconds": 1,
		"ms": 1e-3, "milliseconds": 1e-3, "timems": 1e-3, "timestampms": 1e-3, "elapsedms": 1e-3,
		"us": 1e-6, "timeus": 1e-6, "timestampus": 1e-6, "ns": 1e-9, "timens": 1e-9, "timestampns": 1e-9}
	lengthUnits = map[string]bool{"mm": true, "cm": true, "m": true, "in": true, "ft": true,
		"meters": true, "metres": true,
		"millimeters": true, "millimetres": true, "centimeters": true, "centimetres": true, "inches": true, "feet": true}
	otherUnits = map[string]bool{"s": true, "sec": true, "ms": true, "hz": true, "px": true, "pixel": true,
		"pixels": true, "frames": true, "frame": true, "-": true, "": true, "#": true, "deg": true, "n": true,
		"1": true, "us": true, "ns": true, "seconds": true}
)

func squeeze(title string) string {
	return strings.NewReplacer(" ", "", "_", "", "-", "", ".", "").Replace(strings.ToLower(title))
}

// Understand finds out what the columns are for. It refuses a table without points.
func Understand(h Header) (*Layout, error) {
	if h.Units == nil {
		h.Units = make([]string, len(h.Titles))
	}
	units, mixed := oneUnit(h.Units)
	l := &Layout{Columns: make([]Column, len(h.Titles)), header: h, units: units, Key: -1}
	if mixed {
		l.Note(recording.Warn, "the columns have different units of length: what they are is guessed for all together")
	}
	l.assignWords(h.Titles, h.Units)
	l.assignLong()
	if !l.Long {
		l.assignWide()
	}
	if unit := said(h.Said, "units", "unit"); l.units == "" && unit != "" {
		l.units = unit
	}
	if rate := said(h.Said, "framerate"); h.Said["rate"] == "" && rate != "" {
		h.Said["rate"] = rate
	}
	if err := l.check(); err != nil {
		return nil, err
	}
	l.place()
	l.ours = l.exported()
	return l, nil
}

// said gives what stands beside a table under a name with one of the endings, such as "Length Units"; "" without.
func said(facts map[string]string, endings ...string) string {
	for _, key := range slices.Sorted(maps.Keys(facts)) {
		for _, ending := range endings {
			if strings.HasSuffix(squeeze(key), ending) {
				return facts[key]
			}
		}
	}
	return ""
}

// exported recognises the frames that this program exports, in every format by the names of their columns.
func (l *Layout) exported() bool {
	if l.Long || len(l.Columns) != 3+3*len(l.points) {
		return false
	}
	for i, title := range [...]string{"serve", "frame", "time_s"} {
		if l.header.Titles[i] != title {
			return false
		}
	}
	for i, c := range l.Columns[3:] {
		if c.point != i/3 || c.axis != i%3 || l.header.Titles[3+i] != l.points[i/3]+"_"+"xyz"[i%3:i%3+1]+"_m" {
			return false
		}
	}
	return true
}

// place finds where the values of each column go.
func (l *Layout) place() {
	l.Width = 3 * len(l.points)
	if l.Long {
		l.Width = 3
	}
	l.Dest = make([]int, len(l.Columns))
	for c, col := range l.Columns {
		l.Dest[c] = -1
		switch {
		case col.role == coordinate:
			l.Dest[c] = 3*col.point + col.axis
		case col.role == axisValue:
			l.Dest[c] = col.axis
		case col.role == clock && (l.Key < 0 || l.Columns[l.Key].role == counter), col.role == counter && l.Key < 0:
			l.Key = c
		case col.role >= player:
			l.About = append(l.About, c)
		}
	}
	l.Run = runs(l.Dest)
}

// runs gives for each place the length of the run of rising neighbours that starts there, 0 for places below 0.
func runs(dest []int) []int {
	run := make([]int, len(dest))
	for c := len(dest) - 1; c >= 0; c-- {
		switch {
		case dest[c] < 0:
		case c+1 < len(dest) && dest[c+1] == dest[c]+1:
			run[c] = run[c+1] + 1
		default:
			run[c] = 1
		}
	}
	return run
}

// IsLength reports whether a text is a unit of length, IsUnit whether it is any unit that tables give.
func IsLength(unit string) bool { return lengthUnits[unit] }

// IsUnit reports whether a text is any unit that tables give, or what stands for none.
func IsUnit(unit string) bool { return lengthUnits[unit] || otherUnits[unit] }

// Axis reads X, y or Z12, as some systems number the coordinates of their markers.
func Axis(f string) (int, bool) {
	f = strings.ToLower(strings.TrimRight(f, "0123456789"))
	if len(f) == 1 && f[0] >= 'x' && f[0] <= 'z' {
		return int(f[0] - 'x'), true
	}
	return 0, false
}

// oneUnit is the length unit that the row of units names, or the only word that is no unit known here. It is "" where
// there is none, or more than one.
func oneUnit(units []string) (unit string, mixed bool) {
	for _, u := range units {
		switch {
		case lengthUnits[u] && lengthUnits[unit] && u != unit:
			return "", true
		case lengthUnits[u]:
			unit = u
		}
	}
	if unit != "" {
		return unit, false
	}
	for _, u := range units {
		if otherUnits[u] || u == unit {
			continue
		}
		if unit != "" {
			return "", false
		}
		unit = u
	}
	return unit, false
}

// assignWords finds the columns that are known by their title.
func (l *Layout) assignWords(titles, units []string) {
	for c, title := range titles {
		title, unit := cutUnit(title)
		l.Columns[c] = Column{Title: title}
		word := squeeze(title)
		r, ok := roleWords[word]
		if !ok {
			if l.units == "" && lengthUnits[unit] {
				l.units = unit
			}
			continue
		}
		l.Columns[c].role = r
		if r == clock {
			l.Columns[c].scale = clockScale(word, unit, units[c])
		}
	}
}

// clockScale is how many seconds a unit of the column is, 0 where nothing says so.
func clockScale(word, unit, rowUnit string) float64 {
	for _, text := range [...]string{unit, rowUnit, word} {
		if scale, ok := clockScales[text]; ok {
			return scale
		}
	}
	return 0
}

// cutUnit takes "(mm)" or "[mm]" off the end of a title.
func cutUnit(title string) (rest, unit string) {
	title = strings.TrimSpace(title)
	for _, brackets := range [...]string{"()", "[]"} {
		if i := strings.LastIndexByte(title, brackets[0]); i > 0 && strings.HasSuffix(title, brackets[1:]) {
			inside := strings.ToLower(strings.TrimSpace(title[i+1 : len(title)-1]))
			if lengthUnits[inside] || otherUnits[inside] {
				return strings.TrimSpace(title[:i]), inside
			}
		}
	}
	return title, ""
}

// assignLong recognises a table with a row for each point and frame.
func (l *Layout) assignLong() {
	var axes [3]int
	found, names := 0, 0
	for c := range l.Columns {
		col := &l.Columns[c]
		if col.role == pointName {
			names++
			continue
		}
		base, unit := cutLength(strings.ToLower(col.Title))
		if k, ok := Axis(base); ok && col.role == ignored && axes[k] == 0 {
			axes[k] = c + 1
			found++
			if l.units == "" {
				l.units = unit
			}
		}
	}
	l.planar = axes[0]*axes[1] > 0 && axes[2] == 0
	l.Long = names == 1 && (found == 3 || l.planar)
	if l.Long {
		for k, c := range axes {
			if c > 0 {
				l.Columns[c-1].role, l.Columns[c-1].axis = axisValue, k
			}
		}
	}
}

// cutLength takes "_mm" off the end of a title.
func cutLength(title string) (rest, unit string) {
	if i := strings.LastIndexAny(title, "_ ."); i > 0 && lengthUnits[strings.ToLower(title[i+1:])] {
		return title[:i], strings.ToLower(title[i+1:])
	}
	return title, ""
}

// group is the columns that share a base name.
type group struct {
	name  string
	axes  [3]int // column + 1
	first int
}

// fewestPlanar is how many landmarks without a z a table must have to be believed to be one of a picture's landmarks.
const fewestPlanar = 3

// assignWide finds the columns of coordinates: three whose titles differ only in a last, else a first, x, y and z. A
// table that has none may have landmarks of a picture, with x and y alone.
func (l *Layout) assignWide() {
	l.planar = false
	l.assignGroups(axisAtEnd)
	l.assignGroups(axisInFront)
	if len(l.points) > 0 {
		return
	}
	l.planar = true
	l.assignGroups(axisAtEnd)
	if len(l.points) < fewestPlanar {
		for c := range l.Columns {
			if l.Columns[c].role == coordinate {
				l.Columns[c].role = ignored
			}
		}
		l.points, l.planar = nil, false
	}
}

func (l *Layout) assignGroups(split func(title string) (base string, axis int, ok bool)) {
	groups := map[string]*group{}
	for c := range l.Columns {
		if l.Columns[c].role != ignored {
			continue
		}
		title, unit := cutLength(l.Columns[c].Title)
		base, axis, ok := split(title)
		if !ok {
			continue
		}
		g := groups[base]
		if g == nil {
			g = &group{name: base, first: c}
			groups[base] = g
		}
		if g.axes[axis] == 0 {
			g.axes[axis] = c + 1
		}
		if unit != "" && l.units == "" {
			l.units = unit
		}
	}
	for _, g := range inOrder(groups) {
		if whole := g.axes[0]*g.axes[1]*g.axes[2] > 0; !whole && (!l.planar || g.axes[0]*g.axes[1] == 0) {
			continue
		}
		for k, c := range g.axes {
			if c > 0 {
				l.Columns[c-1].role, l.Columns[c-1].axis, l.Columns[c-1].point = coordinate, k, len(l.points)
			}
		}
		l.points = append(l.points, g.name)
	}
}

func inOrder(groups map[string]*group) []*group {
	out := make([]*group, 0, len(groups))
	for _, g := range groups {
		out = append(out, g)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].first < out[j].first })
	return out
}

const separators = " _.:-/|([@"

func axisAtEnd(title string) (string, int, bool) {
	title = strings.TrimRight(title, ")] ")
	if len(title) < 2 {
		return "", 0, false
	}
	axis, ok := Axis(title[len(title)-1:])
	base := strings.TrimRight(title[:len(title)-1], separators)
	return base, axis, ok && base != ""
}

func axisInFront(title string) (string, int, bool) {
	if len(title) < 3 || !strings.ContainsRune(separators, rune(title[1])) {
		return "", 0, false
	}
	axis, ok := Axis(title[:1])
	base := strings.TrimLeft(title[1:], separators)
	return base, axis, ok && base != ""
}

// check refuses a table that is no recording, and says which columns go unused.
func (l *Layout) check() error {
	line := l.header.Line
	var unused []string
	for _, c := range l.Columns {
		if c.role != ignored || c.Title == "" {
			continue
		}
		unused = append(unused, c.Title)
	}
	if !l.Long && len(l.points) == 0 {
		return recording.At(line, 0, "no landmark was found among the columns %s: expected three columns for each, such "+
			"as left_knee_x, left_knee_y, left_knee_z, or the columns frame, landmark, x, y, z", list(unused, 12))
	}
	seen := map[string]bool{}
	for _, p := range l.points {
		if seen[p] {
			return recording.At(line, 0, "the columns of landmark %s are there twice", p)
		}
		seen[p] = true
	}
	if len(unused) > 0 {
		l.notes = append(l.notes, recording.Note{Severity: recording.Info, Text: "columns that are not used: " +
			list(unused, 12)})
	}
	return nil
}

func list(names []string, most int) string {
	if len(names) > most {
		return strings.Join(names[:most], ", ") + ", ..."
	}
	return strings.Join(names, ", ")
}

// number reads a plain number out of a column of particulars or a comment.
func number(text string) (float64, bool) {
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
}

// Note adds a remark to every recording of the table.
func (l *Layout) Note(s recording.Severity, text string) {
	l.notes = append(l.notes, recording.Note{Severity: s, Text: text})
}
