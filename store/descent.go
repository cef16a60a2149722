package store

import (
	"cmp"
	"database/sql"
	"encoding/json"
	"slices"

	"bagmark/grow"
)

// Descent rules
//
// What came from a lot are the lots made from it, of it or of a jar of it, and
// so on; the batches spawned with any of them; and of those batches the bags
// whose own jar, where somebody scanned it, is one of theirs. A bag spawned from
// a jar counts wherever its batch says the spawn came from: the jar was scanned
// for the bag, the lot written down for all. Of a substrate lot come the batches
// that name it, and those of its steriliser run that name none; of a run the lots
// and batches made in it, and the bags that got its label before the steam,
// whatever their batch says: a recall rather has a bag too many than one too few.

// root is what descent is asked of.
type root struct {
	lots []int64
	jars []grow.Code
	runs []int64
}

// rootOf is a lot, or one jar of it.
func (t *tx) rootOf(r stockRow) (root, error) {
	if r.jar == nil {
		return root{lots: []int64{r.lot}}, nil
	}
	children, err := t.numbers(`SELECT lot_id FROM lot_sources WHERE jar_id = ?`, r.jar.id)
	return root{lots: children, jars: []grow.Code{r.code}}, err
}

// descent is what came from a root, the root's own lots among it.
type descent struct {
	lots     []int64
	codes    []grow.Code // of the lots and jars that a bag's spawn may be from
	ofLots   []int64     // batches spawned with them
	whole    []int64     // batches made in the runs, or filled with the lots: all bags
	asLots   string      // the same as JSON lists, for SQL
	asCodes  string
	asOfLots string
	asWhole  string
	asRuns   string // the runs themselves, for bags that were labelled as theirs before the steam
}

func (t *tx) descend(r root) (d descent, err error) {
	lots, err := t.numbers(`SELECT id FROM lots WHERE run_id IN (SELECT value FROM json_each(?))`, jsonList(r.runs))
	if err != nil {
		return d, err
	}
	d.lots, err = t.numbers(`WITH RECURSIVE down(id) AS (SELECT value FROM json_each(?) UNION SELECT s.lot_id FROM lot_sources s JOIN down ON s.from_id = down.id)
		SELECT id FROM down ORDER BY id`, jsonList(append(lots, r.lots...)))
	if err != nil {
		return d, err
	}
	d.asLots = jsonList(d.lots)
	codes, err := t.texts(`SELECT code FROM lots WHERE id IN (SELECT value FROM json_each(?1)) UNION ALL SELECT code FROM jars WHERE lot_id IN (SELECT value FROM json_each(?1))`, d.asLots)
	if err != nil {
		return d, err
	}
	d.codes = slices.Clone(r.jars)
	for _, c := range codes {
		d.codes = append(d.codes, grow.Code(c))
	}
	if d.ofLots, err = t.numbers(`SELECT b.id FROM json_each(?) l JOIN batches b ON b.spawn_lot_id = l.value`, d.asLots); err != nil {
		return d, err
	}
	d.whole, err = t.numbers(`SELECT id FROM batches WHERE run_id IN (SELECT value FROM json_each(?1))
		UNION SELECT id FROM batches WHERE substrate_lot_id IN (SELECT value FROM json_each(?2))
		UNION SELECT id FROM batches WHERE substrate_lot_id IS NULL
			AND run_id IN (SELECT run_id FROM lots WHERE kind = 'substrate' AND run_id IS NOT NULL AND id IN (SELECT value FROM json_each(?2)))`, jsonList(r.runs), d.asLots)
	d.asCodes, d.asOfLots, d.asWhole = jsonList(d.codes), jsonList(d.ofLots), jsonList(d.whole)
	d.asRuns = jsonList(r.runs)
	return d, err
}

// descended picks the bags of a descent: a subquery of their rows' numbers.
const descended = `(SELECT g.id FROM json_each(?) b JOIN bags g ON g.batch_id = b.value WHERE g.spawn_jar IS NULL OR g.spawn_jar IN (SELECT value FROM json_each(?))
	UNION SELECT g.id FROM json_each(?) j JOIN bags g ON g.spawn_jar = j.value
	UNION SELECT g.id FROM json_each(?) b JOIN bags g ON g.batch_id = b.value
	UNION SELECT s.bag_id FROM json_each(?) r JOIN sterile_bags s ON s.run_id = r.value WHERE s.bag_id IS NOT NULL)`

