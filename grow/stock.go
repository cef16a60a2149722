package grow

import (
	"slices"
	"strings"
)

// Stock rules
//
// Stock is what stands before the bag: a lot, a jar of it, a bag filled before
// the steam. Its log keeps the rules of a bag's log (see Replay and Judge): the
// order is the time seen, then the order received; what is used up or out takes
// nothing that would need it; nothing is changed, only taken back. It has fewer
// kinds of entries, and it needs no label on it to be there.

// stockKinds are the kinds of entries that stock may have.
var stockKinds = []EntryKind{KindLook, KindColonised, KindContaminated, KindSign, KindShake, KindMove, KindCull, KindFinish, KindPhoto, KindNote, KindVoid}

// ValidateStock names every field of a draft that is wrong by itself, in the
// log of a lot, a jar or a bag filled before the steam.
func (d Draft) ValidateStock() error {
	var p Problems
	if _, known := uses[d.Kind]; known && !slices.Contains(stockKinds, d.Kind) {
		p.Add("kind", "is nothing that a lot, a jar or a sterile bag can have; one of %s", strings.Join(stockKindWords(), ", "))
		return p.Err("this entry cannot be kept as it is")
	}
	return d.Validate(nil)
}

func stockKindWords() []string {
	out := make([]string, len(stockKinds))
	for i, k := range stockKinds {
		out[i] = string(k)
	}
	return out
}

// HasStarted tells whether growth was seen: by the sign of it, or on the wall.
func (s Status) HasStarted() bool {
	return s.StartedAt != nil || s.GrownOverAt != nil || s.ReadPct != nil && *s.ReadPct > 0
}

// SpawnJarKey is the reserved key under which a bag's log says which jar or lot
// its spawn came from: its value is the code. It varies inside a batch, unlike
// the spawn lot, and is compared between bags like a condition.
const SpawnJarKey = "spawn_jar"

// SpawnJar is the code of the jar or lot that a bag's spawn came from, nil if
// nobody said.
func (s Status) SpawnJar() *string { return s.Set[SpawnJarKey].Value }
