package particulars

import (
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"tossline/datasets/catalogue"
	"tossline/datasets/recording"
	"tossline/datasets/season"
	"tossline/kernel/motion"
)

// Beside is what is known beside the files of an import. The zero value knows nothing.
type Beside struct {
	Said    Facts    // of all files; may be nil
	Sheets  []*Sheet // what a later one says counts
	Pattern *Pattern // may be nil
}

// Options adds to o what is known of a file before it is read. What was said wins over the tables, and those over the
// file's name.
func (b Beside) Options(file string, o recording.Options) (recording.Options, error) {
	file = filepath.Base(file)
	o = b.Said.options(o)
	for i := range b.Sheets {
		for _, r := range b.Sheets[len(b.Sheets)-1-i].rows {
			if r.isAbout(file) {
				r.used = r.used || r.id == ""
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
	for _, s := range b.Sheets {
		more, said := s.edits(file, u, serves, ids)
		edits, notes = append(edits, more...), append(notes, said...)
	}
	return lastOfEach(append(edits, forAll(b.Said, u, ids)...)), notes
}

func (s *Sheet) edits(file string, u *recording.Understanding, serves []motion.Serve, ids []motion.ServeID) (
	edits []season.Edit, notes []recording.Note) {
	mine := func(r *row) bool { return r.isAbout(file) && (r.part == "" || r.part == u.Part) }
	for _, r := range s.rows {
		if !mine(r) || r.aboutServe() {
			continue
		}
		edits = append(edits, forAll(r.facts, u, ids)...)
		if r.part != "" {
			edits = append(edits, r.facts.ofRecording(u.Recording)...)
		}
	}
	for _, r := range s.rows { // what is said of one serve stands for more than what is said of all
		if !r.aboutServe() || r.id == "" && !mine(r) {
			continue
		}
		if i := r.find(serves, ids); i >= 0 {
			r.used = true
			for _, e := range r.facts.edits(season.OnServe, string(ids[i])) {
				if e.Field != "stretch" || e.Value != stretchOf(serves[i]) {
					edits = append(edits, e)
				}
			}
			edits = append(edits, r.facts.edits(season.OnPlayer, u.Player.Value)...)
		} else if r.id == "" {
			notes = append(notes, recording.Note{Severity: recording.Warn, Where: r.where,
				Text: "there is no such serve in " + file})
		}
	}
	return edits, notes
}

// OfStored gives what the tables know of a recording that the season has: its session and hand too, where the season has
// them otherwise. Whose it is stays as the season says: that may be a pseudonym, which a table knows by name.
func (b Beside) OfStored(r catalogue.Recording, serves []catalogue.Serve) ([]season.Edit, []recording.Note) {
	file, part, _ := strings.Cut(r.File, ": ") // as season.ImportsOf puts them together
	u := recording.Understanding{File: file, Part: part, Recording: r.ID}
	u.Player.Value, u.Session.Value, u.Hand.Value = r.Player, r.Session, r.Hand
	found, ids := make([]motion.Serve, len(serves)), make([]motion.ServeID, len(serves))
	for i, s := range serves {
		found[i], ids[i] = motion.Serve{First: s.First, Last: s.Last, Events: s.Events}, s.ID
	}
	has := map[string]string{"session": r.Session, "hand": string(r.Hand)}
	var before []season.Edit
	for _, s := range b.Sheets {
		for _, row := range s.rows {
			about := row.id != "" && slices.Contains(ids, motion.ServeID(row.id)) ||
				row.id == "" && row.isAbout(file) && (row.part == "" || row.part == part)
			if !about {
				continue
			}
			row.used = true
			before = append(before, row.facts.ofRecording(r.ID)...)
		}
	}
	edits, notes := b.Edits(file, &u, found, ids)
	edits = slices.DeleteFunc(lastOfEach(append(before, edits...)), func(e season.Edit) bool {
		return e.Target == season.OnRecording && (e.Field == "player" || e.Value == has[e.Field])
	})
	return edits, notes
}

func stretchOf(s motion.Serve) string { return strconv.Itoa(s.First) + "-" + strconv.Itoa(s.Last) }

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
