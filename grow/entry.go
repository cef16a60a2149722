package grow

import (
	"bytes"
	"encoding/json"
	"time"
)

// EntryKind says what an entry tells.
type EntryKind string

// The kinds of entries.
const (
	KindMarked       EntryKind = "marked"
	KindLook         EntryKind = "look"
	KindColonised    EntryKind = "colonised"
	KindContaminated EntryKind = "contaminated"
	KindSign         EntryKind = "sign"
	KindCondition    EntryKind = "condition"
	KindWatch        EntryKind = "watch"
	KindUnwatch      EntryKind = "unwatch"
	KindAgain        EntryKind = "again"
	KindMove         EntryKind = "move"
	KindShake        EntryKind = "shake"
	KindIsolate      EntryKind = "isolate"
	KindRelease      EntryKind = "release"
	KindCull         EntryKind = "cull"
	KindFruiting     EntryKind = "fruiting"
	KindHarvest      EntryKind = "harvest"
	KindFinish       EntryKind = "finish"
	KindPhoto        EntryKind = "photo"
	KindNote         EntryKind = "note"
	KindVoid         EntryKind = "void"
)

// Draft is an entry as it is handed in: what somebody saw or did, before the
// farm has judged it.
type Draft struct {
	ID   ID         `json:"id"`
	Bag  Code       `json:"bag,omitempty"`
	Kind EntryKind  `json:"kind"`
	At   *time.Time `json:"at,omitempty"`
	Details
	// SentAt is the phone's clock at sending; it is no part of what was seen.
	SentAt *time.Time `json:"sent_at,omitempty"`
}

// Details are the fields that only some kinds of entries have. Absent and null
// are the same, except in Value.
type Details struct {
	Bench     bool     `json:"bench,omitempty"`
	Seen      string   `json:"seen,omitempty"`
	Pct       *float64 `json:"pct,omitempty"`
	Full      *bool    `json:"full,omitempty"`
	Bare      []string `json:"bare,omitempty"`
	What      string   `json:"what,omitempty"`
	Where     string   `json:"where,omitempty"`
	ExtentPct *float64 `json:"extent_pct,omitempty"`
	Sign      string   `json:"sign,omitempty"`
	Key       string   `json:"key,omitempty"`
	Value     Value    `json:"value,omitzero"`
	Basis     string   `json:"basis,omitempty"`
	Because   string   `json:"because,omitempty"`
	Of        Code     `json:"of,omitempty"`
	On        *Date    `json:"on,omitempty"`
	For       string   `json:"for,omitempty"`
	Place     string   `json:"place,omitempty"`
	Why       string   `json:"why,omitempty"`
	Opening   string   `json:"opening,omitempty"`
	Grams     *float64 `json:"grams,omitempty"`
	Flush     *int     `json:"flush,omitempty"`
	To        string   `json:"to,omitempty"`
	Photo     string   `json:"photo,omitempty"`
	Text      string   `json:"text,omitempty"`
	Entry     ID       `json:"entry,omitempty"`
}

// Entry is one line of a bag's log as the farm keeps it: never changed, never
// deleted, only voided by another.
type Entry struct {
	ID         ID        `json:"id"`
	Bag        Code      `json:"bag"`
	Kind       EntryKind `json:"kind"`
	At         time.Time `json:"at"` // when it was seen
	ReceivedAt time.Time `json:"received_at"`
	By         string    `json:"by"`
	Device     string    `json:"device"`
	Details
	// Seq is the order in which the farm received its entries.
	Seq int64 `json:"-"`
	// AtSent is the phone's own time where a wrong clock was put right.
	AtSent *time.Time `json:"at_sent,omitempty"`
	// VoidedBy is the entry that took this one back.
	VoidedBy ID `json:"voided_by,omitempty"`
	// Fits is false where a late entry left no place for this one; it then
	// changes nothing.
	Fits bool `json:"fits"`
}

// Value is the value of a condition entry: given or not, and if given known or
// not.
type Value struct {
	Given bool
	Known *string
}

// KnownValue is a value that somebody gave; "" and unknown are not known.
func KnownValue(v string) Value {
	if v == "" || v == Unknown {
		return Value{Given: true}
	}
	return Value{Given: true, Known: &v}
}

// IsZero tells whether no value was given, which leaves it out of JSON.
func (v Value) IsZero() bool { return !v.Given }

// MarshalJSON writes the value or null.
func (v Value) MarshalJSON() ([]byte, error) { return json.Marshal(v.Known) }

// UnmarshalJSON reads a value or null.
func (v *Value) UnmarshalJSON(b []byte) error {
	if bytes.Equal(b, []byte("null")) {
		*v = Value{Given: true}
		return nil
	}
	var s string
	if err := json.Unmarshal(b, &s); err != nil {
		return Errorf(Invalid, "must be text or null")
	}
	*v = KnownValue(s)
	return nil
}

// InHand tells whether an entry means that someone had the bag itself.
func (e Entry) InHand() bool {
	switch e.Kind {
	case KindLook:
		return e.Seen != "glance"
	case KindMarked, KindColonised, KindContaminated, KindSign, KindShake, KindMove, KindIsolate, KindRelease,
		KindCull, KindFruiting, KindHarvest, KindFinish, KindPhoto:
		return true
	}
	return false
}

// Sent is the draft in one spelling, for telling whether the same thing was
// sent twice: times by instant, no sending time, fields in fixed order.
func (d Draft) Sent() []byte {
	d.SentAt = nil
	if d.At != nil {
		at := d.At.UTC()
		d.At = &at
	}
	b, err := json.Marshal(d)
	if err != nil {
		panic("grow: a draft always has a JSON form: " + err.Error()) // NaN and Inf do not come out of JSON
	}
	return b
}
