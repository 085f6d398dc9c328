package season

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"tossline/datasets/catalogue"
	"tossline/kernel/motion"
)

// Snapshot gives the season at its present revision. While nothing changes, the same catalogue is given again.
func (s *Season) Snapshot(ctx context.Context) (*catalogue.Catalogue, error) {
	var stamp string
	if err := s.db.QueryRowContext(ctx, "select stamp from season").Scan(&stamp); err != nil {
		return nil, describe(err)
	}
	s.mu.Lock()
	current := s.current
	s.mu.Unlock()
	if current != nil && current.Stamp() == stamp {
		return current, nil
	}
	c, err := s.restoreList(stamp)
	if err != nil {
		if c, err = s.readCatalogue(ctx); err != nil {
			return nil, describe(err)
		}
		s.saveList(c)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.current = c
	return c, nil
}

// readCatalogue reads every row of the season, at one moment.
func (s *Season) readCatalogue(ctx context.Context) (*catalogue.Catalogue, error) {
	tx, err := s.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, err
	}
	defer tx.Rollback()
	var content catalogue.Content
	if err := tx.QueryRowContext(ctx, "select id, revision, stamp from season").
		Scan(&content.Season, &content.Revision, &content.Stamp); err != nil {
		return nil, err
	}
	said, err := readEdits(ctx, tx)
	if err != nil {
		return nil, err
	}
	if content.Recordings, err = readRecordings(ctx, tx, said); err != nil {
		return nil, err
	}
	if content.Serves, err = readServes(ctx, tx, said, content.Recordings); err != nil {
		return nil, err
	}
	if content.Tables, err = readTables(ctx, tx, said); err != nil {
		return nil, err
	}
	return catalogue.New(content, s.access()), nil
}

// forget lets a file be mapped anew. The old mapping stays: catalogues read from it.
func (s *Season) forget(sha256 string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if file := s.files[sha256]; file != nil {
		s.replaced = append(s.replaced, file)
		delete(s.files, sha256)
	}
	if file := s.tables[sha256]; file != nil {
		s.replaced = append(s.replaced, file)
		delete(s.tables, sha256)
	}
	s.current = nil
}

// said is the edits in force: by target and subject, then field. The newest of a field is the last word.
type said map[subject]map[string]word

type subject struct {
	target Target
	id     string
}

// word is the value of an edit in force; "" where it says unknown.
type word struct {
	value  string
	rateHz float64
}

