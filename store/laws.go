package store

import (
	"database/sql"
	"encoding/json"
	"slices"
	"sync"

	"bagmark/grow"
	"bagmark/grow/forecast"
)

// mostHistory is how many of the farm's batches a forecast learns from, the
// newest: a farm changes, and the fit of each takes time.
const mostHistory = 50

// lawKey names a law: of a species or strain, without one batch of it. A batch
// that is no history yet is left out by itself, so that all such share a law.
type lawKey struct {
	species grow.Slug
	strain  string // "" for none
	without int64  // 0 for no batch
}

// cachedLaws keeps laws of days until a look at a batch that is history changes
// what they rest on. A batch is no history for its own bags, so a look at it
// leaves its own law as it is.
type cachedLaws struct {
	sync.Mutex
	changes int           // of what laws rest on, since the farm was opened
	of      map[int64]int // those that only one batch made, by batch
	laws    map[lawKey]keptLaw
}

type keptLaw struct {
	law    forecast.Law
	others int // changes that other batches had made by then
}

// changed notes that looks at the bags of a batch have changed; 0 stands for
// anything else that laws rest on.
func (c *cachedLaws) changed(batch int64) {
	c.Lock()
	defer c.Unlock()
	c.changes++
	if batch == 0 {
		return
	}
	if c.of == nil {
		c.of = map[int64]int{}
	}
	c.of[batch]++
}

func (c *cachedLaws) count() int {
	c.Lock()
	defer c.Unlock()
	return c.changes
}

func (c *cachedLaws) find(key lawKey) (forecast.Law, bool) {
	c.Lock()
	defer c.Unlock()
	k, ok := c.laws[key]
	return k.law, ok && k.others == c.changes-c.of[key.without]
}

// keep keeps a law made when there had been so many changes, unless there have
// been more.
func (c *cachedLaws) keep(key lawKey, l forecast.Law, changes int) {
	c.Lock()
	defer c.Unlock()
	if c.changes != changes {
		return
	}
	if c.laws == nil || len(c.laws) > 5000 {
		c.laws = map[lawKey]keptLaw{}
	}
	c.laws[key] = keptLaw{l, c.changes - c.of[key.without]}
}

// looksChanged notes a change of what laws rest on, to count once committed.
func (t *tx) looksChanged(batch int64) {
	t.lawChanges++
	t.after = append(t.after, func() { t.store.laws.changed(batch) })
}

// looksOf notes changed looks at a bag of a batch, unless the batch is no
// history and was none before.
func (t *tx) looksOf(batch int64) error {
	var grown int
	err := t.one(`SELECT count(*) FROM bags WHERE batch_id = ? AND grown_over_at IS NOT NULL`, []any{batch}, &grown)
	if grown >= forecast.LeastFinished-1 { // one look changes one bag
		t.looksChanged(batch)
	}
	return err
}

// law is what is believed about the days of a batch's bags: the range of its
// species or strain, sharpened by the farm's own batches.
func (t *tx) law(f *Farm, b Batch, species grow.Species, bags sisterSpans) (forecast.Law, error) {
	key := lawKey{species: b.Species}
	if b.Strain != nil {
		key.strain = nameKey(*b.Strain)
	}
	if bags.finished() >= forecast.LeastFinished {
		key.without = b.row
	}
	if l, ok := t.store.laws.find(key); ok {
		return l, nil
	}
	l, err := t.learn(f, b, rangeLaw(species))
	t.after = append(t.after, func() {
		if t.store.current(f) {
			t.store.laws.keep(key, l, t.lawsAt+t.lawChanges)
		}
	})
	return l, err
}

// rangeLaw is the law of a species' range of days alone.
func rangeLaw(species grow.Species) forecast.Law {
	l := forecast.FromRange(species.SpawnRun.Days.Low, species.SpawnRun.Days.High)
	if species.SpawnRun.Days.Mark == grow.FarmsOwn {
		l.Basis.Source = forecast.OwnRange
	}
	return l
}

// learn sharpens a law by the farm's batches of the same strain if it has any,
// else by those of the species.
func (t *tx) learn(f *Farm, b Batch, l forecast.Law) (forecast.Law, error) {
	if b.Strain != nil {
		same, err := t.spellings(b.Species, *b.Strain)
		if err != nil {
			return l, err
		}
		h, err := t.history(f, b, `AND b.strain IN (SELECT value FROM json_each(?))`, same)
		if err != nil {
			return l, err
		}
		if learnt := l.Learn(h); learnt.Basis.Source == forecast.OwnBatches {
			return learnt, nil
		}
	}
	h, err := t.history(f, b, ``)
	return l.Learn(h), err
}

// spellings are the ways in which batches of a species name a strain, as a JSON
// list: letter case and spaces make no other strain.
func (t *tx) spellings(species grow.Slug, strain string) (string, error) {
	all, err := t.texts(`SELECT DISTINCT strain FROM batches WHERE species = ? AND strain IS NOT NULL`, string(species))
	if err != nil {
		return "", err
	}
	same, err := json.Marshal(slices.DeleteFunc(all, func(s string) bool { return nameKey(s) != nameKey(strain) }))
	return string(same), err
}

// history are the looks at the bags of the farm's newest other batches of the
// species that have finished ones.
func (t *tx) history(f *Farm, b Batch, also string, args ...any) (forecast.History, error) {
	var out forecast.History
	last := int64(0)
	err := t.each(`SELECT g.batch_id, b.inoculated_at, g.not_yet_at, g.grown_over_at FROM bags g JOIN batches b ON b.id = g.batch_id
		WHERE g.batch_id IN (
			SELECT b.id FROM batches b WHERE b.species = ? AND b.id <> ? `+also+` AND
				(SELECT count(*) FROM bags g WHERE g.batch_id = b.id AND g.grown_over_at IS NOT NULL) >= ?
			ORDER BY b.inoculated_at DESC, b.code LIMIT ?)
		ORDER BY b.inoculated_at, g.batch_id, g.number`,
		append(append([]any{string(b.Species), b.row}, args...), forecast.LeastFinished, mostHistory), func(rows *sql.Rows) error {
			var batch, made int64
			var notYet, grown *int64
			if err := rows.Scan(&batch, &made, &notYet, &grown); err != nil {
				return err
			}
			if batch != last {
				out, last = append(out, nil), batch
			}
			looked := span(Batch{InoculatedAt: instant(made, f.Zone)}, timeOr(notYet), timeOr(grown), f.Zone)
			out[len(out)-1] = append(out[len(out)-1], looked)
			return nil
		})
	return out, err
}
