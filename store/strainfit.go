package store

import (
	"context"
	"maps"
	"math"
	"slices"

	"bagmark/grow"
	"bagmark/grow/climate"
	"bagmark/grow/forecast"
)

// Strain rules
//
// A strain's growth curve is the built-in one of its species until the farm's own
// batches tell better: at least six, whose days to grown over and the air of most
// of their run are known, at temperatures that differ. Only batches none of whose
// bags still grow count, so that no bag is part of the curve it is forecast by. A
// curve is laid once a day: what was seen today joins tomorrow.

const (
	// knownOfFit is how much of a batch's run must be known for it to count in a fit,
	// knownOfMost for it to say what is usual on the farm.
	knownOfFit  = 0.8
	knownOfMost = 0.5
)

// keptFit is what the farm's batches of a strain say of its temperatures.
type keptFit struct {
	fit climate.StrainFit
	err error // climate.ErrTooFewBatches, or why there is no curve
}

// runAir is the air of a batch's bags over its run: mean growth, as a share of the
// best, and core temperature over the hours that are known, and the share of it
// that is.
type runAir struct{ rate, coreC, known float64 }

// growth is the curve that counts for a species or strain, and the fit to the
// farm's own batches where it is one.
func (t *tx) growth(f *Farm, slug grow.Slug, strain *string) (climate.Curve, *climate.StrainFit, error) {
	species, _ := f.SpeciesOf(slug, strain)
	builtIn, err := climate.NewCurve(species.Growth)
	if err != nil { // a curve that nothing can be said by
		return climate.Curve{}, nil, nil
	}
	kept, err := t.strainFit(f, slug, strain)
	if err != nil || kept.err != nil || !kept.fit.Usable() {
		return builtIn, nil, err
	}
	return kept.fit.Curve, &kept.fit, nil
}

// strainFit lays the curve of a strain, or gives the one that is kept.
func (t *tx) strainFit(f *Farm, slug grow.Slug, strain *string) (keptFit, error) {
	b := Batch{Species: slug, Strain: strain}
	c, key, midnight := &t.store.tracks, lawKeyOf(b), t.midnight(f)
	if k, ok := findKnown(c, &c.fits, key, midnight); ok {
		return k, nil
	}
	k, err := t.layFit(f, b, midnight)
	if err == nil {
		keepKnown(t, &c.fits, key, k, midnight)
	}
	return k, err
}

func (t *tx) layFit(f *Farm, b Batch, midnight int64) (keptFit, error) {
	k := keptFit{err: climate.ErrTooFewBatches}
	same := `AND b.strain IS NULL`
	var args []any
	if b.Strain != nil {
		spellings, err := t.spellings(b.Species, *b.Strain)
		if err != nil {
			return k, err
		}
		same, args = `AND b.strain IN (SELECT value FROM json_each(?))`, []any{spellings}
	}
	past, err := t.history(f, b, same+` AND NOT EXISTS (SELECT 1 FROM bags g WHERE g.batch_id = b.id AND (
		g.grown_over_at IS NULL AND g.state IN ('unmarked', 'colonising', 'isolated') OR g.grown_over_at >= ?))`, append(args, midnight*hourMicros)...)
	if err != nil || len(past) < climate.LeastBatches {
		return k, err
	}
	species, _ := f.SpeciesOf(b.Species, b.Strain)
	curve, err := climate.NewCurve(species.Growth)
	if err != nil {
		return k, nil
	}
	points, err := t.measuredBatches(f, past, curve)
	if err == nil {
		k.fit, k.err = climate.FitStrain(points, species.Growth.MinC)
	}
	return k, err
}

// measuredBatches are the batches of which enough is known, each as one rate at its
// mean core temperature: one over the median of the days that its bags took.
func (t *tx) measuredBatches(f *Farm, past []pastBatch, curve climate.Curve) (points []climate.Measured, err error) {
	within := forecast.FromRange(1, 2).Learn(historyOf(past)).Within
	for _, b := range past {
		fit, ok := forecast.FitMean(b.spans, within)
		if !ok {
			continue
		}
		air, err := t.runAir(f, b.pastRun, curve)
		if err != nil {
			return nil, err
		}
		if air.known >= knownOfFit {
			points = append(points, climate.Measured{C: air.coreC, Rate: math.Exp(-fit.Mean)})
		}
	}
	return points, nil
}

