package season

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"

	"tossline/datasets/frames"
)

// Writer is a season folder open for writing: the only one there is. It is safe for use by several goroutines, whose
// changes follow one another.
type Writer struct {
	*Season
	mu   sync.Mutex // held through every change
	out  *sql.DB    // writes
	lock *os.File
}

// Create makes a new season in dir, which may exist as long as it holds no season, and opens it for writing. command
// says what the process was started as, for others who want to write.
func Create(dir, command string) (*Writer, error) {
	w, err := create(dir, command)
	if err != nil {
		return nil, fmt.Errorf("making the season %s: %w", dir, describeFile(describe(err)))
	}
	return w, nil
}

func create(dir, command string) (*Writer, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, err
	}
	if info, err := os.Stat(filepath.Join(dir, databaseName)); err == nil && info.Size() > 0 {
		return nil, errors.New("there is a season in this folder already")
	}
	return openWriter(dir, command, "rwc")
}

// OpenForWriting opens a season for writing. While another process does, the error is a *Held. A season of an older
// version is upgraded, after a copy of its database was put beside it.
func OpenForWriting(dir, command string) (*Writer, error) {
	err := mustExist(dir)
	var w *Writer
	if err == nil {
		w, err = openWriter(dir, command, "rw")
	}
	if err != nil {
		return nil, fmt.Errorf("opening the season %s for writing: %w", dir, describeFile(describe(err)))
	}
	return w, nil
}

// openWriter takes the lock, brings the folder and its database into order and opens them.
func openWriter(dir, command, mode string) (_ *Writer, err error) {
	held, err := lock(dir, command)
	if err != nil {
		return nil, err
	}
	w := &Writer{lock: held}
	defer func() {
		if err != nil {
			w.release()
		}
	}()
	for _, sub := range folders {
		if err := os.MkdirAll(filepath.Join(dir, sub), 0o755); err != nil {
			return nil, err
		}
	}
	if w.out, err = connect(filepath.Join(dir, databaseName), mode); err != nil {
		return nil, err
	}
	w.out.SetMaxOpenConns(1)
	if err := prepare(context.Background(), w.out, dir); err != nil {
		return nil, err
	}
	if w.Season, err = open(dir); err != nil {
		return nil, err
	}
	return w, w.sweep()
}

// prepare makes the schema of a new season, or upgrades that of an old one.
func prepare(ctx context.Context, db *sql.DB, dir string) error {
	v, err := version(ctx, db)
	if err != nil {
		return err
	}
	switch {
	case v == 0:
		if err := initialise(ctx, db); err != nil {
			return err
		}
		return syncDir(dir)
	case v < schemaVersion():
		return upgrade(ctx, db, dir, v)
	}
	return checkVersion(v)
}

// Close closes the season and gives up the lock. It leaves the list of serves behind, for the next opening not to wait
// for it.
func (w *Writer) Close() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	_, _ = w.Snapshot(context.Background()) // whoever opens it next is told what is wrong
	return w.release()
}

func (w *Writer) release() error {
	var errs []error
	if w.Season != nil {
		errs = append(errs, w.Season.Close())
	}
	if w.out != nil {
		errs = append(errs, w.out.Close())
	}
	return errors.Join(append(errs, w.lock.Close())...)
}

// change runs one transaction that changes the season.
func (w *Writer) change(ctx context.Context, do func(*sql.Tx) error) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	return describe(inTransaction(ctx, w.out, do))
}

// incoming starts the names of files that are being written.
const incoming = "incoming-"

// Scratch is a folder on the season's disk for files on their way in. One of a name that begins with incoming- and is
// left there by a crash goes when the season is next opened for writing.
func (w *Writer) Scratch() string { return filepath.Join(w.dir, framesDir) }

var storedName = regexp.MustCompile(`^[0-9a-f]{64}\.arrow$`)

// sweep removes what a killed import left: files that nothing in the database mentions. Files of other names are not
// ours and stay.
func (w *Writer) sweep() error {
	for folder := range mentions {
		left, err := w.leftovers(folder)
		if err != nil {
			return err
		}
		for _, name := range append(left.orphans, left.incoming...) {
			if err := os.Remove(filepath.Join(w.dir, folder, name)); err != nil {
				return err
			}
		}
	}
	return nil
}

// leftovers are the files of a folder that nothing in the database mentions.
type leftovers struct {
	orphans  []string // named by their hash
	incoming []string // on their way in, or left there by a crash
	foreign  []string // of other names: not ours
}

// leftovers lists the folder before it reads what is mentioned, so that nothing is an orphan that counts by then.
func (s *Season) leftovers(folder string) (left leftovers, err error) {
	entries, err := os.ReadDir(filepath.Join(s.dir, folder))
	if err != nil {
		return left, err
	}
	mentioned, err := s.mentioned(folder)
	if err != nil {
		return left, err
	}
	for _, e := range entries {
		name := e.Name()
		switch {
		case strings.HasPrefix(name, incoming):
			left.incoming = append(left.incoming, name)
		case mentioned[strings.TrimSuffix(name, frames.Extension)]:
		case storedName.MatchString(name):
			left.orphans = append(left.orphans, name)
		default:
			left.foreign = append(left.foreign, name)
		}
	}
	return left, nil
}

// mentions are the folders of files named by their hash, with a query for the hashes that the database mentions.
var mentions = map[string]string{
	framesDir: `select frames_sha256 from recordings
		union select signals_sha256 from recordings where signals_sha256 is not null`,
	tablesDir: "select sha256 from tables",
}

func (s *Season) mentioned(folder string) (map[string]bool, error) {
	rows, err := s.db.Query(mentions[folder])
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	mentioned := map[string]bool{}
	for rows.Next() {
		var hash string
		if err := rows.Scan(&hash); err != nil {
			return nil, err
		}
		mentioned[hash] = true
	}
	return mentioned, rows.Err()
}
