package season

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Made is an edit as it is recorded.
type Made struct {
	Edit
	ID     int64     `json:"id"`
	Batch  int64     `json:"batch"`
	At     time.Time `json:"at"`
	Before string    `json:"before"`
	RateHz float64   `json:"rate_hz,omitempty"` // of the recording then, where the value holds times; frames count
	Undone time.Time `json:"undone,omitzero"`   // zero while the edit is in force
}

// Edits lists every edit that was made, the newest first; of one subject, or of all where subject is empty.
func (s *Season) Edits(ctx context.Context, subject string) ([]Made, error) {
	return s.edits(ctx, "?1 = '' or subject = ?1", subject)
}

// Batch is edits that were made together, in the order in which they were made.
type Batch struct {
	Number int64     `json:"batch"`
	At     time.Time `json:"at"`
	Undone time.Time `json:"undone,omitzero"` // zero while any of them is in force
	Edits  []Made    `json:"edits"`
}

// History lists the last batches, at most so many, the newest first, with what they say of some subjects, or of all
// where none is given.
func (s *Season) History(ctx context.Context, most int, subjects ...string) ([]Batch, error) {
	about := "1"
	var args []any
	if len(subjects) > 0 {
		list, err := json.Marshal(subjects)
		if err != nil {
			return nil, err
		}
		about, args = "subject in (select value from json_each(?1))", []any{string(list)}
	}
	made, err := s.edits(ctx, fmt.Sprintf(`%s and batch in
		(select distinct batch from edits where %[1]s order by batch desc limit %d)`, about, most), args...)
	if err != nil {
		return nil, err
	}
	var batches []Batch
	for _, m := range slices.Backward(made) { // oldest first
		if n := len(batches); n == 0 || batches[n-1].Number != m.Batch {
			batches = append(batches, Batch{Number: m.Batch, At: m.At, Undone: m.Undone})
		}
		b := &batches[len(batches)-1]
		b.Edits = append(b.Edits, m)
		if m.Undone.IsZero() {
			b.Undone = m.Undone
		}
	}
	slices.Reverse(batches)
	return batches, nil
}

func (s *Season) edits(ctx context.Context, where string, args ...any) ([]Made, error) {
	rows, err := s.db.QueryContext(ctx, `select id, batch, made_at, target, subject, field, coalesce(before, ''),
		coalesce(value, ''), coalesce(rate_hz, 0), coalesce(undone_at, '') from edits where `+where+
		" order by id desc", args...)
	if err != nil {
		return nil, describe(err)
	}
	defer rows.Close()
	var all []Made
	for rows.Next() {
		var m Made
		var at, undone string
		if err := rows.Scan(&m.ID, &m.Batch, &at, &m.Target, &m.Subject, &m.Field, &m.Before, &m.Value, &m.RateHz,
			&undone); err != nil {
			return nil, describe(err)
		}
		m.At, _ = time.Parse(time.RFC3339, at)
		if undone != "" {
			m.Undone, _ = time.Parse(time.RFC3339, undone)
		}
		all = append(all, m)
	}
	return all, describe(rows.Err())
}

// Unsaid gives those of some edits that say what is not so already, by a change that is in force or else as it was
// found. The time of an event that was found is not the same said by hand.
func (s *Season) Unsaid(ctx context.Context, edits []Edit) (unsaid []Edit, err error) {
	for _, e := range edits {
		said, err := s.says(ctx, e)
		if err != nil {
			return nil, err
		}
		if !said {
			unsaid = append(unsaid, e)
		}
	}
	return unsaid, nil
}

func (s *Season) says(ctx context.Context, e Edit) (bool, error) {
	made, err := s.edits(ctx, "target = ? and subject = ? and field = ? and undone_at is null",
		e.Target, e.Subject, e.Field)
	if err != nil || len(made) > 0 {
		return err == nil && e.means(made[0].Value), err
	}
	query, args := e.foundQuery()
	if query == "" || e.holdsTimes() {
		return false, nil
	}
	var found sql.NullString
	if err := s.db.QueryRowContext(ctx, query, args...).Scan(&found); err != nil && !errors.Is(err, sql.ErrNoRows) {
		return false, describe(err)
	}
	return e.means(found.String), nil
}

// means tells whether a value of the field says the same: of numbers, 45 and 45.0 do.
func (e Edit) means(value string) bool {
	switch {
	case e.Field == "height_m", e.Field == "birth_year", e.Field == "ball_speed_m_s",
		strings.HasPrefix(e.Field, eventField):
		a, errA := strconv.ParseFloat(e.Value, 64)
		b, errB := strconv.ParseFloat(value, 64)
		return e.Value == value || errA == nil && errB == nil && a == b
	}
	return e.Value == value
}
