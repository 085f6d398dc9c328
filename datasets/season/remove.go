package season

import (
	"context"
	"database/sql"
	"fmt"
)

// RemoveRecording takes a recording out of the season for good: its frames, serves and events, and everything that was
// said of them. This can't be undone; Discard can.
func (w *Writer) RemoveRecording(ctx context.Context, id string) error {
	var hash string
	err := w.change(ctx, func(tx *sql.Tx) error {
		err := tx.QueryRowContext(ctx, "select frames_sha256 from recordings where id = ?", id).Scan(&hash)
		if err == sql.ErrNoRows {
			return fmt.Errorf("no recording %s in this season", id)
		}
		if err != nil {
			return err
		}
		// Ids of serves start with that of their recording.
		for _, statement := range []string{
			"delete from edits where subject = ?1 or subject like ?1 || '-%'",
			"delete from group_serves where serve like ?1 || '-%'",
			"delete from recordings where id = ?1",
		} {
			if _, err := tx.ExecContext(ctx, statement, id); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	// Catalogues that have the file mapped keep it until they are gone. What other recordings share stays.
	w.forget(hash)
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.sweep()
}
