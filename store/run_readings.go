package store

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"bagmark/grow"
	"bagmark/grow/climate"
)

// SeriesDraft are readings of one place to be kept with a run.
type SeriesDraft struct {
	Probe    string
	Spot     string // core or chamber
	Position *string
	Points   []climate.Point
	Missing  int
}

// mostReadings is how many readings of one place are taken at once.
const mostReadings = 200_000

func (d SeriesDraft) validate(p *grow.Problems, at string) {
	if n := utf8.RuneCountInString(d.Probe); n > 60 || strings.TrimSpace(d.Probe) == "" {
		p.Add(at+"probe", "must be 1 to 60 characters")
	}
	if d.Spot != "core" && d.Spot != "chamber" {
		p.Add(at+"spot", "must be core or chamber")
	}
	if d.Position != nil && (utf8.RuneCountInString(*d.Position) > 60 || strings.TrimSpace(*d.Position) == "") {
		p.Add(at+"position", "must be 1 to 60 characters")
	}
	if len(d.Points) == 0 || len(d.Points) > mostReadings {
		p.Add(at+"readings", "must be 1 to %d", mostReadings)
	}
	for i, x := range d.Points {
		if math.IsNaN(x.C) || x.C < -60 || x.C > 300 {
			p.Add(fmt.Sprintf("%sreadings[%d].temp_c", at, i), "is no temperature of a steriliser: °C from -60 to 300")
			break
		}
		if y := x.At.UTC().Year(); y < 2000 || y > 2200 {
			p.Add(fmt.Sprintf("%sreadings[%d].at", at, i), "is no time that can be kept")
			break
		}
	}
}

// AddRunReadings keeps readings of one or more places of a run. The same readings of
// the same probe again change nothing; created tells whether any was new. What
// the run made is judged anew.
func (s *Store) AddRunReadings(ctx context.Context, by Actor, run string, drafts []SeriesDraft) (w RunWhole, created bool, err error) {
	var p grow.Problems
	for i, d := range drafts {
		at := ""
		if len(drafts) > 1 {
			at = fmt.Sprintf("series[%d].", i)
		}
		d.validate(&p, at)
	}
	if err := p.Err("these readings cannot be kept as they are"); err != nil {
		return w, false, err
	}
	err = s.changing(ctx, func(t *tx, farm *Farm) error {
		row, err := t.findRun(run)
		if err != nil {
			return err
		}
		for _, d := range drafts {
			isNew, err := t.insertSeries(by, row, d)
			if err != nil {
				return err
			}
			created = created || isNew
		}
		if created {
			if err := t.judgeRun(farm, by, row); err != nil {
				return err
			}
		}
		w, err = t.runWhole(farm, row)
		return err
	})
	return w, created, err
}

