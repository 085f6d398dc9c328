package season

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"tossline/datasets/catalogue"
	"tossline/datasets/frames"
	"tossline/datasets/recording"
	"tossline/kernel/motion"
)

// cut is a serve as it is written into the value of an edit.
type cut struct {
	ID     motion.ServeID `json:"id,omitempty"` // of serves found again; those cut by hand have it in the field
	First  int            `json:"first"`
	Last   int            `json:"last"`
	Events motion.Events  `json:"events"`
	CutOff string         `json:"cut_off,omitempty"`
}

func cutOf(s motion.Serve) cut {
	return cut{First: s.First, Last: s.Last, Events: s.Events, CutOff: cutOffWhy(s)}
}

// serve is a cut at another frame rate than it was made at: the frames count.
func (c cut) serve(id motion.ServeID, recording int, scale float64) catalogue.Serve {
	s := catalogue.Serve{ID: id, Recording: recording, First: c.First, Last: c.Last, Events: c.Events}
	if scale != 1 {
		s.Events = maps.Clone(c.Events)
		for kind, e := range s.Events {
			e.TimeS *= scale
			s.Events[kind] = e
		}
	}
	return s
}

// cuts are the serves in the value of an edit; nil where it holds none.
func (e Edit) cuts() []cut {
	var one cut
	var all []cut
	switch {
	case e.Field == cutField && json.Unmarshal([]byte(e.Value), &all) == nil:
		return all
	case strings.HasPrefix(e.Field, serveField) && json.Unmarshal([]byte(e.Value), &one) == nil:
		return []cut{one}
	}
	return nil
}

func (e Edit) checkCut() error {
	if e.Value == "" || e.Field == cutField && e.Value == "[]" {
		return nil
	}
	all := e.cuts()
	wrong := len(all) == 0
	for _, c := range all {
		wrong = wrong || c.First < 0 || c.Last < c.First
	}
	if wrong {
		return fmt.Errorf("recording %s: a serve that is cut needs a first and a last frame", e.Subject)
	}
	for _, id := range e.named() {
		hundredths, ours := strings.CutPrefix(id, e.Subject+"-")
		if !ours || hundredths == "" || len(hundredths) > 9 || strings.Trim(hundredths, "0123456789") != "" {
			return fmt.Errorf("recording %s: %q is no id of a serve of it", e.Subject, id)
		}
	}
	return nil
}

// nameCut makes the serves of a new cut known, so that people can speak of them.
func nameCut(ctx context.Context, tx *sql.Tx, e Edit, rateHz float64) error {
	for _, c := range e.cuts() {
		_, err := tx.ExecContext(ctx, `insert into serves (id, recording, first_frame, last_frame, anchor_s, found)
			values (?, ?, ?, ?, ?, 0) on conflict (id) do nothing`, string(c.ID), e.Subject, c.First, c.Last,
			anchor(motion.Serve{First: c.First, Last: c.Last, Events: c.Events}, rateHz))
		if err != nil {
			return err
		}
	}
	return nil
}

// cutByHand gives the edits that add serves cut by hand to a recording, and the ids that they have from then on.
func (s *Season) cutByHand(ctx context.Context, recording string, serves ...motion.Serve) (
	edits []Edit, ids []motion.ServeID, err error) {
	rateHz, err := s.rateOf(ctx, recording)
	if err != nil {
		return nil, nil, err
	}
	taken, err := s.serveIDs(ctx, recording)
	if err != nil {
		return nil, nil, describe(err)
	}
	for _, serve := range serves {
		id := newServeID(recording, anchor(serve, rateHz), taken)
		taken[id] = true
		text, err := json.Marshal(cutOf(serve))
		if err != nil {
			return nil, nil, errors.New("the times of the serve are no numbers")
		}
		ids = append(ids, id)
		edits = append(edits, Edit{OnRecording, recording, serveField + string(id), string(text)})
	}
	return edits, ids, nil
}

func (s *Season) rateOf(ctx context.Context, recording string) (rateHz float64, err error) {
	err = s.db.QueryRowContext(ctx, "select rate_hz from recordings where id = ?", recording).Scan(&rateHz)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, fmt.Errorf("no recording %s in this season", recording)
	}
	return rateHz, describe(err)
}

