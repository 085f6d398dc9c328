package season

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"tossline/kernel/motion"
)

// Unfit is a change that Adopt refuses.
type Unfit struct {
	At  int // its place among the changes
	Err error
}

func (u *Unfit) Error() string { return u.Err.Error() }
func (u *Unfit) Unwrap() error { return u.Err }

// Adopt gives the edits that bring changes into force here that were made in another season, or in this one at another
// time: the last word on each field that was not undone there, unless it is the last word here already. Recordings and
// serves are known by their ids, which come from the files; a serve whose file was understood otherwise there is known
// by its time. The changes that have no place here, because their recording, serve or table is not in this season, are
// away, by their places among the changes, which come in the order in which they were made. The error of a change that
// could not be made is an *Unfit.
func (s *Season) Adopt(ctx context.Context, changes []Made) (edits []Edit, away []int, err error) {
	tx, err := s.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, nil, describe(err)
	}
	defer tx.Rollback()
	a := adoption{changes: changes, last: map[wordOn]int{}, recordings: map[string]length{},
		serves: map[string]float64{}, contents: map[string]bool{"": true}}
	if err := a.read(ctx, tx); err != nil {
		return nil, nil, describe(err)
	}
	var back []Edit
	for _, at := range a.order() {
		e, err := a.fit(at)
		switch {
		case err != nil:
			return nil, nil, &Unfit{at, err}
		case e == nil:
			away = append(away, at)
		case !a.holds(*e):
			if _, ok := a.last[a.changes[at].on()]; !ok { // it is wanted for the serves that it names, and then taken back
				back = append(back, Edit{e.Target, e.Subject, e.Field, a.said[e.on().subject][e.Field].value})
			}
			edits = append(edits, *e)
			a.say(*e)
		}
	}
	for _, e := range back {
		if !a.holds(e) {
			edits = append(edits, e)
			a.say(e)
		}
	}
	slices.Sort(away)
	return edits, away, nil
}

// adoption is what Adopt knows.
type adoption struct {
	changes    []Made
	last       map[wordOn]int // the change that is the last word on a field
	said       said           // what is in force here
	recordings map[string]length
	serves     map[string]float64 // anchors of every id that was ever given here, NaN for serves cut by hand
	contents   map[string]bool    // hashes of the tables that are here
}

// wordOn is what an edit is about.
type wordOn struct {
	subject
	field string
}

func (e Edit) on() wordOn { return wordOn{subject{e.Target, e.Subject}, e.Field} }

func (a *adoption) read(ctx context.Context, tx *sql.Tx) (err error) {
	if a.said, err = readEdits(ctx, tx); err != nil {
		return err
	}
	rows, err := tx.QueryContext(ctx, "select id, frames, rate_hz from recordings")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var id string
		var l length
		if err := rows.Scan(&id, &l.frames, &l.rateHz); err != nil {
			return err
		}
		a.recordings[id] = l
	}
	if err := rows.Err(); err != nil {
		return err
	}
	ids, err := tx.QueryContext(ctx, `select id, anchor_s from serves union all
		select distinct substr(field, 7), null from edits where target = 'recording' and field like 'serve.%'`)
	if err != nil {
		return err
	}
	defer ids.Close()
	for ids.Next() {
		var id string
		var anchor sql.NullFloat64
		if err := ids.Scan(&id, &anchor); err != nil {
			return err
		}
		if a.serves[id] = math.NaN(); anchor.Valid {
			a.serves[id] = anchor.Float64
		}
	}
	if err := ids.Err(); err != nil {
		return err
	}
	tables, err := tx.QueryContext(ctx, "select sha256 from tables")
	if err != nil {
		return err
	}
	defer tables.Close()
	for tables.Next() {
		var hash string
		if err := tables.Scan(&hash); err != nil {
			return err
		}
		a.contents[hash] = true
	}
	return tables.Err()
}

// order gives the changes that count. Those that only name serves come first, and what is said of serves comes last,
// because what is said of recordings may name them; beyond that they come in the order in which they were made.
func (a *adoption) order() []int {
	for i, m := range a.changes {
		if m.Undone.IsZero() {
			a.last[m.on()] = i
		}
	}
	rank := a.naming()
	for _, i := range a.last {
		if rank[i] = 1; a.changes[i].Target == OnServe {
			rank[i] = 2
		}
	}
	return slices.SortedFunc(maps.Keys(rank), func(i, j int) int {
		return cmp.Or(cmp.Compare(rank[i], rank[j]), cmp.Compare(i, j))
	})
}

