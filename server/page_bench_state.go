package server

import (
	"context"
	"encoding/json"
	"maps"
	"slices"
	"time"

	"bagmark/grow"
	"bagmark/store"
)

// Bench rules
//
// A device's bench remembers which batches are being made, which switches are
// away from normal, and the bags last scanned, so that a reload or a dead
// battery loses nothing. A scan marks a bag with what the switches say now.
// While a switch is away the page asks again after so many bags and so many
// minutes, and after a rest before it takes the next scan at all: a switch left
// off must not go on writing what is no longer true.
const (
	askAfterBags    = 10
	askAfterMinutes = 10 * time.Minute
	restBefore      = 30 * time.Minute
	mostRecent      = 12
	echoFor         = 3 * time.Second
)

// deviceState is what a device was in the middle of.
type deviceState struct {
	Bench    benchState    `json:"bench"`
	Sweep    *sweepState   `json:"sweep,omitempty"`
	Fruiting fruitingState `json:"fruiting,omitzero"`
	Harvest  harvestState  `json:"harvest,omitzero"`
	Placed   placedState   `json:"placed,omitzero"`
	Air      airState      `json:"air,omitzero"`
}

// benchState is one device's bench.
type benchState struct {
	Batches []grow.BatchCode `json:"batches"`
	// Spawn is the jar or lot that the bags that follow take their spawn from.
	Spawn *store.SpawnUnit `json:"spawn,omitempty"`
	// Away are the switches that are not normal, by key.
	Away map[string]string `json:"away"`
	// AwayBags are the bags marked since the first of them left normal; AskedBags
	// and AskedAt say when somebody last said that it is still so.
	AwayBags  int         `json:"away_bags"`
	AskedBags int         `json:"asked_bags"`
	AskedAt   time.Time   `json:"asked_at"`
	LastAt    time.Time   `json:"last_at"`
	Recent    []benchMark `json:"recent"` // newest first
	// Run are the bags scanned since the bench was last cleared; Done are the acts.
	Run  []grow.Code `json:"run,omitempty"`
	Done []grow.ID   `json:"done,omitempty"`
}

// benchMark is one scan: its entries can be taken back together.
type benchMark struct {
	At      time.Time `json:"at"`
	Bag     grow.Code `json:"bag"`
	Name    string    `json:"name"`
	Entries []grow.ID `json:"entries"`
	Words   []string  `json:"words"` // departures as printed
	Spawn   string    `json:"spawn,omitempty"`
	// Adopted is set where the scan made the bag, of a label printed ahead.
	Adopted bool `json:"adopted,omitempty"`
}

func (s *Server) deviceState(ctx context.Context, who store.Actor) (deviceState, error) {
	var d deviceState
	raw, err := s.store.Bench(ctx, who)
	if err != nil || len(raw) == 0 {
		return d, err
	}
	if err := json.Unmarshal(raw, &d); err != nil {
		return deviceState{}, nil // written by another version: begin anew, nothing logged is in it
	}
	return d, nil
}

func (s *Server) keepDeviceState(ctx context.Context, who store.Actor, d deviceState) error {
	raw, err := json.Marshal(d)
	if err != nil {
		return err
	}
	return s.store.PutBench(ctx, who, raw)
}

// set moves a switch. It gives the word of the pen box to be crossed by hand,
// "" when nothing is to be crossed.
func (b *benchState) set(c grow.Condition, value string, now time.Time) (pen string) {
	if b.Away == nil {
		b.Away = map[string]string{}
	}
	if value == "" || !c.Departs(&value) {
		delete(b.Away, c.Key)
		if len(b.Away) == 0 {
			b.AwayBags, b.AskedBags = 0, 0
		}
		return ""
	}
	if len(b.Away) == 0 {
		b.AwayBags, b.AskedBags, b.AskedAt = 0, 0, now
	}
	b.Away[c.Key] = value
	return c.Pen
}

// asks tells whether the page asks if the switches are still so. The rest is
// the stronger question: no scan is taken before it is answered.
func (b benchState) asks(now time.Time) bool {
	return len(b.Away) > 0 && (b.AwayBags-b.AskedBags >= askAfterBags || now.Sub(b.AskedAt) >= askAfterMinutes || b.rested(now))
}

func (b benchState) rested(now time.Time) bool {
	last := b.LastAt
	if b.AskedAt.After(last) {
		last = b.AskedAt
	}
	return len(b.Away) > 0 && now.Sub(last) >= restBefore
}

// answered notes that somebody said it is still so.
func (b *benchState) answered(now time.Time) { b.AskedBags, b.AskedAt = b.AwayBags, now }

// marked notes a scan.
func (b *benchState) marked(m benchMark, now time.Time) {
	b.LastAt, m.At = now, now
	if !slices.Contains(b.Run, m.Bag) {
		b.Run = append(b.Run, m.Bag)
	}
	if len(b.Away) > 0 {
		b.AwayBags++
	}
	b.Recent = append([]benchMark{m}, b.Recent...)
	b.Recent = b.Recent[:min(len(b.Recent), mostRecent)]
}

// keys of the switches that are away, in the order in which they are shown.
func (b benchState) keys(cs grow.Conditions) []string {
	var out []string
	for _, key := range cs.Keys() {
		if _, away := b.Away[key]; away {
			out = append(out, key)
		}
	}
	return out
}

// printed are the words of the switches that are away, as labels have them.
func (b benchState) printed(cs grow.Conditions) []string {
	var out []string
	for _, key := range b.keys(cs) {
		value := b.Away[key]
		out = append(out, cs[key].Printed(&value))
	}
	return out
}

// echo tells whether a scan is only the last one's: a reader that sees the label
// for a moment longer says it twice.
func (b benchState) echo(code grow.Code, now time.Time) bool {
	return len(b.Recent) > 0 && b.Recent[0].Bag == code && now.Sub(b.Recent[0].At) < echoFor
}

// drafts are the entries of one scan: what is different first, then the mark.
func (b benchState) drafts(bag grow.Code, live bool, h heard) ([]grow.Draft, error) {
	var out []grow.Draft
	if live && b.Spawn != nil {
		out = append(out, grow.Draft{Bag: bag, Kind: grow.KindCondition, Details: grow.Details{Key: grow.SpawnJarKey, Value: grow.KnownValue(string(b.Spawn.Code))}})
	}
	for _, key := range slices.Sorted(maps.Keys(b.Away)) {
		out = append(out, grow.Draft{Bag: bag, Kind: grow.KindCondition, Details: grow.Details{Key: key, Value: grow.KnownValue(b.Away[key])}})
	}
	out = append(out, grow.Draft{Bag: bag, Kind: grow.KindMarked, Details: grow.Details{Bench: live}})
	for i := range out {
		if err := h.stamp(&out[i], len(out)-1-i); err != nil { // the mark has the act's own id
			return nil, err
		}
	}
	return out, nil
}
