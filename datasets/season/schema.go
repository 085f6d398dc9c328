package season

import (
	"context"
	"crypto/rand"
	"database/sql"
	_ "embed"
	"encoding/hex"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"modernc.org/sqlite"
	lib "modernc.org/sqlite/lib"
)

//go:embed schema.sql
var schemaSQL string

// migrations[i] turns schema i+1 into schema i+2.
var migrations = []string{
	// 2: tables that came from elsewhere.
	`create table tables (
		sha256  text primary key,
		file    text not null,
		rows    integer not null,
		kept_at text not null
	) strict`,
}

// schemaVersion is the schema that this program reads and writes, kept as SQLite's user_version.
func schemaVersion() int { return len(migrations) + 1 }

// applicationID marks season.db as ours among SQLite files: "Toss".
const applicationID = 0x546f7373

// watched are the tables whose changes make a new revision. Triggers count them, so that an edit with another tool
// counts too.
var watched = []string{"players", "recordings", "serves", "events", "edits"}

func triggersSQL() string {
	var b strings.Builder
	for _, t := range watched {
		for _, change := range []string{"insert", "update", "delete"} {
			fmt.Fprintf(&b, "create trigger %s_%s after %s on %s begin "+
				"update season set revision = revision + 1, stamp = hex(randomblob(16)); end;\n", t, change, change, t)
		}
	}
	return b.String()
}

// connect opens the database file. mode is SQLite's: "rw", or "rwc" to make it where it is missing.
func connect(path, mode string) (*sql.DB, error) {
	return openDatabase(path, url.Values{"mode": {mode}, "_txlock": {"immediate"}, "_pragma": {
		"busy_timeout(10000)", "foreign_keys(1)", "synchronous(full)"}})
}

// connectReading opens the database file for queries alone. (Mode "ro" would not do: a reader takes part in SQLite's
// shared memory, and after a crash it may be the first to find the journal.)
func connectReading(path string) (*sql.DB, error) {
	return openDatabase(path, url.Values{"mode": {"rw"}, "_pragma": {"busy_timeout(10000)", "query_only(1)"}})
}

// connectImmutable opens a database file that nobody can change.
func connectImmutable(path string) (*sql.DB, error) {
	return openDatabase(path, url.Values{"mode": {"ro"}, "immutable": {"1"}})
}

func openDatabase(path string, options url.Values) (*sql.DB, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	dsn := url.URL{Scheme: "file", Path: filepath.ToSlash(path), RawQuery: options.Encode()}
	return sql.Open("sqlite", dsn.String())
}

// initialise puts an empty database into the state of a new season, in one transaction.
func initialise(ctx context.Context, db *sql.DB) error {
	// The journal mode can't be changed within a transaction, and stays with the file.
	if _, err := db.ExecContext(ctx, "pragma journal_mode = wal"); err != nil {
		return err
	}
	return inTransaction(ctx, db, func(tx *sql.Tx) error {
		var id [8]byte
		rand.Read(id[:])
		for _, statement := range []string{
			fmt.Sprintf("pragma application_id = %d", applicationID), schemaSQL, triggersSQL(),
			fmt.Sprintf("pragma user_version = %d", schemaVersion()),
		} {
			if _, err := tx.ExecContext(ctx, statement); err != nil {
				return err
			}
		}
		_, err := tx.ExecContext(ctx, "insert into season values (1, ?, ?, 1, hex(randomblob(16)))",
			hex.EncodeToString(id[:]), now())
		return err
	})
}

// version gives the schema of a season's database; 0 for an empty file.
func version(ctx context.Context, db *sql.DB) (int, error) {
	var app, version, things int
	if err := db.QueryRowContext(ctx, "pragma application_id").Scan(&app); err != nil {
		return 0, err
	}
	if err := db.QueryRowContext(ctx, "pragma user_version").Scan(&version); err != nil {
		return 0, err
	}
	if err := db.QueryRowContext(ctx, "select count(*) from sqlite_master").Scan(&things); err != nil {
		return 0, err
	}
	if app == 0 && version == 0 && things == 0 {
		return 0, nil
	}
	if app != applicationID { // many programs leave theirs at 0
		return 0, errors.New("season.db was made by another program; choose another folder for the season")
	}
	return version, nil
}

