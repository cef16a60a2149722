package store

import (
	"context"
	"database/sql"
	"io"
	"strconv"

	"bagmark/grow"
)

// ExportPlaces writes every place by name: its label, how many bags it takes, how
// they stand and how large it is, where that was said; how many should stand
// there, and with its parts; how many of those were last seen elsewhere, and how
// many others were last seen here.
func (s *Store) ExportPlaces(ctx context.Context, w io.Writer) error {
	farm, err := s.Farm(ctx)
	if err != nil {
		return err
	}
	out := newCellWriter(w)
	err = s.reading(ctx, func(t *tx) error {
		counts, err := t.bagsByPlace()
		if err != nil {
			return err
		}
		seen, err := t.seen(farm, `1`)
		if err != nil {
			return err
		}
		if err := out.line([]string{"code", "name", "capacity_bags", "touching", "volume_m3", "bags", "bags_with_parts", "seen_elsewhere", "seen_here"}); err != nil {
			return err
		}
		return t.each(`SELECT p.code, p.name, p.capacity_bags, f.touching, f.volume_m3 FROM places p LEFT JOIN place_facts f ON f.place_id = p.id ORDER BY p.name_key`, nil, func(rows *sql.Rows) error {
			var code, name string
			var takes, touching *int64
			var volume *float64
			if err := rows.Scan(&code, &name, &takes, &touching, &volume); err != nil {
				return err
			}
			elsewhere, here := seenOtherwise(seen, name)
			return out.line([]string{code, name, wholeCell(takes), yesNoCell(touching), numberCell(volume), strconv.Itoa(counts[name]), strconv.Itoa(counts.in(name)), strconv.Itoa(elsewhere), strconv.Itoa(here)})
		})
	})
	return writeFailed(err, out)
}

// seenOtherwise counts bags of a place that were last seen elsewhere than where
// they should stand, and bags of
// elsewhere last seen in it.
func seenOtherwise(seen []SeenBag, place string) (elsewhere, here int) {
	for _, b := range seen {
		belongs, was := b.Place != nil && grow.PlaceWithin(*b.Place, place), grow.PlaceWithin(b.Seen.Place, place)
		switch {
		case belongs:
			elsewhere++
		case was:
			here++
		}
	}
	return elsewhere, here
}

func wholeCell(n *int64) string {
	if n == nil {
		return ""
	}
	return strconv.FormatInt(*n, 10)
}

func yesNoCell(n *int64) string {
	switch {
	case n == nil:
		return ""
	case *n == 0:
		return "no"
	}
	return "yes"
}
