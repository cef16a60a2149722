package grow

import (
	"fmt"
	"slices"
	"time"
)

// Limits on the times of entries.
const (
	AheadLimit = 5 * time.Minute // a phone's clock may run this far ahead
	SkewLimit  = 2 * time.Second // a wrong clock is put right from here on
)

// Hearing is what the farm knows when it hears of an entry.
type Hearing struct {
	Now          time.Time // the server's clock
	Zone         *time.Location
	InoculatedOn Date
	By, Device   string
	Seq          int64 // the place in the order received that it will take
}

// Judge decides whether a valid draft may join a bag's log, which must be in
// order. It gives the entry to keep and the status after it; the log itself,
// with the entry in its place, comes back third. A refusal says what stands in
// the way and what to do.
func Judge(start Start, log []Entry, d Draft, h Hearing, conditions Conditions) (Entry, Status, []Entry, error) {
	e, err := d.hear(h)
	if err != nil {
		return Entry{}, Status{}, nil, err
	}
	if e.Kind == KindVoid {
		before := slices.Clone(log)
		Replay(start, before, conditions)
		return judgeVoid(start, before, e, h.Zone, conditions)
	}
	after := append(slices.Clone(log), e)
	InOrder(after)
	now := Replay(start, after, conditions)
	at := slices.IndexFunc(after, func(x Entry) bool { return x.ID == e.ID })
	if e = after[at]; !e.Fits {
		state := replayMarked(start, after[:at], conditions).State
		return Entry{}, Status{}, nil, Allowed(state, e.Kind)
	}
	return e, now, after, nil
}

// hear puts the times right and turns a draft into an entry.
func (d Draft) hear(h Hearing) (Entry, error) {
	e := Entry{ID: d.ID, Bag: d.Bag, Kind: d.Kind, Details: d.Details, ReceivedAt: h.Now, By: h.By, Device: h.Device, Seq: h.Seq, At: h.Now}
	if d.At != nil {
		e.At = *d.At
		if d.SentAt != nil {
			if skew := h.Now.Sub(*d.SentAt); skew.Abs() > SkewLimit {
				sent := *d.At
				e.At, e.AtSent = e.At.Add(skew), &sent
			}
		}
	}
	if e.At.After(h.Now.Add(AheadLimit)) {
		p := Problems{"at": "is in the future; check the phone's clock"}
		return e, p.Err("this entry cannot be kept as it is")
	}
	if DateOf(e.At, h.Zone) < h.InoculatedOn {
		var p Problems
		p.Add("at", "is before the bag was made on %s", h.InoculatedOn)
		return e, p.Err("this entry cannot be kept as it is")
	}
	e.At = e.At.UTC().Truncate(time.Microsecond)
	return e, nil
}

// judgeVoid decides whether an entry may be taken back: it must be there, not
// be a void or voided itself, and nothing later may rest on it.
func judgeVoid(start Start, log []Entry, e Entry, zone *time.Location, conditions Conditions) (Entry, Status, []Entry, error) {
	refuse := func(err error) (Entry, Status, []Entry, error) { return Entry{}, Status{}, nil, err }
	i := slices.IndexFunc(log, func(x Entry) bool { return x.ID == e.Entry })
	switch {
	case i < 0:
		p := Problems{"entry": "is not an entry of this bag"}
		return refuse(p.Err("there is nothing to take back"))
	case log[i].Kind == KindVoid:
		return refuse(Errorf(Conflict, "taking back cannot itself be taken back; log again what was seen"))
	case log[i].VoidedBy != "":
		return refuse(Errorf(Conflict, "this entry has been taken back already"))
	}
	after := append(slices.Clone(log), e)
	InOrder(after)
	now := Replay(start, after, conditions)
	for _, x := range after {
		if was := slices.IndexFunc(log, func(y Entry) bool { return y.ID == x.ID }); was >= 0 && log[was].Fits && !x.Fits {
			return refuse(&Error{Kind: Conflict, Message: fmt.Sprintf("%s of %s rests on this one; take that back first", x.Kind.noun(), x.At.In(zone).Format("2 Jan 15:04")),
				Fields: Problems{"entry": fmt.Sprintf("is needed by the later %s %s", x.Kind, x.ID)}})
		}
	}
	e.Fits = true
	return e, now, after, nil
}
