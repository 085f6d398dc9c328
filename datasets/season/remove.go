package season

import (
	"context"
	"database/sql"
	"fmt"
	"os"
)

// RemoveRecording takes a recording out of the season for good: its frames, serves and events, and everything that was
// said of them. This can't be undone; Discard can.
func (w *Writer) RemoveRecording(ctx context.Context, id string) error {
	var hash string
	var shared bool
	err := w.change(ctx, func(tx *sql.Tx) error {
		err := tx.QueryRowContext(ctx, `select frames_sha256, (select count(*) > 1 from recordings
			where frames_sha256 = r.frames_sha256) from recordings r where id = ?`, id).Scan(&hash, &shared)
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
	if err != nil || shared {
		return err
	}
	// Catalogues that have the file mapped keep it until they are gone.
	w.forget(hash)
	return os.Remove(w.framesPath(hash))
}
