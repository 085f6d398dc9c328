package server

import (
	"context"
	"errors"
	"fmt"
	"time"

	"tossline/kernel/engine"
)

// question answers one type of request. Slow ones are answered beside each other, in any order.
type question struct {
	slow   bool
	answer func(*Server, context.Context, *page, request)
}

// questions is everything a page can ask.
var questions = map[string]question{
	"hello":      quick((*Server).hello),
	"open":       {answer: (*Server).openDesk},
	"values":     quick((*Server).setValues),
	"edit":       quick((*Server).edit),
	"run":        quick((*Server).runDesk),
	"stop":       quick((*Server).stopDesk),
	"allow":      quick((*Server).allow),
	"add":        quick((*Server).addRecipe),
	"versions":   slow((*Server).versions),
	"version":    slow((*Server).version),
	"complete":   slow(asking(engine.Complete)),
	"hover":      slow(asking(engine.Hover)),
	"signature":  slow(asking(engine.Signature)),
	"definition": slow(asking(engine.Definition)),
	"format":     slow((*Server).format),
	"rows":       {slow: true, answer: (*Server).rows},
	"clip":       {slow: true, answer: (*Server).clip},
	"correct":    slow(changing((*Server).correct)),
	"serves":     slow((*Server).serves),
	"change":     slow(changing((*Server).change)),
	"split":      slow(changing((*Server).split)),
	"merge":      slow(changing((*Server).merge)),
	"recut":      slow(changing((*Server).recut)),
	"rename":     slow(changing((*Server).rename)),
	"remove":     slow(changing((*Server).remove)),
	"undo":       slow(changing((*Server).undo)),
	"redo":       slow(changing((*Server).redo)),
	"history":    slow((*Server).history),
	"groups":     slow((*Server).groups),
	"group":      slow((*Server).group),
	"ungroup":    slow((*Server).ungroup),
	"verify":     slow((*Server).verify),
	"preview":    slow((*Server).preview),
	"import":     slow((*Server).store),
	"bring":      slow(changing((*Server).bring)),
	"discard":    slow((*Server).discard),
	"keep":       slow(changing((*Server).keep)),
	"table":      slow((*Server).table),
}

type answerer func(*Server, context.Context, *page, request) (any, error)

func quick(f answerer) question { return question{answer: replying(f)} }
func slow(f answerer) question  { return question{slow: true, answer: replying(f)} }

// replying sends what f gives as the reply, or its error as the failure.
func replying(f answerer) func(*Server, context.Context, *page, request) {
	return func(s *Server, ctx context.Context, p *page, q request) {
		body, err := f(s, ctx, p, q)
		if err != nil {
			p.fail(q.ID, err)
			return
		}
		p.reply(q.ID, body)
	}
}

// done is the reply where there is nothing to say.
var done = struct{}{}

func (s *Server) hello(ctx context.Context, p *page, _ request) (any, error) {
	season, err := s.options.Season.Overview(ctx)
	if err != nil {
		return nil, err
	}
	s.hub.greet(p)
	return Welcome{
		Version: s.options.Version,
		Season:  season,
		Shelf:   s.shelf.entries(),
		Engine:  s.hub.engineState(),
		Formats: s.options.Season.Formats(),
		Limits:  UploadLimits{FileBytes: maxUpload, RecipeBytes: maxRecipeBytes},
	}, nil
}

// desk gives the desk of a recipe, laid out at its first use.
func (s *Server) desk(ctx context.Context, recipe string) (*desk, error) {
	return s.hub.desk(recipe, func() (*desk, error) {
		source, saved, err := s.shelf.read(recipe)
		if err != nil {
			return nil, err
		}
		values, err := s.options.Season.Values(ctx, recipe)
		if err != nil {
			return nil, err
		}
		d := &desk{engine: s.options.Engine, season: s.options.Season, tables: s.tables, tell: func(string, any) {}}
		d.state = Desk{Recipe: recipe, File: recipe + ".go", Values: values}
		d.setText(source, saved, !s.shelf.allowed(source))
		d.tell = func(kind string, body any) { s.hub.tell(recipe, kind, body) }
		return d, nil
	})
}

