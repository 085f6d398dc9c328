package command

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"tossline/datasets/particulars"
	"tossline/datasets/recording"
	"tossline/datasets/season"
	"tossline/kernel/motion"
	"tossline/kernel/words"
	"tossline/workbench/supervisor"
)

func newImport() *cobra.Command {
	job := importing{}
	var floor float64
	var maps []string
	var session, hand, height, length string
	c := &cobra.Command{
		Use:   "import --season DIR [FILE...]",
		Short: "Add recordings or a table to a season",
		Long: `Import reads motion-capture recordings (BVH, C3D, CSV, Arrow, Parquet and COCO keypoints, known by their content),
finds the serves in them and stores both in a season, which it makes where there is none yet. A file is stored whole or
not at all; one that was stored before changes nothing.

What is not said by a flag is taken from a table of particulars, the file's name or the file, or else guessed from the
data. What was understood is printed, with its grounds; with --dry-run nothing is stored.

--map says which point of the file a landmark is, or how it is made of several: middle(A, B), along(A, B, 1.3),
along(A, B, 80 mm) or hip(left, LASI, RASI, LPSI, RPSI). It is kept for later files with the same points.

--particulars brings a table, CSV, Arrow or Parquet, of what is known beside the files. A row is about the recording
that its column file names, or about one serve of it where it has a column serve (its number in the recording, or its
id) or contact_s. The other columns are player, session, hand, height_m, level, birth_year, serve_type, stance_type,
court_side, ball_speed_kmh, outcome, and group for a group of serves; what other columns hold is left alone. Without a
FILE the rows are about the recordings that the season has; whose they are stays as it is.

Of the tables that export writes, --particulars takes serves, events, changes and groups. They bring what was said and
corrected by hand onto the same recordings, in this season or another; onto frames that were exported, what was said,
and events that were moved where the serves come too, which tell when the frames begin.
For a recording that the season does not have stands the one with the same file name, whatever its ending, and its
serves' contacts within 0.15 s: the C3D files that export writes.
Changes by hand come all or none, and can be taken back together on the page; what had been taken back stays so. Rows
that nothing is found for are told.

With --table, FILE is a table of any content, CSV, Parquet or Arrow: a colleague's measures, a reference group, force
plates. The season keeps it under a name, by which recipes read it (season.Table) and export writes it again. Of
Parquet and Arrow everything comes back as it was; of CSV, types are found from the texts and units from the names of
columns that end in them, such as force_N. A table that was kept under the name before can be put back on the page.`,
		Example: `  tossline import --season club --player "Tuva Brandt" --session 2026-03-14 takes/*.bvh
  tossline import --season club --dry-run --units cm take.csv
  tossline import --season club --map left_knee="middle(LKNE, LKNM)" take.c3d
  tossline import --season club --names "{player}_{session}_*" --fact level=club takes/*.parquet
  tossline import --season club --rate 240 --length left_hip,left_knee=0.43 keypoints.json
  tossline import --season club --particulars sessions.csv --pseudonyms takes/*.csv
  tossline import --season club --particulars serves.parquet --particulars changes.parquet
  tossline import --season club --table lab colleague.csv`,
		Args: cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error {
			job.out, job.errOut = c.OutOrStdout(), c.ErrOrStderr()
			if c.Flags().Changed("table") {
				if err := job.checkKeep(args, c.Flags()); err != nil {
					return err
				}
				return job.keep(c.Context(), args[0])
			}
			if len(args) == 0 && len(job.sheets) == 0 {
				return misuse("import needs a file, or a table of particulars: tossline import --season DIR FILE...")
			}
			if len(args) == 0 {
				for _, flag := range aboutFiles {
					if c.Flags().Changed(flag) {
						return misuse("--%s is about files, and none was given: without one only tables of particulars count", flag)
					}
				}
			}
			if c.Flags().Changed("floor") {
				job.options.FloorM = &floor
			}
			err := sayParticulars(&job.options, session, hand, height)
			if err != nil {
				return err
			}
			if job.options.Map, err = parseMap(maps); err != nil {
				return err
			}
			if job.options.Length, err = parseLength(length); err != nil {
				return err
			}
			return job.run(c.Context(), args)
		},
	}
	f, o := c.Flags(), &job.options
	f.StringVar(&job.dir, "season", "", "`folder` of the season; made where there is none")
	f.StringVar(&o.Player, "player", "", "`name` or pseudonym of the player")
	f.StringVar(&session, "session", "", "`date` of the session, such as 2026-03-14")
	f.StringVar(&hand, "hand", "", "hitting `hand`: left or right (default: found)")
	f.StringVar(&height, "height", "", "standing height of the player in `metres`")
	f.StringVar(&o.Units, "units", "", "`unit` of the file's lengths: mm, cm, m, in or ft (default: guessed)")
	f.Float64Var(&o.RateHz, "rate", 0, "frames a second, in `Hz` (default: as in the file)")
	f.StringVar(&o.Up, "up", "", "`axis` of the file that points up, such as +z (default: guessed)")
	f.StringVar(&o.Forward, "forward", "", "`direction` of the serve in the file's axes, such as -x or 0.8,0,0.6 "+
		"(default: guessed)")
	f.Float64Var(&floor, "floor", 0, "height of the court above the file's zero in `metres` (default: guessed)")
	f.StringVar((*string)(&o.Sides), "sides", "", "`repair` of left and right: swapped (names) or mirrored (axes)")
	f.StringArrayVar(&maps, "map", nil, "`landmark=origin` in the file; may be given again")
	f.StringVar(&length, "length", "", "a known length in place of the unit, `landmark,landmark=metres`")
	f.StringArrayVar(&job.sheets, "particulars", nil, "`table` of what is known beside the files; may be given again")
	f.StringArrayVar(&job.facts, "fact", nil, "`field=value` that holds for all serves of the files, such as "+
		"stance=pinpoint; may be given again")
	f.StringVar(&job.pattern, "names", "", "`pattern` of what file names say, such as {player}_{session}_*")
	f.BoolVar(&job.pseudonymous, "pseudonyms", false, "store pseudonyms such as P01 in place of names")
	f.StringVar(&job.table, "table", "", "`name` under which the one FILE is kept as a table")
	f.BoolVar(&job.dry, "dry-run", false, "say what would be stored, store nothing")
	f.BoolVar(&job.asJSON, "json", false, "print what was understood and stored as JSON")
	required(c, "season")
	return c
}

