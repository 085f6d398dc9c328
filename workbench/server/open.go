package server

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"

	"tossline/datasets/catalogue"
	"tossline/datasets/season"
	"tossline/web"
	"tossline/workbench/supervisor"
)

// Place says which season to show, and as what.
type Place struct {
	Dir     string    // the season folder, which must be there
	Command string    // what this process was started as, for others who want to write: "tossline open"
	Shipped []Shipped // recipes that come with the program
	Version string
	Log     *slog.Logger // nil for none
}

// Open makes a server of a season folder, with engines. While another process writes the season it is opened for
// reading, and the page says so. The function returned lets go of everything; call it when Serve has returned.
func Open(p Place) (*Server, func(), error) {
	if p.Log == nil {
		p.Log = slog.New(slog.DiscardHandler)
	}
	f, closeSeason, err := openFolder(p.Dir, p.Command)
	if err != nil {
		return nil, nil, err
	}
	e := &engines{}
	e.supervisor = supervisor.New(supervisor.Options{
		Season: func(ctx context.Context) (supervisor.Snapshot, error) {
			cat, err := f.season.Snapshot(ctx)
			return supervisor.Snapshot{Folder: f.season.Dir(), Catalogue: cat}, err
		},
		Keep: func(all []catalogue.Measured) {
			if err := f.Keep(all); err != nil {
				p.Log.Warn("measures could not be kept", "error", err)
			}
		},
		Changed: e.changed,
		Log:     p.Log,
	})
	o := Options{
		Season: f, Engine: e, Shipped: p.Shipped, Version: p.Version, Log: p.Log,
		Recipes: filepath.Join(p.Dir, "recipes"), Aside: filepath.Join(p.Dir, "incoming"),
	}
	away := "" // what can't lie in a season that is open for reading
	if f.writer == nil {
		if away, err = os.MkdirTemp("", "tossline-"); err != nil {
			return nil, nil, fmt.Errorf("there is no place for files: %w", err)
		}
		o.Aside = filepath.Join(away, "incoming")
		if _, err := os.Stat(o.Recipes); err != nil {
			o.Recipes = filepath.Join(away, "recipes")
		}
	}
	if web.Built() {
		o.Page = web.Files()
	}
	closeAll := func() {
		e.supervisor.Close()
		closeSeason()
		os.RemoveAll(o.Aside)
		if away != "" {
			os.RemoveAll(away)
		}
	}
	s, err := New(o)
	if err != nil {
		closeAll()
		return nil, nil, err
	}
	f.changed = s.tellSeason
	return s, closeAll, nil
}

// openFolder opens a season for writing, or for reading where another process writes it or nobody may.
func openFolder(dir, command string) (*Folder, func(), error) {
	f := &Folder{}
	w, err := season.OpenForWriting(dir, command)
	if err == nil {
		f.season, f.writer = w.Season, w
		return f, func() { w.Close() }, nil
	}
	if held, ok := errors.AsType[*season.Held](err); ok {
		f.why = fmt.Sprintf("Open for reading only: process %d (%s) writes this season.", held.By.PID, held.By.Command)
	} else if errors.Is(err, season.ErrReadOnly) {
		f.why = "Open for reading only: the folder of this season can't be written to."
	} else {
		return nil, nil, err
	}
	if f.season, err = season.Open(dir); err != nil {
		return nil, nil, err
	}
	return f, func() { f.season.Close() }, nil
}
