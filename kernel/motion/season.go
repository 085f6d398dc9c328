package motion

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync/atomic"

	"golang.org/x/sync/errgroup"

	"tossline/kernel/table"
	"tossline/kernel/words"
)

// Source is where a Season's serves come from: the season folder, the demo, or a test. It is read-only and safe for
// use by several goroutines.
type Source interface {
	// Len is the number of serves, cut-off and discarded ones left out.
	Len() int
	// Clip gives the frames and events of serve i, sharing the source's memory.
	Clip(i int) (Clip, error)
	// Particulars has a row for each serve, in order: who, when, from which file.
	Particulars() table.Table
	// Cached gives a measure of serve i that was kept, or computed before from the same frames, events and version.
	Cached(i int, m Measure) (Value, bool)
	// Keep takes a computed measure, which Cached gives from then on.
	Keep(i int, m Measure, v Value)
}

// Season is what a recipe sees of a season folder: its serves, their measures and their figures. It is a value: Of
// and Between give narrower seasons and leave the old one as it was.
type Season struct {
	ctx      context.Context
	source   Source
	progress func(done, total int)
	rows     []int // serves of the source that belong to this season, in order; nil for all
	choices  []choice
}

// choice is one narrowing of a season: the rows of which a column's text pleases.
type choice struct {
	column string
	keep   func(string) bool
}

// NewSeason makes a Season over src. Long computations stop when ctx ends and report to progress, which may be nil
// and may be called from several goroutines.
func NewSeason(ctx context.Context, src Source, progress func(done, total int)) Season {
	return Season{ctx: ctx, source: src, progress: progress}
}

// Len is the number of serves.
func (s Season) Len() int {
	switch {
	case s.rows != nil:
		return len(s.rows)
	case s.source == nil:
		return 0
	}
	return s.source.Len()
}

// row is the place in the source of serve k of the season.
func (s Season) row(k int) int {
	if s.rows == nil {
		return k
	}
	return s.rows[k]
}

// Particulars has a row for each serve in the season's order (session date, recording, contact time): serve,
// recording, file, player, session, hand, contact_s, and what else is known of it.
func (s Season) Particulars() table.Table {
	if s.source == nil {
		return table.Table{}
	}
	all := named(s.source.Particulars())
	if s.rows == nil {
		return all
	}
	return all.Keep(func(r table.Row) bool {
		_, found := slices.BinarySearch(s.rows, r.Index())
		return found
	})
}

// unnamed is whom recipes take the serves to be of whose player nobody named: one player, so that a first take is seen.
const unnamed = "unnamed player"

// named gives the serves without a player to one of that name.
func named(serves table.Table) table.Table {
	if !serves.Has("player") || serves.Present("player").Len() == serves.Len() {
		return serves
	}
	players := serves.Texts("player")
	for i, name := range players {
		if name == "" {
			players[i] = unnamed
		}
	}
	return serves.With(table.Text("player", players).Titled(serves.Title("player")))
}

// Players lists the players who have serves in the season, sorted.
func (s Season) Players() []string { return s.distinct("player") }

// Sessions lists the dates of the season's sessions (2026-03-14), in order.
func (s Season) Sessions() []string { return s.distinct("session") }

func (s Season) distinct(column string) []string {
	particulars := s.Particulars()
	if !particulars.Has(column) {
		return nil
	}
	names := slices.DeleteFunc(particulars.Texts(column), func(name string) bool { return name == "" })
	slices.Sort(names)
	return slices.Compact(names)
}

// Of gives the serves of the named players alone; without a name, or with only empty ones, all serves.
func (s Season) Of(players ...string) Season {
	players = slices.DeleteFunc(slices.Clone(players), func(name string) bool { return name == "" })
	if len(players) == 0 {
		return s
	}
	return s.only("player", func(name string) bool { return slices.Contains(players, name) })
}

// Between gives the serves of the sessions from one date to another, inclusive, written 2026-03-14; an empty date
// leaves that side open. Serves without a date are left out unless both are empty.
func (s Season) Between(from, to string) Season {
	if from == "" && to == "" {
		return s
	}
	return s.only("session", func(date string) bool {
		return date != "" && (from == "" || date >= from) && (to == "" || date <= to)
	})
}

func (s Season) only(column string, keep func(string) bool) Season {
	rows := make([]int, 0, s.Len())
	if particulars := s.Particulars(); particulars.Has(column) {
		for k, text := range particulars.Texts(column) {
			if keep(text) {
				rows = append(rows, s.row(k))
			}
		}
	}
	s.rows = rows
	s.choices = append(slices.Clip(s.choices), choice{column, keep})
	return s
}

// LeftOut has a row for each serve of the season that is not measured (cut off, discarded, its frames not readable):
// its particulars, and the reason in column left_out.
func (s Season) LeftOut() table.Table {
	source, ok := s.source.(interface{ LeftOut() table.Table })
	if !ok {
		return table.Table{}
	}
	left := named(source.LeftOut())
	for _, c := range s.choices {
		left = left.Keep(func(r table.Row) bool { return c.keep(r.Text(c.column)) })
	}
	return left
}

