package tabular

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"unsafe"

	"tossline/datasets/recording"
)

// Rows are rows of one recording, in the order of the file.
type Rows struct {
	Values []float32 // Layout.Width of them a row: a frame, or a point of a long table
	About  []string  // the values of the columns Layout.About

	// Of a wide table, by row:
	Keys   []float64 // time or number of the frame, where there is a column of it
	Places []int32   // line or row in the file, counted from where Collector.Add is told

	// Of a long table:
	Stretches []Stretch
	Names     []string // of points
}

// Stretch is rows of a long table that have one key and stand below one another, one for each of neighbouring points.
type Stretch struct {
	Key   float64 // time or number of the frame
	Place int32   // line or row of the first, as Rows.Places
	Point int32   // of the first: index into Rows.Names
	Rows  int32
}

// Put adds a row of a long table behind the others; place and point are its own.
func (r *Rows) Put(key float64, place, point int32) {
	if n := len(r.Stretches); n > 0 {
		s := &r.Stretches[n-1]
		if s.Key == key && s.Place+s.Rows == place && s.Point+s.Rows == point {
			s.Rows++
			return
		}
	}
	r.Stretches = append(r.Stretches, Stretch{key, place, point, 1})
}

// first is the place of the first row.
func (r *Rows) first() int {
	if len(r.Stretches) > 0 {
		return int(r.Stretches[0].Place)
	}
	return int(r.Places[0])
}

// Collector makes recordings out of rows.
type Collector struct {
	*Layout
	Format string    // name of the format
	ByRow  bool      // places are rows of a table without lines
	Total  int       // values that the whole file holds, by estimate; 0 where unknown
	Room   []float32 // empty, with room for the values of the file; nil where there is none
	Alive  func()    // is called now and then once all rows are there; may be nil

	parts   []*part // one a recording
	index   map[string]*part
	last    *part
	inRoom  bool      // last's values lie at the start of Room
	keyRoom []float64 // part of Room: empty, for the keys of the newest recording
	rows    int
}

// part is one recording of the file.
type part struct {
	*Collector
	raw     *recording.Raw
	about   []string
	first   int       // place of its first row
	keys    []float64 // of the frames
	repeats int       // rows left out because they repeat the one before
	repeat  int       // place of the first of those
	long    *assembly
}

// Add adds rows; first is the place in the file from which theirs are counted.
func (c *Collector) Add(r *Rows, first int) error {
	if len(r.Values) == 0 {
		return nil
	}
	p, err := c.part(r.About, first+r.first())
	if err != nil {
		return err
	}
	c.rows += len(r.Values) / c.Width
	if c.planar {
		flatten(r.Values)
	}
	p.raw.Alike = p.raw.Alike || anyAlike(r.Values)
	switch {
	case p.long != nil:
		return p.long.add(r, first)
	case c.Key >= 0:
		return p.addFrames(r, first)
	}
	p.raw.XYZ = append(p.raw.XYZ, r.Values...)
	return nil
}

// part finds the recording with the given particulars, or begins it.
func (c *Collector) part(about []string, place int) (*part, error) {
	if c.last != nil && sameTexts(c.last.about, about) {
		return c.last, nil
	}
	c.closeFrames()
	key := strings.Join(about, "\x00")
	p := c.index[key]
	if p != nil && c.inRoom {
		// Rows of an earlier recording come back: no more of them lies in the room.
		n := len(c.last.raw.XYZ)
		c.last.raw.XYZ, c.Room, c.inRoom = c.last.raw.XYZ[:n:n], nil, false
	}
	if p == nil {
		if n := len(c.parts); n >= 100 && c.rows < 2*n {
			before := c.parts[n-1].about
			for i, column := range c.About {
				if before[i] != about[i] {
					return nil, c.at(place, "rename or delete the column", "column %s changes in every row, from %s to %s: it "+
						"tells no recordings apart", c.Columns[column].Title, recording.Quote(before[i]), recording.Quote(about[i]))
				}
			}
		}
		p = &part{Collector: c, about: append([]string(nil), about...), first: place,
			raw: &recording.Raw{Format: c.Format, Units: c.units, Settled: c.ours, Planar: c.planar,
				Notes: append([]recording.Note(nil), c.notes...)}}
		c.roomForKeys(p)
		if c.Total > 0 && c.Room == nil && len(c.parts) == 0 && len(about) == 0 {
			p.raw.XYZ = make([]float32, 0, c.Total)
		}
		if c.Long {
			p.long = newAssembly(p)
		} else if p.raw.Points = c.points; c.Room != nil {
			c.roomFor(p)
		}
		if c.index == nil {
			c.index = map[string]*part{}
		}
		c.index[key] = p
		c.parts = append(c.parts, p)
	}
	c.last = p
	return p, nil
}

