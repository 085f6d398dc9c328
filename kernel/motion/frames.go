package motion

import "tossline/kernel/spatial"

// frames keeps the frame of a segment at the samples at which it was found, for one serve.
type frames struct {
	found []spatial.Frame
	serve []uint32 // for which serve it was found
	now   uint32
}

// forget begins another serve.
func (f *frames) forget() { f.now++ }

// at is the frame at a sample, found at first demand.
func (f *frames) at(v *view, i int, find func(v *view, i int) spatial.Frame) spatial.Frame {
	if i < 0 || i >= v.samples {
		return find(v, i)
	}
	if len(f.found) < v.samples {
		f.found, f.serve = make([]spatial.Frame, v.samples), make([]uint32, v.samples)
	}
	if f.serve[i] != f.now {
		f.found[i], f.serve[i] = find(v, i), f.now
	}
	return f.found[i]
}
