package tabular

import (
	"math"
	"slices"
	"unsafe"
)

// assembly puts the rows of a long table together into frames. The rows may come frame by frame or landmark by
// landmark, and any may be left out; for each landmark the keys must increase.
//
// As long as every frame has all landmarks in the same order, the values of the rows are the frames as they come. From
// the first row on that does not fit, rows are kept in chunks, in the collector's room where it has one, and are put
// into frames once all are there: stretch after stretch of the frames, each from the chunks that have some of its keys.
// A chunk holds few keys in both orders, so that every row is looked at about once and the memory in use stays small.
type assembly struct {
	*part                  // its keys are those of the frames, increasing
	index map[string]int32 // point by name
	names []string
	rows  int

	frames []float32 // rows that are frames as they came
	open   bool      // more of them may come
	width  int       // rows of such a frame, 0 until the first is whole
	fill   int       // rows of the last frame

	whole  []float64 // keys of frames, once there are other rows
	last   []float64 // key of each point's last row, once there are other rows
	now    int       // index of the last row's key, or near it
	late   []float64 // keys that are missing among keys, in any order and repeated
	chunks []chunk
}

// sample is one row.
type sample struct {
	key   float64
	point int32
	at    [3]float32
}

// chunk is rows that came one after the other, and the least and the greatest key among them.
type chunk struct {
	low, high float64
	samples   []sample
}

const (
	chunkLen   = 4096
	stretchLen = 1 << 22 // values that are put into frames at a time

	// mostEmpty bounds the missing values of a long table, as a multiple of its rows: a table that names each point once
	// would grow with the square of its length.
	mostEmpty = 100
)

func newAssembly(p *part) *assembly {
	a := &assembly{part: p, index: map[string]int32{}, frames: p.raw.XYZ, open: true}
	if p.Room != nil {
		a.frames = p.Room
	}
	return a
}

// closeFrames leaves the frames that came last, of a long table, as they are: they take no more of the room.
func (c *Collector) closeFrames() {
	if c.last == nil || c.last.long == nil || !c.last.long.open {
		return
	}
	a := c.last.long
	a.open = false
	a.pad()
	c.leaveRoom(a.frames)
	a.frames = a.frames[:len(a.frames):len(a.frames)]
}

// pad makes the last frame as long as the others.
func (a *assembly) pad() {
	if a.width == 0 {
		a.width = a.fill
	}
	for len(a.frames) < 3*a.width*len(a.keys) {
		a.frames = append(a.frames, missing)
	}
}

func (a *assembly) add(r *Rows, first int) error {
	if a.Key < 0 {
		return a.at(first, "", "a table with a row for each landmark needs a column of frame numbers or times")
	}
	points := make([]int32, len(r.Names))
	for i, n := range r.Names {
		points[i] = a.point(n)
	}
	values := r.Values
	for _, s := range r.Stretches {
		n := 3 * int(s.Rows)
		ids := points[s.Point:][:s.Rows]
		if a.open && a.fits(s.Key, ids) {
			a.frames = append(a.frames, values[:n]...)
		} else if err := a.keep(s.Key, ids, values[:n], first+int(s.Place)); err != nil {
			return err
		}
		values = values[n:]
	}
	a.rows += len(r.Values) / 3
	// A table whose landmarks come one after the other has few empty places at any time.
	if len(a.keys)*len(a.names) > 10*mostEmpty*(a.rows+1000) {
		return a.sparse(first + r.first())
	}
	return nil
}

// fits reports whether rows go on with the frames, and if so counts them.
func (a *assembly) fits(key float64, points []int32) bool {
	n := len(a.keys)
	fill := a.fill
	if n > 0 && key != a.keys[n-1] {
		if !(key > a.keys[n-1]) || a.width > 0 && fill < a.width {
			return false
		}
		if a.width == 0 {
			a.width = fill
		}
		fill = 0
	}
	if a.width > 0 && fill+len(points) > a.width {
		return false
	}
	for i, p := range points {
		if int(p) != fill+i {
			return false
		}
	}
	if fill == 0 {
		a.keys = append(a.keys, key)
	}
	a.fill = fill + len(points)
	return true
}

// keep puts rows with a key into chunks; place is that of the first.
func (a *assembly) keep(key float64, points []int32, values []float32, place int) error {
	if a.whole == nil {
		a.mix()
	}
	for len(a.last) < len(a.names) {
		a.last = append(a.last, math.Inf(-1))
	}
	a.see(key)
	for i, k := range points {
		if !(key > a.last[k]) {
			return a.outOfOrder(place+i, int(k), key)
		}
		a.last[k] = key
		c := a.room()
		c.low, c.high = min(c.low, key), max(c.high, key)
		c.samples = append(c.samples, sample{key, k, [3]float32(values[3*i:])})
	}
	return nil
}

// mix ends the rows that are frames as they come, before the first that is not.
func (a *assembly) mix() {
	a.closeFrames()
	n := len(a.keys)
	a.whole = append(make([]float64, 0, n), a.keys...)
	a.now = max(0, n-1)
	for k := range a.width {
		switch {
		case k < a.fill:
			a.last = append(a.last, a.keys[n-1])
		case n > 1:
			a.last = append(a.last, a.keys[n-2])
		}
	}
}

