package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"time"
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
	file *os.File
	came time.Time
	busy sync.Mutex // one preview or import of a file at a time
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
	f, err := in.root.OpenFile(key, os.O_CREATE|os.O_RDWR|os.O_EXCL, 0o600)
	if err != nil {
		return "", fmt.Errorf("%s cannot be kept: %w", name, err)
	}
	size, err := io.Copy(f, r)
	if err != nil {
		f.Close()
		in.root.Remove(key)
		if tooLarge := (*http.MaxBytesError)(nil); errors.As(err, &tooLarge) {
			return "", fmt.Errorf("%s is larger than %d GiB; import it with the command tossline import", name, maxUpload>>30)
		}
		return "", fmt.Errorf("%s did not arrive whole: %w", name, err)
	}
	in.mu.Lock()
	defer in.mu.Unlock()
	in.files[key] = &aside{Upload: Upload{Name: name, Size: size, Data: f}, file: f, came: time.Now()}
	return key, nil
}

// discard lets a file go.
func (in *intake) discard(key string) {
	in.mu.Lock()
	a := in.files[key]
	delete(in.files, key)
	in.mu.Unlock()
	if a != nil {
		a.busy.Lock()
		defer a.busy.Unlock()
		a.file.Close()
		in.root.Remove(key)
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

// with lets use work on a file.
func (in *intake) with(key string, use func(Upload) (json.RawMessage, error)) (json.RawMessage, error) {
	in.mu.Lock()
	a := in.files[key]
	in.mu.Unlock()
	if a == nil {
		return nil, errors.New("this file is no longer kept; drop it on the page again")
	}
	a.busy.Lock()
	defer a.busy.Unlock()
	return use(a.Upload)
}

// preview says how a file is understood, with the user's corrections.
func (in *intake) preview(ctx context.Context, q request, progress func(done, total int64)) (json.RawMessage, error) {
	return in.with(q.Upload, func(u Upload) (json.RawMessage, error) {
		return in.season.Preview(ctx, u, q.Choices, progress)
	})
}

// store imports a file and lets it go.
func (in *intake) store(ctx context.Context, q request, progress func(done, total int64)) (json.RawMessage, error) {
	report, err := in.with(q.Upload, func(u Upload) (json.RawMessage, error) {
		return in.season.Import(ctx, u, q.Choices, progress)
	})
	if err == nil {
		in.discard(q.Upload)
	}
	return report, err
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
