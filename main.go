// Bagmark makes every bag of a mushroom farm accountable, from inoculation to
// the fruiting room or the bin.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"bagmark/cli"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second signal ends at once
	err := cli.Run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr, os.Getenv)
	os.Exit(cli.Report(os.Stderr, err))
}
