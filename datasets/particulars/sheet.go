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
// number of the serve in the recording, the time of its contact, or its id.
type Sheet struct{ rows []*row }

type row struct {
	where    string // its place in the table
	file     string // base name, with or without ending
	part     string
	id       string  // of the serve
	serve    int     // number of the serve in its recording, from 1; 0 where the row is about the recording
	contactS float64 // NaN where unknown
	facts    Facts
	used     bool
}

// aboutServe reports whether the row is about one serve.
func (r *row) aboutServe() bool { return r.serve > 0 || r.id != "" || r.contactS == r.contactS }

// ReadSheet reads a table, whose rows all hands out one after the other. Columns that it does not know are left alone.
// The serves and the events that this program exports are such tables.
func ReadSheet(all func(row func(sheet.Row) error) error) (*Sheet, error) {
	s := &Sheet{}
	var columns []column
	err := all(func(r sheet.Row) (err error) {
		if columns == nil {
			columns, err = understand(r)
			return err
		}
		one, err := readRow(columns, r)
		if one != nil {
			s.rows = append(s.rows, one)
		}
		return err
	})
	if err == nil && columns == nil {
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
	key   string // "file", "part", "serve", "contact" or ""
	field string // of Facts
	unit  string
}

var keys = map[string]string{
	"file": "file", "filename": "file", "path": "file", "part": "part", "trial": "part", "take": "part",
	"serve": "serve", "serveno": "serve", "servenumber": "serve", "servenr": "serve", "no": "serve", "nr": "serve",
	"contact": "contact", "contacts": "contact", "contacttime": "contact", "contacttimes": "contact",
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

func understand(titles sheet.Row) ([]column, error) {
	columns := make([]column, len(titles.Cells))
	hasFile, hasFact := false, false
	for i, title := range titles.Cells {
		c := columnOf(title)
		if c.title == "stance" && slices.Contains(titles.Cells, "stance_basis") {
			c.field = "" // the measure, in a table of measures that was exported
		}
		hasFile = hasFile || c.key == "file"
		hasFact = hasFact || c.field != "" || c.key == "event"
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
	r := &row{where: cells.Where(), contactS: math.NaN(), facts: Facts{}}
	said := map[string]string{}
	for i, cell := range cells.Cells {
		if cells.Line > 0 {
			cell = export.Text(cell)
		}
		if cell = strings.TrimSpace(cell); i >= len(columns) || cell == "" {
			continue
		}
		c := columns[i]
		var err error
		switch c.key {
		case "file":
			r.file = filepath.Base(cell)
		case "part":
			r.part = cell
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
	if r.file == "" || len(r.facts) == 0 {
		return nil, nil
	}
	return r, nil
}

// correct reads what exported tables say of corrections: a serve that was left out by hand, its frames, and an event
// that was set by hand.
func (r *row) correct(said map[string]string) error {
	if why, ok := strings.CutPrefix(said["left out"], "discarded: "); ok && said["event"] == "" {
		r.facts["discarded"] = why
	}
	if first, last := said["first"], said["last"]; first != "" && last != "" {
		r.facts["stretch"] = first + "-" + last
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

// isAbout reports whether the row is about a file.
func (r *row) isAbout(file string) bool {
	if strings.EqualFold(r.file, file) {
		return true
	}
	bare := strings.TrimSuffix(file, ".gz")
	return strings.EqualFold(r.file, strings.TrimSuffix(bare, filepath.Ext(bare)))
}

// Unused lists the places of the rows that no file, or no serve, was found for.
func (s *Sheet) Unused() []string {
	var places []string
	for _, r := range s.rows {
		if !r.used {
			places = append(places, r.where)
		}
	}
	return places
}
