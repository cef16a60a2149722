package cli

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"
)

// twinWithin is how soon after a signal the same one again is no second wish:
// timeout(1), shells and service managers send one to a process and then to its
// whole group (common practice).
const twinWithin = time.Second

// UntilSignal gives a context that ends with the first SIGINT or SIGTERM. A
// second one, later on, ends the program at once.
func UntilSignal(ctx context.Context) context.Context {
	ctx, stop := signal.NotifyContext(ctx, os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, func() { time.AfterFunc(twinWithin, stop) })
	return ctx
}
