package motion

import (
	"fmt"
)

// rule says how a measure is computed: what the evaluation must have at hand, and the formula.
type rule struct {
	from, to EventKind // the stretch of the serve that the formula looks at
	points   []point   // what it usually reads; anything else is loaded when asked for
	eval     func(v *view) Value
}

type entry struct {
	Measure
	rule
}

var (
	entries []*entry
	byID    = map[string]*entry{}
)

// register adds a measure to the registry while the package is initialised.
func register(m Measure, r rule) Measure {
	if byID[m.ID] != nil || m.ID == "" || m.Version < 1 || r.eval == nil {
		panic(fmt.Sprintf("motion: measure %q is registered twice or without version or rule", m.ID))
	}
	e := &entry{Measure: m, rule: r}
	entries = append(entries, e)
	byID[m.ID] = e
	return m
}

// All lists every registered measure, in the order of the measures' table.
func All() []Measure {
	all := make([]Measure, len(entries))
	for i, e := range entries {
		all[i] = e.Measure
	}

	return all
}

// Lookup finds a measure by its ID.
func Lookup(id string) (Measure, bool) {
	e, ok := byID[id]
	if !ok {
		return Measure{}, false
	}
	return e.Measure, true
}

// Compute gives the measures of one serve, in the order asked. A measure that is not registered is missing with a
// reason, as any other that cannot be computed. For many serves, Season.Measure is faster.
func Compute(clip Clip, ms ...Measure) []Value {
	values := make([]Value, len(ms))
	newEvaluator(ms).run(&clip, values)
	return values
}
