package stats

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"tossline/kernel/table"
)

// Sample is one measure over serves, with what is known of them.
type Sample struct {
	Title string // what is measured: "Contact offset"
	Unit  string // "m", "deg", ...; "" for none
	Who   string // whose serves these are, for sentences; "" where nobody said

	Values   []float64 // one for each serve; NaN where missing
	Players  []string  // of each value, "" where unknown; nil where nothing is known
	Sessions []string  // of each value, in the order of time when sorted; nil where nothing is known

	StandIn  bool // all values come from a stand-in
	StandIns int  // values from stand-ins that were left out, because others are there
}

// Values is a sample of plain numbers.
func Values(title, unit string, values []float64) Sample {
	return Sample{Title: title, Unit: unit, Values: values}
}

// Of is a column of a table of serves, with its title, its unit, and the columns player and session where there are
// such. A sample of one player is called by that player's name. Values from stand-ins, as the basis column beside the
// measure tells them, are left out where there are others. Of panics with a [table.Error] when there is no such column
// of numbers, as [table.Table.Numbers] does.
func Of(t table.Table, column string) Sample {
	s := Sample{Title: t.Title(column), Unit: t.Unit(column), Values: t.Numbers(column),
		Players: texts(t, "player"), Sessions: texts(t, "session")}
	s.leaveStandIns(texts(t, basisColumn(t, column)))
	if names := distinct(s.Players); len(names) == 1 {
		s.Who = names[0]
	}
	return s
}

// texts is a column as texts, or nil where there is no such column of texts.
func texts(t table.Table, column string) []string {
	if kind := t.Type(column); kind == "text" || kind == "date" {
		return t.Texts(column)
	}
	return nil
}

// basisColumn is the column that says what a measure was computed from: contact_offset_basis beside contact_offset_m,
// whatever the unit at the end of the name; "" where there is none.
func basisColumn(t table.Table, column string) string {
	for id := column; id != ""; id = id[:max(strings.LastIndexByte(id, '_'), 0)] {
		if t.Has(id + "_basis") {
			return id + "_basis"
		}
	}
	return ""
}

func (s *Sample) leaveStandIns(basis []string) {
	if basis == nil {
		return
	}
	var standIns []int
	real := 0
	for i, b := range basis {
		switch {
		case missing(s.Values[i]):
		case strings.Contains(b, "stand-in"):
			standIns = append(standIns, i)
		default:
			real++
		}
	}
	if real == 0 {
		s.StandIn = len(standIns) > 0
		return
	}
	s.StandIns = len(standIns)
	for _, i := range standIns {
		s.Values[i] = math.NaN()
	}
}

// Named calls the sample's serves by a name in sentences: a player, "before", "first serves".
func (s Sample) Named(who string) Sample {
	s.Who = who
	return s
}

// In says for plain numbers which player and session each value belongs to; nil where that isn't known. It panics when
// the lists are not as long as the values.
func (s Sample) In(players, sessions []string) Sample {
	for _, list := range [][]string{players, sessions} {
		if list != nil && len(list) != len(s.Values) {
			panic(fmt.Errorf("%d values of %q with %d players or sessions; give one for each value",
				len(s.Values), s.Title, len(list)))
		}
	}
	s.Players, s.Sessions = players, sessions
	return s
}

// N is the number of values that are there.
func (s Sample) N() int { return len(s.present()) }

// ByPlayer is a sample for each player, named so, in the order of the names.
func (s Sample) ByPlayer() []Sample { return s.by(s.Players) }

// BySession is a sample for each session, named so, in the order of time.
func (s Sample) BySession() []Sample { return s.by(s.Sessions) }

func (s Sample) by(labels []string) []Sample {
	places := map[string][]int{}
	for i, label := range labels {
		if label != "" {
			places[label] = append(places[label], i)
		}
	}
	var parts []Sample
	for _, label := range slices.Sorted(maps.Keys(places)) {
		part := s.at(places[label])
		part.Who = label
		parts = append(parts, part)
	}
	return parts
}

// keep is the part of the sample whose places are chosen.
func (s Sample) keep(choose func(i int) bool) Sample {
	places := make([]int, 0, len(s.Values))
	for i := range s.Values {
		if choose(i) {
			places = append(places, i)
		}
	}
	return s.at(places)
}

// at is the part of the sample at some places.
func (s Sample) at(places []int) Sample {
	s.Values, s.Players, s.Sessions = chosen(s.Values, places), chosen(s.Players, places), chosen(s.Sessions, places)
	return s
}

// chosen are the values of a list at some places; nil where there are none.
func chosen[T any](list []T, places []int) []T {
	if list == nil || len(places) == 0 {
		return nil
	}
	part := make([]T, len(places))
	for k, i := range places {
		part[k] = list[i]
	}
	return part
}

// known is the sample without its missing values.
func (s Sample) known() Sample { return s.keep(func(i int) bool { return !missing(s.Values[i]) }) }

func (s Sample) present() []float64 { return present(s.Values) }

// clusters numbers the occasions of each value: one session of one player. Values of which no session is known make
// one occasion for each player.
func (s Sample) clusters() (of []int, count int) {
	of = make([]int, len(s.Values))
	seen := map[[2]string]int{}
	for i := range s.Values {
		key := [2]string{labelAt(s.Players, i), labelAt(s.Sessions, i)}
		k, ok := seen[key]
		if !ok {
			k = len(seen)
			seen[key] = k
		}
		of[i] = k
	}
	return of, len(seen)
}

func labelAt(labels []string, i int) string {
	if labels == nil {
		return ""
	}
	return labels[i]
}

// bothKnown are two samples of the same serves where both have a value. It panics when they are not equally long.
func bothKnown(x, y Sample) (Sample, Sample) {
	if len(x.Values) != len(y.Values) {
		panic(fmt.Errorf("%d values of %q beside %d of %q; give one of each for every serve",
			len(x.Values), x.Title, len(y.Values), y.Title))
	}
	both := func(i int) bool { return !missing(x.Values[i]) && !missing(y.Values[i]) }
	return x.keep(both), y.keep(both)
}

// missing tells NaN, infinities, and numbers so large that nothing measured them and their squares would be infinite.
func missing(x float64) bool { return !(math.Abs(x) < 1e100) }

func present(values []float64) []float64 {
	return slices.DeleteFunc(slices.Clone(values), missing)
}

// distinct are the labels, each once, sorted, without "".
func distinct(labels []string) []string {
	seen := map[string]bool{}
	for _, label := range labels {
		if label != "" {
			seen[label] = true
		}
	}
	return slices.Sorted(maps.Keys(seen))
}
