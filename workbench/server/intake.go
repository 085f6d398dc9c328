package server

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"reflect"
	"sync"
	"time"

	"tossline/datasets/recording"
	"tossline/workbench/supervisor"
)

const (
	maxUpload   = 4 << 30
	maxAside    = 64        // files waiting to be imported or discarded
	forgetAside = time.Hour // after that a file that nobody imported is discarded
)

// intake keeps the files that were dropped on the page until they are imported or discarded. They lie under names of
// its own in a folder of its own, which is emptied at start.
type intake struct {
	season Season
	root   *os.Root

	mu    sync.Mutex
	files map[string]*aside
}

// aside is one file that waits.
type aside struct {
	Upload
	came   time.Time
	wanted context.Context // ends when the file is discarded, and with it what is done with the file
	unwant context.CancelFunc

	busy sync.Mutex // guards what follows: one preview or import of a file at a time
	said recording.Options
	read *supervisor.Imported // as said; nil where it was not read yet

	table *supervisor.Kept // what it holds as a table; nil where it was not read as one yet
}

// forget gives back what was read. The caller holds busy.
func (a *aside) forget() {
	if a.read != nil {
		a.read.Close()
		a.read = nil
	}
	a.table = nil
}

func newIntake(dir string, season Season) (*intake, error) {
	if err := os.RemoveAll(dir); err != nil {
		return nil, fmt.Errorf("the folder for incoming files cannot be emptied: %w", err)
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("the folder for incoming files cannot be made: %w", err)
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, fmt.Errorf("the folder for incoming files cannot be opened: %w", err)
	}
	return &intake{season: season, root: root, files: map[string]*aside{}}, nil
}

// take keeps what r gives, at most size bytes, and names it.
func (in *intake) take(name string, r io.Reader) (string, error) {
	in.forgetOld()
	in.mu.Lock()
	full := len(in.files) >= maxAside
	in.mu.Unlock()
	if full {
		return "", fmt.Errorf("%d files wait to be imported; import or discard some first", maxAside)
	}
	key := secret()[:16]
	size, err := in.keep(key, name, r)
	if err != nil {
		in.root.RemoveAll(key)
		if tooLarge := (*http.MaxBytesError)(nil); errors.As(err, &tooLarge) {
			return "", fmt.Errorf("%s is larger than %d GiB; import it with the command tossline import", name, maxUpload>>30)
		}
		return "", fmt.Errorf("%s did not arrive whole: %w", name, err)
	}
	in.mu.Lock()
	defer in.mu.Unlock()
	path := filepath.Join(in.root.Name(), key, name)
	a := &aside{Upload: Upload{Name: name, Path: path, Size: size}, came: time.Now()}
	a.wanted, a.unwant = context.WithCancel(context.Background())
	in.files[key] = a
	return key, nil
}

// keep writes a file under its own name into a folder of its own: importers take hints from names.
func (in *intake) keep(key, name string, r io.Reader) (int64, error) {
	if err := in.root.Mkdir(key, 0o700); err != nil {
		return 0, err
	}
	f, err := in.root.OpenFile(filepath.Join(key, name), os.O_CREATE|os.O_WRONLY|os.O_EXCL, 0o600)
	if err != nil {
		return 0, err
	}
	size, err := io.Copy(f, r)
	return size, cmp.Or(err, f.Close())
}

// discard lets a file go. Where it is being read or stored, that stops; what was stored by then is whole or not there.
func (in *intake) discard(key string) {
	in.mu.Lock()
	a := in.files[key]
	delete(in.files, key)
	in.mu.Unlock()
	if a != nil {
		a.unwant()
		a.busy.Lock()
		defer a.busy.Unlock()
		a.forget()
		in.root.RemoveAll(key)
	}
}

func (in *intake) forgetOld() {
	in.mu.Lock()
	var old []string
	for key, a := range in.files {
		if time.Since(a.came) > forgetAside {
			old = append(old, key)
		}
	}
	in.mu.Unlock()
	for _, key := range old {
		in.discard(key)
	}
}

// hold gives a file to use, which stops when the file is discarded.
func (in *intake) hold(ctx context.Context, q request, use func(context.Context, *aside) error) error {
	in.mu.Lock()
	a := in.files[q.Upload]
	in.mu.Unlock()
	if a == nil {
		return errors.New("this file is no longer kept; drop it on the page again")
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	defer context.AfterFunc(a.wanted, stop)()
	a.busy.Lock()
	defer a.busy.Unlock()
	return use(ctx, a)
}

// with reads a file as the user says, unless that was done before, and gives what was read to use.
func (in *intake) with(ctx context.Context, q request, progress func(done, total int),
	use func(context.Context, *recording.Prepared) error) error {
	return in.hold(ctx, q, func(ctx context.Context, a *aside) error {
		if a.read == nil || !reflect.DeepEqual(a.said, q.Choices) {
			read, err := in.season.Prepare(ctx, a.Upload, q.Choices, progress)
			if err != nil {
				return err
			}
			a.forget()
			a.said, a.read = q.Choices, read
		}
		return use(ctx, &a.read.Prepared)
	})
}

// preview says how a file is understood, with the user's corrections.
func (in *intake) preview(ctx context.Context, q request, progress func(done, total int)) (any, error) {
	var understood recording.Understanding
	err := in.with(ctx, q, progress, func(_ context.Context, p *recording.Prepared) error {
		understood = p.Understanding
		return nil
	})
	if err == nil {
		return understood, nil
	}
	if table, is, other := in.table(ctx, q); is {
		return table, other
	}
	if whole, is := in.whole(ctx, q, progress); is {
		whole.Why = err.Error()
		return whole, nil
	}
	return nil, err
}

// table tells what a file brings that is a table of what is known beside recordings, and whether it is one.
func (in *intake) table(ctx context.Context, q request) (t Table, is bool, err error) {
	err = in.hold(ctx, q, func(ctx context.Context, a *aside) (err error) {
		t.Brought, is, err = in.season.Known(ctx, a.Upload)
		return err
	})
	return t, is, err
}

// bring makes so what a table brings, and lets it go.
func (in *intake) bring(ctx context.Context, q request) error {
	t, _, err := in.table(ctx, q)
	if err == nil {
		err = in.season.Bring(ctx, t.Brought)
	}
	if err == nil {
		in.discard(q.Upload)
	}
	return err
}

// store stores a file and lets it go.
func (in *intake) store(ctx context.Context, q request, progress func(done, total int)) (any, error) {
	var stored Stored
	err := in.with(ctx, q, progress, func(ctx context.Context, p *recording.Prepared) (err error) {
		stored, err = in.season.Store(ctx, p, q.Choices)
		return err
	})
	if err == nil {
		in.discard(q.Upload)
	}
	return stored, err
}

// upload takes a file: POST /upload with the file as the body and its name, escaped, in X-Tossline-Name. It answers
// with {"upload": "..."}, by which the websocket calls it.
func (s *Server) upload(w http.ResponseWriter, r *http.Request) {
	name, err := url.PathUnescape(r.Header.Get("X-Tossline-Name"))
	name = filepath.Base(filepath.Clean("/" + name))
	if err != nil || name == "/" || len(name) > 255 {
		http.Error(w, "the file has no name", http.StatusBadRequest)
		return
	}
	key, err := s.intake.take(name, http.MaxBytesReader(w, r.Body, maxUpload))
	if err != nil {
		http.Error(w, err.Error(), http.StatusUnprocessableEntity)
		return
	}
	answer(w, map[string]string{"upload": key})
}
