package server

import (
	"context"
	"net/http"
	"time"

	"bagmark/grow"
	"bagmark/scanner"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// foundLabel is one symbol of a picture and what it stands for. Corners are in
// pixels of the picture as it was sent, without the quiet zone, clockwise from
// the symbol's own top left.
type foundLabel struct {
	Text    string         `json:"text"`
	Kind    grow.CodeKind  `json:"kind"`
	Code    grow.Code      `json:"code,omitempty"`
	Known   bool           `json:"known"`
	Certain bool           `json:"certain"`
	Corners [4][2]float64  `json:"corners"`
	Batch   grow.BatchCode `json:"batch,omitempty"`
	Number  int            `json:"number,omitempty"`
	Name    string         `json:"name,omitempty"`
}

// scanned answers a picture.
type scanned struct {
	Found  []foundLabel `json:"found"`
	TookMS int64        `json:"took_ms"`
	Width  int          `json:"width"`
	Height int          `json:"height"`
}

// postScan reads the symbols in a picture. It logs nothing.
func (s *Server) postScan(c echo.Context) error {
	name := c.QueryParam("film")
	if err := filmName(name); err != nil {
		return err
	}
	data, err := pictureBytes(c)
	if err != nil {
		return err
	}
	var result scanned
	if name == "" {
		result, err = s.scan(c.Request().Context(), data, nil)
	} else {
		result, err = s.scanFrame(c.Request().Context(), actorOf(c), name, data)
	}
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, result)
}

// scan reads a picture and asks the store what its labels are. The tracker is
// that of the camera whose frame it is, nil for a picture by itself.
func (s *Server) scan(ctx context.Context, data []byte, tracker *scanner.Tracker) (scanned, error) {
	start := time.Now()
	read, err := s.reader.Read(ctx, data, scanner.Options{Known: s.known, Tracker: tracker})
	if err != nil {
		return scanned{}, err
	}
	var codes []grow.Code
	for _, f := range read.Found {
		if f.Code != "" {
			codes = append(codes, f.Code)
		}
	}
	things := map[grow.Code]store.Thing{}
	if len(codes) > 0 {
		if things, err = s.store.WhatIs(ctx, codes); err != nil {
			return scanned{}, err
		}
	}
	out := scanned{Found: make([]foundLabel, 0, len(read.Found)), Width: read.Width, Height: read.Height}
	for _, f := range read.Found {
		thing, known := things[f.Code]
		out.Found = append(out.Found, labelOf(f, thing, known))
	}
	out.TookMS = time.Since(start).Milliseconds()
	return out, nil
}

// labelOf joins what was read with what the farm knows of it. What the farm
// knows decides the kind: a blank and a bag have the same letter in their path.
func labelOf(f scanner.Found, thing store.Thing, known bool) foundLabel {
	l := foundLabel{Text: f.Text, Kind: f.Kind, Code: f.Code, Certain: f.Certain}
	for i, p := range f.Corners {
		l.Corners[i] = [2]float64{p.X, p.Y}
	}
	if known {
		l.Kind, l.Known, l.Batch, l.Number, l.Name = thing.Kind, true, thing.Batch, thing.Number, thing.Name
	}
	return l
}

// known is what the farm has printed, for symbols too poor to be read alone.
func (s *Server) known(ctx context.Context) (scanner.Known, error) {
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return scanner.Known{}, err
	}
	list, err := s.store.KnownCodes(ctx)
	if err != nil {
		return scanner.Known{}, err
	}
	k := scanner.Known{Addresses: s.printedAddresses(farm), Labels: make([]scanner.Reference, len(list))}
	for i, known := range list {
		k.Labels[i] = scanner.Reference{Kind: known.Kind, Code: known.Code}
	}
	return k, nil
}

// printedAddresses are those that labels may carry: today's, and the one they
// had before a public address was set.
func (s *Server) printedAddresses(farm *store.Farm) []grow.Address {
	addresses := []grow.Address{s.address(farm)}
	if before := *farm; before.Public != "" {
		before.Public = ""
		addresses = append(addresses, s.address(&before))
	}
	return addresses
}
