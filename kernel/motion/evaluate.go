package motion

import "tossline/kernel/signal"

// evaluator computes a list of measures for one serve after another. It belongs to one goroutine, and once it has
// seen a serve of each layout it allocates nothing more.
type evaluator struct {
	rules    []*entry // nil where a measure is not registered
	points   []point  // what the rules read, without repeats
	from, to EventKind
	view     view
}

func newEvaluator(ms []Measure) *evaluator {
	e := &evaluator{from: Finish, to: Start}
	var listed [pointCount]bool
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
		for _, p := range r.points {
			if !listed[p] {
				listed[p] = true
				e.points = append(e.points, p)
			}
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
	e.view.look(clip, e.from, e.to)
	e.view.load(e.points...)
	for k, r := range e.rules {
		if r == nil {
			values[k] = missing(notComputed)
			continue
		}
		values[k] = r.eval(&e.view)
	}
}
