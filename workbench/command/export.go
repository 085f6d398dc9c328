package command

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"tossline/datasets/c3d"
	"tossline/datasets/catalogue"
	"tossline/datasets/export"
	"tossline/datasets/frames"
	"tossline/datasets/season"
	"tossline/kernel/words"
)

func newExport() *cobra.Command {
	var dir, name, format, path string
	c := &cobra.Command{
		Use:   "export --season DIR --table NAME -o FILE",
		Short: "Write a table of a season as CSV, Parquet or Arrow",
		Long: `Export writes one table of a season to a file, for any other tool.

  serves    a row per serve: recording, file, player, session, contact time, and what is known of it
  events    a row per serve and event: time, method, confidence
  measures  a row per serve: every measure with its basis, or the reason why it is missing
  frames    a row per frame of every serve: time and the coordinates of each landmark, metres
  signals   a row per value of what was recorded beside the points, such as force plates: signal, unit, time
  changes   a row per change by hand: what was changed, value, when, and when it was taken back
  groups    a row per serve of each group that was kept

Where the files of a recording are damaged, its frames, measures or signals are left out, and that is told.

The table of changes tells what was there before, too: mind names in it before you hand it on.

Any other NAME is that of a table that the season keeps. What leaves comes back with import: frames as recordings;
serves, events, changes and groups by --particulars; and every table as it is, to be read by recipes, by --table.

Units and definitions are in the metadata of Parquet and Arrow files; column names end in the unit. In CSV, texts that
a spreadsheet would take for a formula begin with an apostrophe.

With --format c3d, -o names a folder: every recording becomes a C3D file there, with its frames, events and signals.`,
		Example: `  tossline export --season club --table measures -o measures.csv
  tossline export --season club --table frames -o frames.parquet
  tossline export --season club --table frames --format c3d -o takes`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if format == "" {
				format = strings.TrimPrefix(filepath.Ext(path), ".")
			}
			f, err := export.ParseFormat(format)
			if err != nil && format != c3d.Name {
				return misuse("%v (say --format, or end the file's name in it)", err)
			}
			s, err := season.Open(dir)
			if err != nil {
				return err
			}
			defer s.Close()
			snapshot, err := s.Snapshot(c.Context())
			if err != nil {
				return err
			}
			if format == c3d.Name {
				return exportC3D(c, s, snapshot, name, path)
			}
			content, err := contentOf(c, s, snapshot, name)
			if err != nil {
				return err
			}
			if name == "frames" || name == "measures" {
				tellDamaged(c, snapshot)
			}
			return export.Save(path, f, content)
		},
	}
	c.Flags().StringVar(&dir, "season", "", "`folder` of the season")
	c.Flags().StringVar(&name, "table", "", "`name` of a table as above, or of one that the season keeps")
	c.Flags().StringVar(&format, "format", "", "`format` of the file: csv, parquet, arrow, or of frames c3d "+
		"(default: by its ending)")
	c.Flags().StringVarP(&path, "output", "o", "", "`file` to write")
	required(c, "season", "table", "output")
	return c
}

// contentOf gives a table of a season.
func contentOf(cmd *cobra.Command, s *season.Season, c *catalogue.Catalogue, name string) (export.Content, error) {
	ctx := cmd.Context()
	switch name {
	case "signals":
		return export.Signals(ctx, c, signalsOf(cmd, s)), nil
	case "changes":
		made, err := s.Edits(ctx, "")
		if err != nil {
			return export.Content{}, err
		}
		slices.Reverse(made)
		return export.Changes(c, made)
	case "groups":
		groups, err := s.Groups(ctx)
		if err != nil {
			return export.Content{}, err
		}
		return export.Groups(c, groups)
	}
	return export.Of(ctx, c, name)
}

// tellDamaged says which recordings are left out because their frames can't be read.
func tellDamaged(c *cobra.Command, all *catalogue.Catalogue) {
	for i, r := range all.Recordings() {
		if why := all.Damaged(i); why != "" {
			fmt.Fprintf(c.ErrOrStderr(), "tossline: left out: recording %s: %s; import it again\n", r.ID, why)
		}
	}
}

// signalsOf gives the signals of a recording, without those that can't be read, of which it tells.
func signalsOf(c *cobra.Command, s *season.Season) func(recording string) ([]frames.Signal, error) {
	return func(recording string) ([]frames.Signal, error) {
		signals, err := s.Signals(c.Context(), recording)
		if err != nil && c.Context().Err() == nil {
			fmt.Fprintf(c.ErrOrStderr(), "tossline: left out: the signals of recording %s: %v; import it again\n",
				recording, err)
			return nil, nil
		}
		return signals, err
	}
}

// exportC3D writes the recordings of a season to a folder.
func exportC3D(c *cobra.Command, s *season.Season, all *catalogue.Catalogue, name, folder string) error {
	if name != "frames" {
		return misuse("C3D holds frames: say --table frames")
	}
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return err
	}
	tellDamaged(c, all)
	paths, left, err := export.SaveC3D(folder, all, signalsOf(c, s))
	for _, what := range left {
		fmt.Fprintf(c.ErrOrStderr(), "tossline: left out, because C3D cannot hold it: %s\n", what)
	}
	if err == nil {
		fmt.Fprintf(c.OutOrStdout(), "%s written to %s\n", words.Count(len(paths), "file"), folder)
	}
	return err
}

// required marks flags without which a command has nothing to do.
func required(c *cobra.Command, names ...string) {
	for _, name := range names {
		if err := c.MarkFlagRequired(name); err != nil {
			panic(err) // the flag is not there: a mistake in this package
		}
	}
}
