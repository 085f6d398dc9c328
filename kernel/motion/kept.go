package motion

import "tossline/kernel/spatial"

// kept keeps a quantity at the samples at which it was found, for one serve: several measures ask for the same ones.
type kept[T any] struct {
	found    []T // by sample
	from, to int // the samples from to to-1 are found
}

// forget begins another serve.
func (k *kept[T]) forget() { k.from, k.to = 0, 0 }

// over is the quantity at the samples first to last of the view's stretch; find gives it from a sample on.
func (k *kept[T]) over(v *view, first, last int, find func(v *view, first int, found []T)) []T {
	if last < first {
		return nil
	}
	if len(k.found) < v.samples {
		k.found = make([]T, v.samples)
	}
	if k.from == k.to {
		k.from, k.to = first, first
	}
	if first < k.from {
		find(v, first, k.found[first:k.from])
		k.from = first
	}
	if last >= k.to {
		find(v, k.to, k.found[k.to:last+1])
		k.to = last + 1
	}
	return k.found[first : last+1]
}

// remembered is what a view keeps of one serve.
type remembered struct {
	courses                   []kept[float64] // by quantity
	thoraxes, humeri, rackets kept[spatial.Frame]
	peaks                     [linkCount]Value // of the sequence; Basis and Missing are empty while not computed
}

func (r *remembered) forget() {
	if r.courses == nil {
		r.courses = make([]kept[float64], quantities)
	}
	for k := range r.courses {
		r.courses[k].forget()
	}
	r.thoraxes.forget()
	r.humeri.forget()
	r.rackets.forget()
	r.peaks = [linkCount]Value{}
}
