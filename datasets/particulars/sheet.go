package particulars

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"tossline/datasets/export"
	"tossline/datasets/recording"
	"tossline/datasets/season"
	"tossline/datasets/sheet"
	"tossline/kernel/motion"
)

// Sheet is a table of particulars. Each row is about the recording of a file, or about one serve of it where it has the
// number of the serve in the recording, the time of its contact, or its id. Or else it is a table of changes by hand,
// as this program exports them.
type Sheet struct {
	rows    []*row
	changes []*change
}

type row struct {
	where                  string // its place in the table
	file                   string // base name, with or without ending
	part                   string
	hiddenFile, hiddenPart string   // with pseudonyms in place of names, where the season keeps some
	means                  []string // recordings, with their files, that it calls by the last piece of their part
	id                     string   // of the serve
	serve                  int      // number of the serve in its recording, from 1; 0 where the row is about the recording
	contactS               float64  // NaN where unknown
	startS                 float64  // of the serve's frames in its recording; NaN where unknown
	facts                  Facts
	group                  string // that the serve is in, or ""
	used                   bool
	found                  motion.ServeID // which serve it is about; "" where that is not known
}

// aboutServe reports whether the row is about one serve.
func (r *row) aboutServe() bool { return r.serve > 0 || r.id != "" || r.contactS == r.contactS }

// ReadSheet reads a table, whose rows all hands out one after the other. Columns that it does not know are left alone.
// The serves, events, groups and changes that this program exports are such tables.
func ReadSheet(all func(row func(sheet.Row) error) error) (*Sheet, error) {
	s := &Sheet{}
	var columns []column
	var changes []int
	titles := 0
	err := all(func(r sheet.Row) (err error) {
		switch {
		case changes != nil:
			one, err := readChange(changes, titles, r)
			if one != nil {
				s.changes = append(s.changes, one)
			}
			return err
		case columns == nil:
			titles = len(r.Cells)
			if changes = changesIn(r); changes == nil {
				columns, err = understand(r)
			}
			return err
		}
		one, err := readRow(columns, r)
		if one != nil {
			s.rows = append(s.rows, one)
		}
		return err
	})
	if err == nil && columns == nil && changes == nil {
		err = recording.Refuse("", "the table of particulars is empty")
	}
	if err != nil {
		return nil, err
	}
	return s, nil
}

// column is what a column of the table is for.
type column struct {
	title string
	key   string // what it is for beside facts, or ""
	field string // of Facts
	unit  string
}

var keys = map[string]string{
	"file": "file", "filename": "file", "path": "file", "part": "part", "trial": "part", "take": "part",
	"serve": "serve", "serveno": "serve", "servenumber": "serve", "servenr": "serve", "no": "serve", "nr": "serve",
	"contact": "contact", "contacts": "contact", "contacttime": "contact", "contacttimes": "contact",
	"group":   "group",
	"ratehz":  "rate",
	"leftout": "left out", "firstframe": "first", "lastframe": "last", // as exported, and these of events:
	"event": "event", "times": "time", "byhand": "by hand",
}

// columnOf understands the name of a column.
func columnOf(title string) column {
	c := column{title: strings.TrimSpace(title)}
	word := strings.ToLower(c.title)
	if k := strings.IndexAny(word, "(["); k > 0 {
		c.unit = strings.Trim(word[k:], "()[] ")
		word = word[:k]
	}
	word = squeeze(word)
	for _, unit := range [...]string{"kmh", "kph", "mph", "ms", "cm", "m"} {
		if rest, ok := strings.CutSuffix(word, unit); ok && words[rest] != "" && c.unit == "" && words[word] == "" {
			word, c.unit = rest, unit
		}
	}
	c.key, c.field = keys[word], words[word]
	return c
}

// Known tells whether a table with these titles is one of particulars.
func Known(titles sheet.Row) bool {
	_, err := understand(titles)
	return err == nil || changesIn(titles) != nil
}

func understand(titles sheet.Row) ([]column, error) {
	columns := make([]column, len(titles.Cells))
	hasFile, hasFact := false, false
	hasServe := slices.ContainsFunc(titles.Cells, func(title string) bool { return columnOf(title).key == "serve" })
	for i, title := range titles.Cells {
		c := columnOf(title)
		if c.title == "stance" && slices.Contains(titles.Cells, "stance_basis") {
			c.field = "" // the measure, in a table of measures that was exported
		}
		hasFile = hasFile || c.key == "file"
		hasFact = hasFact || c.field != "" || c.key == "event" || c.key == "group" && hasServe
		columns[i] = c
	}
	if !hasFile || !hasFact {
		return nil, titles.Refuse("the table of particulars needs a column file, and columns such as player, session, "+
			"hand, height_m, serve, serve_type, stance_type, court_side, ball_speed_kmh or outcome; found %s",
			strings.Join(titles.Cells, ", "))
	}
	return columns, nil
}