// Events has a row for each serve: the particulars, and for each kind of event the columns <kind>_s (seconds from the
// start of the recording), <kind>_confidence (0 to 1), <kind>_method, <kind>_stand_in and <kind>_by_hand; all null
// where the serve has no such event.
func (s Season) Events() (table.Table, error) {
	clips := make([]Events, s.Len())
	for k := range clips {
		if err := s.ctx.Err(); err != nil {
			return table.Table{}, err
		}
		clip, err := s.source.Clip(s.row(k))
		if err != nil {
			return table.Table{}, err
		}
		clips[k] = clip.Events
	}
	var columns []table.Column
	for _, kind := range EventKinds {
		columns = append(columns, eventColumns(kind, clips)...)
	}
	t := s.Particulars().With(columns...)
	return t, t.Err()
}

func eventColumns(kind EventKind, serves []Events) []table.Column {
	title, id := words.Capital(inWords(kind)), string(kind)
	seconds, sure := make([]float64, len(serves)), make([]float64, len(serves))
	method, standIn, byHand := make([]string, len(serves)), make([]string, len(serves)), make([]string, len(serves))
	for k, events := range serves {
		e, ok := events[kind]
		if !ok {
			seconds[k], sure[k] = math.NaN(), math.NaN()
			continue
		}
		seconds[k], sure[k], method[k] = e.TimeS, e.Confidence, e.Method
		standIn[k], byHand[k] = yesOrNo(e.StandIn), yesOrNo(e.ByHand)
	}
	return []table.Column{
		table.Number(id+"_s", "s", seconds).Titled(title).Defined("Time of " + inWords(kind) +
			" from the start of the recording."),
		table.Number(id+"_confidence", "", sure).Titled(title + ", confidence"),
		table.Text(id+"_method", method).Titled(title + ", how found"),
		table.Text(id+"_stand_in", standIn).Titled(title + ", found from a stand-in"),
		table.Text(id+"_by_hand", byHand).Titled(title + ", set by a person"),
	}
}

func yesOrNo(is bool) string {
	if is {
		return "yes"
	}
	return "no"
}

// Clip gives the frames and events of one serve.
func (s Season) Clip(id ServeID) (Clip, error) {
	particulars := s.Particulars()
	if particulars.Has("serve") {
		for k, name := range particulars.Texts("serve") {
			if name == string(id) {
				return s.source.Clip(s.row(k))
			}
		}
	}
	return Clip{}, fmt.Errorf("no serve %q in this season", id)
}

// Measure computes the measures of every serve on all cores: the particulars, and for each measure the columns
// Column (null where missing), BasisColumn and MissingColumn. It stops within a few serves when the season's context
// ends. A serve whose frames cannot be read is an error that names it.
func (s Season) Measure(ms ...Measure) (table.Table, error) {
	for _, m := range ms {
		if byID[m.ID] == nil {
			return table.Table{}, fmt.Errorf("no measure %q; motion.All lists them", m.ID)
		}
	}
	c := &computation{season: s, measures: ms}
	if err := s.everyServe(c.worker); err != nil {
		return table.Table{}, err
	}
	columns, err := c.columns()
	if err != nil {
		return table.Table{}, err
	}
	t := s.Particulars().With(columns...)
	return t, t.Err()
}

// computation is one run of Measure. The source holds the values until the columns are made of them: a season of
// 60,000 serves has four million.
type computation struct {
	season   Season
	measures []Measure
}

// worker makes the function that computes what the cache does not have of a serve.
func (c *computation) worker() func(k int) error {
	e, values := newEvaluator(c.measures), make([]Value, len(c.measures))
	return func(k int) error { return c.serve(e, c.season.row(k), values) }
}

// serve sees to it that the source has the values of a row; values is room for them.
func (c *computation) serve(e *evaluator, row int, values []Value) error {
	source := c.season.source
	if !slices.ContainsFunc(c.measures, func(m Measure) bool { _, ok := source.Cached(row, m); return !ok }) {
		return nil
	}
	clip, err := source.Clip(row)
	if err != nil {
		return err
	}
	e.run(&clip, values)
	for j, m := range c.measures {
		source.Keep(row, m, values[j])
	}
	return nil
}

// columns makes the three columns of each measure, on all cores.
func (c *computation) columns() ([]table.Column, error) {
	all := make([]table.Column, 3*len(c.measures))
	var next atomic.Int64
	var workers errgroup.Group
	for range min(runtime.GOMAXPROCS(0), len(c.measures)) {
		workers.Go(func() error {
			n := c.season.Len()
			numbers, basis, why := make([]float64, n), make([]string, n), make([]string, n)
			for at := int(next.Add(1)) - 1; at < len(c.measures); at = int(next.Add(1)) - 1 {
				m := c.measures[at]
				for k := range n {
					v, ok := c.season.source.Cached(c.season.row(k), m)
					if !ok {
						return fmt.Errorf("the value of %s of serve %d was not kept", m.ID, k)
					}
					numbers[k], basis[k], why[k] = v.Number, v.BasisText(), v.Missing
				}
				copy(all[3*at:], []table.Column{
					table.Number(m.Column(), m.Unit, numbers).Titled(m.Title).Defined(m.Definition),
					table.Text(m.BasisColumn(), basis).Titled(m.Title + ", computed from"),
					table.Text(m.MissingColumn(), why).Titled(m.Title + ", why missing"),
				})
			}
			return nil
		})
	}
	return all, workers.Wait()
}
