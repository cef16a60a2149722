package server

import (
	"bagmark/grow"
	"bagmark/store"
)

// The answer tray. Its four places never move: from the bottom clean, growth,
// on to fruiting, mould or wrong. What is expected today fills a tile and makes
// its word larger; a place without an answer stays empty.

// tile is one place of the tray.
type tile struct {
	Bag                            grow.Code
	Word, Logs                     string
	Shape                          shape
	Fields                         []hidden
	Href                           string // a page instead of a tap
	Then                           string // where a logged tap leads; "" stays
	Largest, Second, Mould, Hidden bool
	Did                            *grow.Entry // just logged here
	answers                        []grow.Answer
}

// hidden is a field of the form that a tile is.
type hidden struct{ Name, Value string }

// Classes are the tile's, after the first.
func (t tile) Classes() string {
	return onlyIf(t.Mould, " mould") + onlyIf(t.Largest, " largest") + onlyIf(t.Second, " second")
}

// Said is what stands in the tile's place once it has logged.
func (t tile) Said() string { return "logged" }

func one(layer string) shape { return shape{Layers: []string{layer}} }

func logs(pairs ...string) []hidden {
	var out []hidden
	for i := 0; i+1 < len(pairs); i += 2 {
		out = append(out, hidden{pairs[i], pairs[i+1]})
	}
	return out
}

// tray gives a bag's tiles, the top one first; none for a bag that is out.
func tray(b store.Bag, x grow.Expectation, today grow.Date, logged *grow.Entry) []tile {
	if b.State.Out() {
		return nil
	}
	tiles := []tile{mouldTile(b), onwardTile(b, x, today), growthTile(b, x), cleanTile(b, x)}
	for i := range tiles {
		t := &tiles[i]
		t.Bag = b.Code
		for _, a := range t.answers {
			t.Largest = t.Largest || a == x.Largest
			t.Second = t.Second || a == x.Second
		}
		t.Second = t.Second && !t.Largest
	}
	if logged != nil {
		if place, ok := placeOf(*logged); ok {
			tiles[place].Did, tiles[place].Hidden = logged, false
		}
	}
	return tiles
}

// placeOf is the place of the tray in which an entry is logged, where the
// finger still is; false for what only the further forms log.
func placeOf(e grow.Entry) (int, bool) {
	switch e.Kind {
	case grow.KindContaminated:
		return 0, true
	case grow.KindFruiting, grow.KindRelease, grow.KindAgain:
		return 1, true
	case grow.KindSign:
		return 2, e.Sign == "started" || e.Sign == "pins"
	case grow.KindColonised:
		if e.Pct != nil && *e.Pct >= grow.GrownOverPct {
			return 2, true
		}
		return 3, e.Pct == nil && len(e.Bare) == 0
	case grow.KindLook, grow.KindMarked:
		return 3, true
	}
	return 0, false
}

// mouldTile is the top one.
func mouldTile(b store.Bag) tile {
	t := tile{Word: "Mould or wrong", Logs: "what and where can follow", Shape: shape{Layers: []string{"unmarked-box", "mould"}}, Mould: true, answers: []grow.Answer{grow.MouldOrWrong},
		Fields: logs("kind", "contaminated", "what", "unsure"), Then: "/B/" + string(b.Code) + "/mould"}
	if b.Contaminated != nil {
		t.Href, t.Word, t.Logs, t.Fields = t.Then, "What now?", "mouldy: out, apart, or ask tomorrow", nil
	}
	return t
}

// onwardTile is the second from the top: out of the plastic.
func onwardTile(b store.Bag, x grow.Expectation, today grow.Date) tile {
	expects := func(a grow.Answer) bool { return x.Largest == a || x.Second == a && x.Largest != grow.ToFruiting }
	switch {
	case b.State == grow.Isolated && b.Contaminated == nil:
		return tile{Word: "Bring it back", Logs: "no longer apart", Shape: one("unmarked-box"), Fields: logs("kind", "release")}
	case b.Contaminated != nil, b.State == grow.Isolated:
		return tile{Hidden: true}
	case b.State == grow.Fruiting:
		return tile{Word: "Picked", Logs: "weigh it, then type what it shows", Shape: one("fruiting"), Href: "/harvest?code=" + string(b.Code)}
	case expects(grow.ReadyNow):
		return readyTile(b, today)
	}
	return tile{Word: "To fruiting", Logs: "it goes there now", Shape: one("fruiting"), Fields: logs("kind", "fruiting"),
		answers: []grow.Answer{grow.ToFruiting, grow.ReadyNow}}
}

// readyTile says that a bag shows its own ready sign and waits to be moved.
func readyTile(b store.Bag, today grow.Date) tile {
	t := tile{Word: "Ready", Logs: "to be moved from today on", Shape: one("ready"), answers: []grow.Answer{grow.ReadyNow, grow.ToFruiting},
		Fields: logs("kind", "again", "on", today.String(), "for", "fruiting")}
	if b.Species.Ready == grow.ReadyPins {
		t.Logs, t.Fields = "seen: "+pinWord(b.Species), logs("kind", "sign", "sign", "pins")
	}
	return t
}

func pinWord(s grow.Species) string {
	if s.PinWord == "" {
		return "pins"
	}
	return s.PinWord
}

// growthTile is the third from the top: how far it has grown.
func growthTile(b store.Bag, x grow.Expectation) tile {
	pins := tile{Word: pinWord(b.Species), Logs: "first mushrooms seen", Shape: one("ready"), Fields: logs("kind", "sign", "sign", "pins")}
	pins.Word = capital(pins.Word)
	switch {
	case b.State == grow.Fruiting || b.State == grow.Colonised:
		if b.Status.PinsAt != nil || x.Largest == grow.ReadyNow && b.Species.Ready == grow.ReadyPins {
			return tile{Hidden: true}
		}
		return pins
	case x.Largest == grow.Started || x.Second == grow.Started:
		return tile{Word: "Started", Logs: "white fuzz on the grains", Shape: shape{Layers: []string{"growing"}, Share: 15}, Fields: logs("kind", "sign", "sign", "started"),
			answers: []grow.Answer{grow.Started}}
	}
	return tile{Word: "Grown over", Logs: "all of its wall", Shape: one("grown"), Fields: logs("kind", "colonised", "pct", "100"), answers: []grow.Answer{grow.GrownOver}}
}

// cleanTile is the lowest: nothing wrong, nothing further.
func cleanTile(b store.Bag, x grow.Expectation) tile {
	switch {
	case b.State == grow.Unmarked:
		return tile{Word: "Label is on it", Logs: "this label, on this bag", Shape: one("clean"), Fields: logs("kind", "marked"), Largest: true}
	case x.Largest == grow.StillBare || x.Second == grow.StillBare && x.Largest != grow.Clean:
		return tile{Word: "Still bare", Logs: "clean, not grown over yet", Shape: shape{Layers: []string{"growing"}, Share: 60},
			Fields: logs("kind", "colonised", "full", "false"), answers: []grow.Answer{grow.StillBare}}
	}
	t := tile{Word: x.CleanWord, Logs: "in the hand, nothing wrong", Shape: one("clean"), Fields: logs("kind", "look", "seen", "in_hand"), answers: []grow.Answer{grow.Clean}}
	if x.CleanWord == "Turned, clean" {
		t.Logs, t.Fields = "every side looked at", logs("kind", "look", "seen", "turned")
	}
	return t
}
