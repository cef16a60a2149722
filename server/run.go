package server

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"time"

	"bagmark/grow"
)

// The limits of a connection. Routes that take or give much get more, see
// bePatient.
const (
	headerTimeout  = 5 * time.Second
	readTimeout    = 15 * time.Second
	writeTimeout   = 30 * time.Second
	idleTimeout    = 120 * time.Second
	maxHeaderBytes = 32 << 10         // the labels of 2,000 codes are asked for by address
	graceTimeout   = 10 * time.Second // for requests under way when the server is stopped
)

// MemoryLimit is where the garbage collector begins to work harder; large
// pictures would otherwise let it have twice what is in use. What calls [Server.Run]
// sets it for its process.
const MemoryLimit = 400 << 20

// GCPercent lets the collector wait until four times what is in use has been
// taken: below the limit it would otherwise take an eighth of the processor.
const GCPercent = 300

// Run listens and serves until ctx ends, then lets the requests under way
// finish. It calls ready with the addresses to open, the plain one first, once
// the farm answers. listenTLS is used only where the options ask for TLS.
func (s *Server) Run(ctx context.Context, listen, listenTLS string, ready func(addresses []string)) error {
	plain, err := s.listen(ctx, listen)
	if err != nil {
		return err
	}
	private, err := s.listenTLS(ctx, listenTLS)
	if err != nil {
		return errors.Join(err, plain.Close())
	}
	if err := s.store.SetListened(ctx, listenedOn(plain)); err != nil {
		return errors.Join(err, plain.Close(), closeListener(private))
	}
	ctx, stop := context.WithCancel(ctx)
	var house sync.WaitGroup
	house.Go(func() { s.keepHouse(ctx) })
	house.Go(func() { s.keepBackups(ctx) })
	// Learns what the first one who asks would wait for; what fails fails again
	// for them.
	house.Go(func() { s.store.Today(ctx) })
	defer house.Wait() // nothing touches the farm any more once Run has returned
	defer stop()
	webs, served := []*http.Server{s.newHTTP()}, make(chan error, 2)
	web := webs[0]
	go func() { served <- web.Serve(plain) }()
	addresses := []string{openAt("http", plain, s.hosts.own())}
	if private != nil {
		web := s.newHTTP()
		web.TLSConfig = s.tlsConfig()
		webs = append(webs, web)
		go func() { served <- web.ServeTLS(private, "", "") }()
		addresses = append(addresses, openAt("https", private, s.hosts.own()))
	}
	ready(addresses)
	select {
	case err := <-served:
		stopped := &grow.Error{Kind: grow.Internal, Message: "the server stopped: " + err.Error(), Cause: err}
		return errors.Join(stopped, shutDown(webs))
	case <-ctx.Done():
	}
	return shutDown(webs)
}

func closeListener(l net.Listener) error {
	if l == nil {
		return nil
	}
	return l.Close()
}

func (s *Server) newHTTP() *http.Server {
	return &http.Server{
		Handler: s.Handler(), ReadHeaderTimeout: headerTimeout, ReadTimeout: readTimeout, WriteTimeout: writeTimeout,
		IdleTimeout: idleTimeout, MaxHeaderBytes: maxHeaderBytes, ErrorLog: slog.NewLogLogger(s.log.Handler(), slog.LevelDebug),
	}
}

// listen opens a port and notes the host it was asked for by name.
func (s *Server) listen(ctx context.Context, address string) (net.Listener, error) {
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", address)
	if err != nil {
		return nil, &grow.Error{Kind: grow.Invalid, Message: "cannot listen on " + address + ": " + reasonOf(err), Cause: err}
	}
	if host, _, err := net.SplitHostPort(address); err == nil {
		s.hosts.listen(host)
	}
	return l, nil
}

// reasonOf is the system's own reason without the addresses around it.
func reasonOf(err error) string {
	for inner := errors.Unwrap(err); inner != nil; inner = errors.Unwrap(err) {
		err = inner
	}
	return err.Error()
}

// shutDown waits for the requests under way, but not for ever.
func shutDown(webs []*http.Server) error {
	ctx, cancel := context.WithTimeout(context.Background(), graceTimeout)
	defer cancel()
	failed := make([]error, len(webs))
	var ending sync.WaitGroup
	for i, web := range webs {
		ending.Go(func() {
			if err := web.Shutdown(ctx); err != nil {
				failed[i] = errors.Join(&grow.Error{Kind: grow.Internal, Message: "some requests were cut off", Cause: err}, web.Close())
			}
		})
	}
	ending.Wait()
	return errors.Join(failed...)
}

// keepHouse throws away photos that no entry shows, once a day.
func (s *Server) keepHouse(ctx context.Context) {
	day := time.NewTicker(24 * time.Hour)
	defer day.Stop()
	for {
		if n, err := s.store.DropUnusedPhotos(ctx); err != nil && ctx.Err() == nil {
			s.log.Warn("unused photos could not be deleted", "cause", err.Error())
		} else if n > 0 {
			s.log.Info("deleted unused photos", "count", n)
		}
		select {
		case <-ctx.Done():
			return
		case <-day.C:
		}
	}
}
