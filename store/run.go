package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"strconv"
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/grow/climate"
)

// Run is a steriliser run as it stands. What was not given is null.
type Run struct {
	ID        *grow.ID         `json:"id"`
	Code      grow.Code        `json:"code"`
	Name      string           `json:"name"`
	Payload   string           `json:"payload"`
	Method    *grow.RunMethod  `json:"method"`
	StartedAt *time.Time       `json:"started_at"`
	Vessel    *string          `json:"vessel"`
	HoldC     *float64         `json:"hold_c"`
	TargetF0  *float64         `json:"target_f0"`
	GaugeKPa  *float64         `json:"gauge_kpa"`
	Recipe    *string          `json:"recipe"`
	Load      []grow.LoadPlace `json:"load"`
	Note      *string          `json:"note"`
	F0        *float64         `json:"f0"`    // in the core of the coldest bag measured
	Short     *bool            `json:"short"` // of the target; null where the readings do not tell
	MadeAt    time.Time        `json:"made_at"`
	MadeBy    string           `json:"made_by"` // "" for a run that was only named so far

	row    int64
	boilsC float64 // where the farm lies
}

// RunName is what people call a run in a sentence; many farms' names begin with
// the word.
func RunName(name string) string {
	if strings.HasPrefix(strings.ToLower(name), "run ") {
		return name
	}
	return "run " + name
}

// Fields are what a correction may change.
func (r Run) Fields() grow.RunFields {
	return grow.RunFields{Name: r.Name, Method: r.Method, StartedAt: r.StartedAt, Vessel: r.Vessel, HoldC: r.HoldC, TargetF0: r.TargetF0, GaugeKPa: r.GaugeKPa,
		Recipe: r.Recipe, Load: r.Load, Note: r.Note}
}

// Series are the readings of one place of a run, and what they say.
type Series struct {
	ID        int64            `json:"id"`
	Probe     string           `json:"probe"`
	Spot      string           `json:"spot"` // core or chamber
	Position  *string          `json:"position"`
	Readings  int              `json:"readings"`
	Missing   int              `json:"missing"` // rows of the file without one
	Assumed   *string          `json:"assumed"` // what the file left open and how it was read
	From      time.Time        `json:"from"`
	To        time.Time        `json:"to"`
	Highest   float64          `json:"highest_c"`
	Lethality *SeriesLethality `json:"lethality"` // null of hot water and lime
	ComeUp    *float64         `json:"come_up_min"`
	Held      float64          `json:"held_min"`
	Unbroken  float64          `json:"unbroken_min"`
	Cooling   float64          `json:"cooling_min"`
	Gaps      []SeriesGap      `json:"gaps"`
	MadeAt    time.Time        `json:"made_at"`
	By        string           `json:"by"`
	Device    string           `json:"device"`
	VoidedAt  *time.Time       `json:"voided_at"`
	VoidedBy  *string          `json:"voided_by"`

	Points []climate.Point `json:"-"`
}

// SeriesLethality are minutes at 121.1 °C: what is certain, and with straight
// lines across gaps.
type SeriesLethality struct {
	F0        float64 `json:"f0"`
	F0Bridged float64 `json:"f0_bridged"`
}

// SeriesGap is a time without readings.
type SeriesGap struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// RunPage is a page of runs and the cursor of the next one.
type RunPage struct {
	Runs []Run   `json:"runs"`
	Next *string `json:"next"`
}

// Runs lists runs, newest first.
func (s *Store) Runs(ctx context.Context, after string, limit int) (RunPage, error) {
	page := RunPage{Runs: []Run{}}
	limit, err := limitOr(limit)
	if err != nil {
		return page, err
	}
	before := int64(1) << 62
	if after != "" {
		if before, err = strconv.ParseInt(after, 10, 64); err != nil {
			p := grow.Problems{"after": "is not a cursor that this list gave"}
			return page, p.Err("the list cannot be given like this")
		}
	}
	farm, err := s.Farm(ctx)
	if err != nil {
		return page, err
	}
	err = s.reading(ctx, func(t *tx) error {
		page.Runs, err = t.runs(farm, `r.id < ? ORDER BY r.id DESC LIMIT ?`, before, limit+1)
		return err
	})
	if len(page.Runs) > limit {
		page.Runs = page.Runs[:limit]
		next := strconv.FormatInt(page.Runs[limit-1].row, 10)
		page.Next = &next
	}
	return page, err
}