// aboutFiles are the flags that mean nothing without a file.
var aboutFiles = []string{"player", "session", "hand", "height", "units", "rate", "up", "forward", "floor", "sides", "map",
	"length", "fact", "names", "pseudonyms"}

// sayParticulars puts into o what flags say of the session, the hand and the height, read as in tables; "" says nothing.
func sayParticulars(o *recording.Options, session, hand, height string) error {
	for _, said := range []struct {
		flag, text string
		take       func(value string)
	}{
		{"session", session, func(date string) { o.Session = date }},
		{"hand", hand, func(side string) { o.Hand = motion.Hand(side) }},
		{"height", height, func(metres string) { o.HeightM, _ = strconv.ParseFloat(metres, 64) }},
	} {
		if said.text == "" {
			continue
		}
		_, value, err := particulars.ParseFact(said.flag + "=" + said.text)
		if err != nil {
			return misuse("--%v", err)
		}
		said.take(value)
	}
	return nil
}

func parseMap(pairs []string) (map[string]string, error) {
	m := map[string]string{}
	for _, pair := range pairs {
		landmark, origin, ok := strings.Cut(pair, "=")
		if !ok || landmark == "" {
			return nil, misuse(`--map %s: expected landmark=origin, such as left_knee=LKNE`, pair)
		}
		m[strings.TrimSpace(landmark)] = strings.TrimSpace(origin)
	}
	return m, nil
}

// importing is one call of the import command.
type importing struct {
	dir         string
	options     recording.Options
	dry, asJSON bool
	out, errOut io.Writer

	table        string
	sheets       []string
	facts        []string
	pattern      string
	pseudonymous bool
}

