package server

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"time"

	"tossline/kernel/present"
	"tossline/kernel/table"
	"tossline/workbench/supervisor"
)

// asTable gives a file as a table that can be kept, read before or now.
func (in *intake) asTable(ctx context.Context, q request, progress func(done, total int),
	use func(context.Context, Upload, *supervisor.Kept) error) error {
	return in.hold(ctx, q, func(ctx context.Context, a *aside) error {
		if a.table == nil {
			read, err := in.season.ReadWhole(ctx, a.Upload, progress)
			if err != nil {
				return err
			}
			a.forget()
			a.table = read
		}
		return use(ctx, a.Upload, a.table)
	})
}

// whole tells how a file is understood as a table that can be kept, and whether it is one.
func (in *intake) whole(ctx context.Context, q request, progress func(done, total int)) (w Whole, is bool) {
	err := in.asTable(ctx, q, progress, func(_ context.Context, _ Upload, k *supervisor.Kept) error {
		w.Whole = k.Understood
		return nil
	})
	return w, err == nil && len(w.Whole.Columns) > 1 // any text is a table of one
}

// keep keeps a file as a table and lets it go.
func (s *Server) keep(ctx context.Context, p *page, q request) (any, error) {
	err := s.intake.asTable(ctx, q, p.telling("intake", map[string]any{"upload": q.Upload}),
		func(ctx context.Context, file Upload, k *supervisor.Kept) error {
			return s.options.Season.KeepTable(ctx, q.Name, file, k)
		})
	if err == nil {
		s.intake.discard(q.Upload)
	}
	return done, err
}

// table shows a table that is kept, as results of recipes are shown.
func (s *Server) table(ctx context.Context, _ *page, q request) (any, error) {
	t, err := s.options.Season.Kept(ctx, q.Name)
	if err != nil {
		return nil, err
	}
	shown, parts, err := present.Encode(t)
	if err != nil {
		return nil, err
	}
	for _, part := range parts {
		s.tables.put(part.Ref, part.Bytes)
	}
	return shown.Table, nil
}

// ReadWhole reads a file as a table, without storing anything.
func (f *Folder) ReadWhole(ctx context.Context, file Upload, progress func(done, total int)) (*supervisor.Kept, error) {
	return supervisor.Keep(ctx, supervisor.Import{
		Path: file.Path, Scratch: filepath.Dir(file.Path), Progress: progress,
	})
}

// KeepTable keeps what was read under a name.
func (f *Folder) KeepTable(ctx context.Context, name string, file Upload, k *supervisor.Kept) error {
	w, err := f.write()
	if err != nil {
		return err
	}
	_, err = w.KeepTable(ctx, name, file.Name, k.Record)
	return err
}

// Kept gives a table that is kept.
func (f *Folder) Kept(ctx context.Context, name string) (table.Table, error) {
	cat, err := f.season.Snapshot(ctx)
	if err != nil {
		return table.Table{}, err
	}
	at := slices.Index(cat.TableNames(), name)
	if at < 0 {
		return table.Table{}, fmt.Errorf("the season keeps no table %s", name)
	}
	return cat.Table(at)
}

// keptTables lists the tables that the season keeps.
func (f *Folder) keptTables(ctx context.Context) ([]KeptTable, error) {
	all, err := f.season.Tables(ctx)
	list := make([]KeptTable, len(all))
	for i, t := range all {
		list[i] = KeptTable{t.Name, t.Rows, t.File, t.KeptAt.UTC().Format(time.RFC3339)}
	}
	return list, err
}
