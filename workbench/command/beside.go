package command

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strconv"
	"strings"

	"tossline/datasets/catalogue"
	"tossline/datasets/particulars"
	"tossline/datasets/recording"
	"tossline/datasets/season"
	"tossline/datasets/sheet"
	"tossline/kernel/motion"
	"tossline/workbench/supervisor"
)

// beside is what is known beside the files of an import, and what earlier imports kept.
type beside struct {
	particulars.Beside
	maps       recording.Maps
	pseudonyms *particulars.Pseudonyms // that the season keeps; nil where it keeps none and none were asked for
	hides      bool                    // players get pseudonyms
	players    []string                // that the season knows of
	waiting    []waiting
}

// waiting is a recording that was read and gets its particulars once the changes by hand are made.
type waiting struct {
	file   string
	about  recording.Understanding
	serves []motion.Serve
}

// coming is the recording as the season would have it, whose serves have no ids yet: they are told by their numbers.
func (w waiting) coming() (r particulars.Recording) {
	r.ID, r.File = w.about.Recording, w.about.File
	for i, s := range w.serves {
		r.Serves = append(r.Serves, catalogue.Serve{ID: unstored(i), First: s.First, Last: s.Last, Events: s.Events})
	}
	return r
}

// unstored is what the serve of a dry run is called, which has no id.
func unstored(i int) motion.ServeID { return motion.ServeID("serve " + strconv.Itoa(i+1)) }

// openBeside reads the tables and the pattern that were said.
func (j importing) openBeside(ctx context.Context) (*beside, error) {
	b := &beside{maps: recording.Maps{}}
	if j.pattern != "" {
		p, err := particulars.ParsePattern(j.pattern)
		if err != nil {
			return nil, misuse("--names: %v", err)
		}
		b.Pattern = p
	}
	b.Said = particulars.Facts{}
	for _, text := range j.facts {
		field, value, err := particulars.ParseFact(text)
		if err != nil {
			return nil, misuse("--fact %v", err)
		}
		b.Said[field] = value
	}
	for _, path := range j.sheets {
		if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("%s: there is no such file", path)
		}
		s, err := readSheet(ctx, path)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		b.Sheets = append(b.Sheets, s)
	}
	if b.hides = j.pseudonymous; b.hides {
		b.pseudonyms, _ = particulars.ParsePseudonyms("") // nothing to go wrong
	}
	return b, nil
}

func readSheet(ctx context.Context, path string) (*particulars.Sheet, error) {
	return particulars.ReadSheet(func(row func(sheet.Row) error) error {
		return supervisor.ReadTable(ctx, supervisor.Import{Path: path}, row)
	})
}

// isTable tells by its titles whether a file is a table of particulars.
func isTable(ctx context.Context, path string) (is bool) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	first := true
	supervisor.ReadTable(ctx, supervisor.Import{Path: path}, func(r sheet.Row) error { // what goes wrong says no
		if first {
			first, is = false, particulars.Known(r)
			stop()
		}
		return nil
	})
	return is
}

// load takes from the season what earlier imports kept, and nothing where there is no season.
func (b *beside) load(ctx context.Context, s *season.Season) (err error) {
	if s == nil {
		return nil
	}
	if b.maps, err = s.LandmarkMaps(ctx); err != nil {
		return err
	}
	kept, err := particulars.Kept(ctx, s)
	if err != nil || kept == nil && !b.hides {
		return err
	}
	b.pseudonyms = cmp.Or(kept, b.pseudonyms)
	b.Hide(b.pseudonyms)
	players, err := s.Players(ctx)
	for _, p := range players {
		b.players = append(b.players, p.Name)
	}
	return err
}

// options are those for one file.
func (b *beside) options(file string, o recording.Options) (recording.Options, error) {
	o.Maps = b.maps
	return b.Options(file, o)
}

// hide gives the players pseudonyms, where that was asked for.
func (b *beside) hide(p *recording.Prepared) {
	if !b.hides {
		return
	}
	for _, one := range p.All() {
		if name := one.Understanding.Player.Value; name != "" {
			particulars.Hide(&one.Understanding, b.pseudonyms.Of(name, b.players))
		}
	}
}

// called is what a season that keeps pseudonyms calls a player.
func (b *beside) called(name string) string { return b.pseudonyms.Called(name, b.players) }

// edit makes the edits that are known of a stored recording, and gives them; a recording whose file holds others has
// the name part in the tables. In a dry run the serves have no ids: then they are told by their numbers. Where changes
// by hand are still to be made, or the recording may be a copy of another, it waits for them and the others.
func (b *beside) edit(ctx context.Context, w *season.Writer, file, part string, p *recording.Prepared,
	ids []motion.ServeID) ([]season.Edit, error) {
	about := p.Understanding
	about.Part = part
	if b.HasChanges() || b.MayBeCopy(file, about.Recording) {
		b.waiting = append(b.waiting, waiting{file, about, p.Serves})
		return nil, nil
	}
	for i := len(ids); i < len(p.Serves); i++ {
		ids = append(ids, unstored(i))
	}
	edits, notes := b.known(file, &about, p.Serves, ids)
	p.Understanding.Notes = append(p.Understanding.Notes, notes...)
	if w == nil {
		return edits, nil
	}
	_, err := enforce(ctx, w, edits)
	return edits, err
}

// known gives what is known of a recording that was read, with its player called as the season does.
func (b *beside) known(file string, about *recording.Understanding, serves []motion.Serve, ids []motion.ServeID) (
	[]season.Edit, []recording.Note) {
	edits, notes := b.Edits(file, about, serves, ids)
	if b.hides {
		for i, e := range edits {
			edits[i] = particulars.Called(e, b.called)
		}
	}
	return edits, notes
}

// enforce makes those of some edits that say what is not so already, and tells how many.
func enforce(ctx context.Context, w *season.Writer, edits []season.Edit) (int, error) {
	new, err := w.Unsaid(ctx, edits)
	if err != nil {
		return 0, err
	}
	if len(new) == 0 {
		return 0, nil
	}
	_, err = w.Edit(ctx, new...)
	return len(new), err
}

// keep keeps what later imports will want.
func (b *beside) keep(ctx context.Context, w *season.Writer, set string, byHand map[string]string) error {
	if w == nil {
		return nil
	}
	if err := w.KeepLandmarkMap(ctx, set, byHand); err != nil {
		return err
	}
	return b.pseudonyms.Keep(ctx, w)
}

// parseLength reads left_hip,left_knee=0.43; "" is none.
func parseLength(text string) (*recording.Length, error) {
	if text == "" {
		return nil, nil
	}
	ends, metres, ok := strings.Cut(text, "=")
	from, to, two := strings.Cut(ends, ",")
	m, err := strconv.ParseFloat(strings.TrimSpace(metres), 64)
	if !ok || !two || err != nil {
		return nil, misuse("--length %s: expected two landmarks and metres, such as left_hip,left_knee=0.43", text)
	}
	return &recording.Length{From: strings.TrimSpace(from), To: strings.TrimSpace(to), M: m}, nil
}
