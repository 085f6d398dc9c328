package season

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/apache/arrow/go/v17/arrow"

	"tossline/datasets/catalogue"
	"tossline/datasets/tablefile"
	"tossline/kernel/spelling"
)

const contentField = "content"

// Table is a table that a season keeps under a name.
type Table struct {
	Name   string    `json:"name"`
	SHA256 string    `json:"sha256"` // tables/<this>.arrow
	File   string    `json:"file"`   // base name of the file that it was read from
	Rows   int       `json:"rows"`
	KeptAt time.Time `json:"kept_at"`
}

// OwnTables are what export calls the tables that a season has of itself.
var OwnTables = []string{"serves", "events", "measures", "frames", "signals", "changes", "groups"}

// maxTableName bounds the name of a table, in bytes.
const maxTableName = 100

// CheckTableName refuses what can't be the name of a table that is kept.
func CheckTableName(name string) error {
	switch {
	case strings.TrimSpace(name) == "" || strings.TrimSpace(name) != name || !utf8.ValidString(name) ||
		anyText(name) != nil:
		return fmt.Errorf("a table can't be called %q: expected a name on one line, without blanks at its ends", name)
	case len(name) > maxTableName:
		return fmt.Errorf("the name %q... is longer than the %d bytes that the name of a table may have", name[:20],
			maxTableName)
	case slices.Contains(OwnTables, strings.ToLower(name)):
		return fmt.Errorf("a table can't be called %s, which the season has of its own; choose another name", name)
	}
	return nil
}

func checkHash(value string) error {
	if !hexSHA256.MatchString(value) {
		return fmt.Errorf("%q: expected the hash of a table that was kept, or nothing", value)
	}
	return nil
}

// contentExists refuses a table whose content this season doesn't have, or that is to be taken out and isn't there.
func (e Edit) contentExists(ctx context.Context, tx *sql.Tx) error {
	if err := CheckTableName(e.Subject); err != nil {
		return err
	}
	query, of := "select exists (select 1 from tables where sha256 = ?)", e.Value
	if e.Value == "" {
		query, of = "select exists (select 1 from edits where target = 'table' and subject = ?)", e.Subject
	}
	var there bool
	if err := tx.QueryRowContext(ctx, query, of).Scan(&there); err != nil || there {
		return err
	}
	return fmt.Errorf("table %s: this season doesn't have its content; import its file again", e.Subject)
}

// KeepTable keeps a table under a name, as the content of a file was understood; record has the types of package
// tablefile. What the name had before is out, until the change is undone: Edits and Undo treat it like every other. When it
// returns without error, the table is on the disk.
func (w *Writer) KeepTable(ctx context.Context, name, file string, record arrow.Record) (Outcome, error) {
	outcome, err := w.keepTable(ctx, name, file, record)
	if err != nil {
		return "", fmt.Errorf("keeping the table %s: %w", name, describe(describeFile(err)))
	}
	return outcome, nil
}

func (w *Writer) keepTable(ctx context.Context, name, file string, record arrow.Record) (outcome Outcome, err error) {
	if err := CheckTableName(name); err != nil {
		return "", err
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	stage := newStage(w.Season)
	defer stage.discard()
	var staged stagedFile
	err = stage.file(ctx, tablesDir, &staged, func(to io.Writer) error { return tablefile.Write(to, record) })
	if err == nil {
		err = stage.settle(ctx)
	}
	if err != nil {
		return "", err
	}
	edit := Edit{OnTable, name, contentField, staged.sha256}
	err = inTransaction(ctx, w.out, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "insert into tables values (?, ?, ?, ?) on conflict (sha256) do nothing",
			staged.sha256, file, record.NumRows(), now()); err != nil {
			return err
		}
		before, err := inForce(ctx, tx, edit)
		if err != nil {
			return err
		}
		switch {
		case before.String == staged.sha256 && staged.mended:
			outcome = Repaired
			return nil
		case before.String == staged.sha256:
			outcome = Same
			return nil
		}
		outcome = New
		if before.Valid {
			outcome = Replaced
		}
		_, err = recordAll(ctx, tx, []Edit{edit})
		return err
	})
	if err != nil {
		return "", err
	}
	stage.kept = true
	if staged.mended {
		w.forget(staged.sha256)
	}
	return outcome, nil
}

