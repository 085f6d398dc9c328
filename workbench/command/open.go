package command

import (
	"context"
	"fmt"
	"log/slog"
	"os/exec"
	"path/filepath"
	"runtime"

	"github.com/spf13/cobra"

	"tossline/datasets/season"
	"tossline/recipes"
	"tossline/workbench/server"
)

func newOpen() *cobra.Command {
	var port int
	var quiet, verbose bool
	c := &cobra.Command{
		Use:   "open [DIR]",
		Short: "Open a season in the browser",
		Long: `Open shows a season in the browser, on this machine alone. A folder that is empty or not there yet becomes a new
season. Without DIR it opens the demo season, and makes it first where it isn't there yet.

The address that is printed lets one browser in, once.`,
		Example: `  tossline open club
  tossline open club --port 4000 --no-browser`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			dir, err := seasonToOpen(c, args)
			if err != nil {
				return err
			}
			level := slog.LevelWarn
			if verbose {
				level = slog.LevelDebug
			}
			log := slog.New(slog.NewTextHandler(c.ErrOrStderr(), &slog.HandlerOptions{Level: level}))
			return serve(c, server.Place{Dir: dir, Command: "tossline open", Shipped: shipped(), Version: Version, Log: log},
				port, !quiet)
		},
	}
	c.Flags().IntVar(&port, "port", 0, "port of the loopback address to listen on (default: any free one)")
	c.Flags().BoolVar(&quiet, "no-browser", false, "print the address, start no browser")
	c.Flags().BoolVar(&verbose, "verbose", false, "say on the terminal what happens")
	return c
}

// seasonToOpen is the folder that the arguments mean, made where that is what they ask for.
func seasonToOpen(c *cobra.Command, args []string) (string, error) {
	if len(args) == 0 {
		dir, err := demoFolder()
		if err == nil && !season.Exists(dir) {
			fmt.Fprintf(c.ErrOrStderr(), "Making the demo season in %s.\n", dir)
			err = makeDemo(c.Context(), dir, c.ErrOrStderr())
		}
		return dir, err
	}
	dir, err := filepath.Abs(args[0])
	if err != nil || season.Exists(dir) {
		return dir, err
	}
	w, err := openOrCreate(dir, "tossline open")
	if err != nil {
		return "", err
	}
	fmt.Fprintf(c.ErrOrStderr(), "%s is a new season. Drop recordings on the page.\n", dir)
	return dir, w.Close()
}

func shipped() []server.Shipped {
	var all []server.Shipped
	for _, r := range recipes.Shipped() {
		all = append(all, server.Shipped{File: r.File, Source: r.Source})
	}
	return all
}

func serve(c *cobra.Command, place server.Place, port int, browser bool) error {
	s, closeAll, err := server.Open(place)
	if err != nil {
		return err
	}
	defer closeAll()
	address, err := s.Listen(port)
	if err != nil {
		return err
	}
	fmt.Fprintf(c.OutOrStdout(), "Tossline is at %s\n", address)
	if browser {
		showInBrowser(c.Context(), address)
	}
	return s.Serve(c.Context())
}

// showInBrowser asks the system to show an address. Where it can't, the address on the terminal has to do.
func showInBrowser(ctx context.Context, address string) {
	name, args := "xdg-open", []string{address}
	switch runtime.GOOS {
	case "darwin":
		name = "open"
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", address}
	}
	if cmd := exec.CommandContext(ctx, name, args...); cmd.Start() == nil {
		go cmd.Wait()
	}
}
