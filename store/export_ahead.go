package store

import (
	"context"
	"io"
	"strconv"

	"bagmark/grow"
)

// ExportWeekAhead writes what bags alive promise, a row a week and species; weeks
// from Monday.
func (s *Store) ExportWeekAhead(ctx context.Context, w io.Writer) error {
	ahead, err := s.WeekAhead(ctx, WeekAheadQuery{Starts: grow.FromMonday})
	if err != nil {
		return err
	}
	out := newCellWriter(w)
	err = out.line([]string{"from", "to", "species", "species_name", "grams_low", "grams_likely", "grams_high", "batches_of_crop"})
	for _, week := range ahead.Weeks {
		for i, crop := range week.Species {
			if err == nil {
				err = out.line([]string{week.From.String(), week.To.String(), string(crop.Species), crop.Name, numberCell(&crop.Grams.Low), numberCell(&crop.Grams.Likely),
					numberCell(&crop.Grams.High), strconv.Itoa(ahead.Species[i].Basis.Crop)})
			}
		}
	}
	return writeFailed(err, out)
}
