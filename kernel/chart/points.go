package chart

import (
	"errors"
	"fmt"
	"hash/fnv"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"tossline/kernel/result"
	"tossline/kernel/table"
)

var errNothing = errors.New("the chart is empty: make it with Strip, Course, Scatter or another function of chart")

// point is one row of the table that has a value.
type point struct {
	value   float64
	other   float64 // the second measure of a scatter
	group   string
	session string
	serve   string
	name    string // what the tooltip calls it
	standIn bool
	row     int
}

// points reads the rows that have a value in each measure, and counts the others by reason.
func (c Chart) points(measures ...string) ([]point, []result.LeftOut) {
	t := c.table
	var values [][]float64
	for _, m := range measures {
		values = append(values, t.Numbers(m))
	}
	groups, sessions, serves := optional(t, c.by), optional(t, "session"), optional(t, "serve")
	players := optional(t, "player")
	bases, reasons := companions(t, measures, "_basis"), companions(t, measures, "_missing")
	left := &tally{place: map[string]int{}}
	var list []point
	for i := range t.Len() {
		if k := firstMissing(values, i); k >= 0 {
			left.add(t.Title(measures[k]), at(reasons[k], i), at(serves, i), len(measures) > 1)
			continue
		}
		p := point{value: values[0][i], group: at(groups, i), session: at(sessions, i), serve: at(serves, i), row: i}
		p.name = pointName(at(players, i), p.session, p.group)
		if len(values) > 1 {
			p.other = values[1][i]
		}
		for _, basis := range bases {
			p.standIn = p.standIn || strings.Contains(at(basis, i), "stand-in")
		}
		list = append(list, p)
	}
	return list, left.list
}

func firstMissing(values [][]float64, i int) int {
	for k := range values {
		if math.IsNaN(values[k][i]) || math.IsInf(values[k][i], 0) {
			return k
		}
	}
	return -1
}

// tally counts what is left out.
type tally struct {
	list  []result.LeftOut
	place map[string]int
}

func (l *tally) add(measure, reason, serve string, named bool) {
	if reason == "" {
		reason = "no value"
	}
	if named {
		reason = measure + ": " + reason
	}
	k, ok := l.place[reason]
	if !ok {
		k = len(l.list)
		l.place[reason] = k
		l.list = append(l.list, result.LeftOut{Reason: reason, Serves: []string{}})
	}
	l.list[k].Serves = append(l.list[k].Serves, serve)
}

// optional is a column as texts, or nil where the table lacks it or it holds numbers.
func optional(t table.Table, column string) []string {
	switch t.Type(column) {
	case "text", "date", "time", "bool":
		return t.Texts(column)
	case "number", "integer":
		words := make([]string, t.Len())
		for i, v := range t.Numbers(column) {
			if !math.IsNaN(v) {
				words[i] = fmt.Sprint(v)
			}
		}
		return words
	}
	return nil
}

func at(list []string, i int) string {
	if list == nil {
		return ""
	}
	return list[i]
}

// companions are the text columns beside each measure: for contact_offset_m, contact_offset_missing, whatever the
// unit at the end of the name.
func companions(t table.Table, measures []string, suffix string) [][]string {
	list := make([][]string, len(measures))
	for k, m := range measures {
		for id := m; id != ""; id = shorter(id) {
			if t.Type(id+suffix) == "text" {
				list[k] = t.Texts(id + suffix)
				break
			}
		}
	}
	return list
}

// shorter is a name without its last word.
func shorter(id string) string {
	return id[:max(strings.LastIndexByte(id, '_'), 0)]
}

func pointName(player, session, group string) string {
	var parts []string
	if player != "" {
		parts = append(parts, player)
	}
	if session != "" {
		parts = append(parts, dayInWords(session))
	}
	if len(parts) == 0 && group != "" {
		parts = append(parts, group)
	}
	return strings.Join(parts, ", ")
}

// dayInWords writes 2026-03-14 as 14 March 2026, and anything else as it is.
func dayInWords(iso string) string {
	day, err := time.Parse(time.DateOnly, iso)
	if err != nil {
		return iso
	}
	return day.Format("2 January 2006")
}

// jitter is where a serve lies across its row, from -1 to 1: always the same for the same serve, so that a point stays
// where it is when others come or go.
func jitter(p point) float64 {
	h := fnv.New64a()
	h.Write([]byte(p.serve))
	if p.serve == "" {
		fmt.Fprint(h, p.row)
	}
	x := h.Sum64() // the low bits of FNV-1a are mixed worst, and similar ids differ there
	x ^= x >> 33
	x *= 0xff51afd7ed558ccd
	x ^= x >> 33
	return float64(x>>11)/(1<<52) - 1
}

// estimate is a mean with the 95 % interval of Student's t (n-1 degrees of freedom); below two values it has none.
type estimate struct {
	n               int
	mean, low, high float64
}

func estimateOf(values []float64) estimate {
	e := estimate{n: len(values), low: math.NaN(), high: math.NaN()}
	mean, sd := stat.MeanStdDev(values, nil)
	e.mean = mean
	if e.n > 1 {
		half := distuv.StudentsT{Sigma: 1, Nu: float64(e.n - 1)}.Quantile(0.975) * sd / math.Sqrt(float64(e.n))
		e.low, e.high = mean-half, mean+half
	}
	return e
}

// groupsOf lists the groups in order of first appearance.
func groupsOf(points []point) []string {
	var list []string
	seen := map[string]bool{}
	for _, p := range points {
		if !seen[p.group] {
			seen[p.group] = true
			list = append(list, p.group)
		}
	}
	return list
}

func valuesOf(points []point, choose func(point) bool) []float64 {
	var list []float64
	for _, p := range points {
		if choose(p) {
			list = append(list, p.value)
		}
	}
	return list
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

func all(point) bool { return true }
