package delimited

import (
	"fmt"
	"math"
	"sort"

	"tossline/datasets/recording"
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
}

func newAssembly() *assembly {
	return &assembly{index: map[string]int{}, frame: map[float64]int{}, at: -1}
}

func (a *assembly) add(c *collector, r *rows) error {
	if c.key < 0 {
		return recording.At(c.lines, 0, "a table with a row for each landmark needs a column of frame numbers or times")
	}
	points := make([]int, len(r.names))
	for i, n := range r.names {
		points[i] = a.point(n)
	}
	for i, key := range r.key {
		p := points[r.point[i]]
		if key <= a.last[p] {
			return a.outOfOrder(c, c.lines+int(r.line[i])+1, p, key)
		}
		a.last[p] = key
		f := a.find(key)
		xyz := a.xyz[p]
		for len(xyz) < 3*f {
			xyz = append(xyz, missing, missing, missing)
		}
		v := r.xyz[3*i : 3*i+3]
		if len(xyz) == 3*f {
			xyz = append(xyz, v...)
		} else {
			copy(xyz[3*f:], v)
		}
		a.xyz[p] = xyz
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

func (a *assembly) outOfOrder(c *collector, line, point int, key float64) error {
	name := c.columns[c.key].title
	if key == a.last[point] {
		return &recording.Error{Line: line, Text: fmt.Sprintf("landmark %s is there twice at %s %v", a.names[point], name,
			key), Remedy: "delete one of the two lines"}
	}
	return &recording.Error{Line: line, Text: fmt.Sprintf("%s goes back from %v to %v for landmark %s", name,
		a.last[point], key, a.names[point]), Remedy: "sort the lines, or split the file if it holds more than one recording"}
}

// finish writes the frames in the order of their keys.
func (a *assembly) finish(c *collector) {
	order := make([]int, len(a.keys))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(i, j int) bool { return a.keys[order[i]] < a.keys[order[j]] })
	width := 3 * len(a.names)
	out := make([]float32, len(order)*width)
	for p, xyz := range a.xyz {
		for row, f := range order {
			v := []float32{missing, missing, missing}
			if 3*f < len(xyz) {
				v = xyz[3*f : 3*f+3]
			}
			copy(out[row*width+3*p:], v)
		}
	}
	c.keys = c.keys[:0]
	for _, f := range order {
		c.keys = append(c.keys, a.keys[f])
	}
	c.raw.Points, c.raw.XYZ = a.names, out
}
