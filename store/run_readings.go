package store

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"math"
	"time"

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
	Assumed  *string // what the file left open and how it was read
}

// mostReadings is how many readings of one place are taken at once.
const mostReadings = 200_000

// hottestC is the hottest that a reading may be: steam of 150 °C would have 375 kPa
// on the gauge. A reading in °F taken for °C, 212 or 250, would make any run reach
// its target a million times over.
const hottestC = 150

func (d SeriesDraft) validate(p *grow.Problems, at string) {
	grow.CheckName(p, at+"probe", d.Probe)
	if d.Spot != "core" && d.Spot != "chamber" {
		p.Add(at+"spot", "must be core or chamber")
	}
	if d.Position != nil {
		grow.CheckName(p, at+"position", *d.Position)
	}
	if len(d.Points) == 0 || len(d.Points) > mostReadings {
		p.Add(at+"readings", "must be 1 to %d", mostReadings)
	}
	for i, x := range d.Points {
		if math.IsNaN(x.C) || x.C < -60 || x.C > hottestC {
			p.Add(fmt.Sprintf("%sreadings[%d].temp_c", at, i), "is %.4g °C, and no steriliser of a farm is hotter than %d: was it read in °F?", x.C, hottestC)
			break
		}
		if !possibleTime(x.At) {
			p.Add(fmt.Sprintf("%sreadings[%d].at", at, i), "is no time that can be kept")
			break
		}
	}
}

func possibleTime(at time.Time) bool {
	return at.Unix() >= firstMicros/1e6 && at.Unix() <= lastMicros/1e6
}

// AddRunReadings keeps readings of one or more places of a run. The same readings of
// the same probe at the same place again change nothing; created tells whether any was new. What
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
	err := t.one(`SELECT count(*) FROM run_series WHERE run_id = ? AND probe = ? AND spot = ? AND position IS ? AND sha256 = ? AND voided_at IS NULL`, []any{run, d.Probe, d.Spot, d.Position, sum[:]}, &there)
	if err != nil || there > 0 {
		return false, err
	}
	_, err = t.exec(`INSERT INTO run_series (run_id, probe, spot, position, readings, sha256, missing, assumed, made_at, by_person, device) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		run, d.Probe, d.Spot, d.Position, blob, sum[:], d.Missing, d.Assumed, micros(t.now), by.Person, by.Device)
	return err == nil, err
}

// VoidSeries takes readings back: they stay on record and count no more. Taking
// back what was taken back already changes nothing.
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
			err = t.isSeriesOf(row, series)
		} else {
			err = t.judgeRun(farm, by, row)
		}
		if err != nil {
			return err
		}
		w, err = t.runWhole(farm, row)
		return err
	})
	return w, err
}

func (t *tx) isSeriesOf(run, series int64) error {
	var there int
	err := t.one(`SELECT count(*) FROM run_series WHERE id = ? AND run_id = ?`, []any{series, run}, &there)
	if err == nil && there == 0 {
		err = grow.Errorf(grow.NotFound, "these are no readings of this run")
	}
	return err
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
