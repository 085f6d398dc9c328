package season

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"tossline/datasets/frames"
)

// Problem is one thing that is wrong with a season.
type Problem struct {
	Where string `json:"where"` // a file, a recording or a serve
	Text  string `json:"text"`  // what is wrong, and what to do about it
}

func (p Problem) String() string { return p.Where + ": " + p.Text }

// Report is what Verify found.
type Report struct {
	Recordings int       `json:"recordings"`
	Serves     int       `json:"serves"`
	Tables     int       `json:"tables"`
	Bytes      int64     `json:"bytes"` // of frames and tables that were read and hashed
	Problems   []Problem `json:"problems"`
	Notes      []Problem `json:"notes,omitempty"` // what is worth knowing, and not wrong
}

// Verify checks the whole season: the database's structure and references, that every frames file is there, is what
// its hash says and fits its recording, that the tables are what their hashes say, and that events and people's
// edits are of serves that exist. It reads every byte of frames and tables; progress, which may be nil, hears of every
// recording. An error means that it could not finish.
func (s *Season) Verify(ctx context.Context, progress func(done, total int)) (Report, error) {
	v := verifier{season: s}
	for _, check := range []func(context.Context) error{v.database, v.references, v.leftovers, v.tables} {
		if err := check(ctx); err != nil {
			return v.report, describe(err)
		}
	}
	return v.report, describe(v.recordings(ctx, progress))
}

type verifier struct {
	season *Season
	report Report
}

func (v *verifier) problem(where, format string, args ...any) {
	v.report.Problems = append(v.report.Problems, Problem{where, fmt.Sprintf(format, args...)})
}

// database runs SQLite's own checks of its file.
func (v *verifier) database(ctx context.Context) error {
	return v.each(ctx, "pragma integrity_check", func(row []string) {
		if row[0] != "ok" {
			v.problem(databaseName, "the database is damaged (%s); restore the folder from a copy", row[0])
		}
	})
}

// references looks for rows that speak of things that are not there.
func (v *verifier) references(ctx context.Context) error {
	err := v.each(ctx, "pragma foreign_key_check", func(row []string) {
		v.problem(databaseName, "a row of %s belongs to no row of %s; import the recording again", row[0], row[2])
	})
	if err != nil {
		return err
	}
	err = v.each(ctx, `select s.id, s.recording from serves s join recordings r on r.id = s.recording
		where s.found and (s.first_frame < 0 or s.last_frame < s.first_frame or s.last_frame >= r.frames)`,
		func(row []string) {
			v.problem("serve "+row[0], "it lies outside its recording %s; import the recording again", row[1])
		})
	if err != nil {
		return err
	}
	err = v.each(ctx, `select e.serve, e.kind, r.file from events e join serves s on s.id = e.serve
		join recordings r on r.id = s.recording where s.found and not e.time_s between -1 and r.frames / r.rate_hz + 1`,
		func(row []string) {
			v.problem("serve "+row[0], "its %s lies outside the recording %s; move the event, or import again", row[1], row[2])
		})
	if err != nil {
		return err
	}
	return v.each(ctx, `select distinct e.subject from edits e where e.undone_at is null and e.target = 'serve'
		and not exists (select 1 from serves where id = e.subject)
		and not exists (select 1 from edits c where c.target = 'recording' and c.field = 'serve.' || e.subject)`,
		func(row []string) {
			v.problem("serve "+row[0], "there are edits of it, but no such serve; import its recording again")
		})
}

// each runs a query and gives its rows as texts.
func (v *verifier) each(ctx context.Context, query string, row func([]string)) error {
	rows, err := v.season.db.QueryContext(ctx, query)
	if err != nil {
		return err
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return err
	}
	texts := make([]string, len(columns))
	into := make([]any, len(columns))
	for i := range texts {
		into[i] = &nullable{&texts[i]}
	}
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		row(texts)
	}
	return rows.Err()
}

// nullable scans null as "".
type nullable struct{ text *string }

func (n *nullable) Scan(v any) error {
	*n.text = ""
	if v != nil {
		*n.text = fmt.Sprint(v)
	}
	return nil
}

