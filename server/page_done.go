package server

import (
	"net/http"
	"strings"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// donePage says what became of many entries logged with one tap, and takes
// them all back with another.
type donePage struct {
	frame
	Logged   []doneLine
	Refused  []doneLine
	Next     string
	NextWord string
}

// doneLine is one bag of it.
type doneLine struct {
	Bag   grow.Code
	Name  string
	ID    grow.ID
	Words string
}

func (s *Server) showDone(c echo.Context, title, next, nextWord string, results []store.EntryResult, drafts []grow.Draft) error {
	f, _, err := s.frame(c, title)
	if err != nil {
		return err
	}
	codes := make([]grow.Code, len(drafts))
	for i, d := range drafts {
		codes[i] = d.Bag
	}
	things, err := s.store.WhatIs(c.Request().Context(), codes)
	if err != nil {
		return err
	}
	p := donePage{frame: f, Next: next, NextWord: nextWord}
	for i, r := range results {
		line := doneLine{Bag: drafts[i].Bag, Name: bagNameOf(drafts[i].Bag, things[drafts[i].Bag]), ID: r.ID}
		if r.Err != nil {
			line.Words = r.Err.Error()
			p.Refused = append(p.Refused, line)
			continue
		}
		line.Words = entryWords(*r.Entry, f.U)
		p.Logged = append(p.Logged, line)
	}
	return s.show(c, http.StatusOK, "done", p)
}

func bagNameOf(code grow.Code, t store.Thing) string {
	if t.Batch != "" {
		return string(t.Batch) + " #" + numberWords(float64(t.Number))
	}
	return code.Spaced()
}

// postTakeBack voids many entries at once. Each tick is a bag, an entry and the
// void's own id.
func (s *Server) postTakeBack(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	var drafts []grow.Draft
	for _, line := range v["entry"] {
		parts := strings.Fields(line)
		if len(parts) != 3 {
			return grow.Errorf(grow.Invalid, "this form was changed; open the page again")
		}
		drafts = append(drafts, grow.Draft{ID: grow.ID(parts[2]), Bag: grow.Code(parts[0]), Kind: grow.KindVoid, Details: grow.Details{Entry: grow.ID(parts[1])}})
	}
	results, err := s.store.AddEntries(c.Request().Context(), actorOf(c), drafts)
	if err != nil {
		return err
	}
	return s.showDone(c, "Taken back", "/", "Today", results, drafts)
}
