package store

import (
	"database/sql"
	"math"
	"time"

	"bagmark/grow"
	"bagmark/grow/forecast"
)

// DateRange is a forecast in dates.
type DateRange struct {
	Earliest grow.Date `json:"earliest"`
	Likely   grow.Date `json:"likely"`
	Latest   grow.Date `json:"latest"`
}

// Forecast says when a bag will be grown over and ready. Both ranges are null
// once it is out, finished or contaminated.
type Forecast struct {
	Colonised   *DateRange `json:"colonised"`
	Ready       *DateRange `json:"ready"`
	IntervalPct int        `json:"interval_pct"`
	Basis       string     `json:"basis"`
	Room        *RoomPace  `json:"room"` // null where nothing is known of the bag's places
	Slow        bool       `json:"slow"`
	Overdue     bool       `json:"overdue"`
	Words       []string   `json:"words"`
}

// intervalPct is how many bags in a hundred a forecast's range should hold.
const intervalPct = 80

// sisterSpans are the looks at the bags of a batch, by bag. A bag that is not in
// it was never looked at for its growth, which says nothing of its sisters.
type sisterSpans map[int64]forecast.Span

// of is what the looks say of one bag.
func (s sisterSpans) of(bag int64) forecast.Span {
	if span, ok := s[bag]; ok {
		return span
	}
	return forecast.Running(0)
}

func (s sisterSpans) without(bag int64) []forecast.Span {
	out := make([]forecast.Span, 0, len(s))
	for id, span := range s {
		if id != bag {
			out = append(out, span)
		}
	}
	return out
}

// finished is how many of the bags were seen grown over.
func (s sisterSpans) finished() (n int) {
	for _, span := range s {
		if span.Finished() {
			n++
		}
	}
	return n
}

// sisterSpans reads the looks at all bags of a batch.
func (t *tx) sisterSpans(b Batch, zone *time.Location) (sisterSpans, error) {
	out := sisterSpans{}
	err := t.each(`SELECT id, not_yet_at, grown_over_at FROM bags WHERE batch_id = ? AND (not_yet_at IS NOT NULL OR grown_over_at IS NOT NULL)`, []any{b.row}, func(rows *sql.Rows) error {
		var id int64
		var notYet, grown *int64
		err := rows.Scan(&id, &notYet, &grown)
		out[id] = span(b, timeOr(notYet), timeOr(grown), zone)
		return err
	})
	return out, err
}

func spansOf(b Batch, bags []bagRow, zone *time.Location) sisterSpans {
	out := make(sisterSpans, len(bags))
	for _, g := range bags {
		out[g.id] = span(b, g.status.NotYetAt, g.status.GrownOverAt, zone)
	}
	return out
}

// span is what two looks say of the day a bag was grown over, in whole days.
func span(b Batch, notYet, grown *time.Time, zone *time.Location) forecast.Span {
	s := forecast.Span{Right: math.Inf(1)}
	if notYet != nil {
		s.Left = float64(grow.Day(b.InoculatedAt, *notYet, zone))
	}
	if grown != nil {
		s.Right = float64(grow.Day(b.InoculatedAt, *grown, zone))
	}
	return s
}

func timeOr(us *int64) *time.Time {
	if us == nil {
		return nil
	}
	t := time.UnixMicro(*us)
	return &t
}

// prospect is what is expected of the bags of one batch. Bags with the same
// looks have the same forecast, so each is worked out once.
type prospect struct {
	farm     *Farm
	batch    Batch
	made     grow.Date
	species  grow.Species
	law      learnt
	ripening forecast.Ripening
	rooms    *roomClocks
	looked   sisterSpans // in calendar days
	sisters  sisterSpans // in the law's days
	known    map[looks]forecast.Forecast
}

// looks are what a bag's forecast rests on.
type looks struct {
	span    forecast.Span
	reading forecast.Reading
	read    bool
	room    *roomClock
}

func (t *tx) prospect(f *Farm, b Batch, sisters sisterSpans) (p *prospect, err error) {
	p = &prospect{farm: f, batch: b, made: grow.DateOf(b.InoculatedAt, f.Zone), looked: sisters, sisters: sisters, known: map[looks]forecast.Forecast{}}
	p.species, _ = f.SpeciesOf(b.Species, b.Strain)
	p.ripening = forecast.RipeningFrom(p.species.RipeningDays.Low, p.species.RipeningDays.High)
	var inCare bool
	if err := t.one(`SELECT EXISTS (SELECT 1 FROM bags WHERE batch_id = ? AND state NOT IN ('finished', 'culled'))`, []any{b.row}, &inCare); err != nil {
		return nil, err
	}
	if !inCare { // nobody waits for a bag of it, and learning takes time
		p.law.Law = rangeLaw(p.species)
		return p, nil
	}
	if p.law, err = t.law(f, b, p.species, sisters); err != nil {
		return nil, err
	}
	if p.rooms, err = t.roomClocks(f, b, p.species, p.law); p.rooms != nil {
		p.sisters = make(sisterSpans, len(sisters))
		for bag, span := range sisters {
			p.sisters[bag] = p.rooms.of(bag).clock().Span(span)
		}
	}
	return p, err
}

