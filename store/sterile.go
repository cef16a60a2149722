package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"

	"bagmark/grow"
)

// SterileBag is a bag filled before the steam. Until a batch takes it, its code
// is a blank's. A control is never taken: it stays closed.
type SterileBag struct {
	Code         grow.Code           `json:"code"`
	Payload      string              `json:"payload"`
	Run          string              `json:"run"`
	Recipe       *string             `json:"recipe"`
	FilledOn     grow.Date           `json:"filled_on"`
	Day          int                 `json:"day"` // since it was filled
	Position     *string             `json:"position"`
	Control      bool                `json:"control"`
	State        string              `json:"state"` // waiting, inoculated or culled
	Contaminated *grow.Contamination `json:"contaminated"`
	CulledWhy    *string             `json:"culled_why"`
	Batch        *grow.BatchCode     `json:"batch"` // that took it
	Number       *int                `json:"number"`
}

// SterileDraft are sterile bags to be made for a run.
type SterileDraft struct {
	ID       *grow.ID   `json:"id"`
	Count    int        `json:"count"`
	Recipe   *string    `json:"recipe"`
	FilledOn *grow.Date `json:"filled_on"` // the day of the run unless given, today if nobody said it
	Position *string    `json:"position"`
	Control  bool       `json:"control"` // one a run
}

func (d SterileDraft) validate(today grow.Date) error {
	var p grow.Problems
	if d.Count < 1 || d.Count > 500 || d.Control && d.Count != 1 {
		p.Add("count", "must be 1 to 500, and 1 for a control")
	}
	for field, text := range map[string]*string{"recipe": d.Recipe, "position": d.Position} {
		if text != nil {
			grow.CheckName(&p, field, *text)
		}
	}
	if d.FilledOn != nil && (*d.FilledOn > today+1 || *d.FilledOn < grow.DateOn(2000, time.January, 1)) {
		p.Add("filled_on", "must be from the year 2000 to a day ahead")
	}
	return p.Err("these sterile bags cannot be made")
}

// CreateSterile makes sterile bags, or the control, of a run. The same id and
// body again gives those made before and created false.
func (s *Store) CreateSterile(ctx context.Context, by Actor, run string, d SterileDraft) (out []SterileBag, created bool, err error) {
	err = s.changing(ctx, func(t *tx, farm *Farm) error {
		if err := d.validate(grow.DateOf(t.now, farm.Zone)); err != nil {
			return err
		}
		row, err := t.findRun(run)
		if err != nil {
			return err
		}
		body := d
		body.ID = nil
		var codes []grow.Code
		codes, created, err = t.once(making{by, d.ID, "sterile", row, body}, func() ([]grow.Code, error) { return t.insertSterile(farm, by, row, d) })
		if err != nil {
			return err
		}
		out, err = t.sterileBags(farm, `s.code IN (SELECT value FROM json_each(?)) ORDER BY s.code`, jsonList(codes))
		return err
	})
	return out, created, err
}

