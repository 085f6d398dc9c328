package particulars

import (
	"context"
	"slices"
	"strings"

	"tossline/datasets/catalogue"
	"tossline/datasets/season"
	"tossline/kernel/motion"
)

// Recording is a recording of a season with its serves, in the order of time.
type Recording struct {
	catalogue.Recording
	Serves []catalogue.Serve
	parts  []string // of its file that the season has, where it is one of several
}

// Recordings lists the recordings of a season, in the order of their ids.
func Recordings(ctx context.Context, s *season.Season) ([]Recording, error) {
	c, err := s.Snapshot(ctx)
	if err != nil {
		return nil, err
	}
	all := make([]Recording, len(c.Recordings()))
	parts := map[string][]string{}
	for i, r := range c.Recordings() {
		all[i].Recording = r
		if file, part, several := strings.Cut(r.File, partMark); several {
			parts[file] = append(parts[file], part)
		}
	}
	for i, r := range c.Recordings() {
		file, _, _ := strings.Cut(r.File, partMark)
		all[i].parts = parts[file]
	}
	for row := range c.Rows() {
		serve := c.Row(row)
		all[serve.Recording].Serves = append(all[serve.Recording].Serves, serve)
	}
	return all, nil
}

// Brought is what a table brings into a season.
type Brought struct {
	Changes  int            `json:"changes"`             // by hand, in the table
	Edits    []season.Edit  `json:"edits,omitempty"`     // that say what is not so already
	Groups   []season.Group `json:"groups,omitempty"`    // that change, with all their serves then
	NotFound []string       `json:"not_found,omitempty"` // places of rows that nothing is found for, and why

	pseudonyms *Pseudonyms
}

// Bring gives what a table brings into a season, about the recordings that it has. Players keep the pseudonyms that the
// season gave them.
func (s *Sheet) Bring(ctx context.Context, in *season.Season) (Brought, error) {
	b := Beside{Sheets: []*Sheet{s}}
	pseudonyms, err := Kept(ctx, in)
	if err != nil {
		return Brought{}, err
	}
	players, err := in.Players(ctx)
	if err != nil {
		return Brought{}, err
	}
	var names []string
	for _, p := range players {
		names = append(names, p.Name)
	}
	called := func(name string) string { return pseudonyms.Called(name, names) }
	recordings, err := Recordings(ctx, in)
	if err != nil {
		return Brought{}, err
	}
	b.Hide(pseudonyms)
	copies := b.Copies(recordings)
	edits, err := s.Adopt(ctx, in, called, nil)
	if err != nil {
		return Brought{}, err
	}
	copies.Settle(recordings)
	brought := Brought{Changes: s.Changes(), Edits: edits, pseudonyms: pseudonyms}
	edits = nil
	for _, r := range recordings {
		more, notes := b.OfStored(r)
		edits = append(edits, more...)
		for _, n := range notes {
			brought.NotFound = append(brought.NotFound, n.Where+": "+n.Text)
		}
	}
	if edits, err = in.Unsaid(ctx, edits); err != nil {
		return Brought{}, err
	}
	brought.Edits = append(brought.Edits, edits...)
	b.Choose(recordings)
	there, err := in.Groups(ctx)
	if err != nil {
		return Brought{}, err
	}
	for _, g := range b.Groups(there) {
		if g.Added > 0 {
			brought.Groups = append(brought.Groups, g.Group)
		}
	}
	brought.NotFound = append(brought.NotFound, s.Unused()...)
	return brought, nil
}

// Make makes what was brought so: the edits in one batch, and the groups.
func (b Brought) Make(ctx context.Context, w *season.Writer) error {
	if len(b.Edits) > 0 {
		if _, err := w.Edit(ctx, b.Edits...); err != nil {
			return err
		}
	}
	for _, g := range b.Groups {
		if err := w.SaveGroup(ctx, g); err != nil {
			return err
		}
	}
	return b.pseudonyms.Keep(ctx, w)
}

// Choose finds the serves of a season that the tables put into groups.
func (b Beside) Choose(recordings []Recording) {
	for _, r := range recordings {
		u, found, ids := b.known(r)
		for _, s := range b.Sheets {
			for _, row := range s.rows {
				if row.group == "" || row.found != "" || row.id == "" && !row.isAbout(u.File, u.Part) {
					continue
				}
				if i := row.find(&u, found, ids); i >= 0 {
					row.used, row.found = true, ids[i]
				}
			}
		}
	}
}

// Grown is a group with the serves that it has and gets.
type Grown struct {
	season.Group
	Added int // serves that it gets
}

// Groups gives the groups of the tables, with the serves that they have already and those that were found for them, in
// the order of the rows.
func (b Beside) Groups(there []season.Group) (groups []Grown) {
	place := map[string]int{}
	has := map[string]map[motion.ServeID]bool{}
	for _, s := range b.Sheets {
		for _, row := range s.rows {
			if row.group == "" || row.found == "" {
				continue
			}
			i, ok := place[row.group]
			if !ok {
				i = len(groups)
				place[row.group], has[row.group] = i, map[motion.ServeID]bool{}
				g := Grown{Group: season.Group{Name: row.group}}
				if k := slices.IndexFunc(there, func(t season.Group) bool { return t.Name == row.group }); k >= 0 {
					g.Serves = slices.Clone(there[k].Serves)
				}
				for _, id := range g.Serves {
					has[row.group][id] = true
				}
				groups = append(groups, g)
			}
			if !has[row.group][row.found] {
				has[row.group][row.found] = true
				groups[i].Serves = append(groups[i].Serves, row.found)
				groups[i].Added++
			}
		}
	}
	return groups
}

// HasGroups tells whether the tables put serves into groups.
func (b Beside) HasGroups() bool {
	return slices.ContainsFunc(b.Sheets, func(s *Sheet) bool {
		return slices.ContainsFunc(s.rows, func(r *row) bool { return r.group != "" })
	})
}
