package command

import (
	"fmt"

	"github.com/spf13/cobra"

	"tossline/kernel/motion"
)

func newMeasures() *cobra.Command {
	return &cobra.Command{
		Use:   "measures",
		Short: "Print what is measured, and how",
		Long: `Measures prints the reference of everything that Tossline finds and measures in a serve, as Markdown: events, measures
and curves, each with its unit, sign, definition and source.`,
		Example: `  tossline measures | less`,
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			_, err := fmt.Fprint(c.OutOrStdout(), motion.Reference())
			return err
		},
	}
}
