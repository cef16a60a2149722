package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"bagmark/grow"
	"bagmark/grow/trace"
)

// LotWhole is a lot, or one jar of it, with its log, what it was made from and
// all that came from it.
type LotWhole struct {
	Lot     Lot          `json:"lot"`
	Jar     *Jar         `json:"jar"` // the one asked about, null for the whole lot
	Jars    []Jar        `json:"jars"`
	Above   []LotNode    `json:"above"` // what it was made from, and that from
	Below   []LotNode    `json:"below"` // what was made from it, and from that
	Batches []LotBatch   `json:"batches"`
	Entries []StockEntry `json:"entries"` // newest first
	Changes []Change     `json:"changes"`
	Silent  []SilentJar  `json:"silent"`
	// Against compares the batches that came from it with all others, by batch:
	// null for a jar and where there is nothing to compare.
	Against *trace.Row `json:"against"`
}

// LotBatch is a batch as far as it came from a lot: of its bags, those that did.
type LotBatch struct {
	Code         grow.BatchCode `json:"code"`
	Species      grow.Slug      `json:"species"`
	SpeciesName  string         `json:"species_name"`
	Strain       *string        `json:"strain"`
	InoculatedAt time.Time      `json:"inoculated_at"`
	Day          int            `json:"day"`
	SpawnLot     *string        `json:"spawn_lot"`
	Bags         int            `json:"bags"`
	GrownOver    int            `json:"grown_over"`
	Contaminated int            `json:"contaminated"`
	Rate         float64        `json:"rate"` // contaminated of bags, as it stands today
	Alive        int            `json:"alive"`
}

// Lot gives a lot, by name or code, or a jar by its code, with all that came
// from it.
func (s *Store) Lot(ctx context.Context, text string) (w LotWhole, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return w, err
	}
	var d descent
	var came map[int64]bool
	err = s.reading(ctx, func(t *tx) error {
		row, err := t.findLot(text)
		if err != nil {
			return err
		}
		if err := t.lotItself(farm, row, &w); err != nil {
			return err
		}
		r, err := t.rootOf(row)
		if err != nil {
			return err
		}
		if d, err = t.descend(r); err != nil {
			return err
		}
		if err := t.lotTree(row, r, d, &w); err != nil {
			return err
		}
		if w.Batches, err = t.lotBatches(farm, d); err != nil {
			return err
		}
		if came, err = t.cameFrom(d); err != nil {
			return err
		}
		w.Silent, err = t.silentJars(farm, d.asCodes)
		return err
	})
	if err == nil && w.Jar == nil && len(w.Batches) > 0 {
		w.Against, err = s.against(ctx, farm, w, came)
	}
	return w, err
}

// lotItself fills in the lot, its jars and the log of what was asked about.
func (t *tx) lotItself(f *Farm, row stockRow, w *LotWhole) (err error) {
	if w.Lot, err = t.lot(f, row.lot); err != nil {
		return err
	}
	if w.Jars, err = t.jars(f, row.lot); err != nil {
		return err
	}
	for _, j := range w.Jars {
		if row.jar != nil && j.Number == row.jar.number {
			w.Jar = &j
		}
	}
	log, err := t.replayedStock(row.code)
	if err != nil {
		return err
	}
	w.Entries = make([]StockEntry, len(log))
	for i, e := range log {
		w.Entries[len(log)-1-i] = stockEntry(e, f)
	}
	w.Changes, err = t.stockChanges(f, w.Lot.Code)
	return err
}

// lotTree fills in what it was made from, and what was made from it. A jar is
// made from what its lot is made from.
func (t *tx) lotTree(row stockRow, r root, d descent, w *LotWhole) (err error) {
	if w.Above, err = t.lotsAbove([]int64{row.lot}); err != nil {
		return err
	}
	if row.jar == nil {
		w.Below, err = t.lotsBelow(r.lots, d)
		return err
	}
	nodes, err := t.lotNodes(jsonList(r.lots))
	if err != nil {
		return err
	}
	below, err := t.lotsBelow(r.lots, d)
	w.Below = []LotNode{}
	for _, id := range r.lots {
		n := nodes[id]
		n.Depth, n.Jar = 1, &row.jar.number
		w.Below = append(w.Below, n)
	}
	for _, n := range below {
		n.Depth++
		w.Below = append(w.Below, n)
	}
	return err
}

// lotBatches counts the bags of a descent batch by batch, the newest first.
func (t *tx) lotBatches(f *Farm, d descent) ([]LotBatch, error) {
	out := []LotBatch{}
	err := t.each(`SELECT b.code, b.species, b.strain, b.inoculated_at, (SELECT name FROM lots WHERE id = b.spawn_lot_id), count(*), count(g.grown_over_at), count(g.contaminated_at),
			sum(g.state NOT IN ('finished', 'culled') AND g.contaminated_at IS NULL)
		FROM bags g JOIN batches b ON b.id = g.batch_id AND g.given_back_at IS NULL WHERE g.id IN `+descended+` GROUP BY b.id ORDER BY b.inoculated_at DESC, b.code`, d.bags(), func(rows *sql.Rows) error {
		var b LotBatch
		var made int64
		err := rows.Scan(&b.Code, &b.Species, &b.Strain, &made, &b.SpawnLot, &b.Bags, &b.GrownOver, &b.Contaminated, &b.Alive)
		b.InoculatedAt = instant(made, f.Zone)
		b.Day = grow.Day(b.InoculatedAt, t.now, f.Zone)
		species, _ := f.SpeciesOf(b.Species, b.Strain)
		b.SpeciesName, b.Rate = species.Name, float64(b.Contaminated)/float64(max(1, b.Bags))
		out = append(out, b)
		return err
	})
	return out, err
}

