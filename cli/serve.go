package cli

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"runtime/debug"

	"bagmark/grow"
	"bagmark/server"
	"bagmark/store"
)

// serving is what serve and demo have in common.
type serving struct {
	listen, listenTLS, tls string
	tlsFolder              string // of the authority for HTTPS
	public                 string
	backupTo               string
}

func serve(c *call) error {
	var v serving
	data := c.String("data", "", "the farm's `folder`, made on first use")
	c.StringVar(&v.listen, "listen", ":8080", "the `address` to listen on; port 0 takes a free one")
	c.StringVar(&v.listenTLS, "listen-tls", ":8443", "the `address` to listen on for HTTPS")
	c.StringVar(&v.public, "public", "", "the `URL` that labels carry, kept from now on")
	c.StringVar(&v.tls, "tls", "off", "off, or local for HTTPS with an authority of the farm's own")
	c.StringVar(&v.backupTo, "backup-to", "", "the `folder`, on another disk, that gets a backup a day")
	if err := c.parse("data"); err != nil {
		return err
	}
	if err := c.checkServing(v); err != nil {
		return err
	}
	v.tlsFolder = filepath.Join(*data, "tls")
	s, err := store.Open(c.ctx, *data, store.Options{Alone: true, TimeZone: machineZone(c.getenv, "/etc")})
	if err != nil {
		return c.unlessStopped(err)
	}
	return errors.Join(c.serve(s, v, func(web *server.Server) {
		if code := web.SetUpCode(); code != "" {
			fmt.Fprintf(c.stdout, "this farm is new: open the address in a browser and set it up with the code %s\n", code)
		}
	}), s.Close())
}

// checkServing refuses what cannot be served before anything is made.
func (c *call) checkServing(v serving) error {
	if v.public != "" {
		if _, err := grow.ParseAddress(v.public); err != nil {
			return c.wrong("-public %s: %s", v.public, err)
		}
	}
	switch v.tls {
	case "", "off", "local":
		return nil
	}
	return c.wrong("-tls %s: it can be off or local", v.tls)
}

// serve serves an open farm until the call's context ends. then is run once it
// listens, after the addresses have been printed.
func (c *call) serve(s *store.Store, v serving, then func(*server.Server)) error {
	if v.public != "" {
		address, err := grow.ParseAddress(v.public)
		if err != nil {
			return err
		}
		if err := s.SetPublic(c.ctx, address); err != nil {
			return c.unlessStopped(err)
		}
	}
	if c.getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(server.MemoryLimit)
	}
	if c.getenv("GOGC") == "" {
		debug.SetGCPercent(server.GCPercent)
	}
	web, err := server.New(server.Options{Store: s, Log: slog.New(slog.NewTextHandler(c.stderr, nil)), Version: Version(), TLS: v.tls, TLSFolder: v.tlsFolder, BackupTo: v.backupTo})
	if err != nil {
		return err
	}
	err = web.Run(c.ctx, v.listen, v.listenTLS, func(addresses []string) {
		for _, a := range addresses {
			fmt.Fprintln(c.stdout, "listening on "+a)
		}
		then(web)
	})
	if errors.Is(err, context.Canceled) {
		return nil // a signal came before it listened
	}
	return err
}

// unlessStopped passes a failure over that only says that a signal came while
// the farm was being opened; the database has many names for that.
func (c *call) unlessStopped(err error) error {
	if c.ctx.Err() != nil {
		return nil
	}
	return err
}
