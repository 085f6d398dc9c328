package season

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"time"
)

// A Revision is a recipe file's text as it was saved at one time.
type Revision struct {
	Name    string    `json:"name"`
	SHA256  string    `json:"sha256"` // of the text
	SavedAt time.Time `json:"saved_at"`
}

// RecipeHash is the hash by which a recipe's text is kept and allowed.
func RecipeHash(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// SaveRecipe keeps a recipe's text under a name. Saving the text that the name has already adds no revision.
func (w *Writer) SaveRecipe(ctx context.Context, name, text string) (Revision, error) {
	if name == "" {
		return Revision{}, errors.New("a recipe needs a name")
	}
	r := Revision{Name: name, SHA256: RecipeHash(text)}
	err := w.change(ctx, func(tx *sql.Tx) error {
		var last Revision
		err := scanRevision(tx.QueryRowContext(ctx, `select name, sha256, saved_at from recipe_revisions where name = ?
			order by id desc limit 1`, name), &last)
		if err == nil && last.SHA256 == r.SHA256 {
			r = last
			return nil
		}
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		if _, err := tx.ExecContext(ctx, "insert into recipe_texts values (?, ?) on conflict do nothing",
			r.SHA256, text); err != nil {
			return err
		}
		return scanRevision(tx.QueryRowContext(ctx, `insert into recipe_revisions (name, sha256, saved_at)
			values (?, ?, ?) returning name, sha256, saved_at`, name, r.SHA256, now()), &r)
	})
	return r, err
}

func scanRevision(row interface{ Scan(...any) error }, r *Revision) error {
	var at string
	if err := row.Scan(&r.Name, &r.SHA256, &at); err != nil {
		return err
	}
	var err error
	r.SavedAt, err = time.Parse(time.RFC3339, at)
	return err
}

// RecipeHistory lists the revisions of one recipe, the newest first.
func (s *Season) RecipeHistory(ctx context.Context, name string) ([]Revision, error) {
	return s.revisions(ctx, "select name, sha256, saved_at from recipe_revisions where name = ? order by id desc", name)
}

func (s *Season) revisions(ctx context.Context, query string, args ...any) ([]Revision, error) {
	rows, err := s.db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, describe(err)
	}
	defer rows.Close()
	var all []Revision
	for rows.Next() {
		var r Revision
		if err := scanRevision(rows, &r); err != nil {
			return nil, describe(err)
		}
		all = append(all, r)
	}
	return all, describe(rows.Err())
}

// RecipeText gives the text of a hash.
func (s *Season) RecipeText(ctx context.Context, sha256 string) (string, error) {
	var text string
	err := s.db.QueryRowContext(ctx, "select text from recipe_texts where sha256 = ?", sha256).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) {
		return "", fmt.Errorf("this season has no recipe text of hash %.12s", sha256)
	}
	return text, describe(err)
}

// Allow remembers that a person allowed the exact text of a hash to run on this season.
func (w *Writer) Allow(ctx context.Context, sha256 string) error {
	return w.set(ctx, "insert into allowed_recipes values (?, ?) on conflict do nothing", sha256, now())
}

// Allowed tells whether a person allowed the exact text of a hash to run on this season.
func (s *Season) Allowed(ctx context.Context, sha256 string) (bool, error) {
	var allowed bool
	err := s.db.QueryRowContext(ctx, "select exists (select 1 from allowed_recipes where sha256 = ?)", sha256).
		Scan(&allowed)
	return allowed, describe(err)
}

// SetSetting keeps a setting of the workbench with the season; an empty value removes it.
func (w *Writer) SetSetting(ctx context.Context, key, value string) error {
	if value == "" {
		return w.set(ctx, "delete from settings where key = ?", key)
	}
	return w.set(ctx, "insert into settings values (?, ?) on conflict (key) do update set value = excluded.value",
		key, value)
}

// Setting gives a setting, "" where there is none.
func (s *Season) Setting(ctx context.Context, key string) (string, error) {
	var value string
	err := s.db.QueryRowContext(ctx, "select value from settings where key = ?", key).Scan(&value)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return value, describe(err)
}

func (w *Writer) set(ctx context.Context, statement string, args ...any) error {
	return w.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, statement, args...)
		return err
	})
}
