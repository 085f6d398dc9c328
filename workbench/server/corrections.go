package server

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"tossline/datasets/catalogue"
	"tossline/datasets/season"
	"tossline/kernel/motion"
	"tossline/kernel/words"
)

// changing has every page show, and every recipe run on, the season as it is after a change.
func changing(f answerer) answerer {
	return func(s *Server, ctx context.Context, p *page, q request) (any, error) {
		body, err := f(s, ctx, p, q)
		if err == nil {
			s.seasonChanged()
		}
		return body, err
	}
}

func (s *Server) correct(ctx context.Context, _ *page, q request) (any, error) {
	return done, s.options.Season.Correct(ctx, q.Serve, q.Event, q.TimeS)
}

func (s *Server) change(ctx context.Context, _ *page, q request) (any, error) {
	return s.options.Season.Change(ctx, q.Edits)
}

func (s *Server) split(ctx context.Context, _ *page, q request) (any, error) {
	if q.TimeS == nil {
		return nil, errors.New("splitting a serve takes the time at which the second begins")
	}
	return s.options.Season.Split(ctx, q.Serve, *q.TimeS)
}

func (s *Server) merge(ctx context.Context, _ *page, q request) (any, error) {
	return s.options.Season.Merge(ctx, q.Serves)
}

func (s *Server) recut(ctx context.Context, _ *page, q request) (any, error) {
	return s.options.Season.Recut(ctx, q.Recording, q.Hand)
}

func (s *Server) rename(ctx context.Context, _ *page, q request) (any, error) {
	return s.options.Season.Rename(ctx, q.Player, q.Name)
}

func (s *Server) remove(ctx context.Context, _ *page, q request) (any, error) {
	if err := s.options.Season.Remove(ctx, q.Recording); err != nil {
		return nil, err
	}
	_, err := s.tellGroups(ctx) // its serves are in none any more
	return done, err
}

func (s *Server) undo(ctx context.Context, _ *page, q request) (any, error) {
	return done, s.options.Season.Undo(ctx, q.Batch)
}

func (s *Server) redo(ctx context.Context, _ *page, q request) (any, error) {
	return done, s.options.Season.Redo(ctx, q.Batch)
}

// maxHistory is how many changes one answer lists at most.
const maxHistory = 500

func (s *Server) history(ctx context.Context, _ *page, q request) (any, error) {
	most := q.Limit
	if most <= 0 || most > maxHistory {
		most = maxHistory
	}
	return s.options.Season.History(ctx, most, q.Subjects)
}

func (s *Server) serves(ctx context.Context, _ *page, q request) (any, error) {
	return s.options.Season.Serves(ctx, q.Player, q.Session)
}

func (s *Server) groups(ctx context.Context, _ *page, _ request) (any, error) {
	return s.options.Season.Groups(ctx)
}

func (s *Server) group(ctx context.Context, _ *page, q request) (any, error) {
	if len(q.Serves) == 0 {
		return nil, errors.New("a group takes at least one serve")
	}
	return s.saveGroup(ctx, Group{q.Name, q.Serves})
}

func (s *Server) ungroup(ctx context.Context, _ *page, q request) (any, error) {
	return s.saveGroup(ctx, Group{Name: q.Name})
}

// saveGroup keeps a group and tells every page.
func (s *Server) saveGroup(ctx context.Context, g Group) (any, error) {
	if err := s.options.Season.SaveGroup(ctx, g); err != nil {
		return nil, err
	}
	return s.tellGroups(ctx)
}

func (s *Server) tellGroups(ctx context.Context) ([]Group, error) {
	all, err := s.options.Season.Groups(ctx)
	if err == nil {
		s.hub.tell("", "groups", all)
	}
	return all, err
}

// verify tells how far it is with pushes of type "verify".
func (s *Server) verify(ctx context.Context, p *page, _ request) (any, error) {
	return s.options.Season.Verify(ctx, p.telling("verify", map[string]any{}))
}

// Correct moves an event, or takes the last move of it back.
func (f *Folder) Correct(ctx context.Context, serve, event string, timeS *float64) error {
	w, err := f.write()
	if err != nil {
		return err
	}
	if !slices.Contains(motion.EventKinds, motion.EventKind(event)) {
		return fmt.Errorf("there is no event %q", event)
	}
	if timeS != nil {
		_, err = w.Edit(ctx, season.MoveEvent(motion.ServeID(serve), motion.EventKind(event), *timeS))
		return err
	}
	made, err := f.season.Edits(ctx, serve)
	if err != nil {
		return err
	}
	for _, m := range made {
		if m.Field == "event."+event && m.Undone.IsZero() {
			return w.Undo(ctx, m.Batch)
		}
	}
	return fmt.Errorf("the %s of this serve was not set by hand", strings.ReplaceAll(event, "_", " "))
}

// Change makes edits, all or none.
func (f *Folder) Change(ctx context.Context, edits []season.Edit) (Changed, error) {
	w, err := f.write()
	if err != nil {
		return Changed{}, err
	}
	batch, err := w.Edit(ctx, edits...)
	return Changed{Batch: batch}, err
}