// roomFor gives a recording what is left of the room. The one before has what it needs, as long as its rows do not come
// back; if they do, it moves out.
func (c *Collector) roomFor(p *part) {
	if c.last != nil && c.inRoom {
		n := len(c.last.raw.XYZ)
		c.last.raw.XYZ = c.last.raw.XYZ[:n:n]
		if n >= cap(c.Room) {
			c.Room, c.inRoom = nil, false
			return
		}
		c.Room = c.Room[n:n]
	}
	p.raw.XYZ, c.inRoom = c.Room, true
}

// roomForKeys gives the last quarter of the room to the keys, one recording after the other. Those of rows that come
// back later move out.
func (c *Collector) roomForKeys(p *part) {
	switch n := len(c.parts); {
	case n > 0:
		newest := c.parts[n-1]
		if used := len(newest.keys); used > 0 && cap(c.keyRoom) > used && &c.keyRoom[:1][0] == &newest.keys[0] {
			newest.keys, c.keyRoom = newest.keys[:used:used], c.keyRoom[used:used]
		} else {
			c.keyRoom = nil
		}
	case cap(c.Room) >= 1<<20:
		from := cap(c.Room) / 8 * 6
		numbers := c.Room[:from+2][from:]
		c.keyRoom = unsafe.Slice((*float64)(unsafe.Pointer(&numbers[0])), (cap(c.Room)-from)/2)[:0]
		c.Room = c.Room[:0:from]
	}
	p.keys = c.keyRoom
}

// anyAlike reports whether a place has the same number in all axes, of a picture 0 in both.
func anyAlike(values []float32) bool {
	for ; len(values) >= 3; values = values[3:] {
		if values[0] == values[1] && (values[1] == values[2] || values[0] == 0) {
			return true
		}
	}
	return false
}

// flatten puts the points of a picture into the plane where z is 0.
func flatten(values []float32) {
	for i := 0; i+2 < len(values); i += 3 {
		values[i+2] = 0
		if values[i] != values[i] || values[i+1] != values[i+1] {
			values[i+2] = missing
		}
	}
}

func sameTexts(a, b []string) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// at makes an error for a place.
func (c *Collector) at(place int, remedy, format string, args ...any) *recording.Error {
	e := recording.Refuse(remedy, format, args...)
	if c.ByRow {
		e.Row = place
	} else {
		e.Line = place
	}
	return e
}

// inRows is what the table is made of, in words.
func (c *Collector) inRows() string {
	if c.ByRow {
		return "rows"
	}
	return "lines"
}

// addFrames adds rows of a wide table whose keys must increase.
func (p *part) addFrames(r *Rows, first int) error {
	if n := len(r.Keys); n > 0 && (len(p.keys) == 0 || r.Keys[0] > p.keys[len(p.keys)-1]) && rising(r.Keys) {
		p.keys = append(p.keys, r.Keys...)
		p.raw.XYZ = append(p.raw.XYZ, r.Values...)
		return nil
	}
	for i, key := range r.Keys {
		row := r.Values[i*p.Width : (i+1)*p.Width]
		if n := len(p.keys); n > 0 && !(key > p.keys[n-1]) {
			place := first + int(r.Places[i])
			if key < p.keys[n-1] || !sameRow(row, p.raw.XYZ[(n-1)*p.Width:]) {
				return p.outOfOrder(place, key, p.keys[n-1])
			}
			if p.repeats++; p.repeats == 1 {
				p.repeat = place
			}
			continue
		}
		p.keys = append(p.keys, key)
		p.raw.XYZ = append(p.raw.XYZ, row...)
	}
	return nil
}