// serveIDs are all ids that were ever given to serves of a recording.
func (s *Season) serveIDs(ctx context.Context, recording string) (map[motion.ServeID]bool, error) {
	rows, err := s.db.QueryContext(ctx, `select id from serves where recording = ?1 union
		select substr(field, 7) from edits where target = 'recording' and subject = ?1 and field like 'serve.%'`, recording)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	ids := map[motion.ServeID]bool{}
	for rows.Next() {
		var id motion.ServeID
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		ids[id] = true
	}
	return ids, rows.Err()
}

// Split gives the edits that make two serves of one, which is left out from then on: the second begins at atS seconds
// from the start of the recording. The events of both are found anew within their stretch; where none are found there,
// each keeps those of the old serve that lie in it.
func (s *Season) Split(ctx context.Context, id motion.ServeID, atS float64) ([]Edit, []motion.ServeID, error) {
	p, err := s.piecesOf(ctx, id)
	if err != nil {
		return nil, nil, err
	}
	at := int(atS * p.take.Rate)
	if !(at > p.first && at <= p.last) {
		return nil, nil, fmt.Errorf("a serve from %.2f to %.2f s can't be split at %.2f s",
			float64(p.first)/p.take.Rate, float64(p.last)/p.take.Rate, atS)
	}
	before, err := p.cut(p.first, at-1)
	if err != nil {
		return nil, nil, err
	}
	after, err := p.cut(at, p.last)
	if err != nil {
		return nil, nil, err
	}
	edits, ids, err := s.cutByHand(ctx, p.recording, before, after)
	if err != nil {
		return nil, nil, err
	}
	return append([]Edit{Discard(id, "split in two")}, edits...), ids, nil
}

// Merge gives the edits that make one serve of several of one recording, which are left out from then on. Its events
// are found as those of Split are.
func (s *Season) Merge(ctx context.Context, serves ...motion.ServeID) ([]Edit, motion.ServeID, error) {
	if len(serves) < 2 {
		return nil, "", errors.New("merging takes two serves or more")
	}
	p, err := s.piecesOf(ctx, serves...)
	if err != nil {
		return nil, "", err
	}
	whole, err := p.cut(p.first, p.last)
	if err != nil {
		return nil, "", err
	}
	edits, ids, err := s.cutByHand(ctx, p.recording, whole)
	if err != nil {
		return nil, "", err
	}
	for _, id := range serves {
		edits = append(edits, Discard(id, "merged with another"))
	}
	return edits, ids[0], nil
}

// pieces is the stretch of one recording that some serves span together.
type pieces struct {
	recording   string
	take        motion.Take
	first, last int
	events      motion.Events // of the serves: of each kind the first
}

func (s *Season) piecesOf(ctx context.Context, serves ...motion.ServeID) (*pieces, error) {
	c, err := s.Snapshot(ctx)
	if err != nil {
		return nil, err
	}
	var p *pieces
	of := -1
	for _, id := range serves {
		serve, ok := c.Find(id)
		switch {
		case !ok:
			return nil, fmt.Errorf("no serve %s in this season", id)
		case p == nil:
			of = serve.Recording
			p = &pieces{recording: c.Recordings()[of].ID, first: serve.First, last: serve.Last, events: motion.Events{}}
			if p.take, err = c.Take(of); err != nil {
				return nil, err
			}
		case serve.Recording != of:
			return nil, fmt.Errorf("serves %s and %s are not of one recording", serves[0], id)
		}
		p.first, p.last = min(p.first, serve.First), max(p.last, serve.Last)
		for kind, e := range serve.Events {
			if old, ok := p.events[kind]; !ok || e.TimeS < old.TimeS {
				p.events[kind] = e
			}
		}
	}
	return p, nil
}

// cut makes a serve of a stretch of the recording.
func (p *pieces) cut(first, last int) (motion.Serve, error) {
	width := 3 * p.take.Layout.Len()
	stretch := p.take
	stretch.Cutoffs = nil // as an import finds them
	stretch.Frames = p.take.Frames[first*width : (last+1)*width]
	var found motion.Found
	err := frames.Guard(func() error {
		found = motion.Cut(stretch)
		return nil
	})
	if err != nil {
		return motion.Serve{}, err
	}
	serve := motion.Serve{First: first, Last: last, Events: motion.Events{}}
	start := float64(first) / p.take.Rate
	if best := slices.IndexFunc(found.Serves, func(s motion.Serve) bool { return !s.CutOff }); best >= 0 {
		for kind, e := range found.Serves[best].Events {
			e.TimeS += start
			serve.Events[kind] = e
		}
		return serve, nil
	}
	for kind, e := range p.events {
		if e.TimeS >= start && e.TimeS <= float64(last)/p.take.Rate {
			serve.Events[kind] = e
		}
	}
	_, released := serve.Events[motion.Release]
	if _, met := serve.Events[motion.Contact]; !met || !released {
		serve.CutOff, serve.CutOffWhy = true, "no release or no contact was found in it; set them by hand"
	}
	return serve, nil
}

