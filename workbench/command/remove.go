package command

import (
	"fmt"

	"github.com/spf13/cobra"

	"tossline/datasets/season"
)

func newRemove() *cobra.Command {
	var dir string
	c := &cobra.Command{
		Use:   "remove --season DIR RECORDING...",
		Short: "Take recordings out of a season for good",
		Long: `Remove deletes recordings with their frames, their serves and all that was said of them. It can't be undone; to leave
out single serves, discard them on the page. The ids of recordings are in the table serves.`,
		Example: `  tossline remove --season club 5a85456e85a6`,
		Args:    cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
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
			return nil
		},
	}
	c.Flags().StringVar(&dir, "season", "", "the season folder")
	required(c, "season")
	return c
}
