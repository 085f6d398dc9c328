package tabular

import (
	"math"
	"sort"
)

// assembly puts the rows of a long table together into frames. The rows may come frame by frame or landmark by
// landmark, and any may be left out; for each landmark the keys must increase.
type assembly struct {
	index map[string]int // point by name
	names []string
	last  []float64 // key of each point's last row
	frame map[float64]int
	keys  []float64
	at    int         // frame of the last row
	xyz   [][]float32 // by point: its values in the order of frames as they were found
	rows  int
	empty int // missing values that were put between
}

// mostEmpty bounds the missing values of a long table, as a multiple of its rows: a table that names each point once
// would grow with the square of its length.
const mostEmpty = 100

func newAssembly() *assembly {
	return &assembly{index: map[string]int{}, frame: map[float64]int{}, at: -1}
}

func (a *assembly) add(p *part, r *Rows, first int) error {
	if p.Key < 0 {
		return p.at(first, "", "a table with a row for each landmark needs a column of frame numbers or times")
	}
	points := make([]int, len(r.Names))
	for i, n := range r.Names {
		points[i] = a.point(n)
	}
	for i, key := range r.Keys {
		k := points[r.Points[i]]
		if !(key > a.last[k]) {
			return a.outOfOrder(p, first+int(r.Places[i]), k, key)
		}
		a.last[k] = key
		f := a.find(key)
		xyz := a.xyz[k]
		for a.rows++; len(xyz) < 3*f; a.empty++ {
			xyz = append(xyz, missing, missing, missing)
		}
		if a.empty > mostEmpty*(a.rows+1000) {
			return a.sparse(p, first+int(r.Places[i]))
		}
		v := r.Values[3*i : 3*i+3]
		if len(xyz) == 3*f {
			xyz = append(xyz, v...)
		} else {
			copy(xyz[3*f:], v)
		}
		a.xyz[k] = xyz
	}
	return nil
}

// point gives the index of a landmark, a new one where the name is new.
func (a *assembly) point(name string) int {
	i, ok := a.index[name]
	if !ok {
		i = len(a.names)
		a.index[name] = i
		a.names, a.last, a.xyz = append(a.names, name), append(a.last, math.Inf(-1)), append(a.xyz, nil)
	}
	return i
}

// find gives the place of the frame with a key. It is mostly that of the row before or the next one.
func (a *assembly) find(key float64) int {
	if a.at >= 0 && a.keys[a.at] == key {
		return a.at
	}
	if next := a.at + 1; next < len(a.keys) && a.keys[next] == key {
		a.at = next
		return next
	}
	f, ok := a.frame[key]
	if !ok {
		f = len(a.keys)
		a.frame[key] = f
		a.keys = append(a.keys, key)
	}
	a.at = f
	return f
}

func (a *assembly) outOfOrder(p *part, place, point int, key float64) error {
	name := p.Columns[p.Key].Title
	if key == a.last[point] {
		return p.at(place, "delete one of the two lines", "landmark %s is there twice at %s %v", a.names[point], name, key)
	}
	return p.at(place, "sort the lines, or split the file if it holds more than one recording",
		"%s goes back from %v to %v for landmark %s", name, a.last[point], key, a.names[point])
}

func (a *assembly) sparse(p *part, place int) error {
	return p.at(place, "look at the columns",
		"hardly any frame has more than one of the %d landmarks: this is no table of frames", len(a.names))
}

// finish writes the frames in the order of their keys.
func (a *assembly) finish(p *part) error {
	if len(a.keys)*len(a.names) > mostEmpty*(a.rows+1000) {
		return a.sparse(p, p.first)
	}
	order := make([]int, len(a.keys))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(i, j int) bool { return a.keys[order[i]] < a.keys[order[j]] })
	width := 3 * len(a.names)
	out := make([]float32, len(order)*width)
	for k, xyz := range a.xyz {
		for row, f := range order {
			v := []float32{missing, missing, missing}
			if 3*f < len(xyz) {
				v = xyz[3*f : 3*f+3]
			}
			copy(out[row*width+3*k:], v)
		}
	}
	p.keys = p.keys[:0]
	for _, f := range order {
		p.keys = append(p.keys, a.keys[f])
	}
	p.raw.Points, p.raw.XYZ = a.names, out
	return nil
}