// TakeOutTable takes a table out of the season. It can be undone.
func (w *Writer) TakeOutTable(ctx context.Context, name string) error {
	if err := w.mustKeep(ctx, name); err != nil {
		return err
	}
	_, err := w.Edit(ctx, Edit{OnTable, name, contentField, ""})
	return err
}

// RemoveTable deletes a table with everything that was ever kept under its name, for good.
func (w *Writer) RemoveTable(ctx context.Context, name string) error {
	err := w.change(ctx, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, "delete from edits where target = 'table' and subject = ?", name)
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n == 0 {
			return cmp.Or(err, w.mustKeep(ctx, name))
		}
		_, err = tx.ExecContext(ctx, `delete from tables where sha256 not in
			(select value from edits where target = 'table' and value is not null)`)
		return err
	})
	if err != nil {
		return err
	}
	// Catalogues that have the file mapped keep it until they are gone.
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.sweep()
}

// mustKeep is an error unless a table of that name is kept.
func (s *Season) mustKeep(ctx context.Context, name string) error {
	all, err := s.Tables(ctx)
	if err != nil {
		return err
	}
	names := make([]string, len(all))
	for i, t := range all {
		if names[i] = t.Name; t.Name == name {
			return nil
		}
	}
	return fmt.Errorf("the season keeps no table %q%s", name, spelling.Hint(name, names))
}

// Tables lists by name the tables that the season keeps.
func (s *Season) Tables(ctx context.Context) ([]Table, error) {
	rows, err := s.db.QueryContext(ctx, `select e.subject, t.sha256, t.file, t.rows, e.made_at from edits e
		join tables t on t.sha256 = e.value where e.id in (select max(id) from edits
			where target = 'table' and field = 'content' and undone_at is null group by subject) order by e.subject`)
	if err != nil {
		return nil, describe(err)
	}
	defer rows.Close()
	var all []Table
	for rows.Next() {
		var t Table
		var at string
		if err := rows.Scan(&t.Name, &t.SHA256, &t.File, &t.Rows, &at); err != nil {
			return nil, describe(err)
		}
		t.KeptAt, _ = time.Parse(time.RFC3339, at)
		all = append(all, t)
	}
	return all, describe(rows.Err())
}

// readTables gives the tables in force, by name.
func readTables(ctx context.Context, tx *sql.Tx, said said) ([]catalogue.Table, error) {
	rows, err := tx.QueryContext(ctx, "select sha256, file, rows from tables")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	contents := map[string]catalogue.Table{}
	for rows.Next() {
		var t catalogue.Table
		if err := rows.Scan(&t.SHA256, &t.File, &t.Rows); err != nil {
			return nil, err
		}
		contents[t.SHA256] = t
	}
	var tables []catalogue.Table
	for on, words := range said {
		if t, ok := contents[words[contentField].value]; ok && on.target == OnTable {
			t.Name = on.id
			tables = append(tables, t)
		}
	}
	slices.SortFunc(tables, func(a, b catalogue.Table) int { return cmp.Compare(a.Name, b.Name) })
	return tables, rows.Err()
}

// table gives the mapped file of a table.
func (s *Season) table(t catalogue.Table) (*tablefile.File, error) {
	return mapped(s, s.tables, t.SHA256, s.path(tablesDir, t.SHA256),
		func(f *os.File) (*tablefile.File, error) { return tablefile.Open(f, t.SHA256) })
}

// verifyTable says what is wrong with the file of a table, "" where nothing is. It opens the file anew, as verifyFrames
// does.
func (s *Season) verifyTable(sha256 string) (bytes int64, problem string) {
	f, problem := openStored(s.path(tablesDir, sha256), "its file")
	if problem != "" {
		return 0, problem
	}
	file, err := tablefile.Open(f, sha256)
	if err != nil {
		return 0, fmt.Sprintf("its file is damaged: %v", err)
	}
	defer file.Close()
	if _, err := file.Record(); err != nil {
		return file.Size(), fmt.Sprintf("its file is damaged: %v", err)
	}
	return file.Size(), ""
}