// runs reads the runs that a WHERE … ORDER BY … clause picks.
func (t *tx) runs(f *Farm, where string, args ...any) ([]Run, error) {
	out := []Run{}
	err := t.each(`SELECT r.id, r.uuid, coalesce(r.code, ''), r.name, r.method, r.started_at, r.vessel, r.hold_c, r.target_f0, r.gauge_kpa, r.recipe, r.load, r.note, r.f0, r.short, r.made_at, r.made_by
		FROM steriliser_runs r WHERE `+where, args, func(rows *sql.Rows) error {
		r := Run{boilsC: climate.BoilingC(f.AltitudeM)}
		var started *int64
		var made int64
		var load string
		err := rows.Scan(&r.row, &r.ID, &r.Code, &r.Name, &r.Method, &started, &r.Vessel, &r.HoldC, &r.TargetF0, &r.GaugeKPa, &r.Recipe, &load, &r.Note, &r.F0, &r.Short, &made, &r.MadeBy)
		if err != nil {
			return err
		}
		r.StartedAt, r.MadeAt = timeIn(timeOr(started), f.Zone), instant(made, f.Zone)
		if json.Unmarshal([]byte(load), &r.Load) != nil {
			r.Load = []grow.LoadPlace{} // damaged: check names it, and the run is shown without
		}
		out = append(out, r)
		return nil
	})
	return out, err
}

func (t *tx) run(f *Farm, row int64) (Run, error) {
	list, err := t.runs(f, `r.id = ?`, row)
	if err == nil && len(list) == 0 {
		err = grow.Errorf(grow.NotFound, "there is no such run")
	}
	if err != nil {
		return Run{}, err
	}
	return list[0], nil
}

// findRun finds a run by its code or its name.
func (t *tx) findRun(text string) (row int64, err error) {
	code, _ := grow.ParseCode(text)
	err = t.one(`SELECT id FROM steriliser_runs WHERE code = ? OR name_key = ?`, []any{string(code), nameKey(text)}, &row)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, grow.Errorf(grow.NotFound, "this farm has no steriliser run %s", text)
	}
	return row, err
}

// holdC and target are what a run is judged by.
func (r Run) holdC() float64 {
	switch {
	case r.HoldC != nil:
		return *r.HoldC
	case r.Method != nil:
		return r.Method.HoldC(r.boilsC)
	}
	return grow.PressureSteam.HoldC(r.boilsC)
}

// Target is the F0 that a run is held against, 0 for none.
func (f *Farm) Target(r Run) float64 {
	switch {
	case !r.lethal():
		return 0
	case r.TargetF0 != nil:
		return *r.TargetF0
	case r.Method != nil && *r.Method == grow.OpenSteam:
		return f.F0TargetSteam
	}
	return f.F0Target
}

// lethal tells whether a lethality means anything for the run: steam, and where
// nobody said how, the readings are taken for steam's.
func (r Run) lethal() bool { return r.Method == nil || r.Method.Steam() }

// verdict judges a run by its readings. coldest is the series that it is judged
// by, the last of its pieces where one probe was read in several, nil for none.
func (f *Farm) verdict(r Run, series []Series) (v climate.RunVerdict, coldest *int64, err error) {
	if !r.lethal() {
		return climate.RunVerdict{Coldest: -1, Words: []string{"Hot water and lime do not sterilise and have no F0: they leave spores alive and work by what they favour. Only times and temperatures are shown."}}, nil, nil
	}
	places := measuredPlaces(series)
	probed := make([]climate.Probed, len(places))
	for i, p := range places {
		if probed[i], err = p.probed(r); err != nil {
			return v, nil, err
		}
	}
	if v = climate.JudgeRun(f.Target(r), probed); v.Coldest >= 0 {
		coldest = &places[v.Coldest].last
	}
	return v, coldest, nil
}

// place is where the probe sat.
func (s Series) place() string {
	if s.Position != nil {
		return *s.Position
	}
	return s.Probe
}

// series reads the readings of a run and works out what they say, in the order
// in which they were handed in.
func (t *tx) series(f *Farm, r Run) ([]Series, error) {
	out := []Series{}
	err := t.each(`SELECT id, probe, spot, position, readings, missing, assumed, made_at, by_person, device, voided_at, voided_by FROM run_series WHERE run_id = ? ORDER BY id`, []any{r.row}, func(rows *sql.Rows) error {
		var s Series
		var blob []byte
		var made int64
		var voided *int64
		if err := rows.Scan(&s.ID, &s.Probe, &s.Spot, &s.Position, &blob, &s.Missing, &s.Assumed, &made, &s.By, &s.Device, &voided, &s.VoidedBy); err != nil {
			return err
		}
		s.MadeAt, s.VoidedAt, s.Points = instant(made, f.Zone), timeIn(timeOr(voided), f.Zone), unpackReadings(blob)
		err := s.soak(f.Zone, r)
		out = append(out, s)
		return err
	})
	return out, err
}

