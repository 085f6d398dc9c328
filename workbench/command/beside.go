package command

import (
	"context"
	"fmt"
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

// settingPseudonyms is the setting of a season that keeps pseudonyms.
const settingPseudonyms = "pseudonyms"

// beside is what is known beside the files of an import, and what earlier imports kept.
type beside struct {
	particulars.Beside
	maps       recording.Maps
	pseudonyms *particulars.Pseudonyms // nil where names are stored
	players    []string
}

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
		s, err := readSheet(ctx, path)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		b.Sheets = append(b.Sheets, s)
	}
	if j.pseudonymous {
		b.pseudonyms, _ = particulars.ParsePseudonyms("") // nothing to go wrong
	}
	return b, nil
}

func readSheet(ctx context.Context, path string) (*particulars.Sheet, error) {
	return particulars.ReadSheet(func(row func(sheet.Row) error) error {
		return supervisor.ReadTable(ctx, supervisor.Import{Path: path}, row)
	})
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
	if w == nil {
		return edits, nil
	}
	_, err := enforce(ctx, w, edits)
	return edits, err
}

// enforce makes those of some edits that are not in force, and tells how many.
func enforce(ctx context.Context, w *season.Writer, edits []season.Edit) (int, error) {
	var new []season.Edit
	said := map[string][]season.Made{}
	for _, e := range edits {
		made, known := said[e.Subject]
		if !known {
			var err error
			if made, err = w.Season.Edits(ctx, e.Subject); err != nil {
				return 0, err
			}
			said[e.Subject] = made
		}
		if !inForce(made, e) {
			new = append(new, e)
		}
	}
	if len(new) == 0 {
		return 0, nil
	}
	_, err := w.Edit(ctx, new...)
	return len(new), err
}

// ofStored gives what the tables know of the recordings that a season has.
func (b *beside) ofStored(ctx context.Context, s *season.Season) (edits []season.Edit, notes []recording.Note,
	err error) {
	c, err := s.Snapshot(ctx)
	if err != nil {
		return nil, nil, err
	}
	serves := make([][]catalogue.Serve, len(c.Recordings()))
	for row := range c.Rows() {
		s := c.Row(row)
		serves[s.Recording] = append(serves[s.Recording], s)
	}
	for i, r := range c.Recordings() {
		more, said := b.OfStored(r, serves[i])
		edits, notes = append(edits, more...), append(notes, said...)
	}
	return edits, notes, nil
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

// unused tells of each table the rows that were about nothing.
func (j importing) unused(b *beside) {
	for i, s := range b.Sheets {
		places := s.Unused()
		if len(places) == 0 {
			continue
		}
		const most = 20
		text := strings.Join(places[:min(len(places), most)], ", ")
		if more := len(places) - most; more > 0 {
			text += fmt.Sprintf(" and %d more", more)
		}
		fmt.Fprintf(j.errOut, "tossline: %s: no recording or serve was found for %s\n", j.sheets[i], text)
	}
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
