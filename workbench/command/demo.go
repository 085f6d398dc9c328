package command

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"tossline/datasets/demo"
)

func newDemo() *cobra.Command {
	return &cobra.Command{
		Use:   "demo DIR",
		Short: "Make the demo season in a folder",
		Long: `Demo makes the season of an invented academy with invented players in a new folder: some 1,000 serves with racket
and ball, from a model of the body. The same version makes the same season everywhere. What the model did is kept
beside it in truth.json.`,
		Example: `  tossline demo harbour-lane
  tossline open harbour-lane`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if err := makeDemo(c.Context(), args[0], c.ErrOrStderr()); err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "The demo season is in %s. Look at it: tossline open %s\n", args[0], args[0])
			return nil
		},
	}
}

func makeDemo(ctx context.Context, dir string, log io.Writer) error {
	line := newProgressLine(log, "Making the demo season")
	err := demo.Create(ctx, dir, "tossline demo", demo.DefaultSeed, line.show)
	line.end()
	return err
}