func readEdits(ctx context.Context, tx *sql.Tx) (said, error) {
	rows, err := tx.QueryContext(ctx, `select target, subject, field, coalesce(value, ''), coalesce(rate_hz, 0)
		from edits where undone_at is null order by id`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	all := said{}
	for rows.Next() {
		var on subject
		var field string
		var w word
		if err := rows.Scan(&on.target, &on.id, &field, &w.value, &w.rateHz); err != nil {
			return nil, err
		}
		if all[on] == nil {
			all[on] = map[string]word{}
		}
		all[on][field] = w
	}
	return all, rows.Err()
}

// scale turns times that were said into those of a recording whose rate was understood otherwise since.
func (w word) scale(rateHz float64) float64 {
	if w.rateHz > 0 {
		return w.rateHz / rateHz
	}
	return 1
}

// text gives what was said of a field, or else what was found.
func (s said) text(target Target, id, field, found string) string {
	if w, ok := s[subject{target, id}][field]; ok {
		return w.value
	}
	return found
}

// number is text for numbers; 0 stands for unknown.
func (s said) number(target Target, id, field string, found float64) float64 {
	if w, ok := s[subject{target, id}][field]; ok {
		v, _ := strconv.ParseFloat(w.value, 64)
		return v
	}
	return found
}

// readRecordings gives the recordings in the order of their ids, with what is known of their players.
func readRecordings(ctx context.Context, tx *sql.Tx, said said) ([]catalogue.Recording, error) {
	players, err := readPlayers(ctx, tx, said)
	if err != nil {
		return nil, err
	}
	rows, err := tx.QueryContext(ctx, `select id, file, format, frames_sha256, frames, rate_hz, coalesce(player, ''),
		coalesce(session, ''), coalesce(hand, ''), coalesce(cutoffs_hz, '') from recordings order by id`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var recordings []catalogue.Recording
	for rows.Next() {
		var r catalogue.Recording
		var cutoffs string
		if err := rows.Scan(&r.ID, &r.File, &r.Format, &r.FramesSHA256, &r.Frames, &r.RateHz, &r.Player, &r.Session,
			&r.Hand, &cutoffs); err != nil {
			return nil, err
		}
		if json.Unmarshal([]byte(cutoffs), &r.CutoffsHz) != nil {
			r.CutoffsHz = nil // not ours: the program chooses
		}
		r.Player = said.text(OnRecording, r.ID, "player", r.Player)
		r.Session = said.text(OnRecording, r.ID, "session", r.Session)
		r.Hand = motion.Hand(said.text(OnRecording, r.ID, "hand", string(r.Hand)))
		p := players[r.Player]
		r.HeightM, r.Level, r.BirthYear = p.HeightM, p.Level, p.BirthYear
		recordings = append(recordings, r)
	}
	return recordings, rows.Err()
}

// Player is what the season knows of a player.
type Player struct {
	Name      string  `json:"name"`
	HeightM   float64 `json:"height_m,omitempty"` // 0 where unknown
	Level     string  `json:"level,omitempty"`
	BirthYear int     `json:"birth_year,omitempty"`
}

// Players lists the players that the season knows of, by name, with or without recordings.
func (s *Season) Players(ctx context.Context) ([]Player, error) {
	tx, err := s.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, describe(err)
	}
	defer tx.Rollback()
	said, err := readEdits(ctx, tx)
	if err != nil {
		return nil, describe(err)
	}
	byName, err := readPlayers(ctx, tx, said)
	if err != nil {
		return nil, describe(err)
	}
	players := make([]Player, 0, len(byName))
	for _, p := range byName {
		players = append(players, p)
	}
	slices.SortFunc(players, func(a, b Player) int { return cmp.Compare(a.Name, b.Name) })
	return players, nil
}

func readPlayers(ctx context.Context, tx *sql.Tx, said said) (map[string]Player, error) {
	rows, err := tx.QueryContext(ctx, `select name, coalesce(height_m, 0), coalesce(level, ''), coalesce(birth_year, 0)
		from players`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	players := map[string]Player{}
	for rows.Next() {
		var p Player
		if err := rows.Scan(&p.Name, &p.HeightM, &p.Level, &p.BirthYear); err != nil {
			return nil, err
		}
		p.HeightM = said.number(OnPlayer, p.Name, "height_m", p.HeightM)
		p.Level = said.text(OnPlayer, p.Name, "level", p.Level)
		p.BirthYear = int(said.number(OnPlayer, p.Name, "birth_year", float64(p.BirthYear)))
		players[p.Name] = p
	}
	return players, rows.Err()
}

// readServes gives the serves in force: those that the last import found, those it did not find but that have events
// set by hand, and those that were cut by hand.
func readServes(ctx context.Context, tx *sql.Tx, said said, recordings []catalogue.Recording) (
	[]catalogue.Serve, error) {
	events, err := readEvents(ctx, tx)
	if err != nil {
		return nil, err
	}
	index := make(map[string]int, len(recordings))
	for i, r := range recordings {
		index[r.ID] = i
	}
	rows, err := tx.QueryContext(ctx, `select id, recording, first_frame, last_frame, coalesce(cut_off_why, ''), found
		from serves`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	recuts := said.recuts(recordings)
	var serves []catalogue.Serve
	for rows.Next() {
		var s catalogue.Serve
		var recording, cutOff string
		var found bool
		if err := rows.Scan(&s.ID, &recording, &s.First, &s.Last, &cutOff, &found); err != nil {
			return nil, err
		}
		s.Recording, s.Events = index[recording], events[s.ID]
		if again, ok := recuts[recording]; ok {
			var c cut
			if c, found = again.serves[s.ID]; found {
				s, cutOff = c.serve(s.ID, s.Recording, again.scale), c.CutOff
			}
		}
		if found || said.hasEvents(s.ID) {
			serves = append(serves, said.apply(s, cutOff, recordings))
		}
	}
	byHand := said.handCuts(recordings)
	return append(said.without(serves, byHand), byHand...), rows.Err()
}

// without leaves out what was found where somebody has cut the same serve by hand, unless people spoke of whether that
// is one.
func (s said) without(found, byHand []catalogue.Serve) []catalogue.Serve {
	cut := map[int][]float64{} // by recording: contacts of the serves that were cut by hand
	for _, h := range byHand {
		cut[h.Recording] = append(cut[h.Recording], h.ContactS())
	}
	return slices.DeleteFunc(found, func(f catalogue.Serve) bool {
		_, spoken := s[subject{OnServe, string(f.ID)}]["discarded"]
		return !spoken && slices.ContainsFunc(cut[f.Recording], func(contactS float64) bool {
			return math.Abs(contactS-f.ContactS()) <= SameServeS
		})
	})
}

// recut is the serves of a recording that were found again.
type recut struct {
	serves map[motion.ServeID]cut
	scale  float64 // of their times
}

// recuts gives the recordings whose serves were found again.
func (s said) recuts(recordings []catalogue.Recording) map[string]recut {
	all := map[string]recut{}
	for _, r := range recordings {
		w, ok := s[subject{OnRecording, r.ID}][cutField]
		if !ok || w.value == "" {
			continue
		}
		again := recut{map[motion.ServeID]cut{}, w.scale(r.RateHz)}
		for _, c := range (Edit{OnRecording, r.ID, cutField, w.value}).cuts() {
			again.serves[c.ID] = c
		}
		all[r.ID] = again
	}
	return all
}

func readEvents(ctx context.Context, tx *sql.Tx) (map[motion.ServeID]motion.Events, error) {
	rows, err := tx.QueryContext(ctx, "select serve, kind, time_s, method, confidence, stand_in from events")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	all := map[motion.ServeID]motion.Events{}
	for rows.Next() {
		var serve motion.ServeID
		var kind motion.EventKind
		var e motion.Event
		if err := rows.Scan(&serve, &kind, &e.TimeS, &e.Method, &e.Confidence, &e.StandIn); err != nil {
			return nil, err
		}
		if all[serve] == nil {
			all[serve] = make(motion.Events, len(motion.EventKinds))
		}
		all[serve][kind] = e
	}
	return all, rows.Err()
}

// hasEvents tells whether a person set an event of a serve.
func (s said) hasEvents(id motion.ServeID) bool {
	for field := range s[subject{OnServe, string(id)}] {
		if strings.HasPrefix(field, eventField) {
			return true
		}
	}
	return false
}

// apply puts what people said of a serve over what was found.
func (s said) apply(serve catalogue.Serve, cutOff string, recordings []catalogue.Recording) catalogue.Serve {
	id, r := string(serve.ID), &recordings[serve.Recording]
	serve.Events = motion.ApplyCorrections(serve.Events, s.corrections(serve.ID, r.RateHz))
	serve.Type = s.text(OnServe, id, "serve_type", "")
	serve.Stance = s.text(OnServe, id, "stance_type", "")
	serve.CourtSide = s.text(OnServe, id, "court_side", "")
	serve.Outcome = s.text(OnServe, id, "outcome", "")
	serve.BallSpeedMS = s.number(OnServe, id, "ball_speed_m_s", 0)
	if stretch := s.text(OnServe, id, "stretch", ""); stretch != "" {
		serve.First, serve.Last, _ = parseStretch(stretch)
	}
	// A recording that was understood otherwise may have fewer frames than it had when people spoke of it.
	serve.Last = min(serve.Last, r.Frames-1)
	serve.First = min(serve.First, serve.Last)
	if completed(serve.Events) {
		cutOff = ""
	}
	if why := s.text(OnServe, id, "cut_off", cutOff); why != "" {
		serve.LeftOut = "cut off: " + why
	}
	if why := s.text(OnServe, id, "discarded", ""); why != "" {
		serve.LeftOut = "discarded: " + why
	}
	return serve
}

// completed tells whether a person set what a serve that is cut off lacks.
func completed(events motion.Events) bool {
	release, released := events[motion.Release]
	contact, met := events[motion.Contact]
	return released && met && (release.ByHand || contact.ByHand)
}

// corrections gives the events of a serve that a person set. Should the recording's rate have been understood otherwise
// since, the frame counts, not the second.
func (s said) corrections(id motion.ServeID, rateHz float64) []motion.Correction {
	words := s[subject{OnServe, string(id)}]
	var corrections []motion.Correction
	for _, kind := range motion.EventKinds {
		w, ok := words[eventField+string(kind)]
		if !ok {
			continue
		}
		time, err := strconv.ParseFloat(w.value, 64)
		corrections = append(corrections, motion.Correction{Kind: kind, TimeS: time * w.scale(rateHz), Absent: err != nil})
	}
	return corrections
}

// handCuts gives the serves that were cut by hand.
func (s said) handCuts(recordings []catalogue.Recording) []catalogue.Serve {
	var serves []catalogue.Serve
	for i, r := range recordings {
		for field, w := range s[subject{OnRecording, r.ID}] {
			id, ok := strings.CutPrefix(field, serveField)
			if !ok {
				continue
			}
			for _, c := range (Edit{OnRecording, r.ID, field, w.value}).cuts() {
				serves = append(serves, s.apply(c.serve(motion.ServeID(id), i, w.scale(r.RateHz)), c.CutOff, recordings))
			}
		}
	}
	return serves
}

// access is how this season's catalogues get at its files.
func (s *Season) access() catalogue.Access {
	return catalogue.Access{
		Frames:        s.frames,
		Table:         s.table,
		Measured:      s.readMeasured,
		MeasuredFiles: s.measuredFiles(),
	}
}

// listName is the cached list of the season's serves: reading every row of a large season takes longer than it should.
const listName = "serves.list"

func (s *Season) restoreList(stamp string) (*catalogue.Catalogue, error) {
	data, err := os.ReadFile(filepath.Join(s.dir, cacheDir, listName))
	if err != nil {
		return nil, err
	}
	return catalogue.Restore(data, stamp, s.access())
}

// saveList caches the list. That it can't be written (a read-only folder, a full disk) costs time, and nothing else.
func (s *Season) saveList(c *catalogue.Catalogue) {
	if data, _, err := c.Encode(); err == nil {
		replaceFile(filepath.Join(s.dir, cacheDir, listName), data)
	}
}

// replaceFile writes a file of the cache whole or not at all. It isn't synced: what a power cut damages is found by its
// hash and made again.
func replaceFile(path string, data []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), incoming+"*")
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		os.Remove(f.Name())
	}
	return err
}

