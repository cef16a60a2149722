package store

import (
	"fmt"
	"testing"
	"time"

	"bagmark/grow"
)

// BenchmarkPlace asks a farm of 100,000 bags for a rack with 2,000 of them, each
// with a log of 20 entries: 1,900 were seen on the last round, 30 elsewhere, the
// others not. Beside it stands a bare scan of all bags.
func BenchmarkPlace(b *testing.B) {
	f := statisticsFarm(b, 4000, 2000)
	rack, _, err := f.CreatePlace(b.Context(), f.by, "room 1 > rack 3")
	if err != nil {
		b.Fatal(err)
	}
	f.place("room 1 > rack 2")
	if err := f.writing(b.Context(), func(t *tx) error { return t.crowd(rack.Name) }); err != nil {
		b.Fatal(err)
	}
	w, err := f.Place(b.Context(), rack.Code)
	if err != nil || len(w.Bags) != 2000 || len(w.SeenElsewhere) != 30 || len(w.NotSeen) != 70 {
		b.Fatalf("%d bags, %d seen elsewhere, %d not seen: %v", len(w.Bags), len(w.SeenElsewhere), len(w.NotSeen), err)
	}
	b.Run("whole", func(b *testing.B) {
		measured(b, f, func() error { _, err := f.Place(b.Context(), rack.Code); return err })
	})
	b.Run("counts", func(b *testing.B) {
		measured(b, f, func() error { _, err := f.Rooms(b.Context()); return err })
	})
}

// crowd puts 2,000 living bags on a rack, straight into the tables.
func (t *tx) crowd(rack string) error {
	began := micros(t.now.Add(-time.Hour))
	const round = "10000000-0000-4000-9000-000000000001"
	if _, err := t.exec(`INSERT INTO rounds (id, place_id, began_at, by_person, device) SELECT ?, id, ?, 'Ana', 'phone' FROM places WHERE name = ?`, round, began, rack); err != nil {
		return err
	}
	ids, err := t.numbers(`SELECT id FROM bags WHERE state NOT IN ('finished', 'culled') ORDER BY id LIMIT 2000`)
	if err != nil {
		return err
	}
	for n, id := range ids {
		if _, err := t.exec(`UPDATE bags SET status = json_set(status, '$.place', ?), last_seen_at = ? WHERE id = ?`, rack, began-1, id); err != nil {
			return err
		}
		for k := range 20 {
			kind, detail := grow.KindLook, `{}`
			if k == 3 {
				kind, detail = grow.KindMove, `{"place":"room 1 > rack 3"}`
			}
			if _, err := t.exec(`INSERT INTO entries (id, bag_id, kind, at, received_at, by_person, device, detail, sent_sha256, hash) VALUES (?, ?, ?, ?, ?, 'Ana', 'phone', ?, zeroblob(32), zeroblob(32))`,
				fmt.Sprintf("10000000-0000-4000-8000-%06d%06d", id, k), id, string(kind), began-int64(100-k)*hourMicros, began, detail); err != nil {
				return err
			}
		}
		place := map[bool]string{true: "room 1 > rack 2", false: rack}[n < 30]
		if n >= 1930 {
			continue
		}
		if _, err := t.exec(`INSERT INTO sightings (bag_id, place_id, at, round_id, by_person, device) SELECT ?, id, ?, ?, 'Ana', 'phone' FROM places WHERE name = ?`, id, began+int64(n), round, place); err != nil {
			return err
		}
	}
	return nil
}