// bags are the arguments of descended.
func (d descent) bags() []any {
	return []any{d.asOfLots, d.asCodes, d.asCodes, d.asWhole, d.asRuns}
}

// LotNode is a lot in a tree of what was made from what, by depth below or above
// the lot that was asked about.
type LotNode struct {
	Code         grow.Code    `json:"code"`
	Name         string       `json:"name"`
	Kind         grow.LotKind `json:"kind"`
	Depth        int          `json:"depth"`
	Jar          *int         `json:"jar"` // of the lot between it and the one asked about
	MadeOn       *grow.Date   `json:"made_on"`
	State        grow.State   `json:"state"`
	Contaminated *string      `json:"contaminated"`
}

// edge is one source of one lot.
type edge struct {
	lot, from int64
	jar       *int
}

// lotsBelow are the lots made from the root's, in the order of a walk down.
func (t *tx) lotsBelow(roots []int64, d descent) ([]LotNode, error) {
	return t.walk(roots, d.asLots, func(e edge) (int64, int64) { return e.from, e.lot })
}

// lotsAbove are the lots that the root's were made from, in the order of a walk
// up.
func (t *tx) lotsAbove(roots []int64) ([]LotNode, error) {
	all, err := t.numbers(`WITH RECURSIVE up(id) AS (SELECT value FROM json_each(?) UNION SELECT s.from_id FROM lot_sources s JOIN up ON s.lot_id = up.id) SELECT id FROM up`, jsonList(roots))
	if err != nil {
		return nil, err
	}
	return t.walk(roots, jsonList(all), func(e edge) (int64, int64) { return e.lot, e.from })
}

// walk lists lots in the order of a walk from roots along edges among them, each
// once, without the roots themselves.
func (t *tx) walk(roots []int64, among string, direction func(edge) (from, to int64)) ([]LotNode, error) {
	nodes, err := t.lotNodes(among)
	if err != nil {
		return nil, err
	}
	next := map[int64][]edge{}
	err = t.each(`SELECT s.lot_id, s.from_id, j.number FROM json_each(?) l JOIN lot_sources s ON s.lot_id = l.value LEFT JOIN jars j ON j.id = s.jar_id ORDER BY s.lot_id, s.id`, []any{among}, func(rows *sql.Rows) error {
		var e edge
		err := rows.Scan(&e.lot, &e.from, &e.jar)
		if _, inside := nodes[e.from]; inside {
			from, _ := direction(e)
			next[from] = append(next[from], e)
		}
		return err
	})
	out, seen := []LotNode{}, map[int64]bool{}
	var visit func(lot int64, depth int)
	visit = func(lot int64, depth int) {
		for _, e := range next[lot] {
			_, to := direction(e)
			if seen[to] {
				continue
			}
			seen[to] = true
			n := nodes[to]
			n.Depth, n.Jar = depth, e.jar
			out = append(out, n)
			visit(to, depth+1)
		}
	}
	for _, r := range roots {
		seen[r] = true
	}
	for _, r := range roots {
		visit(r, 1)
	}
	return out, err
}

func (t *tx) lotNodes(among string) (map[int64]LotNode, error) {
	out := map[int64]LotNode{}
	err := t.each(`SELECT l.id, l.code, l.name, l.kind, l.made_on, s.state, s.status ->> '$.contaminated.what' FROM json_each(?) a JOIN lots l ON l.id = a.value
		LEFT JOIN stock_status s ON s.code = l.code`, []any{among}, func(rows *sql.Rows) error {
		var id int64
		var n LotNode
		var state *grow.State
		err := rows.Scan(&id, &n.Code, &n.Name, &n.Kind, &n.MadeOn, &state, &n.Contaminated)
		n.State = *cmp.Or(state, new(grow.Colonising))
		out[id] = n
		return err
	})
	return out, err
}

// jsonList writes a list as JSON, empty for none, to be handed to SQL as one
// parameter.
func jsonList[T any](list []T) string {
	text, err := json.Marshal(append([]T{}, list...))
	if err != nil {
		panic("store: a list of codes or numbers always has a JSON form: " + err.Error())
	}
	return string(text)
}