// naming gives, each with rank 0, the changes by which serves got the ids that others speak of, where they are not known
// here. A change that was undone since may be among them: what is said of its serves outlives it.
func (a *adoption) naming() map[int]int {
	by := map[string]int{}
	for i, m := range a.changes {
		for _, id := range m.named() {
			if _, ok := by[id]; !ok {
				by[id] = i // a serve keeps the stretch with which it was first known
			}
		}
	}
	wanted := map[int]int{}
	for _, i := range a.last {
		if m := a.changes[i]; m.Target == OnServe && !a.knows(m.Subject) {
			if k, ok := by[m.Subject]; ok {
				wanted[k] = 0
			}
		}
	}
	return wanted
}

// named are the ids of the serves that an edit cuts.
func (e Edit) named() (ids []string) {
	if e.Target != OnRecording {
		return nil
	}
	for _, c := range e.cuts() {
		ids = append(ids, cmp.Or(string(c.ID), strings.TrimPrefix(e.Field, serveField)))
	}
	return ids
}

// fit gives the edit that a change is here; nil where what it is about is not in this season.
func (a *adoption) fit(at int) (*Edit, error) {
	m := a.changes[at]
	e := m.Edit
	if err := e.Check(); err != nil {
		return nil, err
	}
	switch {
	case e.Target == OnTable && !a.contents[e.Value]:
		return nil, nil
	case e.Target == OnTable:
		return &e, CheckTableName(e.Subject)
	case e.Target == OnPlayer:
		return &e, checkPlayer(e.Subject)
	}
	on, ok := a.recordings[RecordingOf(motion.ServeID(e.Subject))]
	if !ok {
		return nil, nil
	}
	if e.Target == OnServe && !a.knows(e.Subject) {
		if e.Subject = a.same(e.Subject); e.Subject == "" {
			return nil, nil
		}
	}
	if m.RateHz > 0 && m.RateHz != on.rateHz && e.holdsTimes() {
		e.Value = e.scaled(m.RateHz / on.rateHz)
	}
	for _, id := range e.named() {
		a.serves[id] = math.NaN()
	}
	return &e, e.checkInside(on)
}

func (a *adoption) knows(serve string) bool {
	_, ok := a.serves[serve]
	return ok
}

// same gives the serve of this season that has another id than the same serve in another season, "" where there is
// none: the file may have been understood otherwise there first, and ids tell when a serve was when it was first cut.
func (a *adoption) same(serve string) (same string) {
	recording := RecordingOf(motion.ServeID(serve))
	hundredths, err := strconv.Atoi(strings.TrimPrefix(serve, recording+"-"))
	if err != nil {
		return ""
	}
	nearest := SameServeS
	for id, anchorS := range a.serves {
		apart := math.Abs(anchorS - float64(hundredths)/100)
		closer := apart < nearest || apart == nearest && id < same
		if closer && RecordingOf(motion.ServeID(id)) == recording {
			same, nearest = id, apart
		}
	}
	return same
}

// scaled is the value of an edit for a recording whose frames are the same at another rate.
func (e Edit) scaled(scale float64) string {
	if t, err := strconv.ParseFloat(e.Value, 64); err == nil {
		return strconv.FormatFloat(t*scale, 'g', -1, 64)
	}
	all := e.cuts()
	for i, c := range all {
		all[i].Events = c.serve("", 0, scale).Events
	}
	var value any = all
	switch {
	case len(all) == 0:
		return e.Value
	case e.Field != cutField:
		value = all[0]
	}
	text, err := json.Marshal(value)
	if err != nil {
		return e.Value // a time that is no number was refused before
	}
	return string(text)
}

// holds tells whether an edit is the last word on its field here.
func (a *adoption) holds(e Edit) bool {
	w, ok := a.said[e.on().subject][e.Field]
	if e.Target == OnTable {
		return w.value == e.Value // one that never was there needs not be taken out
	}
	return ok && w.value == e.Value && (!e.holdsTimes() || w.rateHz == a.rateHz(e))
}

// say has an edit be the last word.
func (a *adoption) say(e Edit) {
	on := e.on().subject
	if a.said[on] == nil {
		a.said[on] = map[string]word{}
	}
	a.said[on][e.Field] = word{e.Value, a.rateHz(e)}
}

// rateHz is the rate of the recording that an edit is about.
func (a *adoption) rateHz(e Edit) float64 {
	return a.recordings[RecordingOf(motion.ServeID(e.Subject))].rateHz
}