// leftovers notes files that belong to nothing, because they take up space: those that an import replaced, or left when
// it was killed, which the next writer sweeps. What a running import brings looks the same until it counts: nobody is
// told to delete.
func (v *verifier) leftovers(context.Context) error {
	for _, of := range [...]struct{ folder, what string }{{framesDir, "recording"}, {tablesDir, "table"}} {
		left, err := v.season.leftovers(of.folder)
		if errors.Is(err, fs.ErrNotExist) {
			continue // everything in it will be missed below
		}
		if err != nil {
			return err
		}
		note := func(names []string, text string) {
			for _, name := range names {
				v.report.Notes = append(v.report.Notes, Problem{of.folder + "/" + name, text})
			}
		}
		note(left.orphans, "no "+of.what+" uses this file at present; leave it: the next import clears it away")
		note(left.foreign, "it is no file of this season's, and does no harm")
	}
	return nil
}

// tables hashes the file of every table, those that a change took out too: undoing it brings them back.
func (v *verifier) tables(ctx context.Context) error {
	all, err := v.season.Tables(ctx)
	if err != nil {
		return err
	}
	names := map[string]string{}
	for _, t := range all {
		names[t.SHA256] = t.Name
	}
	v.report.Tables = len(all)
	return v.each(ctx, "select sha256, file from tables order by kept_at", func(row []string) {
		bytes, problem := v.season.verifyTable(row[0])
		v.report.Bytes += bytes
		switch name, inForce := names[row[0]]; {
		case problem == "":
		case inForce:
			v.problem(fmt.Sprintf("table %s (%s)", name, row[1]), "%s; import its file again, or take it out", problem)
		default:
			v.problem("a table that was taken out ("+row[1]+")", "%s; it can't be brought back", problem)
		}
	})
}

// recordings hashes every frames file and compares it with its recording.
func (v *verifier) recordings(ctx context.Context, progress func(done, total int)) error {
	c, err := v.season.Snapshot(ctx)
	if err != nil {
		return err
	}
	v.report.Serves = c.Rows()
	v.report.Recordings = len(c.Recordings())
	for i, r := range c.Recordings() {
		if err := ctx.Err(); err != nil {
			return err
		}
		where := fmt.Sprintf("recording %s (%s)", r.ID, r.File)
		bytes, problem := v.season.verifyFrames(r.FramesSHA256)
		v.report.Bytes += bytes
		if problem == "" {
			problem = c.Damaged(i)
		}
		if _, err := v.season.Signals(ctx, r.ID); err != nil {
			v.problem(where, "%v; import it again", err)
		}
		if problem != "" {
			v.problem(where, "%s; its serves are left out until the recording is imported again", problem)
		}
		if progress != nil {
			progress(i+1, v.report.Recordings)
		}
	}
	return nil
}

// openStored opens a file of the season that is called so, or says why it can't.
func openStored(path, called string) (f *os.File, problem string) {
	f, err := os.Open(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, called + " is missing"
	case err != nil:
		return nil, fmt.Sprintf("%s can't be opened: %v", called, err)
	}
	return f, ""
}

// verifyFrames says what is wrong with a frames file, "" where nothing is. It opens the file anew: the mapping that
// recipes use may be of a file that another has replaced since.
func (s *Season) verifyFrames(sha256 string) (bytes int64, problem string) {
	f, problem := openStored(s.framesPath(sha256), "its frames file")
	if problem != "" {
		return 0, problem
	}
	info, err := f.Stat()
	if err != nil {
		f.Close()
		return 0, fmt.Sprintf("its frames file can't be read: %v", err)
	}
	file, err := frames.Open(f)
	if err != nil {
		return info.Size(), fmt.Sprintf("its frames file is damaged: %v", err)
	}
	defer file.Close()
	hash, err := file.SHA256()
	if err != nil {
		return info.Size(), err.Error()
	}
	if hash != sha256 {
		return info.Size(), "its frames file was changed: the content is not what its hash says"
	}
	return info.Size(), ""
}