// readRow reads a row, nil where it says nothing.
func readRow(columns []column, cells sheet.Row) (*row, error) {
	r := &row{where: cells.Where(), contactS: math.NaN(), startS: math.NaN(), facts: Facts{}}
	said := map[string]string{}
	if err := ragged(cells, len(columns)); err != nil {
		return nil, err
	}
	for i, cell := range cells.Cells {
		if cells.Line > 0 {
			cell = export.Text(cell)
		}
		if cell = strings.TrimSpace(cell); cell == "" {
			continue
		}
		c := columns[i]
		var err error
		switch c.key {
		case "file":
			file, part, _ := strings.Cut(cell, partMark)
			r.file = strings.TrimSuffix(filepath.Base(file)+partMark+part, partMark)
		case "part":
			r.part = cell
		case "group":
			r.group = cell
		case "serve":
			if r.serve, err = strconv.Atoi(cell); err != nil {
				r.id, err = cell, nil
			} else if r.serve < 1 {
				err = fmt.Errorf("expected the number of a serve from 1, found %s", recording.Quote(cell))
			}
		case "contact":
			var ok bool
			if r.contactS, ok = number(cell); !ok {
				err = fmt.Errorf("expected seconds, found %s", recording.Quote(cell))
			}
		default:
			said[c.key] = cell
		}
		if c.field != "" {
			r.facts[c.field], err = read(c.field, cell, c.unit)
		}
		if err != nil {
			return nil, cells.Refuse("column %s: %v", c.title, err)
		}
	}
	if err := r.correct(said); err != nil {
		return nil, cells.Refuse("%v", err)
	}
	if !r.aboutServe() {
		r.group = "" // some other group, such as that of an age
	}
	if len(r.facts) == 0 && r.group == "" {
		return nil, nil
	}
	return r, nil
}

// ragged refuses a row that says something beyond the last title: its values may stand under the wrong ones. Empty
// cells there, which spreadsheets like to add, say nothing.
func ragged(cells sheet.Row, titles int) error {
	for i := titles; i < len(cells.Cells); i++ {
		if beyond := strings.TrimSpace(cells.Cells[i]); beyond != "" {
			err := cells.Refuse("expected %d values, as many as there are titles, found %s beyond the last", titles,
				recording.Quote(beyond))
			err.Remedy = "put quotes around a value that has the delimiter in it, or write numbers with a point: between " +
				"commas, 1,85 is two values"
			return err
		}
	}
	return nil
}

// correct reads what exported tables say of corrections: a serve that was left out by hand, its frames, and an event
// that was set by hand.
func (r *row) correct(said map[string]string) error {
	if why, ok := strings.CutPrefix(said["left out"], "discarded: "); ok && said["event"] == "" {
		r.facts["discarded"] = why
	}
	if first, last := said["first"], said["last"]; first != "" && last != "" {
		r.facts["stretch"] = first + "-" + last
		frame, err := strconv.Atoi(first)
		if rate, noRate := strconv.ParseFloat(said["rate"], 64); err == nil && noRate == nil && rate > 0 {
			r.startS = float64(frame) / rate
		}
	}
	if byHand := said["by hand"]; said["event"] == "" || byHand != "1" && !strings.EqualFold(byHand, "true") {
		return nil
	}
	at, err := strconv.ParseFloat(said["time"], 64)
	if err != nil {
		return fmt.Errorf("column time_s: expected the seconds of the event, found %s", recording.Quote(said["time"]))
	}
	moved := season.MoveEvent("", motion.EventKind(said["event"]), at)
	r.facts[moved.Field] = moved.Value
	return nil
}

// partMark stands between the names of a file and of one of several recordings in it, as season.ImportsOf puts them
// together.
const partMark = ": "

// isAbout reports whether the row is about a recording of a file, or about all of them.
func (r *row) isAbout(file, part string) bool {
	return r.names(file) && (r.part == "" || r.part == part) || part != "" && (r.names(file) &&
		(r.hiddenPart == part || slices.Contains(r.means, file+partMark+part)) || r.called(file+partMark+part))
}

// called reports whether a name is that of the row's file.
func (r *row) called(name string) bool {
	return strings.EqualFold(r.file, name) || strings.EqualFold(r.hiddenFile, name)
}

// Parts tells the tables what the recordings of a file are called. A row may call one by the last piece of its name,
// such as T1 where it is "Tuva Brandt, T1", if there is one such.
func (b Beside) Parts(file string, parts []string) {
	called := map[string][]string{}
	for _, part := range parts {
		if at := strings.LastIndex(part, pieceMark); at >= 0 {
			piece := part[at+len(pieceMark):]
			called[piece] = append(called[piece], part)
		}
	}
	for _, s := range b.Sheets {
		for _, r := range s.rows {
			one := called[r.part]
			if len(one) != 1 || !r.names(file) || slices.Contains(parts, r.part) {
				continue
			}
			if whole := file + partMark + one[0]; !slices.Contains(r.means, whole) {
				r.means = append(r.means, whole)
			}
		}
	}
}

// pieceMark stands between the labels that tell the recordings of a file apart.
const pieceMark = ", "

// ofPart reports whether the row is about one of several recordings of a file.
func (r *row) ofPart() bool { return r.part != "" || strings.Contains(r.file, partMark) }

// names reports whether the row has the name of a file.
func (r *row) names(file string) bool {
	bare := strings.TrimSuffix(file, ".gz")
	return r.file != "" && (r.called(file) || r.called(strings.TrimSuffix(bare, filepath.Ext(bare))))
}

// Unused lists the places of the rows that no file, or no serve, was found for.
func (s *Sheet) Unused() []string {
	var places []string
	for _, c := range s.changes {
		if c.away {
			places = append(places, c.row.Where())
		}
	}
	for _, r := range s.rows {
		if !r.used {
			places = append(places, r.where)
		}
	}
	return places
}