// olderSchema is the error of a season that has to be upgraded first.
type olderSchema int

func (o olderSchema) Error() string {
	return fmt.Sprintf("it was made by an older Tossline (schema %d, this one uses %d)", int(o), schemaVersion())
}

// checkVersion refuses a season that a newer program made, and one that has to be upgraded first.
func checkVersion(version int) error {
	switch {
	case version == 0:
		return errors.New("season.db is empty: its making was interrupted; open it for writing once to finish it")
	case version > schemaVersion():
		return fmt.Errorf("it was made by a newer Tossline (schema %d, this one knows up to %d); update Tossline to open it",
			version, schemaVersion())
	case version < schemaVersion():
		return olderSchema(version)
	}
	return nil
}

// upgrade brings an older database to the present schema, after a copy of it was put beside it.
func upgrade(ctx context.Context, db *sql.DB, dir string, from int) error {
	copyName := fmt.Sprintf("season-schema%d-%s.db", from, time.Now().UTC().Format("20060102-150405"))
	if err := keepCopy(ctx, db, filepath.Join(dir, copyName)); err != nil {
		return fmt.Errorf("keeping a copy before the upgrade: %w", err)
	}
	return inTransaction(ctx, db, func(tx *sql.Tx) error {
		for v := from; v < schemaVersion(); v++ {
			if _, err := tx.ExecContext(ctx, migrations[v-1]); err != nil {
				return fmt.Errorf("upgrading schema %d: %w", v, err)
			}
		}
		_, err := tx.ExecContext(ctx, fmt.Sprintf("pragma user_version = %d", schemaVersion()))
		return err
	})
}

// keepCopy writes a consistent copy of the database, whole or not at all.
func keepCopy(ctx context.Context, db *sql.DB, path string) error {
	temporary := path + ".part"
	os.Remove(temporary)
	if _, err := db.ExecContext(ctx, "vacuum into ?", temporary); err != nil {
		return err
	}
	if err := syncFile(temporary); err != nil {
		return err
	}
	if err := os.Rename(temporary, path); err != nil {
		return err
	}
	return syncDir(filepath.Dir(path))
}

func inTransaction(ctx context.Context, db *sql.DB, do func(*sql.Tx) error) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if err := do(tx); err != nil {
		return err
	}
	return tx.Commit()
}

// now is the time as it is kept: UTC, whole milliseconds.
func now() string { return time.Now().UTC().Format("2006-01-02T15:04:05.000Z") }

// describe puts the database's own errors into words that say what to do.
func describe(err error) error {
	problem, ok := errors.AsType[*sqlite.Error](err)
	if !ok {
		return err
	}
	switch problem.Code() {
	case lib.SQLITE_IOERR_WRITE, lib.SQLITE_IOERR_FSYNC, lib.SQLITE_IOERR_DIR_FSYNC, lib.SQLITE_IOERR_TRUNCATE,
		lib.SQLITE_IOERR_SHMSIZE: // which needs some room even to open it
		return fmt.Errorf("the disk is full, or it fails: nothing was stored; free some space and try again (%w)", err)
	}
	switch problem.Code() & 0xff {
	case lib.SQLITE_CORRUPT, lib.SQLITE_NOTADB:
		return fmt.Errorf("season.db is damaged; restore it from a copy of the season folder (%w)", err)
	case lib.SQLITE_FULL:
		return fmt.Errorf("the disk is full: nothing was stored; free some space and try again (%w)", err)
	case lib.SQLITE_IOERR:
		return fmt.Errorf("season.db can't be read or written: check the disk, or the connection to it, and try again (%w)",
			err)
	case lib.SQLITE_READONLY:
		return fmt.Errorf("%w (%w)", ErrReadOnly, err)
	case lib.SQLITE_BUSY, lib.SQLITE_LOCKED:
		return fmt.Errorf("another program holds season.db; close it and try again (%w)", err)
	case lib.SQLITE_CANTOPEN:
		return fmt.Errorf("season.db can't be opened: check that the folder exists and may be written to (%w)", err)
	}
	return err
}
