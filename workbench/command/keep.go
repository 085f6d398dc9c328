package command

import (
	"context"
	"fmt"
	"path/filepath"

	"github.com/spf13/pflag"

	"tossline/datasets/season"
	"tossline/datasets/sheet"
	"tossline/workbench/supervisor"
)

// tableReport is the JSON of import --table. Fields may be added and are never renamed.
type tableReport struct {
	Table   string         `json:"table"`
	File    string         `json:"file"`
	Outcome season.Outcome `json:"outcome,omitempty"` // empty where nothing was stored
	sheet.Understood
}

// checkKeep refuses what makes no sense beside --table.
func (j importing) checkKeep(files []string, flags *pflag.FlagSet) error {
	for _, flag := range append([]string{"particulars"}, aboutFiles...) {
		if flags.Changed(flag) {
			return misuse("--%s is about recordings; with --table a file is kept as it is", flag)
		}
	}
	if len(files) != 1 {
		return misuse("--table keeps one file under a name: tossline import --season DIR --table NAME FILE")
	}
	if err := season.CheckTableName(j.table); err != nil {
		return misuse("--table: %v", err)
	}
	return nil
}

// keep keeps the table in a file in the season, unless this is a dry run, and says how it was understood.
func (j importing) keep(ctx context.Context, path string) error {
	var w *season.Writer
	if !j.dry {
		var err error
		if w, err = openOrCreate(j.dir, "tossline import"); err != nil {
			return err
		}
		defer w.Close()
	}
	report := tableReport{Table: j.table, File: filepath.Base(path)}
	line := newProgressLine(j.errOut, report.File)
	defer line.end()
	ask := supervisor.Import{Path: path, Progress: line.show}
	if w != nil {
		ask.Scratch = w.Scratch()
	}
	table, err := supervisor.Keep(ctx, ask)
	if err != nil {
		return err
	}
	if w != nil {
		if report.Outcome, err = w.KeepTable(ctx, j.table, report.File, table.Record); err != nil {
			return err
		}
	}
	line.end()
	report.Understood = table.Understood
	if j.asJSON {
		return j.print(report)
	}
	fmt.Fprintf(j.out, "%s: %s", report.File, report.Understood)
	switch report.Outcome {
	case "":
		fmt.Fprintln(j.out, "nothing stored")
	case season.New:
		fmt.Fprintf(j.out, "kept as table %s\n", j.table)
	case season.Replaced:
		fmt.Fprintf(j.out, "kept as table %s, in place of the one before, which the page can put back\n", j.table)
	default:
		fmt.Fprintf(j.out, "table %s: %s\n", j.table, report.Outcome)
	}
	return nil
}
