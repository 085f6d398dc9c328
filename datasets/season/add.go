package season

import (
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"math"
	"regexp"
	"slices"
	"time"

	"tossline/datasets/frames"
	"tossline/datasets/landmark"
	"tossline/datasets/recording"
	"tossline/kernel/motion"
)

// Import is one recording to be added: what was read from a file, turned into the global frame and cut into serves.
type Import struct {
	File         string // base name of the file
	SourceSHA256 string // of the file's bytes, lower-case hex
	Format       string // "bvh", "csv", ...

	RateHz float64
	Layout *landmark.Layout
	Frames []float32 // as in motion.Take
	Hand   motion.Hand

	CutoffsHz []float64 // as motion.Take.Cutoffs; nil where none were chosen

	// The particulars that are known; empty or 0 leaves what the season has.
	Player    string
	Session   string // ISO date
	HeightM   float64
	Level     string
	BirthYear int

	// Guesses, which give way to what the season has.
	PlayerGuess, SessionGuess string

	Serves        []motion.Serve
	Signals       []frames.Signal // what was recorded beside the points
	Understanding json.RawMessage // how the file was understood, kept as it is
}

// ImportsOf gives the imports of all recordings of a file. A recording that must not be imported is an error, which
// says why.
func ImportsOf(p *recording.Prepared) iter.Seq2[Import, error] {
	return func(yield func(Import, error) bool) {
		for _, one := range p.All() {
			imp, err := ImportOf(one)
			if refused := one.Understanding.Failed(); refused != nil {
				err = errors.New(refused.Text)
			}
			if !yield(imp, err) {
				return
			}
		}
	}
}

// ImportOf turns a recording that was read and understood into an import. What was only guessed of player and session
// gives way to what the season has; a guessed height is no particular of the player.
func ImportOf(p *recording.Prepared) (Import, error) {
	u := &p.Understanding
	text, err := json.Marshal(u)
	if err != nil {
		return Import{}, fmt.Errorf("%s: keeping how the file was understood: %w", u.File, err)
	}
	imp := Import{
		File: u.File, SourceSHA256: u.SHA256, Format: u.Format,
		RateHz: p.Take.Rate, Layout: p.Take.Layout, Frames: p.Take.Frames, Hand: p.Take.Hand,
		CutoffsHz: p.Take.Cutoffs,
		Serves:    p.Serves, Understanding: text,
	}
	if u.Part != "" {
		imp.File += ": " + u.Part
	}
	for _, s := range u.Signals {
		imp.Signals = append(imp.Signals, frames.Signal(s))
	}
	imp.Player, imp.PlayerGuess = sureOrGuess(u.Player)
	imp.Session, imp.SessionGuess = sureOrGuess(u.Session)
	if u.Height.Source == recording.Said || u.Height.Source == recording.InFile {
		imp.HeightM = u.Height.Value
	}
	return imp, nil
}

func sureOrGuess(f recording.Fact[string]) (sure, guess string) {
	if f.Source == recording.Guessed {
		return "", f.Value
	}
	return f.Value, ""
}

// Outcome says what adding a recording came to.
type Outcome string

// The outcomes.
const (
	New      Outcome = "new"
	Same     Outcome = "already there" // same file, same interpretation: nothing changed
	Replaced Outcome = "replaced"      // same file, another interpretation
	Repaired Outcome = "repaired"      // already there, but its frames file was missing or damaged
)

// Added says what became of an Import.
type Added struct {
	Recording string           `json:"recording"`
	Outcome   Outcome          `json:"outcome"`
	Serves    []motion.ServeID `json:"serves"` // in the order of Import.Serves
}

// recordingIDLength is the number of hex digits of the source's hash that name a recording.
const recordingIDLength = 12

// AddRecording adds one recording, whole or not at all. When it returns without error, the recording is on the disk.
// The same file with the same interpretation changes nothing. With another interpretation it replaces the recording:
// serves whose contact lies within 0.15 s of an old one keep its id, and with it everything that people said of it.
func (w *Writer) AddRecording(ctx context.Context, imp Import) (Added, error) {
	added, err := w.AddAll(ctx, func(yield func(Import, error) bool) { yield(imp, nil) })
	if err != nil {
		return Added{}, err
	}
	return added[0], nil
}