func (s *Series) soak(zone *time.Location, r Run) error {
	soaked, err := soak(s.Points, r)
	if err != nil || !possibleTime(soaked.From) || !possibleTime(soaked.To) {
		return &grow.Error{Kind: grow.Conflict, Message: "the readings by " + s.Probe + " are damaged: they hold what no thermometer wrote", Cause: err}
	}
	s.Readings, s.From, s.To, s.Highest = soaked.Readings, soaked.From.In(zone), soaked.To.In(zone), soaked.Highest
	if r.lethal() {
		s.Lethality = &SeriesLethality{soaked.F0, soaked.F0Bridged}
	}
	if soaked.Reached != nil {
		s.ComeUp = new(soaked.ComeUp.Minutes())
	}
	s.Held, s.Unbroken, s.Cooling, s.Gaps = soaked.Held.Minutes(), soaked.Unbroken.Minutes(), soaked.Cooling.Minutes(), []SeriesGap{}
	for _, g := range soaked.Gaps {
		s.Gaps = append(s.Gaps, SeriesGap{g.From.In(zone), g.To.In(zone)})
	}
	return nil
}

// RunWhole is a run with its readings, what they say, and what it made.
type RunWhole struct {
	Run      Run          `json:"run"`
	Target   float64      `json:"target_f0"`  // what it is held against, 0 for none
	AirKPa   float64      `json:"air_kpa"`    // at the farm's height
	BoilsC   float64      `json:"boils_at_c"` // water there
	GaugeC   *float64     `json:"gauge_c"`    // what pure steam at the gauge's pressure would have
	WantsKPa *float64     `json:"gauge_for_hold_kpa"`
	Series   []Series     `json:"series"`
	Verdict  []string     `json:"verdict"`
	Says     []string     `json:"-"`       // the verdict as the farm writes
	Coldest  *int64       `json:"coldest"` // the series that it is judged by
	Sterile  []SterileBag `json:"sterile_bags"`
	Lots     []Lot        `json:"lots"`
	Batches  []LotBatch   `json:"batches"`
	Changes  []Change     `json:"changes"`
}

// Run gives a run by its name or code.
func (s *Store) Run(ctx context.Context, text string) (w RunWhole, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return w, err
	}
	err = s.reading(ctx, func(t *tx) error {
		row, err := t.findRun(text)
		if err == nil {
			w, err = t.runWhole(farm, row)
		}
		return err
	})
	return w, err
}

func (t *tx) runWhole(f *Farm, row int64) (w RunWhole, err error) {
	if w.Run, err = t.run(f, row); err != nil {
		return w, err
	}
	if w.Series, err = t.series(f, w.Run); err != nil {
		return w, err
	}
	v, coldest, err := f.verdict(w.Run, w.Series)
	if err != nil {
		return w, err
	}
	w.Target, w.Verdict, w.Says, w.Coldest = f.Target(w.Run), v.Words, v.WordsIn(f.Writing), coldest
	w.pressures(f.AltitudeM)
	if w.Sterile, err = t.sterileBags(f, `s.run_id = ? ORDER BY s.control DESC, s.made_at, s.code`, row); err != nil {
		return w, err
	}
	if w.Lots, err = t.lots(f, `l.run_id = ? ORDER BY l.id`, row); err != nil {
		return w, err
	}
	d, err := t.descend(root{runs: []int64{row}})
	if err != nil {
		return w, err
	}
	if w.Batches, err = t.lotBatches(f, d); err != nil {
		return w, err
	}
	w.Changes, err = t.stockChanges(f, w.Run.Code)
	return w, err
}

// pressures fills in what the gauge means at the farm's height.
func (w *RunWhole) pressures(altitude float64) {
	w.AirKPa, w.BoilsC = climate.AirKPa(altitude), climate.BoilingC(altitude)
	if w.Run.GaugeKPa != nil {
		w.GaugeC = new(climate.GaugeTempC(*w.Run.GaugeKPa, altitude))
	}
	if w.Run.Method != nil && *w.Run.Method == grow.PressureSteam {
		w.WantsKPa = new(climate.GaugeKPa(w.Run.holdC(), altitude))
	}
}
