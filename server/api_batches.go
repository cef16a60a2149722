package server

import (
	"net/http"
	"slices"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// batchMade answers the making of a batch or of more bags of one.
type batchMade struct {
	Batch store.Batch    `json:"batch"`
	Bags  []store.BagRef `json:"bags"`
}

// postBatch makes a batch with its bags.
func (s *Server) postBatch(c echo.Context) error {
	var draft grow.BatchDraft
	if err := readJSON(c, &draft); err != nil {
		return err
	}
	batch, bags, created, err := s.store.CreateBatch(c.Request().Context(), actorOf(c), draft)
	if err != nil {
		return err
	}
	if err := s.addPayloads(c, bags); err != nil {
		return err
	}
	return answer(c, createdOr(created), batchMade{batch, bags})
}

// createdOr is 201 for what is new, 200 for what was there already.
func createdOr(created bool) int {
	if created {
		return http.StatusCreated
	}
	return http.StatusOK
}

// addPayloads fills in what the symbols of bags say.
func (s *Server) addPayloads(c echo.Context, bags []store.BagRef) error {
	farm, err := s.store.Farm(c.Request().Context())
	if err != nil {
		return err
	}
	address := s.address(farm)
	for i := range bags {
		bags[i].Payload = address.Payload(grow.BagCode, bags[i].Code)
	}
	return nil
}

// getBatches lists batches.
func (s *Server) getBatches(c echo.Context) error {
	q := queryOf(c)
	filter := store.BatchFilter{Species: grow.Slug(q.text("species")), State: grow.State(q.text("state")), LabDay: q.text("lab_day"),
		From: q.date("from"), To: q.date("to"), After: q.text("after"), Limit: q.limit()}
	if err := q.err(); err != nil {
		return err
	}
	page, err := s.store.Batches(c.Request().Context(), filter)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, page)
}

// getBatch gives a batch with its bags.
func (s *Server) getBatch(c echo.Context) error {
	code, err := batchParam(c)
	if err != nil {
		return err
	}
	whole, err := s.store.Batch(c.Request().Context(), code)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, whole)
}

// patchBatch corrects a batch: what the body leaves out stays, null takes back.
func (s *Server) patchBatch(c echo.Context) error {
	code, err := batchParam(c)
	if err != nil {
		return err
	}
	raw, err := jsonBodyOf(c)
	if err != nil {
		return err
	}
	var fields grow.BatchFields
	if err := decodeJSON(raw, &fields); err != nil {
		return err
	}
	batch, err := s.store.PatchBatch(c.Request().Context(), actorOf(c), code, func(f *grow.BatchFields) error { return overlay(raw, f) })
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, map[string]store.Batch{"batch": batch})
}

// postBatchBlanks appends bags to a batch, one for each blank label.
func (s *Server) postBatchBlanks(c echo.Context) error {
	code, err := batchParam(c)
	if err != nil {
		return err
	}
	var draft store.BlanksDraft
	if err := readJSON(c, &draft); err != nil {
		return err
	}
	batch, bags, created, err := s.store.AddBlanks(c.Request().Context(), actorOf(c), code, draft)
	if err != nil {
		return err
	}
	if err := s.addPayloads(c, bags); err != nil {
		return err
	}
	return answer(c, createdOr(created), batchMade{batch, bags})
}

// blankLabel is a bag's code that no bag has taken yet.
type blankLabel struct {
	Code    grow.Code `json:"code"`
	Payload string    `json:"payload"`
}

// postBlanks makes codes for labels printed ahead.
func (s *Server) postBlanks(c echo.Context) error {
	var draft store.LabelsDraft
	if err := readJSON(c, &draft); err != nil {
		return err
	}
	bags, created, err := s.store.CreateBlanks(c.Request().Context(), actorOf(c), draft)
	if err != nil {
		return err
	}
	if err := s.addPayloads(c, bags); err != nil {
		return err
	}
	blanks := make([]blankLabel, 0, len(bags))
	for b := range slices.Values(bags) {
		blanks = append(blanks, blankLabel{b.Code, b.Payload})
	}
	return answer(c, createdOr(created), map[string][]blankLabel{"bags": blanks})
}