// outlook is what is expected of one bag.
type outlook struct {
	grow.Outlook
	forecast Forecast
	keeps    grow.Keeps
}

func (p *prospect) of(g bagRow, now time.Time) outlook {
	f := p.farm
	o := outlook{Outlook: grow.Outlook{Status: g.status, Today: grow.DateOf(now, f.Zone), Zone: f.Zone, InoculatedOn: p.made,
		FirstLookDay: f.FirstLookDay, LabelsLater: p.batch.LabelsLater}}
	o.keeps = p.species.Keeps(g.status.PinsAt != nil)
	o.forecast = Forecast{IntervalPct: intervalPct, Basis: p.law.Basis.String(), Words: []string{}}
	if g.status.State.Out() || g.status.Contaminated != nil {
		return o
	}
	room := p.rooms.of(g.id)
	fc := p.forecast(g, room, int(o.Today-p.made))
	if g.status.State != grow.Fruiting { // nobody waits for growth there
		o.forecast.Slow, o.forecast.Overdue = fc.Slow, fc.Overdue
	}
	o.forecast.Colonised, o.forecast.Ready = dateRange(p.made, fc.Colonised), dateRange(p.made, fc.Colonised.Ready(p.ripening))
	o.forecast.Words = fc.Words(p.batch.InoculatedAt, int(o.Today-p.made))
	if fc.Known && p.ripening.High > 0 && g.status.State != grow.Fruiting {
		o.forecast.Words = append(o.forecast.Words, forecast.ReadyWords(fc.Colonised.Ready(p.ripening), p.batch.InoculatedAt))
	}
	if room.counted() && !fc.Known && g.status.State != grow.Fruiting {
		o.forecast.Basis += ", counted with the room"
		o.forecast.Room = room.pace()
		o.forecast.Words = append(o.forecast.Words, p.rooms.words(room, f, p.species))
	}
	o.ReadyFrom = &o.forecast.Ready.Earliest
	since := p.made + grow.Date(p.law.OverdueAfter(room.clock())) + 1
	o.OverdueSince = &since
	return o
}

func (p *prospect) forecast(g bagRow, room *roomClock, day int) forecast.Forecast {
	l := looks{span: p.looked.of(g.id), room: room}
	if s := g.status; s.ReadPct != nil && *s.ReadPct < grow.GrownOverPct && s.GrownOverAt == nil {
		l.reading, l.read = forecast.Reading{Day: float64(grow.Day(p.batch.InoculatedAt, *s.ReadAt, p.farm.Zone)), Share: *s.ReadPct / 100}, true
	}
	fc, ok := p.known[l]
	if !ok {
		bag := forecast.Bag{Span: l.span, Today: float64(day)}
		if l.read {
			bag.Reading = &l.reading
		}
		fc = p.law.BagBy(room.clock(), bag, p.sisters.without(g.id))
		p.known[l] = fc
	}
	return fc
}

func dateRange(made grow.Date, d forecast.Days) *DateRange {
	day := func(days float64) grow.Date { return made + grow.Date(forecast.WholeDay(days)) }
	return &DateRange{Earliest: day(d.Early), Likely: day(d.Likely), Latest: day(d.Late)}
}

// item is what the bag is due for today; false if nothing.
func (o outlook) item(b Batch, g bagRow) (DueItem, bool) {
	why, since, ok := o.Due()
	if !ok {
		return DueItem{}, false
	}
	task := grow.TaskFor(why, g.status.State, g.status.PinsAt != nil)
	if why == grow.DueAgain && g.status.Again.For == "fruiting" {
		task = grow.TaskMove
	}
	return DueItem{Bag: g.code, Batch: b.Code, Number: g.number, Place: textOr(g.status.Place), Why: why, Since: since, Words: o.Words(why, since),
		Short: b.Short, SpeciesName: b.SpeciesName, Day: b.Day, State: g.status.State, made: b.InoculatedAt, nags: o.Nags(),
		task: task, keeps: o.keeps}, true
}
