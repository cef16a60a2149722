package server

import (
	"context"
	"encoding/json"
	"net/http"
	"reflect"
	"strings"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// lotMade answers the making of a lot or of more jars of one.
type lotMade struct {
	Lot  store.Lot   `json:"lot"`
	Jars []store.Jar `json:"jars"`
}

// postLot makes a lot with its jars.
func (s *Server) postLot(c echo.Context) error {
	var draft grow.LotDraft
	if err := readJSON(c, &draft); err != nil {
		return err
	}
	lot, jars, created, err := s.store.CreateLot(c.Request().Context(), actorOf(c), draft)
	if err != nil {
		return err
	}
	return s.answerLot(c, createdOr(created), lot, jars)
}

func (s *Server) answerLot(c echo.Context, status int, lot store.Lot, jars []store.Jar) error {
	lot.Payload = s.payloadNow(c, grow.LotCode, lot.Code)
	for i := range jars {
		jars[i].Payload = s.payloadNow(c, grow.LotCode, jars[i].Code)
	}
	return answer(c, status, lotMade{lot, jars})
}

// getLots lists lots, newest first.
func (s *Server) getLots(c echo.Context) error {
	q := queryOf(c)
	filter := store.LotFilter{Kind: grow.LotKind(q.text("kind")), After: q.text("after"), Limit: q.limit()}
	if err := q.err(); err != nil {
		return err
	}
	page, err := s.store.Lots(c.Request().Context(), filter)
	if err != nil {
		return err
	}
	for i := range page.Lots {
		page.Lots[i].Payload = s.payloadNow(c, grow.LotCode, page.Lots[i].Code)
	}
	return answer(c, http.StatusOK, page)
}

// getLot gives a lot or a jar with all that came from it.
func (s *Server) getLot(c echo.Context) error {
	text, err := param(c, "code")
	if err != nil {
		return err
	}
	whole, err := s.store.Lot(c.Request().Context(), text)
	if err != nil {
		return err
	}
	s.addLotPayloads(c, &whole)
	return answer(c, http.StatusOK, whole)
}

func (s *Server) addLotPayloads(c echo.Context, w *store.LotWhole) {
	w.Lot.Payload = s.payloadNow(c, grow.LotCode, w.Lot.Code)
	for i := range w.Jars {
		w.Jars[i].Payload = s.payloadNow(c, grow.LotCode, w.Jars[i].Code)
	}
	if w.Jar != nil {
		w.Jar.Payload = s.payloadNow(c, grow.LotCode, w.Jar.Code)
	}
}

// patchLot corrects a lot: what the body leaves out stays, null takes back.
func (s *Server) patchLot(c echo.Context) error {
	text, err := param(c, "code")
	if err != nil {
		return err
	}
	raw, err := jsonBodyOf(c)
	if err != nil {
		return err
	}
	if err := decodeJSON(raw, new(grow.LotFields)); err != nil {
		return err
	}
	lot, err := s.store.PatchLot(c.Request().Context(), actorOf(c), text, func(f *grow.LotFields) error { return overlayFields(raw, f) })
	if err != nil {
		return err
	}
	lot.Payload = s.payloadNow(c, grow.LotCode, lot.Code)
	return answer(c, http.StatusOK, map[string]store.Lot{"lot": lot})
}

// overlayFields writes a correction onto a flat struct as it stands: fields that
// the body leaves out stay, null takes a field back.
func overlayFields[T any](raw []byte, onto *T) error {
	var change T
	var given map[string]json.RawMessage
	for _, into := range []any{&change, &given} {
		if err := json.Unmarshal(raw, into); err != nil {
			return &grow.Error{Kind: grow.Invalid, Message: "what was sent cannot be taken as it is", Cause: err}
		}
	}
	from, into := reflect.ValueOf(change), reflect.ValueOf(onto).Elem()
	for i := range from.NumField() {
		name, _, _ := strings.Cut(from.Type().Field(i).Tag.Get("json"), ",")
		if _, ok := given[name]; ok {
			into.Field(i).Set(from.Field(i))
		}
	}
	return nil
}

// postLotJars adds jars to a lot.
func (s *Server) postLotJars(c echo.Context) error {
	text, err := param(c, "code")
	if err != nil {
		return err
	}
	var draft store.LabelsDraft
	if err := readJSON(c, &draft); err != nil {
		return err
	}
	lot, jars, created, err := s.store.AddJars(c.Request().Context(), actorOf(c), text, draft)
	if err != nil {
		return err
	}
	return s.answerLot(c, createdOr(created), lot, jars)
}

// postLotEntry adds one entry to the log of a lot or a jar.
func (s *Server) postLotEntry(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	var draft grow.Draft
	if err := readJSON(c, &draft); err != nil {
		return err
	}
	if err := putBag(&draft, code); err != nil {
		return err
	}
	ctx := c.Request().Context()
	if err := s.mustBeLot(ctx, code); err != nil {
		return err
	}
	entry, created, err := s.store.AddStockEntry(ctx, actorOf(c), draft)
	if err != nil {
		return err
	}
	lot, jar, err := s.store.LotAlone(ctx, string(code))
	if err != nil {
		return err
	}
	lot.Payload = s.payloadNow(c, grow.LotCode, lot.Code)
	if jar != nil {
		jar.Payload = s.payloadNow(c, grow.LotCode, jar.Code)
	}
	return answer(c, createdOr(created), struct {
		Entry store.StockEntry `json:"entry"`
		Lot   store.Lot        `json:"lot"`
		Jar   *store.Jar       `json:"jar"`
	}{entry, lot, jar})
}

// mustBeLot refuses, before anything is kept, the label of a sterile bag: it has a
// log too, and a way of its own to it.
func (s *Server) mustBeLot(ctx context.Context, code grow.Code) error {
	things, err := s.store.WhatIs(ctx, []grow.Code{code})
	if thing, ok := things[code]; err == nil && ok && thing.Kind != grow.LotCode {
		err = grow.Errorf(grow.NotFound, "%s is the label of a %s, not of a lot or a jar", code.Spaced(), thing.Kind)
	}
	return err
}

// getRecall lists what came from a lot or a jar, and where it is now.
func (s *Server) getRecall(c echo.Context) error {
	text, err := param(c, "code")
	if err != nil {
		return err
	}
	recall, err := s.store.Recall(c.Request().Context(), text)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, recall)
}