// openDesk shows a recipe to a page, and runs it where it never ran.
func (s *Server) openDesk(ctx context.Context, p *page, q request) {
	d, err := s.desk(ctx, q.Recipe)
	if err != nil {
		p.fail(q.ID, err)
		return
	}
	d.show(func(state Desk) {
		s.hub.look(p, q.Recipe)
		p.reply(q.ID, state)
	})
	if !d.ran() {
		d.start()
	}
}

func (s *Server) setValues(ctx context.Context, _ *page, q request) (any, error) {
	d, err := s.desk(ctx, q.Recipe)
	if err != nil {
		return nil, err
	}
	err = d.setValues(q.Values)
	d.start()
	return done, err
}

// errStale is the answer to an edit of a text that has changed meanwhile.
var errStale = errors.New("this recipe was changed elsewhere meanwhile")

// edit saves a new text of a recipe, and runs it if asked to. Who edits a recipe here has read it: the text is allowed.
func (s *Server) edit(ctx context.Context, _ *page, q request) (any, error) {
	d, err := s.desk(ctx, q.Recipe)
	if err != nil {
		return nil, err
	}
	if len(q.Source) > maxRecipeBytes {
		return nil, errors.New("a recipe may have 1 MiB at most")
	}
	var revision string
	var unread bool
	d.show(func(state Desk) { revision, unread = state.Revision, state.Unread })
	switch {
	case unread:
		return nil, errors.New("read and allow this recipe before changing it")
	case q.Revision != revision:
		return nil, errStale
	}
	if sha(q.Source) != revision {
		if err := s.options.Season.Allow(ctx, sha(q.Source)); err != nil {
			return nil, err
		}
		if err := s.shelf.write(q.Recipe, q.Source); err != nil {
			return nil, err
		}
		d.setText(q.Source, time.Now(), false)
		s.tellShelf()
	}
	if q.Run {
		d.start()
	}
	return map[string]string{"revision": sha(q.Source)}, nil
}

func (s *Server) runDesk(ctx context.Context, _ *page, q request) (any, error) {
	d, err := s.desk(ctx, q.Recipe)
	if err == nil {
		d.start()
	}
	return done, err
}

func (s *Server) stopDesk(ctx context.Context, _ *page, q request) (any, error) {
	d, err := s.desk(ctx, q.Recipe)
	if err == nil {
		d.stop()
	}
	return done, err
}

// allow lets the very text that the reader saw run on this season, from now on.
func (s *Server) allow(ctx context.Context, _ *page, q request) (any, error) {
	d, err := s.desk(ctx, q.Recipe)
	if err != nil {
		return nil, err
	}
	var source, revision string
	d.show(func(state Desk) { source, revision = state.Source, state.Revision })
	if revision != q.Revision {
		return nil, errStale
	}
	if err := s.options.Season.Allow(ctx, revision); err != nil {
		return nil, err
	}
	d.setText(source, time.Time{}, false)
	s.tellShelf()
	d.start()
	return done, nil
}

// addRecipe puts a recipe file on the shelf. It does not run before it is allowed.
func (s *Server) addRecipe(_ context.Context, _ *page, q request) (any, error) {
	name := fromFile(q.Name)
	if !goodName(name) || len(q.Source) > maxRecipeBytes {
		return nil, fmt.Errorf("%q is no recipe: it must be a Go file of at most 1 MiB", q.Name)
	}
	if title, _, _ := headOf(q.Source); title == "" {
		return nil, fmt.Errorf("%s is no recipe: it must be a Go file that starts with a comment, its title", q.Name)
	}
	name = s.shelf.freeName(name, q.Source)
	if err := s.shelf.write(name, q.Source); err != nil {
		return nil, err
	}
	s.tellShelf()
	return map[string]string{"recipe": name}, nil
}

func (s *Server) tellShelf() { s.hub.tell("", "shelf", s.shelf.entries()) }