// usualGrowth is the mean growth in the places of those of the batches that a law
// was learnt from most of whose days are known, 0 if there are none.
func (t *tx) usualGrowth(f *Farm, from []pastRun, curve climate.Curve) (float64, error) {
	var sum float64
	n := 0
	for _, r := range from {
		air, err := t.runAir(f, r, curve)
		if err != nil {
			return 0, err
		}
		if air.known >= knownOfMost {
			sum += air.rate
			n++
		}
	}
	if n == 0 || sum/float64(n) < climate.LeastUsual {
		return 0, nil
	}
	return sum / float64(n), nil
}

// runKey is a batch's run up to an hour, as a curve sees it.
type runKey struct {
	batch, end int64
	curve      climate.Curve
}

// runAir reads the air of a batch's run.
func (t *tx) runAir(f *Farm, r pastRun, curve climate.Curve) (runAir, error) {
	midnight := t.midnight(f)
	key := runKey{r.batch, min(midnight, climate.HourOf(r.grownAt)), curve}
	c := &t.store.tracks
	if a, ok := findKnown(c, &c.runs, key, midnight); ok {
		return a, nil
	}
	a, err := t.readRunAir(r, key, midnight)
	if err == nil {
		keepKnown(t, &c.runs, key, a, midnight)
	}
	return a, err
}

// readRunAir adds up the air of each way in which bags of the batch stood, by how
// many did so.
func (t *tx) readRunAir(r pastRun, key runKey, midnight int64) (a runAir, err error) {
	stays, err := t.stays(Batch{row: r.batch, InoculatedAt: r.made, Place: r.place})
	if err != nil {
		return a, err
	}
	usual := staysKey(stays.usual)
	lists, bags := map[string][]aStay{usual: stays.usual}, map[string]int{usual: max(0, r.bags-len(stays.own))}
	for _, own := range stays.own {
		key := staysKey(own)
		lists[key] = own
		bags[key]++
	}
	var hours, all float64
	for _, by := range slices.Sorted(maps.Keys(lists)) {
		in, err := inAir(lists[by], 0, key.end, func(place string) (placeKnown, error) { return t.knownAt(place, midnight) })
		if err != nil {
			return a, err
		}
		rate, coreC, known, of := climate.RateOf(in, key.curve)
		all += float64(of * bags[by])
		if w := float64(known * bags[by]); w > 0 {
			a.rate, a.coreC, hours = a.rate+rate*w, a.coreC+coreC*w, hours+w
		}
	}
	if hours > 0 {
		a = runAir{a.rate / hours, a.coreC / hours, hours / all}
	}
	return a, nil
}

// GrowthFit is what the farm's own batches of a strain say of its temperatures.
type GrowthFit struct {
	Strain string // "" for batches of which no strain is given
	climate.StrainFit
}

// GrowthFits are the curves that the farm's own batches of a species bear, by
// strain, also those too unsure to be used.
func (s *Store) GrowthFits(ctx context.Context, slug grow.Slug) (out []GrowthFit, err error) {
	farm, err := s.Farm(ctx)
	if err != nil {
		return nil, err
	}
	err = s.reading(ctx, func(t *tx) error {
		air, err := t.airKnown()
		if err != nil || !air {
			return err
		}
		strains, err := t.texts(`SELECT coalesce(strain, '') FROM batches WHERE species = ? GROUP BY lower(trim(strain)) ORDER BY 1`, string(slug))
		for _, strain := range strains {
			if err != nil {
				break
			}
			var kept keptFit
			if kept, err = t.strainFit(farm, slug, textOr(strain)); err == nil && kept.err == nil {
				out = append(out, GrowthFit{strain, kept.fit})
			}
		}
		return err
	})
	return out, err
}
