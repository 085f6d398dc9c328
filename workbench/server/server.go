package server

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"syscall"
	"time"
)

// Options are what a server is made of.
type Options struct {
	Season  Season
	Engine  Engine
	Shipped []Shipped // recipes that come with the program, in the order of the shelf
	Recipes string    // folder of the season's recipe files; made if it is not there
	Aside   string    // folder for files that are being previewed; emptied at start
	Page    fs.FS     // the built page; nil where it was not built
	Version string
	Log     *slog.Logger // nil for none
}

// Server serves one season. Make it with New, then Listen, then Serve.
type Server struct {
	options  Options
	door     *door
	listener net.Listener
	shelf    *shelf
	tables   *tables
	intake   *intake
	hub      *hub
	index    []byte
}

// New prepares a server: it reads the recipes and connects the engine. Nothing listens yet.
func New(o Options) (*Server, error) {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	s := &Server{options: o, tables: newTables(maxTableBytes), hub: newHub()}
	var err error
	if s.shelf, err = newShelf(o.Recipes, o.Shipped, o.Season); err != nil {
		return nil, err
	}
	if s.intake, err = newIntake(o.Aside, o.Season); err != nil {
		return nil, err
	}
	if o.Page != nil {
		if s.index, err = fs.ReadFile(o.Page, "index.html"); err != nil {
			return nil, fmt.Errorf("the built page has no index.html; run make: %w", err)
		}
	}
	o.Engine.Watch(func(state EngineState) { s.hub.setEngine(state) })
	return s, nil
}

// Listen takes a port of the loopback interface, port 0 for any free one, and gives the address to open, which works
// once.
func (s *Server) Listen(port int) (string, error) {
	l, err := net.Listen("tcp", net.JoinHostPort("127.0.0.1", fmt.Sprint(port)))
	if err != nil {
		if port < 0 || port > 1<<16-1 {
			return "", fmt.Errorf("there is no port %d; they go to 65535; leave --port out to use any free one", port)
		}
		if errors.Is(err, syscall.EADDRINUSE) {
			return "", fmt.Errorf("port %d is taken; leave --port out to use any free one: %w", port, err)
		}
		return "", fmt.Errorf("port %d can't be listened on; leave --port out to use any free one: %w", port, err)
	}
	s.listener = l
	s.door = newDoor(l.Addr().(*net.TCPAddr).Port)
	return s.StartURL(), nil
}

// StartURL is an address that lets one browser in, once.
func (s *Server) StartURL() string {
	return fmt.Sprintf("http://127.0.0.1:%s/#code=%s", s.door.port, s.door.newCode())
}

// Serve answers until ctx ends.
func (s *Server) Serve(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	go s.watchShelf(ctx)
	h := &http.Server{
		Handler:           s.handler(),
		ReadHeaderTimeout: 5 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    16 << 10,
		BaseContext:       func(net.Listener) context.Context { return ctx },
		ErrorLog:          slog.NewLogLogger(s.options.Log.Handler(), slog.LevelDebug),
	}
	go func() {
		<-ctx.Done()
		s.hub.closeAll()
		h.Close()
	}()
	err := h.Serve(s.listener)
	s.hub.stopAll()
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}

// handler is every address there is.
func (s *Server) handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.page)
	mux.HandleFunc("GET /assets/", s.asset)
	mux.HandleFunc("POST /enter", s.door.enter)
	mux.HandleFunc("GET /link", s.door.inside(false, s.link)) // asks for the key in its first message
	mux.HandleFunc("POST /upload", s.door.inside(true, s.upload))
	mux.HandleFunc("GET /table/{file}", s.door.inside(true, s.download))
	mux.HandleFunc("POST /table/{file}", s.door.inside(true, s.download))
	mux.HandleFunc("GET /document/{recipe}", s.door.inside(true, s.document))
	mux.HandleFunc("GET /report/{recipe}", s.door.inside(true, s.report))
	return s.door.guard(mux)
}

// page gives index.html, with a nonce of its own.
func (s *Server) page(w http.ResponseWriter, _ *http.Request) {
	if s.index == nil {
		http.Error(w, "The page is not built. Run make, then start Tossline again.", http.StatusServiceUnavailable)
		return
	}
	nonce := newNonce()
	w.Header().Set("Content-Security-Policy", policy(nonce))
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Write(bytes.ReplaceAll(s.index, []byte("__NONCE__"), []byte(nonce)))
}

// asset gives a file of the page. Their names carry a hash of their content, so they may be kept for ever.
func (s *Server) asset(w http.ResponseWriter, r *http.Request) {
	if s.options.Page == nil || strings.HasSuffix(r.URL.Path, "/") {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	http.FileServerFS(s.options.Page).ServeHTTP(w, r)
}
