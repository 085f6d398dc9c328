package command

import (
	"fmt"

	"github.com/spf13/cobra"

	"tossline/datasets/season"
)

func newRemove() *cobra.Command {
	var dir, table string
	c := &cobra.Command{
		Use:   "remove --season DIR [RECORDING...]",
		Short: "Take recordings or a table out of a season for good",
		Long: `Remove deletes recordings with their frames, their serves and all that was said of them, or a table that is kept with
everything that was ever kept under its name. It can't be undone; to leave out single serves, or a table for a time,
use the page. The ids of recordings are in the table serves.`,
		Example: `  tossline remove --season club 5a85456e85a6
  tossline remove --season club --table lab`,
		Args: cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 && table == "" {
				return misuse("remove needs a recording, or --table NAME")
			}
			w, err := season.OpenForWriting(dir, "tossline remove")
			if err != nil {
				return err
			}
			defer w.Close()
			for _, id := range args {
				if err := w.RemoveRecording(c.Context(), id); err != nil {
					return err
				}
				fmt.Fprintf(c.OutOrStdout(), "recording %s is gone\n", id)
			}
			if table == "" {
				return nil
			}
			if err := w.RemoveTable(c.Context(), table); err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "table %s is gone\n", table)
			return nil
		},
	}
	c.Flags().StringVar(&dir, "season", "", "the season folder")
	c.Flags().StringVar(&table, "table", "", "a table that is kept")
	required(c, "season")
	return c
}
