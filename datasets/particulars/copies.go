package particulars

import (
	"cmp"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"tossline/datasets/export"
	"tossline/datasets/season"
	"tossline/kernel/motion"
)

// Copies are recordings of a season by the ids of those, in another season, that they are copies of: files that were
// exported as C3D have other ids, but the names and the times of the recordings that they are of.
type Copies struct {
	beside Beside
	of     map[string]string
}

// original is a recording of another season that tables speak of.
type original struct {
	name   string // of its file, as export.C3DName gives it, in lower case
	serves map[motion.ServeID]float64
}

// Copies finds the copies that the tables speak of among the recordings of a season: a recording of the same name,
// other than for its ending, of which half of the serves that are spoken of have their contact, within 0.15 s, at the
// same time. Where that is so of several recordings, it is none. From then on the changes in the tables are about the
// copies.
func (b Beside) Copies(recordings []Recording) Copies {
	there, byName := map[string]bool{}, map[string][]Recording{}
	for _, r := range recordings {
		there[r.ID] = true
		name := copyName(r.File)
		byName[name] = append(byName[name], r)
	}
	originals, named := map[string]*original{}, map[string]int{}
	speak := func(file, subject string, contactS float64) {
		id := season.RecordingOf(motion.ServeID(subject))
		if there[id] || id == "" || file == "" {
			return
		}
		o := originals[id]
		if o == nil {
			o = &original{copyName(file), map[motion.ServeID]float64{}}
			originals[id] = o
			named[o.name]++
		}
		if subject != id {
			o.serves[motion.ServeID(subject)] = contactS
		}
	}
	for _, s := range b.Sheets {
		for _, r := range s.rows {
			speak(cmp.Or(r.hiddenFile, r.file), r.id, r.contactS)
		}
		for _, c := range s.changes {
			if c.made.Target == season.OnServe || c.made.Target == season.OnRecording {
				speak(c.file, c.made.Subject, math.NaN())
			}
		}
	}
	copies := Copies{b, map[string]string{}}
	for id, o := range originals {
		found := byName[o.name+"-"+strings.ToLower(id)]
		if len(found) == 0 && named[o.name] == 1 {
			found = byName[o.name]
		}
		if len(found) == 1 && o.agrees(found[0]) {
			copies.of[id] = found[0].ID
		}
	}
	for _, s := range b.Sheets {
		for _, c := range s.changes {
			copies.change(&c.made.Edit)
		}
	}
	return copies
}

// MayBeCopy tells whether the tables speak of serves of another recording that has the name of a file.
func (b Beside) MayBeCopy(file, id string) bool {
	name := copyName(filepath.Base(file))
	for _, s := range b.Sheets {
		for _, r := range s.rows {
			if of := season.RecordingOf(motion.ServeID(r.id)); of != "" && of != id && r.file != "" {
				was, hidden := copyName(r.file), copyName(r.hiddenFile)
				if was == name || hidden == name || name == was+"-"+strings.ToLower(of) {
					return true
				}
			}
		}
	}
	return false
}

// copyName is what a copy of a file is called, but for its ending.
func copyName(file string) string { return strings.ToLower(export.C3DName(file)) }

// agrees reports whether a recording has half of the serves.
func (o *original) agrees(r Recording) bool {
	same := 0
	for id, contactS := range o.serves {
		if serveAt(r, id, contactS) != "" {
			same++
		}
	}
	return same > 0 && 2*same >= len(o.serves)
}

// serveAt gives the serve of a recording whose contact was, when it was cut first, at the time that the id of a serve
// tells, or else is at contactS, NaN where that is unknown; "" where there is none.
func serveAt(r Recording, id motion.ServeID, contactS float64) (at motion.ServeID) {
	_, hundredths, _ := strings.Cut(string(id), "-")
	cutS, err := strconv.ParseFloat(hundredths, 64)
	times := [...]float64{cutS / 100, contactS}
	if err != nil {
		times[0] = math.NaN()
	}
	for _, timeS := range times {
		distance := season.SameServeS
		for _, s := range r.Serves {
			if apart := math.Abs(season.AnchorS(s.Events) - timeS); apart <= distance {
				at, distance = s.ID, apart
			}
		}
		if at != "" {
			break
		}
	}
	return at
}

// change has a change be about the copy.
func (c Copies) change(e *season.Edit) {
	old := season.RecordingOf(motion.ServeID(e.Subject))
	now, ok := c.of[old]
	if !ok || e.Target != season.OnServe && e.Target != season.OnRecording {
		return
	}
	e.Subject = now + strings.TrimPrefix(e.Subject, old)
	if e.Target == season.OnRecording { // serves that are cut by hand have their ids in it
		e.Field = strings.Replace(e.Field, "."+old+"-", "."+now+"-", 1)
		e.Value = strings.ReplaceAll(e.Value, `"`+old+"-", `"`+now+"-")
	}
}

// Settle has the rows of the tables be about the serves of the copies, as they are now, when all changes are made.
func (c Copies) Settle(recordings []Recording) {
	if len(c.of) == 0 {
		return
	}
	byID := map[string]Recording{}
	for _, r := range recordings {
		byID[r.ID] = r
	}
	for _, s := range c.beside.Sheets {
		for _, row := range s.rows {
			old := season.RecordingOf(motion.ServeID(row.id))
			now, ok := c.of[old]
			if !ok {
				continue
			}
			r := byID[now]
			id := motion.ServeID(now + strings.TrimPrefix(row.id, old))
			if !r.has(id) {
				id = serveAt(r, id, row.contactS)
			}
			if id != "" {
				row.id = string(id)
			}
		}
	}
}

func (r Recording) has(id motion.ServeID) bool {
	for _, s := range r.Serves {
		if s.ID == id {
			return true
		}
	}
	return false
}