func (t *tx) insertSterile(f *Farm, by Actor, run int64, d SterileDraft) (codes []grow.Code, err error) {
	if d.FilledOn == nil {
		if d.FilledOn, err = t.steamedOn(f, run); err != nil {
			return nil, err
		}
	}
	if err := t.onlyControl(run, d); err != nil {
		return nil, err
	}
	if codes, err = t.newCodes(grow.BlankCode, d.Count); err != nil {
		return nil, err
	}
	for _, code := range codes {
		if _, err := t.exec(`INSERT INTO sterile_bags (code, run_id, recipe, filled_on, position, control, made_at, made_by, made_device) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			string(code), run, d.Recipe, *d.FilledOn, d.Position, d.Control, micros(t.now), by.Person, by.Device); err != nil {
			return nil, err
		}
	}
	return codes, nil
}

// steamedOn is the day of a run, today if nobody said it.
func (t *tx) steamedOn(f *Farm, run int64) (*grow.Date, error) {
	at := micros(t.now)
	err := t.one(`SELECT coalesce(started_at, ?) FROM steriliser_runs WHERE id = ?`, []any{at, run}, &at)
	day := grow.DateOf(instant(at, f.Zone), f.Zone)
	return &day, err
}

// onlyControl refuses a second control of a run: one closed bag speaks for it.
func (t *tx) onlyControl(run int64, d SterileDraft) error {
	if !d.Control {
		return nil
	}
	list, err := t.texts(`SELECT code FROM sterile_bags WHERE run_id = ? AND control = 1`, run)
	if err == nil && len(list) > 0 {
		err = grow.Errorf(grow.Conflict, "this run has its control bag already: %s", grow.Code(list[0]).Spaced())
	}
	return err
}

// sterileBags reads the sterile bags that a WHERE … ORDER BY … clause picks.
func (t *tx) sterileBags(f *Farm, where string, args ...any) ([]SterileBag, error) {
	out := []SterileBag{}
	today := grow.DateOf(t.now, f.Zone)
	err := t.each(`SELECT s.code, r.name, s.recipe, s.filled_on, s.position, s.control, b.code, g.number FROM sterile_bags s JOIN steriliser_runs r ON r.id = s.run_id
		LEFT JOIN bags g ON g.id = s.bag_id LEFT JOIN batches b ON b.id = g.batch_id WHERE `+where, args, func(rows *sql.Rows) error {
		var s SterileBag
		err := rows.Scan(&s.Code, &s.Run, &s.Recipe, &s.FilledOn, &s.Position, &s.Control, &s.Batch, &s.Number)
		s.Day = int(today - s.FilledOn)
		out = append(out, s)
		return err
	})
	for i := range out {
		if err != nil {
			break
		}
		err = t.completeSterile(f, &out[i])
	}
	return out, err
}

func (t *tx) completeSterile(f *Farm, s *SterileBag) error {
	status, err := t.stockStatus(s.Code)
	s.Contaminated, s.State = inZone(status.Contaminated, f.Zone), "waiting"
	switch {
	case s.Batch != nil:
		s.State = "inoculated"
	case status.State.Out():
		s.State, s.CulledWhy = "culled", textOr(status.EndedWhy)
	}
	return err
}

// Sterile gives one sterile bag with its log, newest first.
func (s *Store) Sterile(ctx context.Context, code grow.Code) (b SterileBag, log []StockEntry, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return b, nil, err
	}
	err = s.reading(ctx, func(t *tx) error {
		list, err := t.sterileBags(farm, `s.code = ?`, string(code))
		if err != nil {
			return err
		}
		if len(list) == 0 {
			return grow.Errorf(grow.NotFound, "%s is no sterile bag", code.Spaced())
		}
		b = list[0]
		entries, err := t.replayedStock(code)
		for i := range entries {
			log = append(log, stockEntry(entries[len(entries)-1-i], farm))
		}
		return err
	})
	return b, log, err
}

// SterileLeft are the sterile bags of a run that wait to be inoculated.
type SterileLeft struct {
	Run  string    `json:"run"`
	Code grow.Code `json:"code"` // of the run
	Left int       `json:"left"`
	Day  int       `json:"day"` // of the oldest
}

// Words say so in a sentence.
func (l SterileLeft) Words() string {
	bags := fmt.Sprintf("%d sterile bags", l.Left)
	if l.Left == 1 {
		bags = "1 sterile bag"
	}
	return fmt.Sprintf("%s left from %s, %s", bags, RunName(l.Run), l.age())
}

// Choice says so where a run is chosen: run 44: 12 left, 3 days old.
func (l SterileLeft) Choice() string {
	return fmt.Sprintf("%s: %d left, %s", RunName(l.Run), l.Left, l.age())
}

func (l SterileLeft) age() string {
	switch l.Day {
	case 0:
		return "filled today"
	case 1:
		return "a day old"
	}
	return fmt.Sprintf("%d days old", l.Day)
}

// SterileLeft lists what waits, the oldest first.
func (s *Store) SterileLeft(ctx context.Context) (out []SterileLeft, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	err = s.reading(ctx, func(t *tx) error { out, err = t.sterileLeft(farm); return err })
	return out, err
}

// stillWaiting picks, of sterile bags s and their status k, those that a batch may
// take.
const stillWaiting = `s.control = 0 AND s.bag_id IS NULL AND coalesce(k.state, '') NOT IN ('culled', 'finished') AND k.status ->> '$.contaminated' IS NULL`

func (t *tx) sterileLeft(f *Farm) ([]SterileLeft, error) {
	out := []SterileLeft{}
	today := grow.DateOf(t.now, f.Zone)
	err := t.each(`SELECT r.name, r.code, count(*), min(s.filled_on) FROM sterile_bags s JOIN steriliser_runs r ON r.id = s.run_id LEFT JOIN stock_status k ON k.code = s.code
		WHERE `+stillWaiting+` GROUP BY r.id ORDER BY min(s.filled_on), r.id`, nil, func(rows *sql.Rows) error {
		var l SterileLeft
		var filled grow.Date
		err := rows.Scan(&l.Run, &l.Code, &l.Left, &filled)
		l.Day = int(today - filled)
		out = append(out, l)
		return err
	})
	return out, err
}

// sterileRow is what adopting a label needs to know of a sterile bag.
type sterileRow struct {
	run      string
	position *string
	control  bool
	state    *grow.State
	why      *string
	mould    *string
}

// sterileOf finds the sterile bag of a label; false for an ordinary blank.
func (t *tx) sterileOf(code grow.Code) (r sterileRow, found bool, err error) {
	err = t.one(`SELECT r.name, s.position, s.control, k.state, nullif(k.status ->> '$.ended_why', ''), k.status ->> '$.contaminated.what' FROM sterile_bags s JOIN steriliser_runs r ON r.id = s.run_id
		LEFT JOIN stock_status k ON k.code = s.code WHERE s.code = ?`, []any{string(code)}, &r.run, &r.position, &r.control, &r.state, &r.why, &r.mould)
	if errors.Is(err, sql.ErrNoRows) {
		return r, false, nil
	}
	return r, err == nil, err
}

// mayAdopt refuses a control, a bag that was thrown out or found mouldy, and one of
// another run than the batch's: its steam would be written down wrongly.
func (r sterileRow) mayAdopt(code grow.Code, run *string) error {
	switch {
	case run != nil && !r.control && nameKey(*run) != nameKey(r.run):
		return grow.Errorf(grow.Conflict, "%s was steamed in %s, this batch in %s; correct the batch's run, or make a batch of its own for it", code.Spaced(), RunName(r.run), RunName(*run))
	case r.control:
		return grow.Errorf(grow.Conflict, "%s is the control bag of %s: it stays closed and is never inoculated", code.Spaced(), RunName(r.run))
	case r.state != nil && r.state.Out():
		why := ""
		if r.why != nil {
			why = " (" + *r.why + ")"
		}
		return grow.Errorf(grow.Conflict, "%s was thrown out%s; take another bag", code.Spaced(), why)
	case r.mould != nil:
		return grow.Errorf(grow.Conflict, "something was seen growing in %s before it was inoculated (%s): keep it closed and take another bag, or take that back on its page if it was a mistake", code.Spaced(), strings.ReplaceAll(*r.mould, "_", " "))
	}
	return nil
}

// MayAdopt refuses a label that no batch may take, before anybody says which one
// would: a control's, or that of a bag that was thrown out.
func (s *Store) MayAdopt(ctx context.Context, code grow.Code) error {
	return s.reading(ctx, func(t *tx) error {
		sterile, found, err := t.sterileOf(code)
		if err != nil || !found {
			return err
		}
		return sterile.mayAdopt(code, nil)
	})
}

// positionCondition is the condition that a place in the load may be a value of.
const positionCondition = "load_position"

// sterileConditions adds to a bag's own conditions the place in the load at which
// it stood; unknown where that is none of the condition's values.
func (t *tx) sterileConditions(f *Farm, code grow.Code, own map[string]*string) (map[string]*string, error) {
	r, found, err := t.sterileOf(code)
	if err != nil || !found || r.position == nil {
		return own, err
	}
	c, ok := f.Conditions[positionCondition]
	value, refused := c.Value(r.position)
	if _, said := own[positionCondition]; !ok || said {
		return own, nil
	}
	if refused != nil { // a place that the farm does not compare by: not the usual one, either
		value = nil
	}
	if own == nil {
		own = map[string]*string{}
	}
	own[positionCondition] = value
	return own, nil
}

// adoptSterile notes which bag a sterile bag became.
func (t *tx) adoptSterile(code grow.Code, bag int64) error {
	_, err := t.exec(`UPDATE sterile_bags SET bag_id = ? WHERE code = ?`, bag, string(code))
	return err
}

// takeSterileRun gives a batch without a run or a recipe those of its sterile
// bags, where every bag of it is one of them: of a bag with an ordinary label
// nobody knows which steam it had.
func (t *tx) takeSterileRun(batch int64) error {
	for _, column := range []string{"run_id", "recipe"} {
		_, err := t.exec(`UPDATE batches SET `+column+` = (SELECT min(s.`+column+`) FROM sterile_bags s JOIN bags g ON g.id = s.bag_id WHERE g.batch_id = ?1)
			WHERE id = ?1 AND `+column+` IS NULL AND (1, (SELECT count(*) FROM bags WHERE batch_id = ?1 AND given_back_at IS NULL)) =
				(SELECT count(DISTINCT s.`+column+`), count(s.`+column+`) FROM sterile_bags s JOIN bags g ON g.id = s.bag_id WHERE g.batch_id = ?1)`, batch)
		if err != nil {
			return err
		}
	}
	return nil
}

// ControlFound is the control bag of a run in which something grows.
type ControlFound struct {
	Code         grow.Code          `json:"code"`
	Run          string             `json:"run"`
	Contaminated grow.Contamination `json:"contaminated"`
}

// Words say what that means.
func (c ControlFound) Words() string {
	return fmt.Sprintf("The control bag of %s went bad. It was never opened and never inoculated: look at the run, its load and its bags first.", RunName(c.Run))
}

// badControl is the control of a batch's run if something grows in it.
func (t *tx) badControl(f *Farm, batch int64) (*ControlFound, error) {
	list, err := t.sterileBags(f, `s.control = 1 AND s.run_id = (SELECT run_id FROM batches WHERE id = ?)`, batch)
	if err != nil || len(list) == 0 || list[0].Contaminated == nil {
		return nil, err
	}
	return &ControlFound{Code: list[0].Code, Run: list[0].Run, Contaminated: *list[0].Contaminated}, nil
}

// badControls are the controls in which something grows, of runs whose bags are
// still in the farm's care.
func (t *tx) badControls(f *Farm) ([]ControlFound, error) {
	list, err := t.sterileBags(f, `s.control = 1 AND EXISTS (SELECT 1 FROM stock_status k WHERE k.code = s.code AND k.status ->> '$.contaminated' IS NOT NULL)
		AND EXISTS (SELECT 1 FROM batches b JOIN bags g ON g.batch_id = b.id WHERE b.run_id = s.run_id AND g.state NOT IN ('finished', 'culled')) ORDER BY s.made_at`)
	var out []ControlFound
	for _, c := range list {
		out = append(out, ControlFound{Code: c.Code, Run: c.Run, Contaminated: *c.Contaminated})
	}
	return out, err
}
