package store

import (
	"context"
	"database/sql"
	"fmt"
	"strconv"
	"time"

	"bagmark/grow"
)

// Lot is a culture, spawn or substrate lot as it stands. What was not given is
// null.
type Lot struct {
	ID            *grow.ID            `json:"id"`
	Code          grow.Code           `json:"code"`
	Name          string              `json:"name"`
	Kind          grow.LotKind        `json:"kind"`
	Payload       string              `json:"payload"`
	MadeFrom      []Source            `json:"made_from"`
	Species       *grow.Slug          `json:"species"`
	SpeciesName   *string             `json:"species_name"`
	Strain        *string             `json:"strain"`
	MadeOn        *grow.Date          `json:"made_on"`
	ExpiresOn     *grow.Date          `json:"expires_on"`
	Expired       bool                `json:"expired"`
	Amount        *string             `json:"amount"`
	Look          *string             `json:"look"`
	Recipe        *string             `json:"recipe"`
	SteriliserRun *string             `json:"steriliser_run"`
	Note          *string             `json:"note"`
	Jars          int                 `json:"jars"`
	State         grow.State          `json:"state"`
	ColonisedPct  *float64            `json:"colonised_pct"`
	Contaminated  *grow.Contamination `json:"contaminated"`
	MadeAt        time.Time           `json:"made_at"`
	MadeBy        string              `json:"made_by"`

	row int64
}

// Source is a lot, or one jar of it, that another lot was made from.
type Source struct {
	Code grow.Code    `json:"code"` // of the jar if it was one
	Name string       `json:"name"`
	Kind grow.LotKind `json:"kind"`
	Jar  *int         `json:"jar"`
}

// Jar is one jar, bag or plate of a lot.
type Jar struct {
	Code         grow.Code           `json:"code"`
	Number       int                 `json:"number"`
	Payload      string              `json:"payload"`
	State        grow.State          `json:"state"`
	ColonisedPct *float64            `json:"colonised_pct"`
	Contaminated *grow.Contamination `json:"contaminated"`
	ShakenAt     *time.Time          `json:"shaken_at"`
	Bags         int                 `json:"bags"` // that took their spawn from it
}

// JarName is what people call one jar of a lot.
func JarName(lot string, number int) string { return fmt.Sprintf("%s jar %d", lot, number) }

// SpawnUnit is a jar or lot that bags take their spawn from.
type SpawnUnit struct {
	Code grow.Code `json:"code"`
	Name string    `json:"name"`
}

// spawnUnit names the jar or lot of a code, nil for none.
func (t *tx) spawnUnit(code *string) (*SpawnUnit, error) {
	if code == nil {
		return nil, nil
	}
	u := SpawnUnit{Code: grow.Code(*code)}
	err := t.one(unitNames+` WHERE code = ?`, []any{*code}, &u.Code, &u.Name)
	return &u, err
}

// unitNames gives lots and jars by code with what people call them.
const unitNames = `SELECT code, name FROM (SELECT code, name FROM lots UNION ALL SELECT j.code, l.name || ' jar ' || j.number FROM jars j JOIN lots l ON l.id = j.lot_id)`

// unitsUsed are the names of the jars and lots that any bag took its spawn from,
// by code.
func (t *tx) unitsUsed() (map[string]string, error) {
	out := map[string]string{}
	err := t.each(unitNames+` WHERE code IN (SELECT spawn_jar FROM bags WHERE spawn_jar IS NOT NULL)`, nil, func(rows *sql.Rows) error {
		var code, name string
		err := rows.Scan(&code, &name)
		out[code] = name
		return err
	})
	return out, err
}

// mostUnits is how many jars and lots a bench is told of.
const mostUnits = 200

