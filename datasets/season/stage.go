package season

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"syscall"

	"tossline/datasets/frames"
)

// A stage takes files to the disk before the transaction that makes them part of the season: the frames of imports, and
// tables.
type stage struct {
	season *Season
	staged []*stagedImport
	files  []*stagedFile
	sync   sync.WaitGroup // files being synced while the next are written
	mu     sync.Mutex     // protects err
	err    error          // first error of a sync
	kept   bool
}

// stagedImport is an Import whose frames and signals are in files.
type stagedImport struct {
	Import          // without Frames and Signals
	frames      int // number of frames
	framesFile  stagedFile
	signalsFile stagedFile // zero where there are no signals
}

// stagedFile is a file on its way to its folder.
type stagedFile struct {
	folder    string
	sha256    string
	temporary string // path until settle
	made      bool   // settle put a file where none was
	mended    bool   // settle put a file where the season's was missing or of another size
}

func newStage(s *Season) *stage { return &stage{season: s} }

// add writes the frames and signals of an import to temporary files; syncing goes on in the background.
func (g *stage) add(ctx context.Context, imp Import) error {
	s := &stagedImport{Import: imp, frames: len(imp.Frames) / (3 * imp.Layout.Len())}
	s.Frames, s.Signals = nil, nil
	g.staged = append(g.staged, s)
	facts := frames.Facts{RateHz: imp.RateHz, Landmarks: imp.Layout.Names(), SourceSHA256: imp.SourceSHA256}
	err := g.file(ctx, framesDir, &s.framesFile, func(w io.Writer) error { return frames.Write(w, facts, imp.Frames) })
	if err != nil || len(imp.Signals) == 0 {
		return err
	}
	return g.file(ctx, framesDir, &s.signalsFile, func(w io.Writer) error { return frames.WriteSignals(w, imp.Signals) })
}

// file writes what write gives to a temporary file.
func (g *stage) file(ctx context.Context, folder string, s *stagedFile, write func(io.Writer) error) error {
	f, err := os.CreateTemp(filepath.Join(g.season.dir, folder), incoming+"*")
	if err != nil {
		return err
	}
	s.folder, s.temporary = folder, f.Name()
	g.files = append(g.files, s)
	out := &hashing{ctx: ctx, out: bufio.NewWriterSize(f, 1<<20), hash: sha256.New()}
	err = write(out)
	if err == nil {
		err = out.out.Flush()
	}
	if err == nil {
		err = f.Chmod(0o644)
	}
	if err != nil {
		f.Close()
		return err
	}
	s.sha256 = hex.EncodeToString(out.hash.Sum(nil))
	g.sync.Go(func() {
		err := f.Sync()
		if closeErr := f.Close(); err == nil {
			err = closeErr
		}
		g.fail(err)
	})
	return nil
}

func (g *stage) fail(err error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.err == nil {
		g.err = err
	}
}

// hashing writes and hashes, in pieces small enough to stop soon when its context ends.
type hashing struct {
	ctx  context.Context
	out  *bufio.Writer
	hash hash.Hash
}

func (h *hashing) Write(p []byte) (int, error) {
	const piece = 1 << 20
	done := 0
	for done < len(p) {
		if err := h.ctx.Err(); err != nil {
			return done, err
		}
		part := p[done:min(done+piece, len(p))]
		h.hash.Write(part)
		n, err := h.out.Write(part)
		done += n
		if err != nil {
			return done, err
		}
	}
	return done, nil
}

// settle waits until every file is on the disk and gives it its name. Until a transaction mentions them, the files are
// leftovers that the next sweep removes.
func (g *stage) settle(ctx context.Context) error {
	synced := make(chan struct{})
	go func() {
		g.sync.Wait()
		close(synced)
	}()
	select {
	case <-synced:
	case <-ctx.Done(): // a disk takes its time for the frames of hours
		return ctx.Err()
	}
	if g.err != nil {
		return g.err
	}
	folders := map[string]bool{}
	for _, f := range g.files {
		if err := g.settleFile(f); err != nil {
			return err
		}
		folders[f.folder] = true
	}
	for folder := range folders {
		if err := syncDir(filepath.Join(g.season.dir, folder)); err != nil {
			return err
		}
	}
	return nil
}

func (g *stage) settleFile(f *stagedFile) error {
	path := g.season.path(f.folder, f.sha256)
	before, err := os.Stat(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	after, statErr := os.Stat(f.temporary)
	if statErr != nil {
		return statErr
	}
	f.made = err != nil
	f.mended = f.made || before.Size() != after.Size()
	if err := os.Rename(f.temporary, path); err != nil {
		return err
	}
	f.temporary = ""
	return nil
}

// keep says that the transaction was committed, and lets the season map files anew that were replaced.
func (g *stage) keep(added []Added) {
	g.kept = true
	for i, a := range added {
		if a.Outcome == Repaired {
			g.season.forget(g.staged[i].framesFile.sha256)
		}
	}
}

// discard removes what an import that failed has written. It does not wait for files that are still being synced, where
// the system removes such.
func (g *stage) discard() {
	for _, f := range g.files {
		if f.temporary != "" {
			if os.Remove(f.temporary) != nil {
				g.sync.Wait()
				os.Remove(f.temporary)
			}
		} else if f.made && !g.kept {
			os.Remove(g.season.path(f.folder, f.sha256))
		}
	}
}

// describeFile puts errors of writing files into words that say what to do.
func describeFile(err error) error {
	switch {
	case errors.Is(err, syscall.ENOSPC):
		return fmt.Errorf("the disk is full: nothing was stored; free some space and try again (%w)", err)
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return fmt.Errorf("%w (%w)", ErrReadOnly, err)
	}
	return err
}
