package command

import (
	"encoding/json"
	"fmt"

	"github.com/spf13/cobra"

	"tossline/datasets/season"
	"tossline/kernel/words"
)

func newVerify() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "verify DIR",
		Short: "Check that a season is whole",
		Long: `Verify reads every file of a season and checks it against its hash, and the database against itself. It changes
nothing, except that a season of an older version is upgraded first, with a copy of its database kept beside it. Its
exit code is 1 where it finds anything wrong; files that no recording or table uses are noted, and are not wrong.`,
		Example: `  tossline verify club`,
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			s, err := season.Open(args[0])
			if err != nil {
				return err
			}
			defer s.Close()
			line := newProgressLine(c.ErrOrStderr(), "Reading")
			report, err := s.Verify(c.Context(), line.show)
			line.end()
			if err != nil {
				return err
			}
			return tellReport(c, report, asJSON)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print the report as JSON")
	return c
}

func tellReport(c *cobra.Command, report season.Report, asJSON bool) error {
	out := c.OutOrStdout()
	if asJSON {
		if err := json.NewEncoder(out).Encode(report); err != nil {
			return err
		}
	} else {
		for _, n := range report.Notes {
			fmt.Fprintln(out, "note:", n)
		}
		for _, p := range report.Problems {
			fmt.Fprintln(out, p)
		}
		counts := words.Count(report.Recordings, "recording") + ", " + words.Count(report.Serves, "serve")
		if report.Tables > 0 {
			counts += ", " + words.Count(report.Tables, "table")
		}
		fmt.Fprintf(out, "%s, %.1f MB read: %s.\n", counts, float64(report.Bytes)/1e6, wrong(len(report.Problems)))
	}
	if len(report.Problems) > 0 {
		return errTold
	}
	return nil
}

func wrong(problems int) string {
	if problems == 0 {
		return "all is well"
	}
	return words.Count(problems, "thing") + " wrong"
}