// AddAll adds several recordings in one transaction: all or none. It takes one import at a time, whose frames may be
// reused when the next is asked for. An error of the sequence ends it, and nothing is added.
func (w *Writer) AddAll(ctx context.Context, imports iter.Seq2[Import, error]) ([]Added, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	stage := newStage(w.Season)
	defer stage.discard()
	for imp, err := range imports {
		if err != nil {
			return nil, err
		}
		if err := imp.check(); err != nil {
			return nil, fmt.Errorf("%s: %w", imp.File, err)
		}
		if err := stage.add(ctx, imp); err != nil {
			return nil, fmt.Errorf("%s: storing the frames: %w", imp.File, describeFile(err))
		}
	}
	if err := stage.settle(ctx); err != nil {
		return nil, fmt.Errorf("storing the frames: %w", describeFile(err))
	}
	added := make([]Added, len(stage.staged))
	err := inTransaction(ctx, w.out, func(tx *sql.Tx) error {
		for i, s := range stage.staged {
			var err error
			if added[i], err = put(ctx, tx, s); err != nil {
				return fmt.Errorf("%s: %w", s.File, err)
			}
		}
		return nil
	})
	if err != nil {
		return nil, describe(err)
	}
	stage.keep(added)
	return added, nil
}

var hexSHA256 = regexp.MustCompile(`^[0-9a-f]{64}$`)

// check refuses an import that would not make a sound recording.
func (imp *Import) check() error {
	if !hexSHA256.MatchString(imp.SourceSHA256) {
		return fmt.Errorf("the hash of the file is %q, expected 64 hex digits", imp.SourceSHA256)
	}
	if imp.Layout == nil || imp.Layout.Len() == 0 {
		return errors.New("no landmarks")
	}
	if len(imp.Frames) == 0 {
		return errors.New("no frames")
	}
	for _, date := range []string{imp.Session, imp.SessionGuess} {
		if err := checkDate(date); date != "" && err != nil {
			return err
		}
	}
	if err := checkHand(string(imp.Hand)); err != nil {
		return err
	}
	if imp.HeightM != 0 {
		if err := checkHeight(imp.HeightM); err != nil {
			return err
		}
	}
	if len(imp.CutoffsHz) > imp.Layout.Len() {
		return fmt.Errorf("%d cutoffs for %d landmarks", len(imp.CutoffsHz), imp.Layout.Len())
	}
	for _, hz := range imp.CutoffsHz {
		if !(hz >= 0) || math.IsInf(hz, 0) {
			return fmt.Errorf("a cutoff of %v Hz: expected a number from 0 on", hz)
		}
	}
	n := len(imp.Frames) / (3 * imp.Layout.Len())
	for i, s := range imp.Serves {
		if s.First < 0 || s.Last < s.First || s.Last >= n {
			return fmt.Errorf("serve %d spans frames %d to %d, but the recording has %d", i+1, s.First, s.Last, n)
		}
		for kind, e := range s.Events {
			if math.IsNaN(e.TimeS) || math.IsInf(e.TimeS, 0) || math.IsNaN(e.Confidence) {
				return fmt.Errorf("serve %d: the time of %s is no number", i+1, kind)
			}
		}
	}
	return nil
}

func checkDate(s string) error {
	if _, err := time.Parse(time.DateOnly, s); err != nil {
		return fmt.Errorf("session %q: expected a date such as 2026-03-14", s)
	}
	return nil
}

func checkHand(s string) error {
	switch motion.Hand(s) {
	case motion.HandLeft, motion.HandRight, motion.HandUnknown:
		return nil
	}
	return fmt.Errorf("hitting hand %q: expected left or right", s)
}

func checkHeight(m float64) error {
	if !(m >= 0.5 && m <= 2.6) {
		return fmt.Errorf("a height of %g m: expected metres, between 0.5 and 2.6", m)
	}
	return nil
}

