package particulars

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"tossline/datasets/export"
	"tossline/datasets/recording"
)

// Sheet is a table of particulars. Each row is about the recording of a file, or about one serve of it where it has the
// number of the serve in the recording, the time of its contact, or its id.
type Sheet struct {
	rows []*row
}

type row struct {
	line     int
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

// mostSheet bounds a table of particulars.
const mostSheet = 64 << 20

// ReadSheet reads a table from CSV with any delimiter and a header. Columns that it does not know are left alone. The
// serves that this program exports are such a table.
func ReadSheet(r io.Reader) (*Sheet, error) {
	text, err := io.ReadAll(io.LimitReader(r, mostSheet))
	if err != nil {
		return nil, err
	}
	text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	in := csv.NewReader(bytes.NewReader(text))
	in.Comma, in.FieldsPerRecord, in.TrimLeadingSpace = delimiterOf(text), -1, true
	titles, err := in.Read()
	if errors.Is(err, io.EOF) {
		return nil, recording.Refuse("", "the table of particulars is empty")
	}
	if err != nil {
		return nil, unreadable(err)
	}
	columns, err := understand(titles)
	if err != nil {
		return nil, err
	}
	s := &Sheet{}
	for {
		cells, err := in.Read()
		if errors.Is(err, io.EOF) {
			return s, nil
		}
		if err != nil {
			return nil, unreadable(err)
		}
		line, _ := in.FieldPos(0)
		one, err := readRow(columns, cells, line)
		if err != nil {
			return nil, err
		}
		if one != nil {
			s.rows = append(s.rows, one)
		}
	}
}

func unreadable(err error) error {
	var place *csv.ParseError
	if errors.As(err, &place) {
		return recording.At(place.Line, place.Column, "%v", place.Err)
	}
	return err
}

// delimiterOf is the one that the first line has most of.
func delimiterOf(text []byte) rune {
	first, _, _ := bytes.Cut(text, []byte{'\n'})
	best, most := ',', 0
	for _, d := range [...]rune{',', ';', '\t', '|'} {
		if n := bytes.Count(first, []byte(string(d))); n > most {
			best, most = d, n
		}
	}
	return best
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
}

func understand(titles []string) ([]column, error) {
	columns := make([]column, len(titles))
	hasFile, hasFact := false, false
	for i, title := range titles {
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
		hasFile = hasFile || c.key == "file"
		hasFact = hasFact || c.field != ""
		columns[i] = c
	}
	if !hasFile || !hasFact {
		return nil, recording.At(1, 0, "the table of particulars needs a column file, and columns such as player, session, "+
			"hand, height_m, serve, serve_type, stance_type, court_side, ball_speed_kmh or outcome; found %s",
			strings.Join(titles, ", "))
	}
	return columns, nil
}

// readRow reads a row, nil where it says nothing.
func readRow(columns []column, cells []string, line int) (*row, error) {
	r := &row{line: line, contactS: math.NaN(), facts: Facts{}}
	for i, cell := range cells {
		cell = strings.TrimSpace(export.Text(cell))
		if i >= len(columns) || cell == "" {
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
		}
		if c.field != "" {
			r.facts[c.field], err = read(c.field, cell, c.unit)
		}
		if err != nil {
			return nil, recording.At(line, 0, "column %s: %v", c.title, err)
		}
	}
	if r.file == "" || len(r.facts) == 0 {
		return nil, nil
	}
	return r, nil
}

// isAbout reports whether the row is about a file.
func (r *row) isAbout(file string) bool {
	if strings.EqualFold(r.file, file) {
		return true
	}
	bare := strings.TrimSuffix(file, ".gz")
	return strings.EqualFold(r.file, strings.TrimSuffix(bare, filepath.Ext(bare)))
}

// Unused lists the rows that no file was found for, by their lines.
func (s *Sheet) Unused() []int {
	var lines []int
	for _, r := range s.rows {
		if !r.used {
			lines = append(lines, r.line)
		}
	}
	return lines
}