// cameFrom are the rows of the bags of a descent.
func (t *tx) cameFrom(d descent) (map[int64]bool, error) {
	list, err := t.numbers(`SELECT g.id FROM bags g WHERE g.id IN `+descended, d.bags()...)
	came := make(map[int64]bool, len(list))
	for _, id := range list {
		came[id] = true
	}
	return came, err
}

// against holds the batches that came from a lot against all others. The lot is
// shared by whole batches, so batches are what is counted, never bags. A bag of
// such a batch that did not come from it, having a jar of another lot, stands on
// neither side.
func (s *Store) against(ctx context.Context, f *Farm, w LotWhole, came map[int64]bool) (*trace.Row, error) {
	r, err := s.recordsNow(ctx, f)
	if err != nil {
		return nil, err
	}
	of := map[string]bool{}
	for _, b := range w.Batches {
		of[string(b.Code)] = true
	}
	rows := remember(r, fmt.Sprintf("lot %g %s", f.Margin, w.Lot.Code), func() []trace.Row {
		c := trace.Column{Key: "spawn_lot", Label: w.Lot.Kind.Words(), Level: trace.BatchLevel, Only: w.Lot.Name, Values: make([]trace.Exposure, len(r.bags))}
		for i, g := range r.bags {
			switch {
			case came[g.id]:
				c.Values[i].Value = w.Lot.Name
			case !of[g.bag.Batch]:
				c.Values[i].Value = "any other"
			}
		}
		return trace.Compare(r.traceBags(r.bags), []trace.Column{c}, f.Margin)
	})
	if len(rows) == 0 {
		return nil, nil
	}
	return &rows[0], nil
}

// Recalled is a bag that came from a lot, and where it is now.
type Recalled struct {
	Code         grow.Code      `json:"code"`
	Batch        grow.BatchCode `json:"batch"`
	Number       int            `json:"number"`
	Short        string         `json:"short"`
	SpeciesName  string         `json:"species_name"`
	State        grow.State     `json:"state"`
	Contaminated bool           `json:"contaminated"`
	Place        *string        `json:"place"`
	EndedWhy     *string        `json:"ended_why"`
	To           *string        `json:"to"` // whom it was sold or given to
	EndedOn      *grow.Date     `json:"ended_on"`
	SpawnJar     *grow.Code     `json:"spawn_jar"`
	Picked
}

// Picked is what was picked of something, and so may have been eaten: the days of
// the first and the last picking, nil for none.
type Picked struct {
	Grams       float64    `json:"grams"`
	FirstPicked *grow.Date `json:"first_picked"`
	LastPicked  *grow.Date `json:"last_picked"`
}

func (f *Farm) picked(picks []grow.Pick) (p Picked) {
	for _, k := range picks {
		if on := grow.DateOf(k.At, f.Zone); k.Grams > 0 {
			p.add(Picked{k.Grams, &on, &on})
		}
	}
	return p
}

func (p *Picked) add(o Picked) {
	p.Grams += o.Grams
	if o.FirstPicked != nil && (p.FirstPicked == nil || *o.FirstPicked < *p.FirstPicked) {
		p.FirstPicked = o.FirstPicked
	}
	if o.LastPicked != nil && (p.LastPicked == nil || *o.LastPicked > *p.LastPicked) {
		p.LastPicked = o.LastPicked
	}
}

// PickedFrom is what was picked of bags together.
func PickedFrom(bags []Recalled) (p Picked) {
	for _, g := range bags {
		p.add(g.Picked)
	}
	return p
}

// Out tells whether the bag has left the farm in the ordinary way.
func (r Recalled) Out() bool { return r.State == grow.Finished }

// Recall is what came from a lot, jar or run, and where it is now: lots and jars
// still there, bags alive by place, bags sold, given or used, and bags out.
type Recall struct {
	Of   string     `json:"of"`
	Lots []LotNode  `json:"lots"`
	Bags []Recalled `json:"bags"`
	// Maybe are, of a jar, the bags that came from its lot and of which nobody
	// scanned which jar: it may have been this one.
	Maybe []Recalled `json:"maybe"`
	// Picked is what was picked from Bags, MaybePicked from Maybe.
	Picked      Picked `json:"picked"`
	MaybePicked Picked `json:"maybe_picked"`
	// Sterile are a run's own bags that no batch has taken: waiting, or the control.
	Sterile []SterileBag `json:"sterile_bags"`
}

