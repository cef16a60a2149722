package server

import (
	"context"
	"slices"

	"bagmark/grow"
	"bagmark/store"
)

// watchesFor are the bags still on watch for a mould of this bag, while taking
// that back is the last thing that was done here.
func (s *Server) watchesFor(ctx context.Context, b store.Bag) ([]store.WatchFor, error) {
	if b.Contaminated != nil || len(b.Entries) == 0 || b.Entries[0].Kind != grow.KindVoid {
		return nil, nil
	}
	back := b.Entries[0].Entry
	if !slices.ContainsFunc(b.Entries, func(e grow.Entry) bool { return e.ID == back && e.Kind == grow.KindContaminated }) {
		return nil, nil
	}
	return s.store.WatchesFor(ctx, b.Code)
}

// takeBack voids entries of one bag, the newest first. What somebody took back
// on another page already is passed over, so that nobody stands before an undo
// that can never be done.
func (s *Server) takeBack(ctx context.Context, who store.Actor, bag grow.Code, entries []grow.ID) error {
	return s.takeBackAll(ctx, who, []backEntry{{bag, entries}})
}

// backEntry is what is taken back of one bag.
type backEntry struct {
	bag     grow.Code
	entries []grow.ID
}

// takeBackAll does so for many bags in one transaction.
func (s *Server) takeBackAll(ctx context.Context, who store.Actor, back []backEntry) error {
	var drafts []grow.Draft
	for _, k := range back {
		b, err := s.store.Bag(ctx, k.bag)
		if err != nil {
			return err
		}
		for _, e := range b.Entries {
			if e.VoidedBy != "" || !slices.Contains(k.entries, e.ID) {
				continue
			}
			id, err := newID()
			if err != nil {
				return err
			}
			drafts = append(drafts, grow.Draft{ID: id, Bag: b.Code, Kind: grow.KindVoid, Details: grow.Details{Entry: e.ID}})
		}
	}
	results, err := s.store.AddEntries(ctx, who, drafts)
	for _, r := range results {
		if err == nil {
			err = r.Err
		}
	}
	return err
}
