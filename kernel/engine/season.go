package engine

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"sync"

	"tossline/datasets/catalogue"
	"tossline/kernel/engine/fence"
	"tossline/kernel/interp"
)

// kitchen runs recipes over an open season, and answers questions about their sources.
type kitchen struct {
	w       *Writer
	season  *catalogue.Catalogue
	session *interp.Session

	mu      sync.Mutex // guards running
	running map[uint64]context.CancelFunc
}

// openSeason maps the season's files and makes the interpreter ready. An error is for the reader.
func openSeason(first Frame, w *Writer) (service, Ready, fence.Limits, error) {
	var ask Open
	if err := json.Unmarshal(first.Body, &ask); err != nil {
		return nil, Ready{}, fence.Limits{}, err
	}
	if len(first.Parts) != 1 {
		return nil, Ready{}, fence.Limits{}, errors.New("the list of serves is missing")
	}
	folder, err := os.OpenRoot(ask.Folder)
	if err != nil {
		return nil, Ready{}, fence.Limits{}, fmt.Errorf("the season folder can't be opened: %w", err)
	}
	defer folder.Close()
	season, err := catalogue.Open(first.Parts[0].Bytes, folder.Open)
	if err != nil {
		return nil, Ready{}, fence.Limits{}, err
	}
	k := &kitchen{w: w, season: season, session: interp.NewSession(season), running: map[uint64]context.CancelFunc{}}
	return k, Ready{Serves: season.Len()}, ask.Limits, nil
}

func (k *kitchen) answer(f Frame) error {
	switch f.Kind {
	case KindRun:
		var ask Run
		if err := json.Unmarshal(f.Body, &ask); err != nil {
			return err
		}
		k.begin(f.ID, func(ctx context.Context) error { return k.run(ctx, f.ID, ask) })
	case KindAsk:
		var ask Ask
		if err := json.Unmarshal(f.Body, &ask); err != nil {
			return err
		}
		k.begin(f.ID, func(context.Context) error { return k.reply(f.ID, ask) })
	case KindCancel:
		k.cancel(f.ID)
	default:
		return fmt.Errorf("%q asked of a season", f.Kind)
	}
	return nil
}

// begin does the work of a request beside the reading of further ones, and says when it is done.
func (k *kitchen) begin(id uint64, work func(context.Context) error) {
	ctx, cancel := context.WithCancel(context.Background())
	k.mu.Lock()
	k.running[id] = cancel
	k.mu.Unlock()
	go func() {
		defer k.cancel(id)
		var done Done
		if err := work(ctx); err != nil {
			done.Error = sentence(err.Error())
		}
		say(k.w, KindDone, id, done)
	}()
}

// cancel stops a request, if it is under way.
func (k *kitchen) cancel(id uint64) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if cancel := k.running[id]; cancel != nil {
		cancel()
		delete(k.running, id)
	}
}

// run runs a recipe and reports on it as it goes on.
func (k *kitchen) run(ctx context.Context, id uint64, ask Run) error {
	r := &reporter{w: k.w, id: id, season: k.season}
	log := &logger{report: r}
	known := make(map[string]bool, len(ask.Known))
	for _, key := range ask.Known {
		known[key] = true
	}
	job := interp.Job{File: ask.File, Source: ask.Source, Settings: ask.Settings, Known: known, Output: log}
	err := k.session.Run(ctx, job, r)
	log.close()
	return errors.Join(err, r.measured())
}
