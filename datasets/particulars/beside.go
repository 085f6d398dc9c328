package particulars

import (
	"cmp"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

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
			if r.names(file) {
				if r.part == "" {
					r.used = r.used || r.id == ""
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

// Edits gives what is known of a recording that was stored, of its player and its serves: serves are the recording's,
// in the order of time, and ids theirs. Rows about serves that the recording does not have are told.
func (b Beside) Edits(file string, u *recording.Understanding, serves []motion.Serve, ids []motion.ServeID) (
	[]season.Edit, []recording.Note) {
	file = filepath.Base(file)
	return b.edits(file, u, b.playerOf(file, u, ids), serves, ids)
}

// playerOf is whose a recording is: what tables say of one of several in a file is not said before the file is read.
func (b Beside) playerOf(file string, u *recording.Understanding, ids []motion.ServeID) string {
	player := u.Player.Value
	for _, s := range b.Sheets {
		for _, r := range s.rows {
			if (r.ofPart() || r.was(u.Part)) && r.concerns(file, u.Part, ids) {
				player = cmp.Or(r.facts["player"], player)
			}
		}
	}
	return player
}

// concerns reports whether the row is about a recording, or about one of its serves.
func (r *row) concerns(file, part string, ids []motion.ServeID) bool {
	if r.id != "" {
		return r.was(part) || slices.Contains(ids, motion.ServeID(r.id))
	}
	return r.isAbout(file, part)
}

func (b Beside) edits(file string, u *recording.Understanding, player string, serves []motion.Serve,
	ids []motion.ServeID) ([]season.Edit, []recording.Note) {
	var edits []season.Edit
	var notes []recording.Note
	if b.Pattern != nil {
		if facts, err := b.Pattern.Facts(file); err == nil {
			edits = append(edits, forAll(facts, player, ids)...)
		}
	}
	startS := b.startOf(u.Part)
	for _, s := range b.Sheets {
		more, said := s.edits(file, u, player, serves, ids, startS)
		edits, notes = append(edits, more...), append(notes, said...)
	}
	return lastOfEach(append(edits, forAll(b.Said, player, ids)...)), notes
}

// startOf is when the serve whose frames are a recording now began, in seconds from the start of the one that it was
// in; NaN where no table tells.
func (b Beside) startOf(part string) float64 {
	for _, s := range b.Sheets {
		for _, r := range s.rows {
			if r.was(part) && r.startS == r.startS {
				return r.startS
			}
		}
	}
	return math.NaN()
}

func (s *Sheet) edits(file string, u *recording.Understanding, player string, serves []motion.Serve,
	ids []motion.ServeID, startS float64) (edits []season.Edit, notes []recording.Note) {
	for _, r := range s.rows {
		if !r.isAbout(file, u.Part) {
			continue
		}
		r.used = r.used || r.id == ""
		if r.aboutServe() {
			continue
		}
		edits = append(edits, forAll(r.facts, player, ids)...)
		if r.ofPart() {
			edits = append(edits, r.facts.ofRecording(u)...)
		}
	}
	for _, r := range s.rows { // what is said of one serve stands for more than what is said of all
		if !r.aboutServe() || r.id == "" && !r.isAbout(file, u.Part) {
			continue
		}
		i, facts := r.find(u, serves, ids), r.facts
		if r.was(u.Part) && r.setsEvent() && len(serves) == 1 {
			if moved, ok := facts.since(startS, u); ok {
				i, facts = 0, moved
			}
		}
		if i >= 0 || r.was(u.Part) {
			if r.ofPart() || r.was(u.Part) {
				edits = append(edits, r.facts.ofRecording(u)...)
			}
			edits = append(edits, r.facts.edits(season.OnPlayer, player)...)
		}
		switch {
		case i >= 0:
			r.used, r.found = true, ids[i]
			for _, e := range facts.edits(season.OnServe, string(ids[i])) {
				if e.Field != "stretch" || e.Value != stretchOf(serves[i]) && !r.was(u.Part) {
					edits = append(edits, e)
				}
			}
		case r.id == "":
			notes = append(notes, recording.Note{Severity: recording.Warn, Where: r.where,
				Text: "there is no such serve in " + file})
		}
	}
	return edits, notes
}

// was reports whether the row is about the serve whose frames, exported, are a recording now, called by its id.
func (r *row) was(part string) bool { return part != "" && r.id == part }

// setsEvent reports whether the row has the time of an event, which counts from the start of the serve's recording.
func (r *row) setsEvent() bool {
	for field := range r.facts {
		if strings.HasPrefix(field, "event.") {
			return true
		}
	}
	return false
}

// since gives facts whose times of events count from startS, where a recording of these frames starts. It is not ok
// where that is unknown or an event is outside of the recording.
func (f Facts) since(startS float64, u *recording.Understanding) (moved Facts, ok bool) {
	moved = Facts{}
	for field, value := range f {
		if strings.HasPrefix(field, "event.") {
			timeS, err := strconv.ParseFloat(value, 64)
			if timeS -= startS; err != nil || !(timeS >= 0 && timeS*u.RateHz <= float64(u.Frames-1)) {
				return nil, false
			}
			value = strconv.FormatFloat(timeS, 'g', -1, 64)
		}
		moved[field] = value
	}
	return moved, true
}

// OfStored gives what the tables know of a recording that the season has: its session and hand too, where the season
// has them otherwise. Whose it is stays as the season says: that may be a pseudonym, which a table knows by name.
func (b Beside) OfStored(r Recording) ([]season.Edit, []recording.Note) {
	u, found, ids := b.known(r)
	var before []season.Edit
	for _, s := range b.Sheets {
		for _, row := range s.rows {
			if row.concerns(u.File, u.Part, ids) {
				row.used = row.used || !row.was(u.Part)
				before = append(before, row.facts.ofRecording(&u)...)
			}
		}
	}
	edits, notes := b.edits(u.File, &u, u.Player.Value, found, ids)
	edits = slices.DeleteFunc(lastOfEach(append(before, edits...)), func(e season.Edit) bool {
		return e.Target == season.OnRecording && e.Field == "player"
	})
	return edits, notes
}

// known puts a recording of the season and its serves into the form that they had when they were imported.
func (b Beside) known(r Recording) (recording.Understanding, []motion.Serve, []motion.ServeID) {
	file, part, _ := strings.Cut(r.File, partMark)
	b.Parts(file, r.parts)
	u := recording.Understanding{File: file, Part: part, Recording: r.ID, Frames: r.Frames, RateHz: r.RateHz}
	u.Player.Value, u.Session.Value, u.Hand.Value = r.Player, r.Session, r.Hand
	found, ids := r.Found()
	return u, found, ids
}

// Found gives the serves in the form that they had when they were found, and their ids.
func (r Recording) Found() ([]motion.Serve, []motion.ServeID) {
	found, ids := make([]motion.Serve, len(r.Serves)), make([]motion.ServeID, len(r.Serves))
	for i, s := range r.Serves {
		found[i], ids[i] = motion.Serve{First: s.First, Last: s.Last, Events: s.Events}, s.ID
	}
	return found, ids
}

func stretchOf(s motion.Serve) string { return strconv.Itoa(s.First) + "-" + strconv.Itoa(s.Last) }

// forAll gives facts that hold for the player and every serve of a recording.
func forAll(f Facts, player string, ids []motion.ServeID) []season.Edit {
	edits := f.edits(season.OnPlayer, player)
	for _, id := range ids {
		edits = append(edits, f.edits(season.OnServe, string(id))...)
	}
	return edits
}

// ofRecording gives what is known of a recording and is understood otherwise.
func (f Facts) ofRecording(u *recording.Understanding) []season.Edit {
	var out []season.Edit
	for _, is := range [...]struct{ field, understood string }{
		{"player", u.Player.Value}, {"session", u.Session.Value}, {"hand", string(u.Hand.Value)},
	} {
		if value := f[is.field]; value != "" && value != is.understood {
			out = append(out, season.Edit{Target: season.OnRecording, Subject: u.Recording, Field: is.field, Value: value})
		}
	}
	return out
}

// find gives the serve of a recording that a row is about, -1 where there is none. A serve may have another id in the
// season that the table is of, where its file was understood otherwise first: then the time of its contact tells it.
func (r *row) find(u *recording.Understanding, serves []motion.Serve, ids []motion.ServeID) int {
	if r.was(u.Part) && len(serves) == 1 && !r.setsEvent() {
		return 0
	}
	if r.id != "" {
		id := motion.ServeID(r.id)
		if i := slices.Index(ids, id); i >= 0 || season.RecordingOf(id) != u.Recording {
			return i
		}
	}
	if r.contactS == r.contactS {
		best, distance := -1, season.SameServeS
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