// point gives the index of a landmark, a new one where the name is new.
func (a *assembly) point(name string) int32 {
	i, ok := a.index[name]
	if !ok {
		i = int32(len(a.names))
		a.index[name] = i
		a.names = append(a.names, name)
	}
	return i
}

// room gives a chunk that is not full.
func (a *assembly) room() *chunk {
	n := len(a.chunks)
	if n == 0 || len(a.chunks[n-1].samples) == cap(a.chunks[n-1].samples) {
		// The chunks of short recordings are short.
		size := min(chunkLen, max(64, a.rows))
		a.chunks = append(a.chunks, chunk{math.Inf(1), math.Inf(-1), a.takeSamples(size)})
		n++
	}
	return &a.chunks[n-1]
}

// takeSamples gives an empty slice for n rows, in the room where there is one.
func (c *Collector) takeSamples(n int) []sample {
	const size = int(unsafe.Sizeof(sample{})) / 4
	values := c.takeRoom(n * size)
	if values == nil {
		return make([]sample, 0, n)
	}
	return unsafe.Slice((*sample)(unsafe.Pointer(&values[0])), n)[:0]
}

// takeRoom gives n values of the room, nil where there are not as many.
func (c *Collector) takeRoom(n int) []float32 {
	if n == 0 || cap(c.Room) < n {
		return nil
	}
	values := c.Room[:n:n]
	c.Room = c.Room[n:n]
	return values
}

// see keeps the key of a row. It is mostly that of the row before or the next one.
func (a *assembly) see(key float64) {
	n := len(a.keys)
	switch {
	case n == 0 || key > a.keys[n-1]:
		a.keys, a.now = append(a.keys, key), n
	case key == a.keys[a.now]:
	case a.now+1 < n && key == a.keys[a.now+1]:
		a.now++
	default:
		at, found := slices.BinarySearch(a.keys, key)
		if a.now = at; !found {
			if a.late = append(a.late, key); len(a.late) > 1<<16+len(a.keys) {
				a.merge()
			}
		}
	}
}

// merge puts the late keys among the others.
func (a *assembly) merge() {
	slices.Sort(a.late)
	a.late = slices.Compact(a.late)
	i, j := len(a.keys)-1, len(a.late)-1
	a.keys = append(a.keys, a.late...)
	for k := len(a.keys) - 1; j >= 0; k-- {
		if i >= 0 && a.keys[i] > a.late[j] {
			a.keys[k] = a.keys[i]
			i--
		} else {
			a.keys[k] = a.late[j]
			j--
		}
	}
	a.keys = slices.Compact(a.keys)
	a.late, a.now = a.late[:0], 0
}

func (a *assembly) outOfOrder(place, point int, key float64) error {
	name := a.Columns[a.Key].Title
	if key == a.last[point] {
		return a.at(place, "delete one of the two "+a.inRows(), "landmark %s is there twice at %s %v", a.names[point], name,
			key)
	}
	return a.at(place, "sort the "+a.inRows()+", or split the file if it holds more than one recording",
		"%s goes back from %v to %v for landmark %s", name, a.last[point], key, a.names[point])
}

func (a *assembly) sparse(place int) error {
	return a.at(place, "look at the columns",
		"hardly any frame has more than one of the %d landmarks: this is no table of frames", len(a.names))
}

// finish writes the frames in the order of their keys.
func (a *assembly) finish() error {
	a.raw.Points = a.names
	if len(a.chunks) == 0 {
		if a.open {
			a.pad()
		}
		a.raw.XYZ = a.frames
		return nil
	}
	a.merge()
	if len(a.keys)*len(a.names) > mostEmpty*(a.rows+1000) {
		return a.sparse(a.first)
	}
	width := 3 * len(a.names)
	// What is left of the room is behind the frames until they have all their places.
	out := a.Room
	if size := len(a.keys) * width; cap(out) >= size {
		out = out[:size]
	} else {
		out = make([]float32, size)
	}
	step := max(1, stretchLen/width)
	for from := 0; from < len(a.keys); from += step {
		to := min(from+step, len(a.keys))
		a.put(a.keys[from:to], out[from*width:to*width])
		if a.Alive != nil {
			a.Alive()
		}
	}
	a.raw.XYZ = out
	a.frames, a.chunks = nil, nil
	return nil
}

// put writes the frames with the given keys.
func (a *assembly) put(keys []float64, out []float32) {
	if a.rows < len(a.keys)*len(a.names) {
		for i := range out {
			out[i] = missing
		}
	}
	width := 3 * len(a.names)
	low, high := keys[0], keys[len(keys)-1]
	f, _ := slices.BinarySearch(a.whole, low)
	for at := 0; f < len(a.whole) && a.whole[f] <= high; f++ {
		for keys[at] != a.whole[f] {
			at++
		}
		copy(out[at*width:], a.frames[3*a.width*f:][:3*a.width])
	}
	for _, c := range a.chunks {
		if c.high < low || c.low > high {
			continue
		}
		f := 0
		for i := range c.samples {
			s := &c.samples[i]
			if s.key < low || s.key > high {
				continue
			}
			if s.key != keys[f] {
				if f++; f == len(keys) || s.key != keys[f] {
					f, _ = slices.BinarySearch(keys, s.key)
				}
			}
			to := out[f*width+3*int(s.point):][:3]
			to[0], to[1], to[2] = s.at[0], s.at[1], s.at[2]
		}
	}
}
