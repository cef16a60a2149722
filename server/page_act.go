package server

import (
	"crypto/sha256"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// Acts are what is done at the bench and on a sweep. A phone that found the farm
// out of reach sends them late, in their order, each with an id and its time;
// an act whose id was seen before is done already, since only the answer to it
// may have been lost.

// heard says when an act was done and by which id.
type heard struct {
	id       grow.ID // "" from a page whose script does not run
	at, sent *time.Time
}

// mostActs is how many ids a device's bench and its sweep each remember.
const mostActs = 400

func heardOf(v url.Values) (heard, error) {
	var h heard
	var p grow.Problems
	if text := v.Get("id"); text != "" {
		id, err := grow.ParseID(text)
		if err != nil {
			p.Add("id", "%s", err)
		}
		h.id = id
	}
	h.at, h.sent = timeField(v, "done_at", time.UTC, &p), timeField(v, "sent_at", time.UTC, &p)
	return h, p.Err("this form was changed; open the page again")
}

// when is the farm's time of it.
func (h heard) when(now time.Time) time.Time {
	if h.at == nil {
		return now
	}
	at := *h.at
	if h.sent != nil {
		if skew := now.Sub(*h.sent); skew.Abs() > grow.SkewLimit {
			at = at.Add(skew)
		}
	}
	if at.After(now) {
		return now
	}
	return at
}

// day is the farm's day of it.
func (h heard) day(now time.Time, zone *time.Location) grow.Date {
	return grow.DateOf(h.when(now), zone)
}

// stamp gives the n-th entry of the act its times and an id that is the same
// each time the act arrives.
func (h heard) stamp(d *grow.Draft, n int) error {
	d.At, d.SentAt = h.at, h.sent
	var err error
	switch {
	case h.id == "":
		d.ID, err = newID()
	case n == 0:
		d.ID = h.id
	default:
		d.ID = derivedID(h.id, n)
	}
	return err
}

// stampBag is stamp for acts that log one entry a bag: the id goes by the bag, so that
// a bag that is passed over the second time gives its id to no other.
func (h heard) stampBag(d *grow.Draft) error {
	d.At, d.SentAt = h.at, h.sent
	if h.id == "" {
		var err error
		d.ID, err = newID()
		return err
	}
	d.ID = derivedID(h.id, d.Bag)
	return nil
}

// derivedID is a UUID of version 8 (RFC 9562, section 5.8) made from another.
func derivedID(from grow.ID, part any) grow.ID {
	b := sha256.Sum256(fmt.Appendf(nil, "%s/%v", from, part))
	b[6], b[8] = b[6]&0x0f|0x80, b[8]&0x3f|0x80
	return grow.ID(fmt.Sprintf("%x-%x-%x-%x-%x", b[:4], b[4:6], b[6:8], b[8:10], b[10:16]))
}

// done tells whether ids hold this act, and notes it if not.
func (h heard) done(ids *[]grow.ID) bool {
	if h.id == "" {
		return false
	}
	if slices.Contains(*ids, h.id) {
		return true
	}
	*ids = append([]grow.ID{h.id}, *ids...)
	*ids = (*ids)[:min(len(*ids), mostActs)]
	return false
}

// deed is one act as it was posted, with what its device was in the middle of.
type deed struct {
	who store.Actor
	v   url.Values
	how heard
	d   deviceState
}

// perform reads an act, does it and keeps what the device then is in the middle
// of, before any answer goes out. Acts of one device go one after the other: two
// tabs of a phone, or a page and its outbox, never write over each other.
func (s *Server) perform(c echo.Context, do func(*deed) error) (x deed, refusal, err error) {
	if x.v, err = formValues(c); err != nil {
		return x, nil, err
	}
	if x.how, err = heardOf(x.v); err != nil {
		return x, nil, err
	}
	ctx := c.Request().Context()
	x.who = actorOf(c)
	defer s.devices.take(x.who.DeviceID)()
	if x.d, err = s.deviceState(ctx, x.who); err != nil {
		return x, nil, err
	}
	refusal = do(&x)
	return x, refusal, s.keepDeviceState(ctx, x.who, x.d)
}

// turns lets one request of a device go at a time.
type turns struct {
	mu sync.Mutex
	of map[int64]*sync.Mutex
}

// take waits for the device's turn; what it gives ends it.
func (t *turns) take(device int64) (end func()) {
	t.mu.Lock()
	if t.of == nil {
		t.of = map[int64]*sync.Mutex{}
	}
	mine, ok := t.of[device]
	if !ok {
		mine = new(sync.Mutex)
		t.of[device] = mine
	}
	t.mu.Unlock()
	mine.Lock()
	return mine.Unlock
}

// wantsJSON tells whether a phone's outbox asks, which shows no page.
func wantsJSON(c echo.Context) bool {
	return strings.HasPrefix(c.Request().Header.Get(echo.HeaderAccept), echo.MIMEApplicationJSON)
}

// answerAct is for the outbox: the id again, or why not.
func (s *Server) answerAct(c echo.Context, h heard, refusal error) error {
	if refusal == nil {
		return answer(c, http.StatusOK, map[string]any{"entry": map[string]any{"id": h.id}})
	}
	e := s.public(c, refusal)
	return answer(c, statusOf(e.Kind), map[string]errorBody{"error": bodyOf(e)})
}
