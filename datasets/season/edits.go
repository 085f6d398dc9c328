package season

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"tossline/kernel/motion"
)

// Target is what an edit is about.
type Target string

// The targets.
const (
	OnServe     Target = "serve"
	OnRecording Target = "recording"
	OnPlayer    Target = "player"
	OnTable     Target = "table"
)

// Edit is what a person said about one field of a serve, a recording, a player or a table. It wins over what an import
// found, for ever, until it is undone or the field is edited again.
//
//	target     field           value
//	serve      serve_type      text: "flat", "slice", "kick"
//	serve      stance_type     "platform" or "pinpoint"
//	serve      court_side      "deuce" or "ad"
//	serve      ball_speed_m_s  number
//	serve      outcome         text: "in", "long", "net"
//	serve      discarded       why; "" keeps the serve
//	serve      cut_off         why; "" says that it is not cut off
//	serve      stretch         first and last frame, such as "120-410"
//	serve      event.<kind>    seconds from the start of the recording; "" says that there is no such event
//	recording  player          name
//	recording  session         ISO date
//	recording  hand            "left" or "right"
//	recording  serve.<id>      a serve cut by hand (see Split); "" takes it back
//	recording  cut             serves found again (see Recut), in place of those that the import found
//	player     height_m        number
//	player     level           text
//	player     birth_year      whole number
//	table      content         hash of what is kept under its name (see KeepTable); "" takes it out
//
// An empty value stands for unknown.
type Edit struct {
	Target  Target `json:"target"`
	Subject string `json:"subject"` // id of the serve or recording, name of the player or table
	Field   string `json:"field"`
	Value   string `json:"value"`
}

const (
	eventField = "event."
	serveField = "serve."
	cutField   = "cut"
)

// MoveEvent says when an event of a serve was.
func MoveEvent(serve motion.ServeID, kind motion.EventKind, timeS float64) Edit {
	return Edit{OnServe, string(serve), eventField + string(kind), strconv.FormatFloat(timeS, 'g', -1, 64)}
}

// Discard leaves a serve out, and says why.
func Discard(serve motion.ServeID, why string) Edit {
	return Edit{OnServe, string(serve), "discarded", cmp.Or(why, "no reason given")}
}

// Edit makes edits, all or none, and gives the number by which they can be undone together. Edits that say what is
// so already are recorded too: they hold against a later import.
func (w *Writer) Edit(ctx context.Context, edits ...Edit) (batch int64, err error) {
	for _, e := range edits {
		if err := e.Check(); err != nil {
			return 0, err
		}
	}
	if len(edits) == 0 {
		return 0, errors.New("no edits")
	}
	err = w.change(ctx, func(tx *sql.Tx) (err error) {
		batch, err = recordAll(ctx, tx, edits)
		return err
	})
	return batch, err
}

func recordAll(ctx context.Context, tx *sql.Tx, edits []Edit) (batch int64, err error) {
	if err := tx.QueryRowContext(ctx, "select coalesce(max(batch), 0) + 1 from edits").Scan(&batch); err != nil {
		return 0, err
	}
	at := now()
	for _, e := range edits {
		if err := record(ctx, tx, batch, at, e); err != nil {
			return 0, err
		}
	}
	return batch, nil
}

func record(ctx context.Context, tx *sql.Tx, batch int64, at string, e Edit) error {
	on, err := e.subjectExists(ctx, tx)
	if err != nil {
		return err
	}
	if err := e.checkInside(on); err != nil {
		return err
	}
	var rateHz sql.NullFloat64
	if e.holdsTimes() {
		rateHz = sql.NullFloat64{Float64: on.rateHz, Valid: true}
	}
	before, err := inForce(ctx, tx, e)
	if err != nil {
		return err
	}
	if e.Field == cutField {
		if err := nameCut(ctx, tx, e, on.rateHz); err != nil {
			return err
		}
	}
	_, err = tx.ExecContext(ctx, `insert into edits (batch, made_at, target, subject, field, before, value, rate_hz)
		values (?, ?, ?, ?, ?, ?, ?, ?)`, batch, at, e.Target, e.Subject, e.Field, before, orNull(e.Value), rateHz)
	return err
}

// Check refuses an edit whose field doesn't exist or whose value can't be one.
func (e Edit) Check() error {
	if kind, ok := strings.CutPrefix(e.Field, eventField); ok && e.Target == OnServe {
		return e.checkEvent(motion.EventKind(kind))
	}
	if (strings.HasPrefix(e.Field, serveField) || e.Field == cutField) && e.Target == OnRecording {
		return e.checkCut()
	}
	check, ok := fields[e.Target][e.Field]
	if !ok {
		return fmt.Errorf("a %s has no field %q", e.Target, e.Field)
	}
	if e.Value == "" {
		return nil
	}
	if err := check(e.Value); err != nil {
		return fmt.Errorf("%s %s: %w", e.Target, e.Subject, err)
	}
	return nil
}