// Split makes two serves of one.
func (f *Folder) Split(ctx context.Context, serve string, atS float64) (Changed, error) {
	edits, ids, err := f.season.Split(ctx, motion.ServeID(serve), atS)
	return f.made(ctx, edits, ids, err)
}

// Merge makes one serve of several.
func (f *Folder) Merge(ctx context.Context, serves []string) (Changed, error) {
	ids := make([]motion.ServeID, len(serves))
	for i, id := range serves {
		ids[i] = motion.ServeID(id)
	}
	edits, id, err := f.season.Merge(ctx, ids...)
	return f.made(ctx, edits, []motion.ServeID{id}, err)
}

// Recut finds the serves of a recording again.
func (f *Folder) Recut(ctx context.Context, recording string, hand motion.Hand) (Changed, error) {
	edits, err := f.season.Recut(ctx, recording, hand)
	return f.made(ctx, edits, nil, err)
}

// Rename calls a player otherwise.
func (f *Folder) Rename(ctx context.Context, player, name string) (Changed, error) {
	edits, err := f.season.Rename(ctx, player, name)
	return f.made(ctx, edits, nil, err)
}

func (f *Folder) made(ctx context.Context, edits []season.Edit, serves []motion.ServeID, err error) (Changed, error) {
	if err != nil {
		return Changed{}, err
	}
	changed, err := f.Change(ctx, edits)
	for _, id := range serves {
		changed.Serves = append(changed.Serves, string(id))
	}
	return changed, err
}

// Remove deletes a recording for good.
func (f *Folder) Remove(ctx context.Context, recording string) error {
	w, err := f.write()
	if err != nil {
		return err
	}
	return w.RemoveRecording(ctx, recording)
}

// Undo takes a batch of edits back.
func (f *Folder) Undo(ctx context.Context, batch int64) error {
	w, err := f.write()
	if err != nil {
		return err
	}
	return w.Undo(ctx, batch)
}

// Redo puts a batch of edits in force again.
func (f *Folder) Redo(ctx context.Context, batch int64) error {
	w, err := f.write()
	if err != nil {
		return err
	}
	return w.Redo(ctx, batch)
}

// Verify checks every file of the season.
func (f *Folder) Verify(ctx context.Context, progress func(done, total int)) (season.Report, error) {
	return f.season.Verify(ctx, progress)
}

// Groups lists the groups of serves by name.
func (f *Folder) Groups(ctx context.Context) ([]Group, error) {
	kept, err := f.season.Groups(ctx)
	all := make([]Group, len(kept))
	for i, g := range kept {
		all[i] = Group{g.Name, make([]string, len(g.Serves))}
		for k, id := range g.Serves {
			all[i].Serves[k] = string(id)
		}
	}
	return all, err
}

// SaveGroup keeps a group, or forgets it where it has no serves.
func (f *Folder) SaveGroup(ctx context.Context, g Group) error {
	w, err := f.write()
	if err != nil {
		return err
	}
	if len(g.Serves) == 0 {
		return w.RemoveGroup(ctx, g.Name)
	}
	kept := season.Group{Name: g.Name}
	for _, id := range g.Serves {
		kept.Serves = append(kept.Serves, motion.ServeID(id))
	}
	return w.SaveGroup(ctx, kept)
}

// Serves lists recordings and serves.
func (f *Folder) Serves(ctx context.Context, player, session string) (Listing, error) {
	cat, err := f.season.Snapshot(ctx)
	if err != nil {
		return Listing{}, err
	}
	wanted := func(r catalogue.Recording) bool {
		return (player == "" || r.Player == player) && (session == "" || r.Session == session)
	}
	list := Listing{Recordings: []RecordingLine{}, Serves: []ServeLine{}}
	for i, r := range cat.Recordings() {
		if wanted(r) {
			list.Recordings = append(list.Recordings, RecordingLine{
				Recording: r.ID, File: r.File, Format: r.Format, Player: r.Player, Session: r.Session, Hand: string(r.Hand),
				RateHz: r.RateHz, Seconds: float64(r.Frames) / r.RateHz, Problem: cat.Damaged(i),
			})
		}
	}
	for row := range cat.Rows() {
		if s := cat.Row(row); wanted(cat.Recordings()[s.Recording]) {
			list.Serves = append(list.Serves, serveLine(s, cat.Recordings()[s.Recording]))
		}
	}
	return list, nil
}

func serveLine(s catalogue.Serve, r catalogue.Recording) ServeLine {
	line := ServeLine{
		Serve: string(s.ID), Recording: r.ID, FromS: float64(s.First) / r.RateHz, ToS: float64(s.Last) / r.RateHz,
		LeftOut: s.LeftOut, ServeType: s.Type, StanceType: s.Stance, CourtSide: s.CourtSide, Outcome: s.Outcome,
		BallSpeedMS: s.BallSpeedMS,
	}
	for _, kind := range motion.EventKinds {
		if e, ok := s.Events[kind]; ok {
			if kind == motion.Contact {
				line.ContactS = &e.TimeS
			}
			if e.ByHand {
				line.ByHand = append(line.ByHand, string(kind))
			}
		}
	}
	return line
}

