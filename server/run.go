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
	maxHeaderBytes = 16 << 10
	graceTimeout   = 10 * time.Second // for requests under way when the server is stopped
)

// Run listens and serves until ctx ends, then lets the requests under way
// finish. It calls ready with the addresses to open, the plain one first, once
// the farm answers. listenTLS is used only where the options ask for TLS.
func (s *Server) Run(ctx context.Context, listen, listenTLS string, ready func(addresses []string)) error {
	plain, err := s.listen(ctx, listen)
	if err != nil {
		return err
	}
	if err := s.store.SetListened(ctx, listenedOn(plain)); err != nil {
		return errors.Join(err, plain.Close())
	}
	ctx, stop := context.WithCancel(ctx)
	var house sync.WaitGroup
	house.Go(func() { s.keepHouse(ctx) })
	defer house.Wait() // nothing touches the farm any more once Run has returned
	defer stop()
	web := s.newHTTP()
	served := make(chan error, 1)
	go func() { served <- web.Serve(plain) }()
	ready([]string{openAt("http", plain, s.hosts.own())})
	select {
	case err := <-served:
		return &grow.Error{Kind: grow.Internal, Message: "the server stopped: " + err.Error(), Cause: err}
	case <-ctx.Done():
	}
	return shutDown(web)
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
func shutDown(web *http.Server) error {
	ctx, cancel := context.WithTimeout(context.Background(), graceTimeout)
	defer cancel()
	if err := web.Shutdown(ctx); err != nil {
		return errors.Join(&grow.Error{Kind: grow.Internal, Message: "some requests were cut off", Cause: err}, web.Close())
	}
	return nil
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