// importReport is the JSON of the command. Fields may be added and are never renamed.
type importReport struct {
	Files       []fileReport   `json:"files"`
	Particulars []season.Edit  `json:"particulars,omitempty"` // of recordings that were stored before
	Changes     []season.Edit  `json:"changes,omitempty"`     // made by hand elsewhere, that come into force here
	Groups      []season.Group `json:"groups,omitempty"`      // with the serves that come into them
	NotFound    []string       `json:"not_found,omitempty"`   // rows of tables for which there is no recording or serve
}

// fileReport says what was understood of one file and what became of it.
type fileReport struct {
	File      string         `json:"file"`
	Part      string         `json:"part,omitempty"` // of a file that holds several recordings
	Recording string         `json:"recording,omitempty"`
	Outcome   season.Outcome `json:"outcome,omitempty"` // empty where nothing was stored
	Error     string         `json:"error,omitempty"`   // why the file was refused

	Format     string        `json:"format,omitempty"`
	Frames     int           `json:"frames"`
	RateHz     float64       `json:"rate_hz"`
	Hand       motion.Hand   `json:"hand,omitempty"`
	Player     string        `json:"player,omitempty"`
	Session    string        `json:"session,omitempty"`
	Serves     []serveReport `json:"serves"`
	Understood any           `json:"understanding,omitempty"`

	Particulars []season.Edit `json:"particulars"` // of players and serves, from beside the file
}

// stored tells whether the season has the recording.
func (r *fileReport) stored() bool { return r.Outcome != "" }

type serveReport struct {
	Serve  motion.ServeID `json:"serve,omitempty"` // empty where nothing was stored
	CutOff bool           `json:"cut_off"`
	Why    string         `json:"why,omitempty"`
	Events motion.Events  `json:"events"`
}

func (j importing) run(ctx context.Context, files []string) error {
	known, err := j.openBeside(ctx)
	if err != nil {
		return err
	}
	if len(files) == 0 && !season.Exists(j.dir) {
		return fmt.Errorf("%s holds no season that the tables could be about; name one, or give recordings too", j.dir)
	}
	var w *season.Writer
	if !j.dry && (season.Exists(j.dir) || anyThere(files)) {
		if w, err = openOrCreate(j.dir, "tossline import"); err != nil {
			return err
		}
		defer w.Close()
	}
	there, done, err := j.opened(w)
	if err != nil {
		return err
	}
	err = known.load(ctx, there)
	done()
	if err != nil {
		return err
	}
	report, failed := importReport{Files: []fileReport{}}, false
	for _, path := range files {
		if ctx.Err() != nil {
			return j.stopped(ctx, w, known, report)
		}
		found, err := j.file(ctx, w, known, path)
		if err != nil && ctx.Err() != nil && !found[0].stored() {
			return j.stopped(ctx, w, known, report)
		}
		if err != nil {
			failed = true
			found[0].Error = err.Error()
		}
		report.Files = append(report.Files, found...)
		if j.asJSON {
			continue
		}
		for _, one := range found {
			if one.Understood != nil {
				j.tell(one)
			}
		}
		if err != nil {
			fmt.Fprintf(j.errOut, "tossline: %v\n", err)
		}
	}
	unsettled := j.settle(ctx, w, known, len(files) == 0, &report)
	report.NotFound = append(report.NotFound, j.unused(known)...)
	if j.asJSON {
		if err := j.print(report); err != nil {
			return err
		}
	}
	if unsettled != nil {
		return unsettled
	}
	if failed {
		return errTold
	}
	return nil
}

// stopped tells what was stored before the stop, which gets what is known of it.
func (j importing) stopped(ctx context.Context, w *season.Writer, known *beside, report importReport) error {
	if len(known.waiting) > 0 {
		if err := j.settle(ctx, w, known, false, &report); err != nil {
			return err
		}
	}
	if j.asJSON && len(report.Files) > 0 {
		if err := j.print(report); err != nil {
			return err
		}
	}
	return context.Cause(ctx)
}

func (j importing) print(report any) error { return printJSON(j.out, report) }

// printJSON prints a report as people read it too.
func printJSON(out io.Writer, report any) error {
	enc := json.NewEncoder(out)
	enc.SetIndent("", "  ")
	return enc.Encode(report)
}