// Recut gives the edit that finds the serves of a recording again, with this version's way of cutting, in place of
// those that the import found. hand is the hitting hand, HandUnknown to leave it as it is. Serves that are found where
// one was before keep its id, and with it everything that people said of it; serves that were cut by hand stay. A later
// import of the same file that finds other serves takes the place of this.
func (s *Season) Recut(ctx context.Context, id string, hand motion.Hand) ([]Edit, error) {
	c, err := s.Snapshot(ctx)
	if err != nil {
		return nil, err
	}
	of := slices.IndexFunc(c.Recordings(), func(r catalogue.Recording) bool { return r.ID == id })
	if of < 0 {
		return nil, fmt.Errorf("no recording %s in this season", id)
	}
	take, err := c.Take(of)
	if err != nil {
		return nil, err
	}
	take.Hand, take.Cutoffs = cmp.Or(hand, take.Hand), nil // as an import finds them
	var found motion.Found
	if err := frames.Guard(func() (err error) {
		found, err = recording.Cut(ctx, take, nil)
		return err
	}); err != nil {
		return nil, err
	}
	if err := checkHand(string(take.Hand)); err != nil {
		return nil, err
	}
	cuts, err := s.named(ctx, id, found.Serves, take.Rate)
	if err != nil {
		return nil, err
	}
	text, err := json.Marshal(cuts)
	if err != nil {
		return nil, fmt.Errorf("the times of the serves found are no numbers: %w", err)
	}
	edits := []Edit{{OnRecording, id, cutField, string(text)}}
	if hand != motion.HandUnknown {
		edits = append(edits, Edit{OnRecording, id, "hand", string(hand)})
	}
	return edits, nil
}

// named gives serves that were found again the ids of those that they are.
func (s *Season) named(ctx context.Context, recording string, serves []motion.Serve, rateHz float64) ([]cut, error) {
	tx, err := s.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, describe(err)
	}
	defer tx.Rollback()
	known, err := readStoredServes(ctx, tx, &stored{id: recording, rateHz: rateHz})
	if err != nil {
		return nil, describe(err)
	}
	taken, err := s.serveIDs(ctx, recording)
	if err != nil {
		return nil, describe(err)
	}
	matched := match(known, serves, rateHz, 1)
	cuts := make([]cut, len(serves))
	for i, serve := range serves {
		cuts[i] = cutOf(serve)
		if cuts[i].ID = matched[i]; cuts[i].ID == "" {
			cuts[i].ID = newServeID(recording, anchor(serve, rateHz), taken)
			taken[cuts[i].ID] = true
		}
	}
	return cuts, nil
}

// Rename gives the edits that call a player otherwise: every recording, and what is known of the player where nothing
// is known of one of that name.
func (s *Season) Rename(ctx context.Context, player, name string) ([]Edit, error) {
	if err := checkPlayer(name); err != nil {
		return nil, err
	}
	c, err := s.Snapshot(ctx)
	if err != nil {
		return nil, err
	}
	var edits []Edit
	for _, r := range c.Recordings() {
		if r.Player == player {
			edits = append(edits, Edit{OnRecording, r.ID, "player", name})
		}
	}
	if len(edits) == 0 || player == name {
		return nil, fmt.Errorf("no recordings of a player called %q that are not called so already", player)
	}
	players, err := s.Players(ctx)
	if err != nil {
		return nil, err
	}
	known := map[string]Player{}
	for _, p := range players {
		known[p.Name] = p
	}
	old, new := known[player], known[name]
	for _, f := range []struct {
		field string
		value string
		has   bool
	}{
		{"height_m", fmt.Sprint(old.HeightM), old.HeightM != 0 && new.HeightM == 0},
		{"level", old.Level, old.Level != "" && new.Level == ""},
		{"birth_year", fmt.Sprint(old.BirthYear), old.BirthYear != 0 && new.BirthYear == 0},
	} {
		if f.has {
			edits = append(edits, Edit{OnPlayer, name, f.field, f.value})
		}
	}
	return edits, nil
}
