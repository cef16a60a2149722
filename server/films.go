package server

import (
	"context"
	"slices"
	"sync"
	"time"

	"bagmark/grow"
	"bagmark/scanner"
	"bagmark/store"
)

// film is one live camera whose frames are read one after the other, and what
// they have shown so far. Memory is a few kilobytes.
type film struct {
	mu      sync.Mutex // one frame at a time
	tracker scanner.Tracker
}

// films are the live cameras now on. The oldest is forgotten when there are too
// many, and one that has sent nothing for a while begins anew.
type films struct {
	mu   sync.Mutex
	list []shownFilm // the one used last is last
}

type shownFilm struct {
	by   store.Actor
	name string
	used time.Time
	film *film
}

const (
	mostFilms     = 64
	mostFilmsEach = 4 // of one device or token
	filmPatience  = 3 * time.Second
)

// filmName checks what a page calls its film: it is kept, so it must be short.
func filmName(name string) error {
	for _, r := range name {
		if (r < '0' || r > '9') && (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && r != '-' || len(name) > 36 {
			return grow.Problems{"film": "must have at most 36 letters, digits and hyphens"}.Err("this film has no name that can be kept")
		}
	}
	return nil
}

// of is the film that somebody's device calls by a name; it is made if need be.
func (f *films) of(by store.Actor, name string, now time.Time) *film {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.list = slices.DeleteFunc(f.list, func(s shownFilm) bool { return now.Sub(s.used) > filmPatience })
	mine, first := 0, -1
	for i, s := range f.list {
		if s.by != by {
			continue
		}
		if s.name == name {
			s.used = now
			f.list = append(slices.Delete(f.list, i, i+1), s)
			return s.film
		}
		if mine++; first < 0 {
			first = i
		}
	}
	switch {
	case mine >= mostFilmsEach:
		f.list = slices.Delete(f.list, first, first+1)
	case len(f.list) >= mostFilms:
		f.list = slices.Delete(f.list, 0, 1)
	}
	s := shownFilm{by, name, now, &film{}}
	f.list = append(f.list, s)
	return s.film
}

// scanFrame reads the next frame of a film.
func (s *Server) scanFrame(ctx context.Context, by store.Actor, name string, data []byte) (scanned, error) {
	film := s.films.of(by, name, s.store.Now())
	film.mu.Lock()
	defer film.mu.Unlock()
	return s.scan(ctx, data, &film.tracker)
}
