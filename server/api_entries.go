package server

import (
	"encoding/json"
	"net/http"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// postBagEntry adds one entry to a bag's log.
func (s *Server) postBagEntry(c echo.Context) error {
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
	entry, bag, created, err := s.store.AddEntry(c.Request().Context(), actorOf(c), draft)
	if err != nil {
		return err
	}
	if err := s.addPayload(c, &bag); err != nil {
		return err
	}
	return answer(c, createdOr(created), struct {
		Entry grow.Entry `json:"entry"`
		Bag   store.Bag  `json:"bag"`
	}{entry, bag})
}

// putBag names the bag of the path in the draft; the body may name it too.
func putBag(d *grow.Draft, code grow.Code) error {
	if d.Bag != "" {
		if named, err := grow.ParseCode(string(d.Bag)); err != nil || named != code {
			p := grow.Problems{"bag": "is not the bag of the address"}
			return p.Err("this entry cannot be kept as it is")
		}
	}
	d.Bag = code
	return nil
}

// mostEntries is how many entries one request may bring.
const mostEntries = 500

// entryOutcome is what became of one entry of many.
type entryOutcome struct {
	ID     string      `json:"id"`
	Status int         `json:"status"`
	Entry  *grow.Entry `json:"entry,omitempty"`
	Error  *errorBody  `json:"error,omitempty"`
}

// postEntries adds entries to the logs of many bags. Each has its own outcome,
// in the order sent; what is good is kept.
func (s *Server) postEntries(c echo.Context) error {
	raw, err := jsonBodyOf(c)
	if err != nil {
		return err
	}
	if len(raw) <= jsonBody {
		return s.keepEntries(c, raw)
	}
	return s.lists.through(c.Request().Context(), func() error { return s.keepEntries(c, raw) })
}

func (s *Server) keepEntries(c echo.Context, raw []byte) error {
	var body struct {
		Entries []json.RawMessage `json:"entries"`
		SentAt  *time.Time        `json:"sent_at"`
	}
	if err := decodeJSON(raw, &body); err != nil {
		return err
	}
	var p grow.Problems
	if body.Entries == nil {
		p.Add("entries", "is missing: a list of entries")
	} else if len(body.Entries) > mostEntries {
		p.Add("entries", "may be at most %d at once, these are %d", mostEntries, len(body.Entries))
	}
	if err := p.Err("these entries cannot be kept as they are"); err != nil {
		return err
	}
	outcomes, err := s.addEntries(c, body.Entries, body.SentAt)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, map[string][]entryOutcome{"results": outcomes})
}

// addEntries hands the entries that can be read to the store and merges what it
// says with the refusals of those that cannot.
func (s *Server) addEntries(c echo.Context, raw []json.RawMessage, sentAt *time.Time) ([]entryOutcome, error) {
	out := make([]entryOutcome, len(raw))
	var drafts []grow.Draft
	var places []int // of the drafts in out
	for i, text := range raw {
		var d grow.Draft
		if err := decodeJSON(text, &d); err != nil {
			out[i] = s.refused(c, idIn(text), err)
			continue
		}
		if sentAt != nil {
			d.SentAt = sentAt
		}
		drafts, places = append(drafts, d), append(places, i)
	}
	if len(drafts) == 0 {
		return out, nil
	}
	results, err := s.store.AddEntries(c.Request().Context(), actorOf(c), drafts)
	if err != nil {
		return nil, err
	}
	for i, r := range results {
		if r.Err != nil {
			out[places[i]] = s.refused(c, lowerID(string(r.ID)), r.Err)
			continue
		}
		out[places[i]] = entryOutcome{ID: string(r.Entry.ID), Status: createdOr(r.Created), Entry: r.Entry}
	}
	return out, nil
}

func (s *Server) refused(c echo.Context, id string, err error) entryOutcome {
	e := s.public(c, err)
	body := bodyOf(e)
	return entryOutcome{ID: id, Status: statusOf(e.Kind), Error: &body}
}

// idIn finds the id of an entry that cannot be read as a whole, so that the
// phone knows which of its entries was refused; "" if it has none.
func idIn(raw json.RawMessage) string {
	var fields map[string]json.RawMessage
	var id string
	if json.Unmarshal(raw, &fields) != nil || json.Unmarshal(fields["id"], &id) != nil {
		return ""
	}
	return lowerID(id)
}

// lowerID is an id in its one spelling; what is none stays as it was sent.
func lowerID(text string) string {
	if id, err := grow.ParseID(text); err == nil {
		return string(id)
	}
	return text
}