// anyThere tells whether there is any of some files: for names that are mistaken, no season is made.
func anyThere(files []string) bool {
	return slices.ContainsFunc(files, func(path string) bool {
		_, err := os.Stat(path)
		return err == nil
	})
}

// openOrCreate opens a season for writing, and makes it where there is nothing yet.
func openOrCreate(dir, command string) (*season.Writer, error) {
	if season.Exists(dir) {
		return season.OpenForWriting(dir, command)
	}
	if !season.Vacant(dir) {
		return nil, fmt.Errorf("%s holds other things and no season; name a season, or a new folder for one", dir)
	}
	return season.Create(dir, command)
}

// file reads one file and stores the recordings in it, all or none, unless this is a dry run. There is a report for
// each; where the file is refused, one.
func (j importing) file(ctx context.Context, w *season.Writer, known *beside, path string) ([]fileReport, error) {
	name := filepath.Base(path)
	refused := []fileReport{{File: name, Serves: []serveReport{}}}
	line := newProgressLine(j.errOut, name)
	defer line.end()
	options, err := known.options(name, j.options)
	if err != nil {
		return refused, err
	}
	ask := supervisor.Import{Path: path, Options: options, Progress: line.show}
	if w != nil {
		ask.Scratch = w.Scratch()
	}
	read, err := supervisor.Prepare(ctx, ask)
	if err != nil {
		if isTable(ctx, path) {
			err = fmt.Errorf("%w (a table of what is known of recordings and serves comes in with --particulars %s)", err, path)
		}
		return refused, err
	}
	defer read.Close()
	var parts []string // as the tables call them: with names of players
	for _, p := range read.All() {
		parts = append(parts, p.Understanding.Part)
	}
	known.Parts(name, parts)
	known.hide(&read.Prepared)
	var reports []fileReport
	for _, p := range read.All() {
		r := fileReport{File: p.Understanding.File, Serves: []serveReport{}}
		r.understand(p)
		if note := p.Understanding.Failed(); note != nil {
			return refused, fmt.Errorf("%s: %s", name, noteText(*note))
		}
		reports = append(reports, r)
	}
	ids := make([][]motion.ServeID, len(reports))
	if w != nil {
		added, err := w.AddAll(ctx, season.ImportsOf(&read.Prepared))
		if err != nil {
			return refused, err
		}
		ctx = context.WithoutCancel(ctx) // what is stored gets its particulars and is told
		for i := range reports {
			reports[i].Outcome, ids[i] = added[i].Outcome, added[i].Serves
			for k := range reports[i].Serves {
				reports[i].Serves[k].Serve = ids[i][k]
			}
		}
	}
	for i, p := range read.All() {
		if reports[i].Particulars, err = known.edit(ctx, w, name, parts[i], p, ids[i]); err != nil {
			break
		}
	}
	if err == nil {
		err = known.keep(ctx, w, read.Understanding.Landmarks.Set, j.options.Map)
	}
	if err != nil && w != nil {
		err = fmt.Errorf("%s is stored, but not all that is known of it: %w", name, err)
	}
	return reports, err
}

func (r *fileReport) understand(p *recording.Prepared) {
	u := &p.Understanding
	r.Part = u.Part
	r.Recording, r.Format, r.Frames, r.RateHz = u.Recording, u.Format, u.Frames, u.RateHz
	r.Hand, r.Player, r.Session, r.Understood = u.Hand.Value, u.Player.Value, u.Session.Value, u
	for _, s := range p.Serves {
		r.Serves = append(r.Serves, serveReport{CutOff: s.CutOff, Why: s.CutOffWhy, Events: s.Events})
	}
}

