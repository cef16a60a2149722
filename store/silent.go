package store

import (
	"database/sql"
	"time"

	"bagmark/grow"
)

// SilentJar is a jar none of whose bags in a batch has started.
type SilentJar struct {
	Jar   grow.Code      `json:"jar"`
	Name  string         `json:"name"`
	Batch grow.BatchCode `json:"batch"`
	Bags  int            `json:"bags"`
	Day   int            `json:"day"`
	Words string         `json:"words"`
}

// silentWeeks bounds the search to batches that may still be spawning.
const silentWeeks = 20

// silentJars are the jars whose bags do not start, batch by batch: among the
// codes of a JSON list, or all for "".
func (t *tx) silentJars(f *Farm, among string) ([]SilentJar, error) {
	type group struct {
		grow.JarBags
		jar   grow.Code
		batch grow.BatchCode
	}
	var groups []group
	since := t.now.Add(-silentWeeks * 7 * 24 * time.Hour)
	err := t.each(`SELECT g.spawn_jar, b.code, b.species, b.strain, b.inoculated_at, coalesce(l.name || ' jar ' || j.number, m.name),
			g.started_at IS NOT NULL OR g.grown_over_at IS NOT NULL OR g.contaminated_at IS NOT NULL OR coalesce(g.status ->> '$.read_pct', 0) > 0, iif(g.status ->> '$.in_hand_after_mark', g.status ->> '$.last_in_hand_at', NULL)
		FROM bags g JOIN batches b ON b.id = g.batch_id LEFT JOIN jars j ON j.code = g.spawn_jar LEFT JOIN lots l ON l.id = j.lot_id LEFT JOIN lots m ON m.code = g.spawn_jar
		WHERE g.spawn_jar IS NOT NULL AND g.state NOT IN ('finished', 'culled') AND b.inoculated_at >= ? AND (? = '' OR g.spawn_jar IN (SELECT value FROM json_each(nullif(?2, ''))))
		ORDER BY b.inoculated_at, b.code, g.spawn_jar`, []any{micros(since), among}, func(rows *sql.Rows) error {
		var g group
		var species grow.Slug
		var strain, hand *string
		var made int64
		var started bool
		if err := rows.Scan(&g.jar, &g.batch, &species, &strain, &made, &g.Name, &started, &hand); err != nil {
			return err
		}
		if n := len(groups); n == 0 || groups[n-1].jar != g.jar || groups[n-1].batch != g.batch {
			sp, _ := f.SpeciesOf(species, strain)
			g.Day, g.FirstSign, g.Over = grow.Day(instant(made, f.Zone), t.now, f.Zone), sp.FirstSignDay, int(sp.SpawnRun.Days.High)
			groups = append(groups, g)
		}
		at := &groups[len(groups)-1]
		at.Bags++
		if started {
			at.Started++
		}
		if hand != nil && lookedSince(*hand, made, at.FirstSign, f.Zone) {
			at.Looked++
		}
		return nil
	})
	out := []SilentJar{}
	for _, g := range groups {
		if err == nil && g.MayBeSilent() {
			err = t.besideSilent(&g.JarBags, g.jar, g.batch)
		}
		if g.Silent() {
			out = append(out, SilentJar{Jar: g.jar, Name: g.Name, Batch: g.batch, Bags: g.Bags, Day: g.Day, Words: g.Words()})
		}
	}
	return out, err
}

// besideSilent fills in what was said of a jar's bags and of their sisters.
func (t *tx) besideSilent(j *grow.JarBags, jar grow.Code, batch grow.BatchCode) error {
	return t.one(`SELECT (SELECT count(DISTINCT e.bag_id) FROM bags g JOIN entries e ON e.bag_id = g.id WHERE g.batch_id = b.id AND g.spawn_jar = ?2
				AND e.kind = 'sign' AND e.detail ->> '$.sign' = 'no_growth' AND NOT EXISTS (SELECT 1 FROM entries v WHERE v.bag_id = e.bag_id AND v.kind = 'void' AND v.detail ->> '$.entry' = e.id)),
			(SELECT count(*) FROM bags g WHERE g.batch_id = b.id AND (g.started_at IS NOT NULL OR g.grown_over_at IS NOT NULL OR coalesce(g.status ->> '$.read_pct', 0) > 0))
		FROM batches b WHERE b.code = ?1`, []any{string(batch), string(jar)}, &j.Bare, &j.Sisters)
}

// lookedSince tells whether a bag was in the hand on a day of its life or later.
func lookedSince(hand string, made int64, day int, zone *time.Location) bool {
	at, err := time.Parse(time.RFC3339Nano, hand)
	return err == nil && grow.Day(instant(made, zone), at, zone) >= day
}
