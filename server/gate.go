package server

import (
	"context"
	"runtime"

	"bagmark/grow"
)

// gate lets one piece of heavy work a core through; a few more wait, the rest
// are told to come back.
type gate struct {
	places chan struct{} // one token for each at work or waiting
	cores  chan struct{} // one token for each at work
}

func newGate(queue int) gate {
	cores := runtime.GOMAXPROCS(0)
	return gate{places: make(chan struct{}, cores+queue), cores: make(chan struct{}, cores)}
}

// through runs work when its turn has come.
func (g gate) through(ctx context.Context, work func() error) error {
	select {
	case g.places <- struct{}{}:
		defer func() { <-g.places }()
	default:
		return grow.Errorf(grow.Busy, "too much is being worked on just now; try again in a few seconds")
	}
	select {
	case g.cores <- struct{}{}:
		defer func() { <-g.cores }()
	case <-ctx.Done():
		return ctx.Err()
	}
	return work()
}