// SpawnUnits are the jars and lots that bags may be spawned from now: not used
// up, not out, newest lots first. A lot with jars is not among them, its jars are.
func (s *Store) SpawnUnits(ctx context.Context) ([]SpawnUnit, error) {
	out := []SpawnUnit{}
	err := s.reading(ctx, func(t *tx) error {
		return t.each(`SELECT u.code, u.name FROM (
				SELECT l.id, 0 AS number, l.code, l.name FROM lots l WHERE l.kind <> 'substrate' AND NOT EXISTS (SELECT 1 FROM jars WHERE lot_id = l.id)
				UNION ALL SELECT l.id, j.number, j.code, l.name || ' jar ' || j.number FROM jars j JOIN lots l ON l.id = j.lot_id WHERE l.kind <> 'substrate') u
			LEFT JOIN stock_status s ON s.code = u.code WHERE coalesce(s.state, '') NOT IN ('finished', 'culled') ORDER BY u.id DESC, u.number LIMIT ?`, []any{mostUnits}, func(rows *sql.Rows) error {
			var u SpawnUnit
			err := rows.Scan(&u.Code, &u.Name)
			out = append(out, u)
			return err
		})
	})
	return out, err
}

// Fields are what a correction may change.
func (l Lot) Fields() grow.LotFields {
	from := []string{}
	for _, s := range l.MadeFrom {
		from = append(from, string(s.Code))
	}
	return grow.LotFields{Kind: l.Kind, Name: l.Name, MadeFrom: from, Species: l.Species, Strain: l.Strain, MadeOn: l.MadeOn, ExpiresOn: l.ExpiresOn,
		Amount: l.Amount, Look: l.Look, Recipe: l.Recipe, SteriliserRun: l.SteriliserRun, Note: l.Note}
}

// LotFilter picks lots.
type LotFilter struct {
	Kind  grow.LotKind
	After string
	Limit int
}

// LotPage is a page of lots and the cursor of the next one.
type LotPage struct {
	Lots []Lot   `json:"lots"`
	Next *string `json:"next"`
}

// Lots lists lots, newest first.
func (s *Store) Lots(ctx context.Context, q LotFilter) (LotPage, error) {
	page := LotPage{Lots: []Lot{}}
	farm, err := s.Farm(ctx)
	if err != nil {
		return page, err
	}
	limit, err := limitOr(q.Limit)
	if err != nil {
		return page, err
	}
	where, err := q.clause()
	if err != nil {
		return page, err
	}
	err = s.reading(ctx, func(t *tx) error {
		page.Lots, err = t.lots(farm, where.String()+fmt.Sprintf(` ORDER BY l.id DESC LIMIT %d`, limit+1), where.args...)
		return err
	})
	if len(page.Lots) > limit {
		page.Lots = page.Lots[:limit]
		next := strconv.FormatInt(page.Lots[limit-1].row, 10)
		page.Next = &next
	}
	return page, err
}

func (q LotFilter) clause() (clause, error) {
	var w clause
	var p grow.Problems
	if q.Kind != "" {
		w.add(`l.kind = ?`, string(q.Kind))
	}
	if q.After != "" {
		id, err := strconv.ParseInt(q.After, 10, 64)
		if err != nil {
			p.Add("after", "is not a cursor that this list gave")
		}
		w.add(`l.id < ?`, id)
	}
	return w, p.Err("the list cannot be given like this")
}

const lotColumns = `l.id, l.uuid, l.code, l.name, l.kind, l.species, l.strain, l.made_on, l.expires_on, l.amount, l.look, l.recipe,
	(SELECT name FROM steriliser_runs WHERE id = l.run_id), l.note, l.made_at, l.made_by, (SELECT count(*) FROM jars WHERE lot_id = l.id)`

