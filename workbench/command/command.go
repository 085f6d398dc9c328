// Package command is the command line of Tossline: it parses words, calls the packages that do the work, and prints
// what came of it.
package command

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	_ "tossline/datasets/formats" // the formats that can be imported
	"tossline/kernel/engine"
)

// Version is the version of the program, shown by --version and on the page.
const Version = "1.0"

// Run does what the arguments say and gives the exit code: 0 for success, 1 where something failed, 2 where the
// arguments were not understood.
func Run(ctx context.Context, args []string, out, errOut io.Writer) int {
	root := newRoot()
	root.SetArgs(args)
	root.SetOut(out)
	root.SetErr(errOut)
	err := root.ExecuteContext(ctx)
	var misused usageError
	switch {
	case err == nil:
		return 0
	case errors.Is(err, errTold):
		return 1
	case errors.As(err, &misused):
		fmt.Fprintf(errOut, "tossline: %v\n", err)
		return 2
	case ctx.Err() != nil:
		fmt.Fprintln(errOut, "tossline: stopped")
		return 1
	}
	fmt.Fprintf(errOut, "tossline: %v\n", err)
	return 1
}

// errTold ends a command whose output has said already what is wrong.
var errTold = errors.New("told already")

// usageError is a mistake in the words of a command.
type usageError struct{ err error }

func (u usageError) Error() string { return u.err.Error() }
func (u usageError) Unwrap() error { return u.err }

func misuse(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

func newRoot() *cobra.Command {
	open := newOpen()
	root := &cobra.Command{
		Use:   "tossline [open [DIR]]",
		Short: "Analyse tennis serves",
		Long: `Tossline keeps a season of tennis serves, runs recipes over it and shows their results in the browser.

Without a word it opens the demo season, an invented academy, and makes it first where it isn't there yet.`,
		Example: `  tossline                              open the demo season
  tossline open club                    open the season in the folder club
  tossline import --season club *.bvh   add recordings to it`,
		Version:       Version,
		Args:          cobra.NoArgs,
		RunE:          open.RunE,
		SilenceErrors: true,
		SilenceUsage:  true,
	}
	root.Flags().AddFlagSet(open.Flags())
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return misuse("%v; try %s --help", err, c.CommandPath())
	})
	root.CompletionOptions.DisableDefaultCmd = true
	root.AddCommand(open, newDemo(), newImport(), newRun(), newReport(), newCheck(), newExport(), newVerify(),
		newMeasures(), newRemove(), newEngine())
	for _, c := range root.Commands() {
		c.Args = asUsage(c.Args)
	}
	root.Args = asUsage(root.Args)
	return root
}

// asUsage makes the complaints of a check of arguments, and of flags that are required, usage errors.
func asUsage(check cobra.PositionalArgs) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if err := cmp.Or(check(c, args), lacking(c)); err != nil {
			return misuse("%v; try %s --help", err, c.CommandPath())
		}
		return nil
	}
}

// lacking names the flags that a command needs and did not get.
func lacking(c *cobra.Command) error {
	var names []string
	c.Flags().VisitAll(func(f *pflag.Flag) {
		if f.Annotations[cobra.BashCompOneRequiredFlag] != nil && !f.Changed {
			names = append(names, "--"+f.Name)
		}
	})
	if len(names) == 0 {
		return nil
	}
	return fmt.Errorf("%s needs %s", c.Name(), strings.Join(names, " and "))
}

// newEngine is the hidden command that the program starts itself with, to run recipes and read files at a distance.
func newEngine() *cobra.Command {
	return &cobra.Command{
		Use: "engine", Hidden: true, Args: cobra.NoArgs,
		Run: func(*cobra.Command, []string) { engine.Main() },
	}
}

// demoFolder is where the demo season of this user lies.
func demoFolder() (string, error) {
	base := os.Getenv("XDG_DATA_HOME")
	if base == "" {
		home, err := os.UserHomeDir()
		if err != nil {
			return "", fmt.Errorf("there is no home folder for the demo season; say where: tossline open DIR (%w)", err)
		}
		base = filepath.Join(home, ".local", "share")
	}
	return filepath.Join(base, "tossline", "Harbour Lane"), nil
}