func rising(keys []float64) bool {
	for i := 1; i < len(keys); i++ {
		if !(keys[i] > keys[i-1]) {
			return false
		}
	}
	return true
}

func sameRow(a, b []float32) bool {
	for i, v := range a {
		if v != b[i] && (v == v || b[i] == b[i]) {
			return false
		}
	}
	return true
}

func (p *part) outOfOrder(place int, key, before float64) error {
	name := p.Columns[p.Key].Title
	if key == before {
		return p.at(place, "delete one of the two "+p.inRows(), "%s %v is there twice, with different values", name, key)
	}
	return p.at(place, "sort the "+p.inRows()+", or split the file if it holds more than one recording",
		"%s goes back from %v to %v", name, before, key)
}

func (p *part) note(s recording.Severity, where, format string, args ...any) {
	p.raw.Notes = append(p.raw.Notes, recording.Note{Severity: s, Where: where, Text: fmt.Sprintf(format, args...)})
}

// Finish gives the recordings once all rows are there: the first, with the others behind it.
func (c *Collector) Finish() (*recording.Raw, error) {
	if len(c.parts) > 1 {
		c.closeFrames()
	}
	var first *recording.Raw
	for _, p := range c.parts {
		if err := p.finish(); err != nil {
			return nil, err
		}
		if p.long != nil {
			c.leaveRoom(p.raw.XYZ)
		}
		if first == nil {
			first = p.raw
		} else {
			first.More = append(first.More, p.raw)
		}
	}
	if first == nil {
		return nil, c.at(c.header.Line, "", "the table has no rows of numbers")
	}
	c.nameParts()
	return first, nil
}

// leaveRoom takes values that lie at the start of the room out of it.
func (c *Collector) leaveRoom(values []float32) {
	if n := len(values); n > 0 && cap(c.Room) >= n && &c.Room[:1][0] == &values[0] {
		c.Room = c.Room[n:n]
	}
}

// nameParts gives each of several recordings the name of what tells it apart.
func (c *Collector) nameParts() {
	if len(c.parts) < 2 {
		return
	}
	for _, p := range c.parts {
		var name []string
		for i, v := range p.about {
			for _, q := range c.parts {
				if q.about[i] != v {
					name = append(name, v)
					break
				}
			}
		}
		p.raw.Part = strings.Join(name, ", ")
	}
}

func (p *part) finish() error {
	if p.long != nil {
		if err := p.long.finish(); err != nil {
			return err
		}
	}
	if p.raw.Frames() == 0 {
		return p.at(p.first, "", "the table has no rows of numbers")
	}
	if p.repeats > 0 {
		where := p.at(p.repeat, "", "")
		p.note(recording.Warn, where.Where(), "%d %s repeat the one before them: left out", p.repeats, p.inRows())
	}
	p.particulars()
	if p.ours {
		p.dropAbsent()
	}
	if p.Key < 0 {
		return nil
	}
	if p.Columns[p.Key].role == clock {
		p.times()
		return nil
	}
	return p.fillFrames()
}

// dropAbsent drops the landmarks that are missing in every frame: exported frames have columns for the landmarks of all
// recordings of a season.
func (p *part) dropAbsent() {
	n := len(p.raw.Points)
	seen := make([]bool, n)
	for i, v := range p.raw.XYZ {
		seen[i/3%n] = seen[i/3%n] || v == v
	}
	var points []string
	xyz := p.raw.XYZ[:0]
	for i, v := range p.raw.XYZ {
		if seen[i/3%n] {
			xyz = append(xyz, v)
		}
	}
	for i, name := range p.raw.Points {
		if seen[i] {
			points = append(points, name)
		}
	}
	if len(points) > 0 {
		p.raw.Points, p.raw.XYZ = points, xyz
	}
}

// times turns the keys into seconds.
func (p *part) times() {
	scale := p.Columns[p.Key].scale
	if scale == 0 {
		scale = p.guessScale()
	}
	if scale != 1 {
		for i := range p.keys {
			p.keys[i] *= scale
		}
	}
	p.raw.TimeS = p.keys
}

