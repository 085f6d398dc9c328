package particulars

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"

	"tossline/datasets/recording"
	"tossline/datasets/season"
	"tossline/kernel/motion"
)

// Beside is what is known beside the files of an import. The zero value knows nothing.
type Beside struct {
	Sheet   *Sheet   // may be nil
	Pattern *Pattern // may be nil
}

// Options adds to o what is known of a file before it is read. What was said wins over the table, and that over the
// file's name.
func (b Beside) Options(file string, o recording.Options) (recording.Options, error) {
	file = filepath.Base(file)
	if b.Sheet != nil {
		for _, r := range b.Sheet.rows {
			if r.isAbout(file) {
				r.used = true
				if r.part == "" {
					o = r.facts.options(o)
				}
			}
		}
	}
	if b.Pattern == nil {
		return o, nil
	}
	facts, err := b.Pattern.Facts(file)
	return facts.options(o), err
}

// near is how far the time of a contact in a table may lie from that of the serve, in seconds.
const near = 0.15

// Edits gives what is known of a recording that was stored, of its player and its serves: serves are the recording's,
// in the order of time, and ids theirs. Rows about serves that the recording does not have are told.
func (b Beside) Edits(file string, u *recording.Understanding, serves []motion.Serve, ids []motion.ServeID) (
	[]season.Edit, []recording.Note) {
	file = filepath.Base(file)
	var edits []season.Edit
	var notes []recording.Note
	if b.Pattern != nil {
		if facts, err := b.Pattern.Facts(file); err == nil {
			edits = append(edits, forAll(facts, u, ids)...)
		}
	}
	if b.Sheet == nil {
		return edits, notes
	}
	mine := func(r *row) bool { return r.isAbout(file) && (r.part == "" || r.part == u.Part) }
	for _, r := range b.Sheet.rows {
		if !mine(r) || r.aboutServe() {
			continue
		}
		edits = append(edits, forAll(r.facts, u, ids)...)
		if r.part != "" {
			edits = append(edits, r.facts.ofRecording(u.Recording)...)
		}
	}
	for _, r := range b.Sheet.rows { // what is said of one serve stands for more than what is said of all
		if !mine(r) || !r.aboutServe() {
			continue
		}
		if i := r.find(serves, ids); i >= 0 {
			edits = append(edits, r.facts.edits(season.OnServe, string(ids[i]))...)
			edits = append(edits, r.facts.edits(season.OnPlayer, u.Player.Value)...)
		} else if r.id == "" {
			notes = append(notes, recording.Note{Severity: recording.Warn, Where: fmt.Sprintf("line %d", r.line),
				Text: "there is no such serve in " + file})
		}
	}
	return lastOfEach(edits), notes
}

// forAll gives facts that hold for the player and every serve of a recording.
func forAll(f Facts, u *recording.Understanding, ids []motion.ServeID) []season.Edit {
	edits := f.edits(season.OnPlayer, u.Player.Value)
	for _, id := range ids {
		edits = append(edits, f.edits(season.OnServe, string(id))...)
	}
	return edits
}

// ofRecording gives what is known of one of several recordings of a file.
func (f Facts) ofRecording(id string) []season.Edit {
	var out []season.Edit
	for _, field := range [...]string{"player", "session", "hand"} {
		if f[field] != "" {
			out = append(out, season.Edit{Target: season.OnRecording, Subject: id, Field: field, Value: f[field]})
		}
	}
	return out
}

// find gives the serve that a row is about, -1 where there is none.
func (r *row) find(serves []motion.Serve, ids []motion.ServeID) int {
	if r.id != "" {
		return slices.Index(ids, motion.ServeID(r.id))
	}
	if r.contactS == r.contactS {
		best, distance := -1, near
		for i, s := range serves {
			if e, ok := s.Events[motion.Contact]; ok && math.Abs(e.TimeS-r.contactS) <= distance {
				best, distance = i, math.Abs(e.TimeS-r.contactS)
			}
		}
		return best
	}
	if r.serve > len(serves) {
		return -1
	}
	return r.serve - 1
}

// lastOfEach keeps the last edit of every field.
func lastOfEach(edits []season.Edit) []season.Edit {
	type field struct {
		target         season.Target
		subject, field string
	}
	last := map[field]int{}
	for i, e := range edits {
		last[field{e.Target, e.Subject, e.Field}] = i
	}
	var out []season.Edit
	for i, e := range edits {
		if last[field{e.Target, e.Subject, e.Field}] == i {
			out = append(out, e)
		}
	}
	return out
}