// tell prints what was understood of a file for a person.
func (j importing) tell(r fileReport) {
	u := r.Understood.(*recording.Understanding)
	name := r.File
	if r.Part != "" {
		name += ", " + r.Part
	}
	fmt.Fprintf(j.out, "%s: %s\n", name, r.headline())
	fact := func(name, value, evidence string, ground recording.Ground) {
		if value == "" {
			value = "unknown"
		}
		var why []string
		if ground != recording.Unknown {
			why = append(why, string(ground))
		}
		if evidence != "" {
			why = append(why, evidence)
		}
		if len(why) > 0 {
			value += " (" + strings.Join(why, ": ") + ")"
		}
		fmt.Fprintf(j.out, "  %-9s %s\n", name, value)
	}
	fact("rate", fmt.Sprintf("%g Hz", u.Rate.Value), u.Rate.Evidence, u.Rate.Source)
	fact("units", u.Units.Value, u.Units.Evidence, u.Units.Source)
	fact("up", u.Up.Value, u.Up.Evidence, u.Up.Source)
	fact("forward", u.Forward.Value, u.Forward.Evidence, u.Forward.Source)
	fact("court", fmt.Sprintf("%+.2f m", u.Floor.Value), u.Floor.Evidence, u.Floor.Source)
	fact("hand", string(u.Hand.Value), u.Hand.Evidence, u.Hand.Source)
	fact("player", u.Player.Value, u.Player.Evidence, u.Player.Source)
	height := ""
	if u.Height.Value > 0 {
		height = fmt.Sprintf("%.2f m", u.Height.Value)
	}
	fact("height", height, u.Height.Evidence, u.Height.Source)
	fact("session", u.Session.Value, u.Session.Evidence, u.Session.Source)
	fmt.Fprintf(j.out, "  %-9s %d found, missing: %s\n", "landmarks", len(u.Landmarks.Found), orNone(u.Landmarks.Missing))
	if len(u.Landmarks.Unknown) > 0 {
		fmt.Fprintf(j.out, "  %-9s %s\n", "kept as", "they are: "+some(u.Landmarks.Unknown))
	}
	if u.Landmarks.Kept {
		fmt.Fprintf(j.out, "  %-9s %s\n", "map", "the one that was kept for these points")
	}
	for _, s := range u.Signals {
		fmt.Fprintf(j.out, "  %-9s %s, %s at %g Hz\n", "signal", s.Name, cmp.Or(s.Unit, "no unit"), s.RateHz)
	}
	for _, m := range u.Marks[:min(len(u.Marks), mostNames)] {
		fmt.Fprintf(j.out, "  %-9s %s at %.2f s\n", "marked", strings.TrimSpace(m.Side+" "+m.Name), m.TimeS)
	}
	for _, n := range u.Notes {
		fmt.Fprintf(j.out, "  %-9s %s\n", n.Severity, noteText(n))
	}
	for _, s := range r.Serves {
		fmt.Fprintf(j.out, "  %-9s %s\n", "serve", s)
	}
	for _, e := range r.Particulars {
		fmt.Fprintf(j.out, "  %-9s %s: %s is %s\n", "known", e.Subject, e.Field, e.Value)
	}
}

func (r fileReport) headline() string {
	whole, cut := 0, 0
	for _, s := range r.Serves {
		if s.CutOff {
			cut++
		} else {
			whole++
		}
	}
	text := fmt.Sprintf("%s, %d frames at %g Hz, %s", r.Format, r.Frames, r.RateHz, words.Count(whole, "serve"))
	if cut > 0 {
		text += fmt.Sprintf(" and %d cut off", cut)
	}
	switch {
	case r.Outcome == season.New:
		return text + "; stored as recording " + r.Recording
	case r.Outcome != "":
		return fmt.Sprintf("%s; recording %s: %s", text, r.Recording, r.Outcome)
	}
	return text + "; nothing stored"
}

func (s serveReport) String() string {
	text := "contact not in the take"
	if e, ok := s.Events[motion.Contact]; ok {
		text = fmt.Sprintf("contact at %.2f s (%s)", e.TimeS, e.Method)
	}
	if s.CutOff {
		text += ", cut off: " + s.Why
	}
	return text
}

func noteText(n recording.Note) string {
	if n.Where == "" {
		return n.Text
	}
	return n.Where + ": " + n.Text
}

// mostNames is how many names, or marks, are written out.
const mostNames = 40

func some(names []string) string {
	if n := len(names) - mostNames; n > 0 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:mostNames], ", "), n)
	}
	return strings.Join(names, ", ")
}

func orNone(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	return strings.Join(names, ", ")
}