// fields are the fields of each target with the check of their values.
var fields = map[Target]map[string]func(string) error{
	OnServe: {
		"serve_type":     anyText,
		"stance_type":    oneOf("platform", "pinpoint"),
		"court_side":     oneOf("deuce", "ad"),
		"ball_speed_m_s": numberBetween("a ball speed", "m/s", 1, 100),
		"outcome":        anyText,
		"discarded":      anyText,
		"cut_off":        anyText,
		"stretch":        checkStretch,
	},
	OnRecording: {
		"player":  anyText,
		"session": checkDate,
		"hand":    checkHand,
	},
	OnPlayer: {
		"height_m":   numberBetween("a height", "m", 0.5, 2.6),
		"level":      anyText,
		"birth_year": checkYear,
	},
	OnTable: {contentField: checkHash},
}

func anyText(s string) error {
	if strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == 0xFFFD }) {
		return fmt.Errorf("%q: expected one line of text", s)
	}
	return nil
}

func oneOf(choices ...string) func(string) error {
	return func(s string) error {
		for _, c := range choices {
			if s == c {
				return nil
			}
		}
		return fmt.Errorf("%q: expected %s", s, strings.Join(choices, " or "))
	}
}

func numberBetween(what, unit string, low, high float64) func(string) error {
	return func(s string) error {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil || !(v >= low && v <= high) {
			return fmt.Errorf("%s of %q: expected %s, between %g and %g", what, s, unit, low, high)
		}
		return nil
	}
}

func checkYear(s string) error {
	if year, err := strconv.Atoi(s); err != nil || year < 1900 || year > time.Now().Year() {
		return fmt.Errorf("birth year %q: expected a year such as 2010", s)
	}
	return nil
}

func checkStretch(s string) error {
	_, _, err := parseStretch(s)
	return err
}

func parseStretch(s string) (first, last int, err error) {
	a, b, _ := strings.Cut(s, "-")
	first, errFirst := strconv.Atoi(a)
	last, errLast := strconv.Atoi(b)
	if errFirst != nil || errLast != nil || first < 0 || last < first {
		return 0, 0, fmt.Errorf("stretch %q: expected two frames such as 120-410", s)
	}
	return first, last, nil
}

func (e Edit) checkEvent(kind motion.EventKind) error {
	known := false
	for _, k := range motion.EventKinds {
		known = known || k == kind
	}
	if !known {
		return fmt.Errorf("serve %s: there is no event %q", e.Subject, kind)
	}
	if e.Value == "" {
		return nil
	}
	if t, err := strconv.ParseFloat(e.Value, 64); err != nil || math.IsNaN(t) || math.IsInf(t, 0) || t < 0 {
		return fmt.Errorf("serve %s: the time %q of %s: expected seconds from the start of the recording",
			e.Subject, e.Value, kind)
	}
	return nil
}

// holdsTimes tells whether the value of an edit counts seconds of a recording, whose rate may be understood otherwise
// later.
func (e Edit) holdsTimes() bool {
	return strings.HasPrefix(e.Field, eventField) || strings.HasPrefix(e.Field, serveField) || e.Field == cutField
}

// length is how long a recording is.
type length struct {
	frames int
	rateHz float64
}

// checkInside refuses times and frames that the recording doesn't have.
func (e Edit) checkInside(on length) error {
	if e.Target == OnPlayer || e.Target == OnTable || e.Value == "" {
		return nil
	}
	last := -1
	switch {
	case strings.HasPrefix(e.Field, eventField):
		if t, _ := strconv.ParseFloat(e.Value, 64); t > float64(on.frames)/on.rateHz {
			return fmt.Errorf("%s at %.2f s: the recording of serve %s ends at %.2f s",
				strings.TrimPrefix(e.Field, eventField), t, e.Subject, float64(on.frames)/on.rateHz)
		}
	case e.Field == "stretch":
		_, last, _ = parseStretch(e.Value)
	case e.Field == cutField || strings.HasPrefix(e.Field, serveField):
		for _, c := range e.cuts() {
			last = max(last, c.Last)
			for kind, event := range c.Events {
				if end := float64(on.frames) / on.rateHz; event.TimeS < 0 || event.TimeS > end {
					return fmt.Errorf("recording %s: %s at %.2f s: the recording ends at %.2f s", e.Subject, kind,
						event.TimeS, end)
				}
			}
		}
	}
	if last >= on.frames {
		return fmt.Errorf("%s %s: a serve that ends with frame %d: the recording has %d, counted from 0",
			e.Target, e.Subject, last, on.frames)
	}
	return nil
}

