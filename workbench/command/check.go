package command

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"tossline/kernel/engine"
	"tossline/workbench/supervisor"
)

func newCheck() *cobra.Command {
	return &cobra.Command{
		Use:   "check RECIPE.go...",
		Short: "Check recipes without running them",
		Long: `Check reads recipes as the page does and prints every mistake as file:line:column: message. Its exit code is 1 where
there is one. Warnings alone leave it 0.`,
		Example: `  tossline check contact_offset.go`,
		Args:    cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			mistakes := false
			for _, path := range args {
				checked, err := checkFile(c.Context(), path)
				if err != nil {
					return err
				}
				for _, d := range checked.Diagnostics {
					mistakes = mistakes || d.Severity == "error"
					fmt.Fprintf(c.OutOrStdout(), "%s:%d:%d: %s\n", path, d.Line, d.Column, spoken(d.Severity, d.Message))
				}
			}
			if mistakes {
				return errTold
			}
			return nil
		},
	}
}

func spoken(severity, message string) string {
	if severity == "error" {
		return message
	}
	return severity + ": " + message
}

// maxRecipe is more than the checker takes; it says so itself, with the size.
const maxRecipe = 1 << 20

// checkFile reads a recipe and has an engine check it.
func checkFile(ctx context.Context, path string) (engine.Checked, error) {
	source, err := readRecipe(path)
	if err != nil {
		return engine.Checked{}, err
	}
	var checked engine.Checked
	ask := engine.Ask{Question: engine.Check, File: filepath.Base(path), Source: source}
	err = supervisor.AskOnce(ctx, supervisor.Options{}, ask, &checked)
	if err != nil {
		return engine.Checked{}, fmt.Errorf("%s: %w", path, err)
	}
	return checked, nil
}

func readRecipe(path string) (string, error) {
	info, err := os.Stat(path)
	switch {
	case os.IsNotExist(err):
		return "", fmt.Errorf("there is no recipe %s", path)
	case err != nil:
		return "", err
	case info.IsDir():
		return "", fmt.Errorf("%s is a folder; name the recipe's Go file in it", path)
	case info.Size() > maxRecipe:
		return "", fmt.Errorf("%s has %d bytes; a recipe has at most %d", path, info.Size(), maxRecipe)
	}
	source, err := os.ReadFile(path)
	return string(source), err
}
