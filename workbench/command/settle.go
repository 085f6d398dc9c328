package command

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"tossline/datasets/particulars"
	"tossline/datasets/recording"
	"tossline/datasets/season"
	"tossline/kernel/words"
)

// settle does with tables what takes all recordings to be there: it makes the changes by hand, puts serves into groups,
// and says what is known of the recordings that waited for the changes, or of all where no file was given.
func (j importing) settle(ctx context.Context, w *season.Writer, known *beside, all bool, report *importReport) error {
	if !all && !known.HasChanges() && !known.HasGroups() && len(known.waiting) == 0 {
		return nil
	}
	ctx = context.WithoutCancel(ctx) // what is stored gets what is known of it
	s, done, err := j.opened(w)
	if err != nil {
		return err
	}
	defer done()
	stored, err := known.recordings(ctx, s)
	if err != nil {
		return err
	}
	known.Hide(known.pseudonyms)
	copies := known.Copies(stored)
	if s == nil {
		for i, sheet := range known.Sheets {
			if sheet.Changes() > 0 {
				j.say("%s by hand in %s; nothing stored", words.Count(sheet.Changes(), "change"), j.sheets[i])
			}
		}
	} else {
		if err := j.makeChanges(ctx, s, w, known, report); err != nil {
			return err
		}
		if stored, err = known.recordings(ctx, s); err != nil {
			return err
		}
	}
	copies.Settle(stored)
	if s != nil {
		if err := j.group(ctx, s, w, known, stored, report); err != nil {
			return err
		}
	}
	of := known.ofWaiting
	if all {
		of = known.ofStored
	}
	edits, notes := of(stored)
	if err := j.particulars(ctx, w, edits, notes, report); err != nil || w == nil {
		return err
	}
	return known.pseudonyms.Keep(ctx, w)
}

// opened gives the season that is written to, or in a dry run opens it for reading; it gives none where there is none.
func (j importing) opened(w *season.Writer) (s *season.Season, done func(), err error) {
	if w != nil {
		return w.Season, func() {}, nil
	}
	if !season.Exists(j.dir) {
		return nil, func() {}, nil
	}
	if s, err = season.Open(j.dir); err != nil {
		return nil, nil, err
	}
	return s, func() { s.Close() }, nil
}

// recordings are those of a season, nil where there is none, and those that a dry run does not store.
func (b *beside) recordings(ctx context.Context, s *season.Season) (all []particulars.Recording, err error) {
	if s != nil {
		if all, err = particulars.Recordings(ctx, s); err != nil {
			return nil, err
		}
	}
	for _, one := range b.waiting {
		if !slices.ContainsFunc(all, func(r particulars.Recording) bool { return r.ID == one.about.Recording }) {
			all = append(all, one.coming())
		}
	}
	return all, nil
}

// makeChanges makes the changes by hand of each table, all of a table or none.
func (j importing) makeChanges(ctx context.Context, s *season.Season, w *season.Writer, known *beside,
	report *importReport) error {
	coming := map[string]bool{}
	if w == nil {
		for _, one := range known.waiting {
			coming[one.about.Recording] = true
		}
	}
	for i, sheet := range known.Sheets {
		if sheet.Changes() == 0 {
			continue
		}
		edits, err := sheet.Adopt(ctx, s, known.called, coming)
		if err != nil {
			return fmt.Errorf("%s: %w", j.sheets[i], err)
		}
		if w != nil && len(edits) > 0 {
			if _, err := w.Edit(ctx, edits...); err != nil {
				return fmt.Errorf("%s: %w", j.sheets[i], err)
			}
		}
		report.Changes = append(report.Changes, edits...)
		j.say("%s by hand in %s; %s", words.Count(sheet.Changes(), "change"), j.sheets[i],
			j.outcome(len(edits), "made"))
	}
	return nil
}

// ofStored gives what the tables know of the recordings that the season has.
func (b *beside) ofStored(stored []particulars.Recording) (edits []season.Edit, notes []recording.Note) {
	for _, r := range stored {
		more, said := b.OfStored(r)
		edits, notes = append(edits, more...), append(notes, said...)
	}
	return edits, notes
}

// ofWaiting gives what the tables know of the recordings that waited.
func (b *beside) ofWaiting(stored []particulars.Recording) (edits []season.Edit, notes []recording.Note) {
	for _, one := range b.waiting {
		i := slices.IndexFunc(stored, func(r particulars.Recording) bool { return r.ID == one.about.Recording })
		serves, ids := stored[i].Found()
		more, said := b.known(one.file, &one.about, serves, ids)
		edits, notes = append(edits, more...), append(notes, said...)
	}
	return edits, notes
}

// particulars makes what is known of recordings, players and serves so.
func (j importing) particulars(ctx context.Context, w *season.Writer, edits []season.Edit, notes []recording.Note,
	report *importReport) error {
	changed := 0
	if w != nil {
		var err error
		if changed, err = enforce(ctx, w, edits); err != nil {
			return err
		}
	}
	report.Particulars = edits
	for _, n := range notes {
		report.NotFound = append(report.NotFound, noteText(n))
		if !j.asJSON {
			fmt.Fprintf(j.errOut, "tossline: %s\n", noteText(n))
		}
	}
	if len(edits) == 0 && len(report.Changes)+len(report.Groups) > 0 {
		return nil
	}
	j.say("%s said of recordings, players and serves; %s", words.Count(len(edits), "particular"),
		j.outcome(changed, "changed"))
	return nil
}

// group puts serves into the groups that the tables name; those that are in them stay.
func (j importing) group(ctx context.Context, s *season.Season, w *season.Writer, known *beside,
	stored []particulars.Recording, report *importReport) error {
	if !known.HasGroups() {
		return nil
	}
	known.Choose(stored)
	there, err := s.Groups(ctx)
	if err != nil {
		return err
	}
	for _, g := range known.Groups(there) {
		if w != nil && g.Added > 0 {
			if err := w.SaveGroup(ctx, g.Group); err != nil {
				return err
			}
		}
		report.Groups = append(report.Groups, g.Group)
		j.say("group %s: %s; %s", g.Name, words.Count(len(g.Serves), "serve"), j.outcome(g.Added, "added"))
	}
	return nil
}

// outcome says how many were changed, or that a dry run changes nothing.
func (j importing) outcome(n int, done string) string {
	if j.dry {
		return "nothing stored"
	}
	return fmt.Sprintf("%d %s", n, done)
}

// say prints a line for a person.
func (j importing) say(format string, args ...any) {
	if !j.asJSON {
		fmt.Fprintf(j.out, format+"\n", args...)
	}
}

// unused lists of each table the rows that were about nothing, and tells them.
func (j importing) unused(b *beside) (all []string) {
	for i, s := range b.Sheets {
		places := s.Unused()
		for _, place := range places {
			all = append(all, j.sheets[i]+", "+place)
		}
		if len(places) == 0 || j.asJSON {
			continue
		}
		const most = 20
		text := strings.Join(places[:min(len(places), most)], ", ")
		if more := len(places) - most; more > 0 {
			text += fmt.Sprintf(" and %d more", more)
		}
		fmt.Fprintf(j.errOut, "tossline: %s: no recording, serve or table was found for %s\n", j.sheets[i], text)
	}
	return all
}
