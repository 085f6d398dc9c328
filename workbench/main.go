// Command tossline is a local workbench for analysing tennis serves: it keeps a season of recordings, runs recipes
// over it and shows their results in the browser.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"tossline/workbench/command"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := command.Run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}
