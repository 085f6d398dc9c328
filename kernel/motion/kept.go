package motion

import "tossline/kernel/spatial"

// kept keeps a quantity at the samples at which it was found, for one serve: several measures ask for the same ones.
type kept[T any] struct {
	found []T
	serve []uint32 // for which serve it was found
	now   uint32
}

// forget begins another serve.
func (k *kept[T]) forget() { k.now++ }

// at is the quantity at a sample, found at first demand.
func (k *kept[T]) at(v *view, i int, find func(v *view, i int) T) T {
	if i < 0 || i >= v.samples {
		return find(v, i)
	}
	if len(k.found) < v.samples {
		k.found, k.serve = make([]T, v.samples), make([]uint32, v.samples)
	}
	if k.serve[i] != k.now {
		k.found[i], k.serve[i] = find(v, i), k.now
	}
	return k.found[i]
}

// remembered is what a view keeps of one serve.
type remembered struct {
	thoraxes, humeri           kept[spatial.Frame]
	frontKnee, backKnee, elbow kept[float64]    // flexion, deg
	peaks                      [linkCount]Value // of the sequence; Basis and Missing are empty while not computed
}

func (r *remembered) forget() {
	r.thoraxes.forget()
	r.humeri.forget()
	r.frontKnee.forget()
	r.backKnee.forget()
	r.elbow.forget()
	r.peaks = [linkCount]Value{}
}