// Recall lists what came from a lot or a steriliser run, by name or code, or from
// a jar by its code: bags in the farm's care first, by place; then what left it. A
// lot and a run of one name: the lot.
func (s *Store) Recall(ctx context.Context, text string) (out Recall, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return out, err
	}
	err = s.reading(ctx, func(t *tx) error {
		r, jarOf, err := t.recallRoot(text, &out)
		if err != nil {
			return err
		}
		return t.recall(farm, r, jarOf, &out)
	})
	out.Picked, out.MaybePicked = PickedFrom(out.Bags), PickedFrom(out.Maybe)
	return out, err
}

// recallRoot finds what a recall is of, and names it; jarOf is the lot of a jar, 0
// for all else.
func (t *tx) recallRoot(text string, out *Recall) (r root, jarOf int64, err error) {
	row, err := t.findLot(text)
	if err != nil && isFault(err) {
		return r, 0, err
	}
	if err != nil {
		run, missing := t.findRun(text)
		if missing != nil {
			return r, 0, err
		}
		return root{runs: []int64{run}}, 0, t.one(`SELECT name FROM steriliser_runs WHERE id = ?`, []any{run}, &out.Of)
	}
	if err := t.one(`SELECT name FROM lots WHERE id = ?`, []any{row.lot}, &out.Of); err != nil {
		return r, 0, err
	}
	if row.jar != nil {
		out.Of, jarOf = JarName(out.Of, row.jar.number), row.lot
	}
	r, err = t.rootOf(row)
	return r, jarOf, err
}

func (t *tx) recall(f *Farm, r root, jarOf int64, out *Recall) error {
	d, err := t.descend(r)
	if err != nil {
		return err
	}
	if out.Lots, err = t.lotsBelow(r.lots, d); err != nil {
		return err
	}
	waiting, err := t.sterileBags(f, `s.run_id IN (SELECT value FROM json_each(?)) AND s.bag_id IS NULL ORDER BY s.control, s.code`, jsonList(r.runs))
	if err != nil {
		return err
	}
	out.Sterile = slices.DeleteFunc(waiting, func(b SterileBag) bool { return b.State != "waiting" })
	if out.Bags, err = t.recalled(f, `g.id IN `+descended, d.bags()...); err != nil || jarOf == 0 {
		out.Maybe = []Recalled{}
		return err
	}
	return t.recallMaybe(f, d, jarOf, out)
}

// recallMaybe lists the bags of a jar's lot, and of lots made from it, of which
// nobody scanned the jar.
func (t *tx) recallMaybe(f *Farm, sure descent, lot int64, out *Recall) error {
	made, err := t.numbers(`SELECT lot_id FROM lot_sources WHERE from_id = ? AND jar_id IS NULL`, lot)
	if err != nil {
		return err
	}
	unsaid, err := t.descend(root{lots: made})
	if err != nil {
		return err
	}
	out.Maybe, err = t.recalled(f, `(g.spawn_jar IS NULL AND b.spawn_lot_id = ? OR g.id IN `+descended+`) AND g.id NOT IN `+descended,
		slices.Concat([]any{lot}, unsaid.bags(), sure.bags())...)
	return err
}

// recalled reads the bags that a WHERE clause over bags g and batches b picks:
// those in the farm's care first, by place; then what left it.
func (t *tx) recalled(f *Farm, where string, args ...any) ([]Recalled, error) {
	out := []Recalled{}
	err := t.each(`SELECT g.code, b.code, g.number, b.species, b.strain, g.state, g.contaminated_at IS NOT NULL, nullif(g.status ->> '$.place', ''), nullif(g.status ->> '$.ended_why', ''),
			g.ended_at, g.spawn_jar, g.status -> '$.picks',
			CASE g.state WHEN 'finished' THEN (SELECT e.detail ->> '$.to' FROM entries e WHERE e.bag_id = g.id AND e.kind = 'finish' AND e.at = g.ended_at ORDER BY e.seq DESC LIMIT 1) END
		FROM bags g JOIN batches b ON b.id = g.batch_id AND g.given_back_at IS NULL WHERE `+where+`
		ORDER BY g.state IN ('finished', 'culled'), g.state = 'culled', CASE WHEN g.state IN ('finished', 'culled') THEN '' ELSE g.status ->> '$.place' END, b.inoculated_at, b.code, g.number`,
		args, func(rows *sql.Rows) error {
			var g Recalled
			var species grow.Slug
			var strain *string
			var ended *int64
			var log []byte
			err := rows.Scan(&g.Code, &g.Batch, &g.Number, &species, &strain, &g.State, &g.Contaminated, &g.Place, &g.EndedWhy, &ended, &g.SpawnJar, &log, &g.To)
			if err == nil && log != nil {
				var picks []grow.Pick
				err = json.Unmarshal(log, &picks)
				g.Picked = f.picked(picks)
			}
			sp, _ := f.SpeciesOf(species, strain)
			g.Short, g.SpeciesName = sp.Short, sp.Name
			if ended != nil {
				on := grow.DateOf(instant(*ended, f.Zone), f.Zone)
				g.EndedOn = &on
			}
			out = append(out, g)
			return err
		})
	return out, err
}