// lots reads the lots that a WHERE … ORDER BY … clause picks.
func (t *tx) lots(f *Farm, where string, args ...any) ([]Lot, error) {
	out := []Lot{}
	today := grow.DateOf(t.now, f.Zone)
	err := t.each(`SELECT `+lotColumns+` FROM lots l WHERE `+where, args, func(rows *sql.Rows) error {
		var l Lot
		var made int64
		err := rows.Scan(&l.row, &l.ID, &l.Code, &l.Name, &l.Kind, &l.Species, &l.Strain, &l.MadeOn, &l.ExpiresOn, &l.Amount, &l.Look, &l.Recipe,
			&l.SteriliserRun, &l.Note, &made, &l.MadeBy, &l.Jars)
		l.MadeAt = instant(made, f.Zone)
		l.Expired = l.ExpiresOn != nil && *l.ExpiresOn < today
		if l.Species != nil {
			species, _ := f.SpeciesOf(*l.Species, l.Strain)
			l.SpeciesName = &species.Name
		}
		out = append(out, l)
		return err
	})
	if err != nil {
		return nil, err
	}
	for i := range out {
		if err := t.completeLot(f, &out[i]); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// completeLot fills in what stands in other tables.
func (t *tx) completeLot(f *Farm, l *Lot) (err error) {
	if l.MadeFrom, err = t.sources(l.row); err != nil {
		return err
	}
	s, err := t.stockStatus(l.Code)
	l.State, l.ColonisedPct, l.Contaminated = s.State, s.ColonisedPct, inZone(s.Contaminated, f.Zone)
	return err
}

func (t *tx) sources(lot int64) ([]Source, error) {
	out := []Source{}
	err := t.each(`SELECT coalesce(j.code, l.code), l.name, l.kind, j.number FROM lot_sources s JOIN lots l ON l.id = s.from_id LEFT JOIN jars j ON j.id = s.jar_id
		WHERE s.lot_id = ? ORDER BY s.id`, []any{lot}, func(rows *sql.Rows) error {
		var s Source
		err := rows.Scan(&s.Code, &s.Name, &s.Kind, &s.Jar)
		out = append(out, s)
		return err
	})
	return out, err
}

// lot reads one lot; none is [grow.NotFound].
func (t *tx) lot(f *Farm, row int64) (Lot, error) {
	list, err := t.lots(f, `l.id = ?`, row)
	if err == nil && len(list) == 0 {
		err = grow.Errorf(grow.NotFound, "there is no such lot")
	}
	if err != nil {
		return Lot{}, err
	}
	return list[0], nil
}

// LotAlone gives a lot by name or code, or a jar by its code with its lot, without
// what came from it.
func (s *Store) LotAlone(ctx context.Context, text string) (l Lot, j *Jar, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return l, nil, err
	}
	err = s.reading(ctx, func(t *tx) error {
		row, err := t.findLot(text)
		if err != nil {
			return err
		}
		if l, err = t.lot(farm, row.lot); err != nil || row.jar == nil {
			return err
		}
		jars, err := t.jarsWhere(farm, `j.id = ?`, row.jar.id)
		if len(jars) > 0 {
			j = &jars[0]
		}
		return err
	})
	return l, j, err
}

// jars reads the jars of a lot, by number.
func (t *tx) jars(f *Farm, lot int64) ([]Jar, error) { return t.jarsWhere(f, `j.lot_id = ?`, lot) }

func (t *tx) jarsWhere(f *Farm, where string, arg int64) ([]Jar, error) {
	out := []Jar{}
	err := t.each(`SELECT j.code, j.number, (SELECT count(*) FROM bags g WHERE g.spawn_jar = j.code) FROM jars j WHERE `+where+` ORDER BY j.number`, []any{arg}, func(rows *sql.Rows) error {
		var j Jar
		err := rows.Scan(&j.Code, &j.Number, &j.Bags)
		out = append(out, j)
		return err
	})
	if err != nil {
		return nil, err
	}
	for i := range out {
		s, err := t.stockStatus(out[i].Code)
		if err != nil {
			return nil, err
		}
		out[i].State, out[i].ColonisedPct, out[i].Contaminated = s.State, s.ColonisedPct, inZone(s.Contaminated, f.Zone)
		if out[i].ShakenAt, err = t.shakenAt(out[i].Code); err != nil {
			return nil, err
		}
		out[i].ShakenAt = timeIn(out[i].ShakenAt, f.Zone)
	}
	return out, nil
}

// shakenAt is when stock was last shaken, nil if never.
func (t *tx) shakenAt(code grow.Code) (*time.Time, error) {
	var at *int64
	err := t.one(`SELECT max(e.at) FROM stock_entries e WHERE e.code = ? AND e.kind = 'shake'
		AND NOT EXISTS (SELECT 1 FROM stock_entries v WHERE v.code = e.code AND v.kind = 'void' AND v.detail ->> '$.entry' = e.id)`, []any{string(code)}, &at)
	return timeOr(at), err
}