// watchShelf looks at the recipe files now and then: what another editor saved is laid on its desk and runs.
func (s *Server) watchShelf(ctx context.Context) {
	tick := time.NewTicker(500 * time.Millisecond)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		changed := s.shelf.changed()
		for _, recipe := range changed {
			if d := s.hub.lying(recipe); d != nil {
				s.follow(d, recipe)
			}
		}
		if len(changed) > 0 {
			s.tellShelf()
		}
	}
}

// follow lays the text that is now on disk on a desk. The next text of a recipe that was allowed is its owner's edit,
// made with another editor while the recipe lay open: it is allowed as well.
func (s *Server) follow(d *desk, recipe string) {
	source, saved, err := s.shelf.read(recipe)
	if err != nil {
		return // gone: the desk keeps what it shows
	}
	var revision string
	var unread bool
	d.show(func(state Desk) { revision, unread = state.Revision, state.Unread })
	if sha(source) == revision {
		return
	}
	if !unread && !s.shelf.allowed(source) {
		unread = s.options.Season.Allow(context.Background(), sha(source)) != nil
	}
	d.setText(source, saved, unread && !s.shelf.allowed(source))
	d.start()
}

func (s *Server) versions(ctx context.Context, _ *page, q request) (any, error) {
	return s.options.Season.Versions(ctx, q.Recipe)
}

func (s *Server) version(ctx context.Context, _ *page, q request) (any, error) {
	source, err := s.options.Season.Version(ctx, q.Revision)
	return map[string]string{"source": source}, err
}

// asking gives an answerer that hands a question of the editor to an engine.
func asking(about engine.Question) answerer {
	return func(s *Server, ctx context.Context, _ *page, q request) (any, error) {
		ask := engine.Ask{Question: about, File: q.Recipe + ".go", Source: q.Source, Offset: q.Offset}
		return s.options.Engine.Ask(ctx, ask)
	}
}

func (s *Server) format(ctx context.Context, p *page, q request) (any, error) {
	source, err := asking(engine.Format)(s, ctx, p, q)
	return map[string]any{"source": source}, err
}

func (s *Server) rows(_ context.Context, p *page, q request) {
	stream, rows, err := s.tables.window(q.Ref, q.Order, q.Filter, q.Offset, q.Limit)
	if err != nil {
		p.fail(q.ID, err)
		return
	}
	p.replyRows(q.ID, rows, stream)
}

func (s *Server) clip(ctx context.Context, p *page, q request) {
	stream, err := s.options.Season.Clip(ctx, q.Serve)
	if err != nil {
		p.fail(q.ID, err)
		return
	}
	p.replyRows(q.ID, 0, stream)
}

// preview and store tell how far they are with pushes of type "intake".
func (s *Server) preview(ctx context.Context, p *page, q request) (any, error) {
	return s.intake.preview(ctx, q, p.telling("intake", map[string]any{"upload": q.Upload}))
}

func (s *Server) store(ctx context.Context, p *page, q request) (any, error) {
	report, err := s.intake.store(ctx, q, p.telling("intake", map[string]any{"upload": q.Upload}))
	if err == nil {
		s.seasonChanged()
	}
	return report, err
}

func (s *Server) bring(ctx context.Context, _ *page, q request) (any, error) {
	if err := s.intake.bring(ctx, q); err != nil {
		return nil, err
	}
	_, err := s.tellGroups(ctx)
	return done, err
}

func (s *Server) discard(_ context.Context, _ *page, q request) (any, error) {
	s.intake.discard(q.Upload)
	return done, nil
}

// seasonChanged makes every page show, and every open recipe use, the season as it is now.
func (s *Server) seasonChanged() {
	s.options.Engine.Renew()
	s.tellSeason()
	for _, d := range s.hub.allDesks() {
		d.start()
	}
}

func (s *Server) tellSeason() {
	if season, err := s.options.Season.Overview(context.Background()); err == nil {
		s.hub.tell("", "season", season)
	}
}