// put makes a staged import part of the season.
func put(ctx context.Context, tx *sql.Tx, s *stagedImport) (Added, error) {
	old, err := readStored(ctx, tx, s.SourceSHA256)
	if err != nil {
		return Added{}, err
	}
	if old == nil {
		old = &stored{id: s.SourceSHA256[:recordingIDLength], isNew: true}
	}
	s.Player = cmp.Or(s.Player, old.player, s.PlayerGuess)
	s.Session = cmp.Or(s.Session, old.session, s.SessionGuess)
	digest := s.interpretation()
	matched := match(old.serves, s.Serves, s.RateHz, old.timeScale(s))
	added := Added{Recording: old.id, Outcome: New, Serves: old.name(matched, s)}
	switch {
	case !old.isNew && digest == old.interpretation && (s.framesFile.mended || s.signalsFile.mended):
		added.Outcome = Repaired
		_, err := tx.ExecContext(ctx, "update season set revision = revision + 1, stamp = hex(randomblob(16))")
		return added, err
	case !old.isNew && digest == old.interpretation:
		added.Outcome = Same
		return added, nil
	case !old.isNew:
		added.Outcome = Replaced
	}
	if err := putPlayer(ctx, tx, s); err != nil {
		return Added{}, err
	}
	// Serves that were found again before are what an older version found.
	if _, err := tx.ExecContext(ctx, `update edits set undone_at = ? where target = 'recording' and subject = ?
			and field = 'cut' and undone_at is null`, now(), old.id); err != nil {
		return Added{}, err
	}
	if err := putRecording(ctx, tx, old.id, digest, s); err != nil {
		return Added{}, err
	}
	return added, putServes(ctx, tx, old.id, added.Serves, s)
}