func checkPlayer(name string) error {
	if strings.TrimSpace(name) == "" || anyText(name) != nil {
		return fmt.Errorf("player %q: expected a name, on one line", name)
	}
	return nil
}

// subjectExists refuses an edit of something that isn't there, except that naming a new player makes one. It gives the
// length of the recording.
func (e Edit) subjectExists(ctx context.Context, tx *sql.Tx) (on length, err error) {
	switch e.Target {
	case OnPlayer:
		if err := checkPlayer(e.Subject); err != nil {
			return on, err
		}
		_, err = tx.ExecContext(ctx, "insert into players (name) values (?) on conflict (name) do nothing", e.Subject)
		return on, err
	case OnTable:
		return on, e.contentExists(ctx, tx)
	case OnServe:
		// A serve that was cut by hand has no row.
		recording := RecordingOf(motion.ServeID(e.Subject))
		err = tx.QueryRowContext(ctx, `select r.frames, r.rate_hz from recordings r where r.id = ?1 and (
			exists (select 1 from serves where id = ?2 and recording = ?1) or
			exists (select 1 from edits where target = 'recording' and subject = ?1 and field = 'serve.' || ?2))`,
			recording, e.Subject).Scan(&on.frames, &on.rateHz)
	case OnRecording:
		err = tx.QueryRowContext(ctx, "select frames, rate_hz from recordings where id = ?", e.Subject).
			Scan(&on.frames, &on.rateHz)
	}
	if errors.Is(err, sql.ErrNoRows) {
		return on, fmt.Errorf("no %s %s in this season", e.Target, e.Subject)
	}
	return on, err
}

// inForce gives the value of an edit's field before the edit.
func inForce(ctx context.Context, tx *sql.Tx, e Edit) (value sql.NullString, err error) {
	err = tx.QueryRowContext(ctx, `select value from edits where target = ? and subject = ? and field = ?
		and undone_at is null order by id desc limit 1`, e.Target, e.Subject, e.Field).Scan(&value)
	if !errors.Is(err, sql.ErrNoRows) {
		return value, err
	}
	query, args := e.foundQuery()
	if query == "" {
		return value, nil
	}
	err = tx.QueryRowContext(ctx, query, args...).Scan(&value)
	if errors.Is(err, sql.ErrNoRows) {
		err = nil
	}
	return value, err
}

// foundQuery asks for what an import found for an edit's field; "" where imports don't say.
func (e Edit) foundQuery() (query string, args []any) {
	if kind, ok := strings.CutPrefix(e.Field, eventField); ok {
		return "select time_s from events where serve = ? and kind = ?", []any{e.Subject, kind}
	}
	switch e.Target {
	case OnPlayer:
		return "select " + e.Field + " from players where name = ?", []any{e.Subject}
	case OnRecording:
		if !strings.HasPrefix(e.Field, serveField) && e.Field != cutField {
			return "select " + e.Field + " from recordings where id = ?", []any{e.Subject}
		}
	case OnServe:
		switch e.Field {
		case "cut_off":
			return "select cut_off_why from serves where id = ?", []any{e.Subject}
		case "stretch":
			return "select first_frame || '-' || last_frame from serves where id = ?", []any{e.Subject}
		}
	}
	return "", nil
}

// Undo takes a batch of edits back; what was in force without them is in force again.
func (w *Writer) Undo(ctx context.Context, batch int64) error {
	return w.mark(ctx, batch, now(), "undone_at is null", "undone")
}

// Redo puts a batch of edits that was undone in force again.
func (w *Writer) Redo(ctx context.Context, batch int64) error {
	return w.mark(ctx, batch, nil, "undone_at is not null", "in force")
}

func (w *Writer) mark(ctx context.Context, batch int64, at any, where, state string) error {
	return w.change(ctx, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, "update edits set undone_at = ? where batch = ? and "+where, at, batch)
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n > 0 {
			return err
		}
		var known bool
		err = tx.QueryRowContext(ctx, "select exists (select 1 from edits where batch = ?)", batch).Scan(&known)
		if err != nil {
			return err
		}
		if known {
			return fmt.Errorf("the edits of number %d are %s already", batch, state)
		}
		return fmt.Errorf("there are no edits of number %d", batch)
	})
}
