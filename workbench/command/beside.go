package command

import (
	"context"
	"fmt"
	"os"
	"strconv"
	"strings"

	"tossline/datasets/particulars"
	"tossline/datasets/recording"
	"tossline/datasets/season"
	"tossline/kernel/motion"
)

// settingPseudonyms is the setting of a season that keeps pseudonyms.
const settingPseudonyms = "pseudonyms"

// beside is what is known beside the files of an import, and what earlier imports kept.
type beside struct {
	particulars.Beside
	maps       recording.Maps
	pseudonyms *particulars.Pseudonyms // nil where names are stored
	players    []string
}

// openBeside reads the table and the pattern that were said.
func (j importing) openBeside() (*beside, error) {
	b := &beside{maps: recording.Maps{}}
	if j.pattern != "" {
		p, err := particulars.ParsePattern(j.pattern)
		if err != nil {
			return nil, misuse("--names: %v", err)
		}
		b.Pattern = p
	}
	if j.sheet != "" {
		f, err := os.Open(j.sheet)
		if err != nil {
			return nil, err
		}
		defer f.Close()
		if b.Sheet, err = particulars.ReadSheet(f); err != nil {
			return nil, fmt.Errorf("%s: %w", j.sheet, err)
		}
	}
	if j.pseudonymous {
		b.pseudonyms, _ = particulars.ParsePseudonyms("") // nothing to go wrong
	}
	return b, nil
}

// load takes from the season what earlier imports kept. A dry run has no writer, and perhaps no season.
func (b *beside) load(ctx context.Context, dir string, w *season.Writer) error {
	var s *season.Season
	switch {
	case w != nil:
		s = w.Season
	case season.Exists(dir):
		var err error
		if s, err = season.Open(dir); err != nil {
			return err
		}
		defer s.Close()
	default:
		return nil
	}
	var err error
	if b.maps, err = s.LandmarkMaps(ctx); err != nil || b.pseudonyms == nil {
		return err
	}
	text, err := s.Setting(ctx, settingPseudonyms)
	if err != nil {
		return err
	}
	if b.pseudonyms, err = particulars.ParsePseudonyms(text); err != nil {
		return err
	}
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
	if b.pseudonyms == nil {
		return
	}
	for _, one := range p.All() {
		if name := one.Understanding.Player.Value; name != "" {
			particulars.Hide(&one.Understanding, b.pseudonyms.Of(name, b.players))
		}
	}
}

// edit makes the edits that are known of a stored recording, and gives them. In a dry run the serves have no ids: then
// they are told by their numbers.
func (b *beside) edit(ctx context.Context, w *season.Writer, file string, p *recording.Prepared, ids []motion.ServeID) (
	[]season.Edit, error) {
	for i := len(ids); i < len(p.Serves); i++ {
		ids = append(ids, motion.ServeID("serve "+strconv.Itoa(i+1)))
	}
	edits, notes := b.Edits(file, &p.Understanding, p.Serves, ids)
	p.Understanding.Notes = append(p.Understanding.Notes, notes...)
	if w == nil || len(edits) == 0 {
		return edits, nil
	}
	var new []season.Edit
	for _, e := range edits {
		made, err := w.Season.Edits(ctx, e.Subject)
		if err != nil {
			return nil, err
		}
		if !inForce(made, e) {
			new = append(new, e)
		}
	}
	if len(new) == 0 {
		return edits, nil
	}
	_, err := w.Edit(ctx, new...)
	return edits, err
}

// inForce reports whether the last edit of a field that was not undone says the same.
func inForce(made []season.Made, e season.Edit) bool {
	for _, m := range made {
		if m.Target == e.Target && m.Field == e.Field && m.Undone.IsZero() {
			return m.Value == e.Value
		}
	}
	return false
}

// keep keeps what later imports will want.
func (b *beside) keep(ctx context.Context, w *season.Writer, set string, byHand map[string]string) error {
	if w == nil {
		return nil
	}
	if err := w.KeepLandmarkMap(ctx, set, byHand); err != nil || b.pseudonyms == nil {
		return err
	}
	return w.SetSetting(ctx, settingPseudonyms, b.pseudonyms.Text())
}

// unused tells the lines of the table that no file was given for.
func (b *beside) unused() string {
	if b.Sheet == nil || len(b.Sheet.Unused()) == 0 {
		return ""
	}
	var lines []string
	for _, n := range b.Sheet.Unused() {
		lines = append(lines, strconv.Itoa(n))
	}
	return "the rows in lines " + strings.Join(lines, ", ")
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
