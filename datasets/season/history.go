package season

import (
	"context"
	"slices"
	"time"
)

// Made is an edit as it is recorded.
type Made struct {
	Edit
	ID     int64     `json:"id"`
	Batch  int64     `json:"batch"`
	At     time.Time `json:"at"`
	Before string    `json:"before"`
	Undone time.Time `json:"undone,omitzero"` // zero while the edit is in force
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

// History lists the last batches, at most so many, the newest first; of one subject, or of all where subject is empty.
func (s *Season) History(ctx context.Context, subject string, most int) ([]Batch, error) {
	made, err := s.edits(ctx, `(?1 = '' or subject = ?1) and batch in
		(select distinct batch from edits where ?1 = '' or subject = ?1 order by batch desc limit ?2)`, subject, most)
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
		coalesce(value, ''), coalesce(undone_at, '') from edits where `+where+" order by id desc", args...)
	if err != nil {
		return nil, describe(err)
	}
	defer rows.Close()
	var all []Made
	for rows.Next() {
		var m Made
		var at, undone string
		if err := rows.Scan(&m.ID, &m.Batch, &at, &m.Target, &m.Subject, &m.Field, &m.Before, &m.Value, &undone); err != nil {
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
