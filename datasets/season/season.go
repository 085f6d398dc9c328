package season

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"tossline/datasets/catalogue"
	"tossline/datasets/frames"
	"tossline/datasets/tablefile"
)

const (
	databaseName = "season.db"
	framesDir    = "frames"
	tablesDir    = "tables"
	cacheDir     = "cache"
)

// folders are those of a season.
var folders = []string{framesDir, tablesDir, cacheDir}

// ErrReadOnly is the cause where the folder of a season lies on a disk, or belongs to somebody, that lets nothing be
// written.
var ErrReadOnly = errors.New("the season folder can't be written to")

// Season is a season folder open for reading. It is safe for use by several goroutines.
type Season struct {
	dir string
	db  *sql.DB // reads only

	mu       sync.Mutex                 // protects what follows
	files    map[string]*frames.File    // mapped, by hash
	tables   map[string]*tablefile.File // mapped, by hash
	replaced []io.Closer                // mapped, but another file has taken their place
	current  *catalogue.Catalogue
}

// Exists reports whether dir holds a season.
func Exists(dir string) bool {
	info, err := os.Stat(filepath.Join(dir, databaseName))
	return err == nil && info.Mode().IsRegular()
}

// Vacant reports whether a season can be made in dir without getting between other things: there is no such folder, or
// nothing in it but what the making of a season left when it was interrupted.
func Vacant(dir string) bool {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return errors.Is(err, os.ErrNotExist)
	}
	for _, e := range entries {
		inside, _ := os.ReadDir(filepath.Join(dir, e.Name()))
		ours := e.Name() == lockName || slices.Contains(folders, e.Name()) && len(inside) == 0
		if !ours {
			return false
		}
	}
	return true
}

// Open opens a season for reading. A season of an older version is upgraded first, as OpenForWriting does it.
func Open(dir string) (*Season, error) {
	s, err := open(dir)
	if old, ok := errors.AsType[olderSchema](err); ok {
		if err := upgradeFolder(dir); err != nil {
			return nil, fmt.Errorf("opening the season %s: %w, and could not be upgraded: %w; see to that, and upgrade it by "+
				"tossline verify %s", dir, old, describeFile(describe(err)), dir)
		}
		s, err = open(dir)
	}
	if err != nil {
		return nil, fmt.Errorf("opening the season %s: %w", dir, describe(err))
	}
	return s, nil
}

func open(dir string) (*Season, error) {
	if err := mustExist(dir); err != nil {
		return nil, err
	}
	dir, err := filepath.Abs(dir) // engines have another working folder
	if err != nil {
		return nil, err
	}
	db, err := connectReader(filepath.Join(dir, databaseName))
	if err != nil {
		return nil, err
	}
	v, err := version(context.Background(), db)
	if err == nil {
		err = checkVersion(v)
	}
	if err != nil {
		db.Close()
		return nil, err
	}
	return &Season{dir: dir, db: db, files: map[string]*frames.File{}, tables: map[string]*tablefile.File{}}, nil
}

// upgradeFolder brings a season to the present schema and lets go of it.
func upgradeFolder(dir string) error {
	w, err := openWriter(dir, "upgrading the season", "rw")
	if err != nil {
		return err
	}
	return w.Close()
}

func mustExist(dir string) error {
	if Exists(dir) {
		return nil
	}
	info, err := os.Stat(dir)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return errors.New("there is no such folder")
	case err != nil:
		return err
	case !info.IsDir():
		return errors.New("this is a file; a season is a folder")
	}
	return fmt.Errorf("there is no season in this folder (no %s)", databaseName)
}

// connectReader opens the database for reading. In a folder that can't be written to, SQLite can't make its shared
// memory file; there, a database without a journal is read as the unchanging file that it is.
func connectReader(path string) (*sql.DB, error) {
	db, err := connectReading(path)
	if err != nil {
		return nil, err
	}
	var n int
	err = db.QueryRow("select count(*) from sqlite_master").Scan(&n)
	if err == nil {
		return db, nil
	}
	db.Close()
	if journal, statErr := os.Stat(path + "-wal"); statErr == nil && journal.Size() > 0 {
		return nil, err
	}
	db, openErr := connectImmutable(path)
	if openErr != nil || db.QueryRow("select count(*) from sqlite_master").Scan(&n) != nil {
		return nil, err
	}
	return db, nil
}

// Dir is the absolute path of the season's folder.
func (s *Season) Dir() string { return s.dir }

// Close closes the season and unmaps its files: no catalogue or clip of it may be read afterwards.
func (s *Season) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.unmap()
	s.current = nil
	return s.db.Close()
}

// Revision is the number of the season's present state, which rises with every change.
func (s *Season) Revision(ctx context.Context) (int64, error) {
	var revision int64
	err := s.db.QueryRowContext(ctx, "select revision from season").Scan(&revision)
	return revision, describe(err)
}

// frames gives the mapped file of a recording; one that was mapped before stays mapped.
func (s *Season) frames(r catalogue.Recording) (*frames.File, error) {
	return mapped(s, s.files, r.FramesSHA256, s.framesPath(r.FramesSHA256), frames.Open)
}

// mapped gives a mapped file out of those that are mapped, by its hash, or maps it.
func mapped[F interface {
	comparable
	io.Closer
}](s *Season, files map[string]F, sha256, path string, open func(*os.File) (F, error)) (file F, err error) {
	s.mu.Lock()
	file, ok := files[sha256]
	s.mu.Unlock()
	if ok {
		return file, nil
	}
	f, err := os.Open(path)
	if err != nil {
		if errors.Is(err, os.ErrNotExist) {
			return file, errors.New("the file is missing")
		}
		return file, errors.Unwrap(err)
	}
	if file, err = open(f); err != nil {
		return file, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if other, ok := files[sha256]; ok {
		file.Close()
		return other, nil
	}
	files[sha256] = file
	return file, nil
}

func (s *Season) framesPath(sha256 string) string { return s.path(framesDir, sha256) }

// path is where the file of a hash lies: those of every folder end alike.
func (s *Season) path(folder, sha256 string) string {
	return filepath.Join(s.dir, folder, frames.FileName(sha256))
}