// readMeasured gives the bytes of a file of measured values, or nil.
func (s *Season) readMeasured(name string) []byte {
	data, err := os.ReadFile(filepath.Join(s.dir, filepath.FromSlash(name)))
	if err != nil {
		return nil
	}
	return data
}

func (s *Season) measuredFiles() []string {
	entries, err := os.ReadDir(filepath.Join(s.dir, cacheDir))
	if err != nil {
		return nil
	}
	var names []string
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), catalogue.MeasuredExtension) {
			names = append(names, cacheDir+"/"+e.Name())
		}
	}
	return names
}

// KeepMeasured puts values that were computed into the cache, where the next snapshot finds them. It needs no lock: the
// cache may lose values to another process that writes at the same moment, and holds none that are wrong.
func (s *Season) KeepMeasured(ctx context.Context, all ...catalogue.Measured) error {
	c, err := s.Snapshot(ctx)
	if err != nil {
		return err
	}
	for _, m := range all {
		if len(m.Keys) == 0 {
			continue
		}
		if err := s.keepMeasured(c, m); err != nil {
			return err
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.current = nil
	return nil
}

func (s *Season) keepMeasured(c *catalogue.Catalogue, m catalogue.Measured) error {
	old, err := catalogue.DecodeMeasured(s.readMeasured(m.FileName()))
	if err == nil && old.Measure == m.Measure && old.Version == m.Version {
		m = old.Merge(m)
	}
	// Values of serves as they were before an edit are kept for when it is undone, but not for ever.
	if len(m.Keys) > 2*c.Rows()+1000 {
		m = m.Only(c)
	}
	data, err := m.Encode()
	if err != nil {
		return err
	}
	if err := replaceFile(filepath.Join(s.dir, filepath.FromSlash(m.FileName())), data); err != nil {
		return err
	}
	return s.dropOtherVersions(m)
}

// dropOtherVersions removes the values of other versions of a measure.
func (s *Season) dropOtherVersions(m catalogue.Measured) error {
	for _, name := range s.measuredFiles() {
		if strings.HasPrefix(name, cacheDir+"/"+m.Measure+".") && name != m.FileName() {
			if err := os.Remove(filepath.Join(s.dir, filepath.FromSlash(name))); err != nil && !os.IsNotExist(err) {
				return err
			}
		}
	}
	return nil
}

// unmap closes every mapping of the season.
func (s *Season) unmap() {
	for hash, file := range s.files {
		file.Close()
		delete(s.files, hash)
	}
	for hash, file := range s.tables {
		file.Close()
		delete(s.tables, hash)
	}
	for _, file := range s.replaced {
		file.Close()
	}
	s.replaced = nil
}
