// Bagmark makes every bag of a mushroom farm accountable, from inoculation to
// the fruiting room or the bin.
package main

import (
	"context"
	"os"

	"bagmark/cli"
)

func main() {
	err := cli.Run(cli.UntilSignal(context.Background()), os.Args[1:], os.Stdin, os.Stdout, os.Stderr, os.Getenv)
	os.Exit(cli.Report(os.Stderr, err))
}
