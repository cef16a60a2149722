package cli

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"bagmark/cli/demo"
	"bagmark/grow"
	"bagmark/server"
	"bagmark/store"
)

// Where the demo listens unless told otherwise: the usual port, else a free one.
const (
	demoListen     = "127.0.0.1:8080"
	demoListenElse = "127.0.0.1:0"
)

func serveDemo(c *call) error {
	var v serving
	data := c.String("data", "", "the `folder` of the demo farm, kept; a temporary one if empty")
	c.StringVar(&v.listen, "listen", "", "the `address` to listen on; "+demoListen+", else a free port, if empty")
	c.StringVar(&v.public, "public", "", "the `URL` that labels carry")
	if err := c.parse(); err != nil {
		return err
	}
	if err := c.checkServing(v); err != nil {
		return err
	}
	if *data != "" {
		return c.demoIn(*data, v, "it stays in "+*data)
	}
	dir, err := os.MkdirTemp(c.getenv("TMPDIR"), "bagmark-demo-")
	if err != nil {
		return err
	}
	return errors.Join(c.demoIn(filepath.Join(dir, "farm"), v, "it is gone when this ends"), os.RemoveAll(dir))
}

// demoIn serves the demo farm in dir, making it if it is not there.
func (c *call) demoIn(dir string, v serving, stays string) error {
	in, made := demo.Made(dir)
	if !made {
		if store.HoldsFarm(dir) {
			return grow.Errorf(grow.Conflict, "%s holds a farm that is no demo: give a new folder", dir)
		}
		var err error
		if in, err = demo.Make(c.ctx, dir, time.Now()); err != nil {
			return c.unlessStopped(err)
		}
	}
	s, err := store.Open(c.ctx, dir, store.Options{Alone: true, MustExist: true})
	if err != nil {
		return err
	}
	then := func(*server.Server) {
		fmt.Fprintf(c.stdout, "sign in as %s with the passphrase: %s\n", in.Name, in.Passphrase)
		fmt.Fprintf(c.stdout, "%s is an invented farm; %s\n", demo.Name, stays)
		fmt.Fprintf(c.stdout, "a token for the API: bagmark token -data %s -name demo -role grower\n", dir)
	}
	return errors.Join(c.serveSomewhere(s, v, then), s.Close())
}

// serveSomewhere serves at the address given; at the usual one, else at a free
// port, if none is.
func (c *call) serveSomewhere(s *store.Store, v serving, then func(*server.Server)) error {
	if v.listen != "" {
		return c.serve(s, v, then)
	}
	v.listen = demoListen
	err := c.serve(s, v, then)
	if errors.Is(err, syscall.EADDRINUSE) || errors.Is(err, syscall.EACCES) {
		v.listen = demoListenElse
		err = c.serve(s, v, then)
	}
	return err
}
