package server

import (
	"context"
	"slices"

	"bagmark/grow"
	"bagmark/store"
)

// takeBack voids entries of one bag, the newest first. What somebody took back
// on another page already is passed over, so that nobody stands before an undo
// that can never be done.
func (s *Server) takeBack(ctx context.Context, who store.Actor, bag grow.Code, entries []grow.ID) error {
	b, err := s.store.Bag(ctx, bag)
	if err != nil {
		return err
	}
	var drafts []grow.Draft
	for _, e := range b.Entries {
		if e.VoidedBy != "" || !slices.Contains(entries, e.ID) {
			continue
		}
		id, err := newID()
		if err != nil {
			return err
		}
		drafts = append(drafts, grow.Draft{ID: id, Bag: b.Code, Kind: grow.KindVoid, Details: grow.Details{Entry: e.ID}})
	}
	results, err := s.store.AddEntries(ctx, who, drafts)
	for _, r := range results {
		if err == nil {
			err = r.Err
		}
	}
	return err
}
