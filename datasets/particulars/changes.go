package particulars

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"

	"tossline/datasets/export"
	"tossline/datasets/season"
	"tossline/datasets/sheet"
	"tossline/kernel/motion"
)

// change is a row of a table of changes, as this program exports them.
type change struct {
	row  sheet.Row // its place; without cells
	file string    // of the recording that it is about
	made season.Made
	away bool // nothing of what it is about is in the season
}

// changeColumns are the columns of a table of changes. The first four make it one, the others may be missing.
var changeColumns = [...]string{"target", "subject", "field", "value", "batch", "rate_hz", "undone_at", "file"}

// changesIn gives where each of the columns of changes stands, -1 where it is missing; nil where the table is another.
func changesIn(titles sheet.Row) []int {
	at := make([]int, len(changeColumns))
	for i, name := range changeColumns {
		at[i] = slices.IndexFunc(titles.Cells, func(title string) bool {
			return strings.EqualFold(strings.TrimSpace(title), name)
		})
		if at[i] < 0 && i < 4 {
			return nil
		}
	}
	return at
}

// readChange reads a row of a table of changes.
func readChange(columns []int, titles int, cells sheet.Row) (*change, error) {
	if err := ragged(cells, titles); err != nil {
		return nil, err
	}
	cell := func(i int) string {
		if columns[i] < 0 || columns[i] >= len(cells.Cells) {
			return ""
		}
		if cells.Line > 0 {
			return export.Text(cells.Cells[columns[i]])
		}
		return cells.Cells[columns[i]]
	}
	number := func(i int) (float64, error) {
		v, err := strconv.ParseFloat(cell(i), 64)
		if cell(i) != "" && (err != nil || !(v >= 0)) {
			return 0, cells.Refuse("column %s: expected a number, found %q", changeColumns[i], cell(i))
		}
		return v, nil
	}
	c := &change{row: sheet.Row{Line: cells.Line, Row: cells.Row}, file: cell(7)}
	c.made.Edit = season.Edit{Target: season.Target(cell(0)), Subject: cell(1), Field: cell(2), Value: cell(3)}
	if c.made.Target == "" && c.made.Subject == "" && c.made.Field == "" {
		return nil, nil
	}
	if c.made.Target == "" || c.made.Subject == "" || c.made.Field == "" {
		return nil, cells.Refuse("a change needs what was changed in its columns target, subject and field")
	}
	batch, err := number(4)
	if err != nil {
		return nil, err
	}
	c.made.Batch = int64(batch)
	if c.made.RateHz, err = number(5); err != nil {
		return nil, err
	}
	if cell(6) != "" {
		c.made.Undone = time.Unix(0, 0) // it matters that it was, not when
	} else if err := c.made.Check(); err != nil {
		return nil, cells.Refuse("%v", err)
	}
	return c, nil
}

// Changes is how many changes by hand are in the table.
func (s *Sheet) Changes() int { return len(s.changes) }

// HasChanges tells whether the tables have changes by hand.
func (b Beside) HasChanges() bool {
	return slices.ContainsFunc(b.Sheets, func(s *Sheet) bool { return s.Changes() > 0 })
}

// Adopt gives the edits that bring the changes of a table into force in a season, as season.Adopt does. called gives
// the names by which the season calls players. Changes that have no place are told by Unused, but for those about
// recordings that are coming.
func (s *Sheet) Adopt(ctx context.Context, in *season.Season, called func(string) string, coming map[string]bool) (
	[]season.Edit, error) {
	slices.SortStableFunc(s.changes, func(a, b *change) int { return cmp.Compare(a.made.Batch, b.made.Batch) })
	changes := make([]season.Made, len(s.changes))
	for i, c := range s.changes {
		changes[i] = c.made
		changes[i].Edit = Called(c.made.Edit, called)
	}
	edits, away, err := in.Adopt(ctx, changes)
	if unfit, ok := errors.AsType[*season.Unfit](err); ok {
		return nil, s.changes[unfit.At].row.Refuse("%v", unfit.Err)
	}
	if err != nil {
		return nil, err
	}
	for _, at := range away {
		e := s.changes[at].made
		s.changes[at].away = !coming[season.RecordingOf(motion.ServeID(e.Subject))]
	}
	return edits, nil
}

// Called is an edit with other names of players.
func Called(e season.Edit, called func(string) string) season.Edit {
	switch {
	case e.Target == season.OnPlayer:
		e.Subject = called(e.Subject)
	case e.Target == season.OnRecording && e.Field == "player" && e.Value != "":
		e.Value = called(e.Value)
	}
	return e
}