// interpretation hashes everything that a repeated import must repeat to change nothing.
func (s *stagedImport) interpretation() string {
	text, err := json.Marshal(struct {
		Frames, Signals, Player, Session, Level string
		Hand                                    motion.Hand
		HeightM                                 float64
		BirthYear                               int
		CutoffsHz                               []float64
		Serves                                  []motion.Serve
	}{s.framesFile.sha256, s.signalsFile.sha256, s.Player, s.Session, s.Level, s.Hand, s.HeightM, s.BirthYear,
		s.CutoffsHz, s.Serves})
	if err != nil {
		panic(fmt.Sprintf("season: an import that passed its check has no JSON: %v", err))
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

func putPlayer(ctx context.Context, tx *sql.Tx, s *stagedImport) error {
	if s.Player == "" {
		return nil
	}
	_, err := tx.ExecContext(ctx, `insert into players (name, height_m, level, birth_year) values (?, ?, ?, ?)
		on conflict (name) do update set height_m = coalesce(excluded.height_m, height_m),
			level = coalesce(excluded.level, level), birth_year = coalesce(excluded.birth_year, birth_year)`,
		s.Player, orNull(s.HeightM), orNull(s.Level), orNull(s.BirthYear))
	return err
}

// orNull is nil for the zero value, which stands for unknown.
func orNull[T comparable](v T) any {
	var zero T
	if v == zero {
		return nil
	}
	return v
}

func putRecording(ctx context.Context, tx *sql.Tx, id, digest string, s *stagedImport) error {
	_, err := tx.ExecContext(ctx, `insert into recordings (id, source_sha256, file, format, frames_sha256, frames, rate_hz,
			player, session, hand, signals_sha256, cutoffs_hz, understanding, interpretation, added_at)
		values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		on conflict (source_sha256) do update set file = excluded.file, format = excluded.format,
			frames_sha256 = excluded.frames_sha256, frames = excluded.frames, rate_hz = excluded.rate_hz,
			player = excluded.player, session = excluded.session, hand = excluded.hand,
			signals_sha256 = excluded.signals_sha256, cutoffs_hz = excluded.cutoffs_hz,
			understanding = excluded.understanding, interpretation = excluded.interpretation,
			added_at = excluded.added_at`,
		id, s.SourceSHA256, s.File, s.Format, s.framesFile.sha256, s.frames, s.RateHz, orNull(s.Player), orNull(s.Session),
		orNull(string(s.Hand)), orNull(s.signalsFile.sha256), cutoffsText(s.CutoffsHz), orNull(string(s.Understanding)),
		digest, now())
	return err
}

// cutoffsText writes cutoffs as JSON, nil where none were chosen.
func cutoffsText(hz []float64) any {
	if len(hz) == 0 {
		return nil
	}
	text, err := json.Marshal(hz)
	if err != nil {
		panic(fmt.Sprintf("season: cutoffs that passed their check have no JSON: %v", err))
	}
	return string(text)
}

func putServes(ctx context.Context, tx *sql.Tx, recordingID string, ids []motion.ServeID, s *stagedImport) error {
	if _, err := tx.ExecContext(ctx, "update serves set found = 0 where recording = ?", recordingID); err != nil {
		return err
	}
	putServe, err := tx.PrepareContext(ctx, `insert into serves (id, recording, first_frame, last_frame, anchor_s,
			cut_off_why, found) values (?, ?, ?, ?, ?, ?, 1)
		on conflict (id) do update set first_frame = excluded.first_frame, last_frame = excluded.last_frame,
			anchor_s = excluded.anchor_s, cut_off_why = excluded.cut_off_why, found = 1`)
	if err != nil {
		return err
	}
	defer putServe.Close()
	putEvent, err := tx.PrepareContext(ctx, "insert into events values (?, ?, ?, ?, ?, ?)")
	if err != nil {
		return err
	}
	defer putEvent.Close()
	for i, serve := range s.Serves {
		id := string(ids[i])
		why := cutOffWhy(serve)
		if _, err := putServe.ExecContext(ctx, id, recordingID, serve.First, serve.Last, anchor(serve, s.RateHz),
			orNull(why)); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "delete from events where serve = ?", id); err != nil {
			return err
		}
		for kind, e := range serve.Events {
			if _, err := putEvent.ExecContext(ctx, id, string(kind), e.TimeS, e.Method, e.Confidence, e.StandIn); err != nil {
				return err
			}
		}
	}
	return nil
}

func cutOffWhy(s motion.Serve) string {
	if !s.CutOff {
		return ""
	}
	return cmp.Or(s.CutOffWhy, "contact or release lies outside the take")
}

// stored is what the season has of a recording.
type stored struct {
	id, player, session, interpretation string
	frames                              int
	rateHz                              float64
	isNew                               bool
	serves                              []storedServe
}

// storedServe is where a serve of the season lies in time, by the last import and by hand.
type storedServe struct {
	id      motion.ServeID
	anchors []float64 // seconds
}

// timeScale turns times of the recording as it was into times of the import: a file whose rate was understood
// otherwise has the same frames at other times.
func (o *stored) timeScale(s *stagedImport) float64 {
	if o.isNew || o.frames != s.frames || s.RateHz == 0 {
		return 1
	}
	return o.rateHz / s.RateHz
}

// readStored gives what the season has of a file, nil where it has nothing.
func readStored(ctx context.Context, tx *sql.Tx, sourceSHA256 string) (*stored, error) {
	var o stored
	var source string
	var player, session sql.NullString
	err := tx.QueryRowContext(ctx, `select id, source_sha256, player, session, interpretation, frames, rate_hz
		from recordings where id = ?`, sourceSHA256[:recordingIDLength]).
		Scan(&o.id, &source, &player, &session, &o.interpretation, &o.frames, &o.rateHz)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	if source != sourceSHA256 {
		return nil, fmt.Errorf("another file of this season has the same recording id %s by chance; "+
			"change the file in any way and import it again", o.id)
	}
	o.player, o.session = player.String, session.String
	o.serves, err = readStoredServes(ctx, tx, &o)
	return &o, err
}

func readStoredServes(ctx context.Context, tx *sql.Tx, o *stored) ([]storedServe, error) {
	rows, err := tx.QueryContext(ctx, `select s.id, s.anchor_s,
			(select e.value * e.rate_hz from edits e where e.target = 'serve' and e.subject = s.id
				and e.field = 'event.contact' and e.undone_at is null order by e.id desc limit 1)
		from serves s where s.recording = ? order by s.anchor_s, s.id`, o.id)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var serves []storedServe
	for rows.Next() {
		var s storedServe
		var found float64
		var frame sql.NullFloat64
		if err := rows.Scan(&s.id, &found, &frame); err != nil {
			return nil, err
		}
		s.anchors = []float64{found}
		if frame.Valid {
			s.anchors = append(s.anchors, frame.Float64/o.rateHz)
		}
		serves = append(serves, s)
	}
	return serves, rows.Err()
}

// name gives every serve of an import its id: that of the serve it matches, or a new one.
func (o *stored) name(matched []motion.ServeID, s *stagedImport) []motion.ServeID {
	taken := make(map[motion.ServeID]bool, len(o.serves)+len(matched))
	for _, old := range o.serves {
		taken[old.id] = true
	}
	ids := slices.Clone(matched)
	for i, id := range ids {
		if id == "" {
			ids[i] = newServeID(o.id, anchor(s.Serves[i], s.RateHz), taken)
			taken[ids[i]] = true
		}
	}
	return ids
}

func newServeID(recordingID string, anchorS float64, taken map[motion.ServeID]bool) motion.ServeID {
	for centiseconds := max(0, int(math.Round(100*anchorS))); ; centiseconds++ {
		if id := motion.ServeID(fmt.Sprintf("%s-%05d", recordingID, centiseconds)); !taken[id] {
			return id
		}
	}
}
