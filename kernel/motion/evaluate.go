package motion

import (
	"slices"

	"tossline/kernel/signal"
)

// evaluator computes a list of measures for one serve after another. It belongs to one goroutine, and once it has
// seen a serve of each layout it allocates nothing more.
type evaluator struct {
	rules    []*entry // nil where a measure is not registered
	points   []point  // what the rules always read
	oneOf    [][][]point
	from, to EventKind
	view     view
	wanted   []point // what they read of the layout that the view saw last
}

func newEvaluator(ms []Measure) *evaluator {
	e := &evaluator{from: Finish, to: Start}
	for _, m := range ms {
		r := byID[m.ID]
		e.rules = append(e.rules, r)
		if r == nil {
			continue
		}
		if eventIndex(r.from) < eventIndex(e.from) {
			e.from = r.from
		}
		if eventIndex(r.to) > eventIndex(e.to) {
			e.to = r.to
		}
		e.points = append(e.points, r.points...)
		if r.oneOf != nil {
			e.oneOf = append(e.oneOf, r.oneOf)
		}
	}
	return e
}

// run writes the measures of a clip to values.
func (e *evaluator) run(clip *Clip, values []Value) {
	if clip.Len() <= signal.Pad {
		for k := range values {
			values[k] = missing(tooShort)
		}
		return
	}
	known := e.view.knows(clip)
	e.view.look(clip, e.from, e.to)
	if !known {
		e.choose()
	}
	e.view.load(e.wanted...)
	for k, r := range e.rules {
		if r == nil {
			values[k] = missing(notComputed)
			continue
		}
		values[k] = r.eval(&e.view)
	}
}

// choose lists, without repeats, what the rules read of the view's layout.
func (e *evaluator) choose() {
	e.wanted = append(e.wanted[:0], e.points...)
	for _, sets := range e.oneOf {
		for _, set := range sets {
			if e.view.has(set...) {
				e.wanted = append(e.wanted, set...)
				break
			}
		}
	}
	slices.Sort(e.wanted)
	e.wanted = slices.Compact(e.wanted)
}