// History lists the last changes of some subjects.
func (f *Folder) History(ctx context.Context, most int, subjects []string) ([]Change, error) {
	batches, err := f.season.History(ctx, most, subjects...)
	if err != nil {
		return nil, err
	}
	cat, err := f.season.Snapshot(ctx)
	if err != nil {
		return nil, err
	}
	changes := make([]Change, len(batches))
	for i, b := range batches {
		c := Change{Batch: b.Number, At: b.At.UTC().Format(time.RFC3339), Sentence: teller{cat}.batch(b.Edits)}
		if !b.Undone.IsZero() {
			c.Undone = b.Undone.UTC().Format(time.RFC3339)
		}
		changes[i] = c
	}
	return changes, nil
}

// teller puts edits into words.
type teller struct{ cat *catalogue.Catalogue }

// batch tells what edits that were made together came to.
func (t teller) batch(edits []season.Made) string {
	first := edits[0]
	same := true
	subjects := map[string]bool{}
	for _, e := range edits {
		same = same && e.Target == first.Target && e.Field == first.Field && e.Value == first.Value
		subjects[e.Subject] = true
	}
	switch {
	case len(edits) == 1:
		return t.edit(first)
	case same:
		first.Before = ""
		return t.said(first, fmt.Sprintf("%d %ss", len(subjects), first.Target))
	}
	return fmt.Sprintf("%s; %s more", t.edit(first), words.Count(len(edits)-1, "change"))
}

func (t teller) edit(m season.Made) string { return t.said(m, t.named(m.Target, m.Subject)) }

// named is what a reader calls the subject of an edit.
func (t teller) named(target season.Target, subject string) string {
	switch target {
	case season.OnServe:
		if s, ok := t.cat.Find(motion.ServeID(subject)); ok {
			rec := t.cat.Recordings()[s.Recording]
			at := fmt.Sprintf("%.1f s", float64(s.First)/rec.RateHz)
			if contact, ok := s.Events[motion.Contact]; ok {
				at = fmt.Sprintf("%.1f s", contact.TimeS)
			}
			return fmt.Sprintf("the serve of %s on %s at %s", cmp.Or(rec.Player, "an unknown player"),
				cmp.Or(rec.Session, "an unknown day"), at)
		}
		return "serve " + subject
	case season.OnRecording:
		for _, r := range t.cat.Recordings() {
			if r.ID == subject {
				return r.File
			}
		}
		return "recording " + subject
	}
	return subject
}

// said tells what an edit says of somebody or something.
func (t teller) said(m season.Made, of string) string {
	if kind, ok := strings.CutPrefix(m.Field, "event."); ok {
		return movedEvent(strings.ReplaceAll(kind, "_", " "), of, m)
	}
	value := cmp.Or(m.Value, "unknown")
	switch {
	case m.Target == season.OnTable && m.Value == "":
		return "Table " + of + " taken out"
	case m.Target == season.OnTable && m.Before == "":
		return "Table " + of + " kept"
	case m.Target == season.OnTable:
		return "Table " + of + " kept in place of the one before"
	case m.Field == "discarded" && m.Value == "":
		return words.Capital(of) + " taken in again"
	case m.Field == "discarded":
		return fmt.Sprintf("%s left out: %s", words.Capital(of), m.Value)
	case m.Field == "cut_off" && m.Value == "":
		return words.Capital(of) + " counted as whole"
	case m.Field == "cut_off":
		return fmt.Sprintf("%s counted as cut off: %s", words.Capital(of), m.Value)
	case m.Field == "cut":
		return words.Capital(of) + ": serves found again"
	case strings.HasPrefix(m.Field, "serve."):
		return words.Capital(of) + ": a serve cut by hand"
	}
	text := fmt.Sprintf("%s of %s: %s", fieldTitles[m.Field], of, value)
	if m.Before != "" && m.Before != m.Value {
		text += ", before: " + m.Before
	}
	return text
}

// fieldTitles are what a reader calls the fields of edits.
var fieldTitles = map[string]string{
	"serve_type": "Serve type", "stance_type": "Stance type", "court_side": "Court side",
	"ball_speed_m_s": "Ball speed, m/s", "outcome": "Outcome",
	"stretch": "Frames", "player": "Player", "session": "Session", "hand": "Hitting hand", "height_m": "Height, m",
	"level": "Level", "birth_year": "Birth year",
}

func movedEvent(event, of string, m season.Made) string {
	seconds := func(text string) string {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return "an unknown time"
		}
		return fmt.Sprintf("%.3f s", v)
	}
	switch {
	case m.Value == "":
		return fmt.Sprintf("%s of %s taken out", words.Capital(event), of)
	case m.Before == "":
		return fmt.Sprintf("%s of %s set at %s", words.Capital(event), of, seconds(m.Value))
	}
	return fmt.Sprintf("%s of %s moved from %s to %s", words.Capital(event), of, seconds(m.Before), seconds(m.Value))
}
