package store

import (
	"database/sql"
	"encoding/json"
	"slices"
	"sync"
	"time"

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
	law    learnt
	others int // changes that other batches had made by then
}

// learnt is a law and the runs of the batches that it was learnt from, none for a
// published range.
type learnt struct {
	forecast.Law
	from []pastRun
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

func (c *cachedLaws) find(key lawKey) (learnt, bool) {
	c.Lock()
	defer c.Unlock()
	k, ok := c.laws[key]
	return k.law, ok && k.others == c.changes-c.of[key.without]
}

// keep keeps a law made when there had been so many changes, unless there have
// been more.
func (c *cachedLaws) keep(key lawKey, l learnt, changes int) {
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
	t.after = append(t.after, func() {
		t.store.laws.changed(batch)
		if batch == 0 { // perhaps where it stands, or since when
			t.store.tracks.changedFrom(0)
		}
	})
}

// looksOf notes changed looks at a bag of a batch, unless the batch is no
// history and was none before.
func (t *tx) looksOf(batch int64) error {
	history, err := t.isHistory(batch)
	if history {
		t.looksChanged(batch)
	}
	return err
}

// isHistory tells whether laws rest on a batch, or will or did but for one look.
func (t *tx) isHistory(batch int64) (bool, error) {
	var grown int
	err := t.one(`SELECT count(*) FROM bags WHERE batch_id = ? AND grown_over_at IS NOT NULL`, []any{batch}, &grown)
	return grown >= forecast.LeastFinished-1, err
}

// lawKeyOf names the law of a batch's species or strain.
func lawKeyOf(b Batch) lawKey {
	key := lawKey{species: b.Species}
	if b.Strain != nil {
		key.strain = nameKey(*b.Strain)
	}
	return key
}

// law is what is believed about the days of a batch's bags: the range of its
// species or strain, sharpened by the farm's own batches.
func (t *tx) law(f *Farm, b Batch, species grow.Species, bags sisterSpans) (learnt, error) {
	key := lawKeyOf(b)
	if bags.finished() >= forecast.LeastFinished {
		key.without = b.row
	}
	if l, ok := t.store.laws.find(key); ok {
		return l, nil
	}
	l, err := t.learn(f, b, rangeLaw(species))
	if err != nil {
		return l, err
	}
	t.keep(func() {
		if t.store.current(f) {
			t.store.laws.keep(key, l, t.lawsAt+t.lawChanges)
		}
	})
	return l, nil
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
func (t *tx) learn(f *Farm, b Batch, l forecast.Law) (learnt, error) {
	if b.Strain != nil {
		same, err := t.spellings(b.Species, *b.Strain)
		if err != nil {
			return learnt{}, err
		}
		past, err := t.history(f, b, `AND b.strain IN (SELECT value FROM json_each(?))`, same)
		if err != nil {
			return learnt{}, err
		}
		if law := learnFrom(l, past); law.Basis.Source == forecast.OwnBatches {
			return law, nil
		}
	}
	past, err := t.history(f, b, ``)
	return learnFrom(l, past), err
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

func learnFrom(l forecast.Law, past []pastBatch) learnt {
	out := learnt{Law: l.Learn(historyOf(past))}
	if out.Basis.Source == forecast.OwnBatches {
		for _, b := range past {
			out.from = append(out.from, b.pastRun)
		}
	}
	return out
}

// pastRun is the spawn run of a batch, up to the mean of the days on which its bags
// were seen grown over.
type pastRun struct {
	batch   int64
	made    time.Time
	place   *string
	bags    int
	grown   int // bags seen grown over
	grownAt time.Time
}

// pastBatch is a batch with bags that were seen grown over.
type pastBatch struct {
	pastRun
	spans []forecast.Span
}

func historyOf(past []pastBatch) forecast.History {
	out := make(forecast.History, len(past))
	for i, b := range past {
		out[i] = b.spans
	}
	return out
}

// history are the looks at the bags of the farm's newest other batches of the
// species that have finished ones.
func (t *tx) history(f *Farm, b Batch, also string, args ...any) ([]pastBatch, error) {
	var out []pastBatch
	err := t.each(`SELECT g.batch_id, b.inoculated_at, (SELECT name FROM places WHERE id = b.place_id), g.not_yet_at, g.grown_over_at FROM bags g JOIN batches b ON b.id = g.batch_id
		WHERE g.batch_id IN (
			SELECT b.id FROM batches b WHERE b.species = ? AND b.id <> ? `+also+` AND
				(SELECT count(*) FROM bags g WHERE g.batch_id = b.id AND g.grown_over_at IS NOT NULL) >= ?
			ORDER BY b.inoculated_at DESC, b.code LIMIT ?)
		ORDER BY b.inoculated_at, g.batch_id, g.number`,
		append(append([]any{string(b.Species), b.row}, args...), forecast.LeastFinished, mostHistory), func(rows *sql.Rows) error {
			var batch, made int64
			var place *string
			var notYet, grown *int64
			if err := rows.Scan(&batch, &made, &place, &notYet, &grown); err != nil {
				return err
			}
			if n := len(out); n == 0 || out[n-1].batch != batch {
				out = append(out, pastBatch{pastRun: pastRun{batch: batch, made: instant(made, f.Zone), place: place}})
			}
			out[len(out)-1].look(timeOr(notYet), timeOr(grown), f.Zone)
			return nil
		})
	return out, err
}

// look adds what was seen of one more bag.
func (b *pastBatch) look(notYet, grown *time.Time, zone *time.Location) {
	b.spans = append(b.spans, span(Batch{InoculatedAt: b.made}, notYet, grown, zone))
	b.bags++
	if grown == nil {
		return
	}
	if b.grown++; b.grown == 1 {
		b.grownAt = *grown
		return
	}
	b.grownAt = b.grownAt.Add(grown.Sub(b.grownAt) / time.Duration(b.grown))
}