func (t *tx) insertSeries(by Actor, run int64, d SeriesDraft) (bool, error) {
	blob := packReadings(d.Points)
	sum := sha256.Sum256(blob)
	var there int
	err := t.one(`SELECT count(*) FROM run_series WHERE run_id = ? AND probe = ? AND spot = ? AND sha256 = ? AND voided_at IS NULL`, []any{run, d.Probe, d.Spot, sum[:]}, &there)
	if err != nil || there > 0 {
		return false, err
	}
	_, err = t.exec(`INSERT INTO run_series (run_id, probe, spot, position, readings, sha256, missing, made_at, by_person, device) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		run, d.Probe, d.Spot, d.Position, blob, sum[:], d.Missing, micros(t.now), by.Person, by.Device)
	return err == nil, err
}

// VoidSeries takes readings back: they stay on record and count no more.
func (s *Store) VoidSeries(ctx context.Context, by Actor, run string, series int64) (w RunWhole, err error) {
	err = s.changing(ctx, func(t *tx, farm *Farm) error {
		row, err := t.findRun(run)
		if err != nil {
			return err
		}
		r, err := t.exec(`UPDATE run_series SET voided_at = ?, voided_by = ? WHERE id = ? AND run_id = ? AND voided_at IS NULL`, micros(t.now), by.Person, series, row)
		if err != nil {
			return err
		}
		n, err := r.RowsAffected()
		if err != nil {
			return err
		}
		if n == 0 {
			return grow.Errorf(grow.NotFound, "these are no readings of this run, or they were taken back already")
		}
		if err := t.judgeRun(farm, by, row); err != nil {
			return err
		}
		w, err = t.runWhole(farm, row)
		return err
	})
	return w, err
}

// packReadings writes readings as they are kept.
func packReadings(points []climate.Point) []byte {
	out := make([]byte, 0, 16*len(points))
	for _, p := range points {
		out = binary.BigEndian.AppendUint64(out, uint64(p.At.UnixMicro()))
		out = binary.BigEndian.AppendUint64(out, math.Float64bits(p.C))
	}
	return out
}

func unpackReadings(blob []byte) []climate.Point {
	out := make([]climate.Point, 0, len(blob)/16)
	for ; len(blob) >= 16; blob = blob[16:] {
		out = append(out, climate.Point{At: time.UnixMicro(int64(binary.BigEndian.Uint64(blob))).UTC(), C: math.Float64frombits(binary.BigEndian.Uint64(blob[8:]))})
	}
	return out
}

// A short run raises a departure on every batch it made: the condition below, in
// the name of the readings. Where they no longer say so, what stood before comes
// back, unless a person has changed it meanwhile.
const (
	runCondition = "run_complete"
	shortValue   = "short"
	judgedBy     = "readings of the steriliser run"
)

// judgeRun works out what the readings of a run say and brings the batches it
// made into line.
func (t *tx) judgeRun(f *Farm, by Actor, row int64) error {
	r, err := t.run(f, row)
	if err != nil {
		return err
	}
	series, err := t.series(f, r)
	if err != nil {
		return err
	}
	v := f.verdict(r, series)
	if _, err := t.exec(`UPDATE steriliser_runs SET f0 = ?, short = ? WHERE id = ?`, v.F0, v.Short, row); err != nil {
		return err
	}
	batches, err := t.batches(f, `b.run_id = ?`, row)
	if err != nil {
		return err
	}
	for _, b := range batches {
		if err := t.judgeBatch(f, by, b, v.Short != nil && *v.Short); err != nil {
			return err
		}
	}
	return nil
}

// judgeBatchOf does so for one batch that was made or given another run.
func (t *tx) judgeBatchOf(f *Farm, by Actor, row int64) error {
	b, err := t.batch(f, `b.id = ?`, row)
	if err != nil {
		return err
	}
	var short int
	err = t.one(`SELECT coalesce((SELECT r.short FROM batches b JOIN steriliser_runs r ON r.id = b.run_id WHERE b.id = ?), 0)`, []any{row}, &short)
	if err != nil {
		return err
	}
	return t.judgeBatch(f, by, b, short == 1)
}

func (t *tx) judgeBatch(f *Farm, by Actor, b Batch, short bool) error {
	c, known := f.Conditions[runCondition]
	if _, err := c.Value(new(shortValue)); !known || err != nil {
		return nil // the farm has given up the condition
	}
	was := b.Conditions[runCondition]
	fields := b.Fields()
	switch {
	case short && was != shortValue:
		fields.Conditions[runCondition] = new(shortValue)
	case !short && was == shortValue:
		before, ours, err := t.beforeJudgement(b.row)
		if err != nil || !ours {
			return err
		}
		delete(fields.Conditions, runCondition)
		if before != "" {
			fields.Conditions[runCondition] = &before
		}
	default:
		return nil
	}
	return t.patchBatch(f, Actor{Person: by.Person, Device: judgedBy}, b, fields)
}

// beforeJudgement is what the condition was before readings changed it; ours is
// false where a person has the last word.
func (t *tx) beforeJudgement(batch int64) (before string, ours bool, err error) {
	list, err := t.texts(`SELECT device || char(10) || old FROM changes WHERE batch_id = ? AND field = ? ORDER BY id DESC LIMIT 1`, batch, "conditions."+runCondition)
	if err != nil || len(list) == 0 {
		return "", false, err
	}
	device, before, _ := strings.Cut(list[0], "\n")
	return before, device == judgedBy, nil
}
