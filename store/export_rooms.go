package store

import (
	"context"
	"database/sql"
	"io"
	"time"

	"bagmark/grow"
)

// ExportReadings writes every reading of every place, one a row, by place and
// then by time.
func (s *Store) ExportReadings(ctx context.Context, w io.Writer) error {
	farm, err := s.Farm(ctx)
	if err != nil {
		return err
	}
	out := newCellWriter(w)
	err = s.reading(ctx, func(t *tx) error {
		if err := out.line([]string{"place", "at", "temp_c", "rh_pct", "co2_ppm", "how", "file", "by", "device"}); err != nil {
			return err
		}
		return t.each(`SELECT p.name, r.at, r.temp, r.rh, r.co2, s.how, s.name, s.by_person, s.device FROM readings r JOIN places p ON p.id = r.place_id
			JOIN reading_sources s ON s.id = r.source_id ORDER BY p.name_key, r.at`, nil, func(rows *sql.Rows) error {
			var place, how, name, by, device string
			var at int64
			var temp, rh, co2 *int64
			if err := rows.Scan(&place, &at, &temp, &rh, &co2, &how, &name, &by, &device); err != nil {
				return err
			}
			return out.line([]string{place, instant(at, farm.Zone).Format(time.RFC3339Nano), numberCell(grow.Unscaled(temp)), numberCell(grow.Unscaled(rh)),
				numberCell(grow.Unscaled(co2)), how, name, by, device})
		})
	})
	return writeFailed(err, out)
}

// ExportRooms writes the logs of all rooms, one line a row, by place and then by
// time, also what was taken back.
func (s *Store) ExportRooms(ctx context.Context, w io.Writer) error {
	farm, err := s.Farm(ctx)
	if err != nil {
		return err
	}
	out := newCellWriter(w)
	err = s.reading(ctx, func(t *tx) error {
		if err := out.line([]string{"place", "at", "kind", "temp_c", "note", "by", "device", "received_at", "taken_back_at", "id"}); err != nil {
			return err
		}
		return t.each(`SELECT p.name, l.at, l.kind, l.temp, l.note, l.by_person, l.device, l.made_at, l.taken_back_at, l.id FROM room_log l
			JOIN places p ON p.id = l.place_id ORDER BY p.name_key, l.at, l.made_at, l.id`, nil, func(rows *sql.Rows) error {
			var place, kind, note, by, device, id string
			var at, made int64
			var temp, back *int64
			if err := rows.Scan(&place, &at, &kind, &temp, &note, &by, &device, &made, &back, &id); err != nil {
				return err
			}
			return out.line([]string{place, instant(at, farm.Zone).Format(time.RFC3339Nano), kind, numberCell(grow.Unscaled(temp)), note, by, device,
				instant(made, farm.Zone).Format(time.RFC3339Nano), timeCell(timeOr(back), farm.Zone), id})
		})
	})
	return writeFailed(err, out)
}