// guessScale tells seconds from smaller units by the median step: no system takes less than a frame in two seconds
// or more than 20,000 a second.
func (p *part) guessScale() float64 {
	if len(p.keys) < 2 {
		return 1
	}
	var steps []float64
	for i := 1; i < len(p.keys); i += 1 + len(p.keys)>>20 {
		steps = append(steps, p.keys[i]-p.keys[i-1])
	}
	sort.Float64s(steps)
	step := steps[len(steps)/2]
	for _, u := range []struct {
		name  string
		scale float64
	}{{"s", 1}, {"ms", 1e-3}, {"us", 1e-6}, {"ns", 1e-9}} {
		if s := step * u.scale; s <= 0.5 {
			if u.scale != 1 {
				p.note(recording.Info, "", "column %s goes up by %v a frame: taken as %s", p.Columns[p.Key].Title, step, u.name)
			}
			return u.scale
		}
	}
	return 1
}

// mostFill is how many times the frames present may be added as missing ones.
const mostFill = 20

// fillFrames puts empty frames where the numbers of the frames leave some out.
func (p *part) fillFrames() error {
	step, first, n := p.frameStep(), p.keys[0], len(p.keys)
	last := (p.keys[n-1] - first) / step
	if last == float64(n-1) {
		return nil
	}
	name := p.Columns[p.Key].Title
	if last != math.Trunc(last) || last > float64(mostFill*n) {
		return recording.Refuse("look at the column; if it holds times, call it time",
			"column %s is no numbering of frames: it runs from %v to %v over %d frames", name, first, p.keys[n-1], n)
	}
	for _, key := range p.keys {
		if k := (key - first) / step; k != math.Trunc(k) {
			return recording.Refuse("look at the column", "column %s has the frame number %v between two frames", name, key)
		}
	}
	width := 3 * len(p.raw.Points)
	frames := int(last) + 1
	// Frames move to their places from the last on, so that none is overwritten before it moves.
	p.raw.XYZ = slices.Grow(p.raw.XYZ, frames*width-len(p.raw.XYZ))[:frames*width]
	end := len(p.raw.XYZ)
	for i := n - 1; i >= 0; i-- {
		at := int((p.keys[i]-first)/step) * width
		copy(p.raw.XYZ[at:], p.raw.XYZ[i*width:(i+1)*width])
		for k := at + width; k < end; k++ {
			p.raw.XYZ[k] = missing
		}
		end = at
	}
	p.note(recording.Warn, "", "%d frames are left out in column %s: they are missing", frames-n, name)
	return nil
}

// frameStep is by how much the number of a frame goes up: the smallest step there is.
func (p *part) frameStep() float64 {
	step := math.Inf(1)
	for i := 1; i < len(p.keys); i++ {
		step = min(step, p.keys[i]-p.keys[i-1])
	}
	if math.IsInf(step, 1) {
		return 1
	}
	return step
}

var missing = float32(math.NaN())

// particulars takes the player, day, hand and height from columns and from what stands beside the table.
func (p *part) particulars() {
	for i, column := range p.About {
		p.particular(p.Columns[column].role, p.about[i])
	}
	for key, value := range p.header.Said {
		switch word := squeeze(key); word {
		case "rate", "ratehz", "framerate", "frequency", "fps", "samplerate", "samplingrate", "capturerate", "datarate":
			if v, ok := number(strings.TrimSuffix(strings.ToLower(value), "hz")); ok && v > 0 && p.raw.RateHz == 0 {
				p.raw.RateHz = v
			}
		case "up", "upaxis", "vertical":
			p.raw.UpIs = value
		default:
			p.particular(roleWords[word], value)
		}
	}
}

func (p *part) particular(r role, value string) {
	switch {
	case value == "":
	case r == player:
		p.raw.Player = value
	case r == session:
		p.raw.Session = value
	case r == hand:
		p.raw.Hand = value
	case r == height:
		if v, ok := number(value); ok && v > 0 {
			p.raw.HeightM = v
			if v > 3 { // centimetres
				p.raw.HeightM = v / 100
			}
		}
	}
}
